# SPDX-License-Identifier: GPL-3.0-or-later
"""A narrow sidebar has everything that a wide one has, and no label is cut."""

from pathlib import Path

import pytest

import small_shots

SCRIPT = Path(__file__).parent / "narrow.py"
# What Blender gives to labels of what a panel has, and what of a region is no panel, in points.
LABELS_SHARE, BESIDE_PT = 0.4, 58


@pytest.fixture(scope="module")
def found(tmp_path_factory, run_in_blender):
    folder = tmp_path_factory.mktemp("narrow")
    small_shots.line_up(folder / "line-up")
    return run_in_blender(SCRIPT, folder)


@pytest.mark.parametrize("width", [200, 292, 591])
def test_the_labels_of_the_lens_are_whole_and_every_field_is_there(found, width):
    fields, widest = found[str(width)]["lens"]
    assert fields == ["focal_mm", "f_stop", "focus", "gate", "gate_mm"]
    assert widest <= LABELS_SHARE * (width - BESIDE_PT)
    assert {"Focal length, mm", "Stop", "Focus", "Format"} <= {*found[str(width)]["lens words"]}


@pytest.mark.parametrize("width", [200, 292, 591])
def test_buttons_go_to_the_first_and_the_last_frame_of_every_move_at_any_width(found, width):
    moves = found[str(width)]
    assert moves["ends"] == ["1", "25", "1", "25", "5", "20", "1", "25"]
    assert len(moves["moves"]) == 4


def test_steps_are_announced_where_there_is_a_column_of_them(found):
    assert found["200"]["readings"] == ["Frame 12", False]
    assert found["591"]["readings"] == ["Frame 12, and the step to it", True]


def test_a_level_can_be_hidden_and_shown_from_the_menu_of_the_list(found):
    assert found["menu"] == ["Hide in the Viewport", "Show in the Viewport"]


def test_what_lets_unsaved_work_go_is_offered_only_where_there_is_some(found):
    assert found["calm"] == [["new_scene"], ["groups"]]
    assert found["unsaved"] == [["new_scene", "drop_unsaved"], ["groups", "drop_unsaved"]]
