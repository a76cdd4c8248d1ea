# SPDX-License-Identifier: GPL-3.0-or-later
"""Work that was lost once: two scenes, undo, a range, a lock, a moved folder; each is told in time or kept."""

from pathlib import Path

import pytest

import small_shots

SCRIPT = Path(__file__).parent / "lost_work.py"
# What single precision makes of a place of 1.5: two of its steps.
SINGLE = 3e-7


@pytest.fixture(scope="module")
def found(tmp_path_factory, run_in_blender):
    folder = tmp_path_factory.mktemp("lost")
    small_shots.line_up(folder / "line-up")
    return run_in_blender(SCRIPT, folder, timeout=240)


def test_two_scenes_of_one_shot_do_not_overwrite_each_other(found):
    scenes = found["two_scenes_of_one_shot"]
    assert scenes["saved"] == ""
    assert "was changed on disk since it was read" in scenes["said"]
    assert scenes["untouched"]
    assert scenes["noticed"] == [False, True]


def test_work_that_is_not_saved_is_not_dropped_without_asking(found):
    asks = found["open_asks"]
    assert "work that is not saved: card D east" in asks["said"]
    assert asks["stays"] == 0.01
    assert "work that is not saved" in asks["art"]
    assert (asks["dropped"], asks["saved"]) == ("", "")


def test_a_folder_that_was_moved_is_found_by_its_art(found):
    moved = found["the_folder_is_moved"]
    assert moved["there"]
    assert moved["saved"] == ""
    assert moved["said"] == "saved: card D east"
    assert Path(moved["file"]).parent.name == "moved"


def test_a_deleted_level_is_shown_as_unsaved_and_undo_brings_its_lines_back_to_the_letter(found):
    level = found["a_deleted_level_comes_back_with_all_that_was_said_of_it"]
    assert "heron removed" in level["said"]
    assert not level["without"]
    assert "heron added" in level["shown"]
    assert level["back"] == ""
    assert level["same"]


def test_the_lock_refuses_what_would_make_levels_meet_and_every_panel_stays(found):
    lock = found["the_lock_refuses_to_make_levels_meet"]
    assert "card D: would stand beneath the bed" in lock["beneath"]
    assert "heron" in lock["meets"]
    assert "cannot hold its size" in lock["meets"]
    assert lock["held"] == []
    assert lock["at"] == [0.8, 0.1]
    assert (lock["alive"], lock["frame"]) == (5, 1)


def test_the_lock_holds_the_size_of_the_first_frame(found):
    lock = found["the_lock_holds_the_first_frame"]
    assert lock["sizes"] == pytest.approx([lock["first"]] * 2, abs=1e-3)
    assert "on frame 1" in lock["said"]


def test_what_save_refuses_is_kept_beside_by_a_name(found):
    beside = found["what_cannot_be_saved_is_kept_beside"]
    assert "meets" in beside["refusal"]
    assert beside["untouched"]
    assert (beside["crossing"], beside["tilted"]) == ("", "")
    assert "is there already" in beside["taken"]
    assert "is no name for a file" in beside["bad"]
    assert {"levels that cross.toml", "levels that cross schedule.csv", "levels that cross.blend"} <= set(
        beside["there"]
    )
    assert beside["names"]
    # what no shot can say is in the .blend alone
    assert "tilted.toml" not in beside["there"]
    assert beside["leans"] == 0.1


def test_another_range_says_what_it_leaves_out_and_the_moves_go_along(found):
    span = found["another_range"]
    assert (
        "frames 101–148 leave out camera height 1–25, card C height 1–25, card A east 5–20 and 1 more" in span["said"]
    )
    assert span["untouched"]
    assert span["offers"] == ["shift", "frames", "cut"]
    assert (span["shifted"], span["saved"]) == ("", "")
    assert span["rows"][1] == "camera,height,101,125,1300,1180,steady,,"
    assert span["rows"][3] == "card A,east,105,120,-15,15,steady,4,4"
    assert [row.split(",")[0] for row in span["drawings"]] == ["frame", "101", "109", "117"]
    short, refused, rows, plans = span["cut"]
    assert "frames 1–4 leave out card A east 5–20; give frames 1–25 back, or save without it" in short
    assert (refused, plans) == ("", "")
    assert not any(row.startswith("card A,east") for row in rows)


def test_a_proof_says_when_it_is_of_another_stack_or_of_what_was_not_saved(found):
    proof = found["a_proof_and_what_came_after"]
    assert proof["fresh"] == []
    assert proof["changed"] == ["Out of date: card D east changed since"]
    assert proof["of_unsaved"] == ["Of edits that were not saved: card D east"]
    assert proof["saved"] == ["Out of date: the shot's files changed since", proof["of_unsaved"][0]]
    assert proof["new"] == []


def test_a_bezier_move_is_what_blender_makes_of_its_two_keys(found):
    assert max(found["bezier_beside_blenders_own_curve"]) <= SINGLE


def test_a_focal_length_that_is_typed_is_there_on_every_frame_by_the_law_of_close_focus(found):
    lens = found["what_the_lens_fields_refuse"]
    assert lens["before"] == lens["after"] == [50.0, "card B"]
    assert lens["error"]
    assert "focal length" in lens["said"]
    for typed, blender, law in lens["frames"]:
        assert typed == 35.0
        assert blender == pytest.approx(law, rel=1e-6)
