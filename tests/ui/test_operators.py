# SPDX-License-Identifier: GPL-3.0-or-later
"""The add-on's operators with no window: what they do, what they refuse, and what they leave alone."""

from pathlib import Path

import pytest

import small_shots

SCRIPT = Path(__file__).parent / "operators.py"
# px of a level about 390 px wide: f-curves hold single precision.
SIZE_HOLDS_PX = 1e-3


@pytest.fixture(scope="module")
def found(tmp_path_factory, run_in_blender):
    folder = tmp_path_factory.mktemp("operators")
    small_shots.line_up(folder / "shot")
    (folder / "out").mkdir()
    for name, alpha in (("01 near", 90), ("02 middle", 120), ("03 far", 255)):
        small_shots.one_colour(folder / "layers" / f"{name}.png", (230, 20, 20, alpha), (160, 120))
    return run_in_blender(SCRIPT, folder, timeout=240)


def test_opening_a_shot_can_be_undone_and_redone(found):
    went = found["undo_and_redo"]
    assert set(went["there"].values()) == {5, 6}
    assert went["undone"] == [dict.fromkeys(went["there"], 0), "", True]
    redone, file, unsaved = went["redone"]
    assert redone == went["there"]
    assert file.endswith("shot.toml")
    assert unsaved == []
    assert went["held"] == [True, False]


def test_a_saved_file_knows_its_shot_when_it_is_opened_again(found):
    again = found["saved_and_reopened"]
    assert again["file"].endswith("shot.toml")
    assert again["unsaved"] == ["card D height"]


def test_two_scenes_of_one_file_keep_their_own_stacks(found):
    scenes = found["two_scenes"]
    assert scenes["first"]
    assert scenes["both"] == [6, 6]
    assert scenes["apart"] == [False, True]
    assert scenes["cameras"]


def test_a_camera_and_moves_that_were_there_are_left_alone_and_so_are_units(found):
    there = found["what_was_there_is_left_alone"]
    assert there["keys"] == {"stand camera": [[1, 0], [10, 3]], "card A": [[1, 0], [10, 3]]}
    assert there["units"] == ["IMPERIAL", 0.01]
    # 100 mm above the bed is 0.1 Blender units, whatever the scene calls them
    assert there["height"] == pytest.approx(0.1, abs=1e-8)
    assert there["unsaved"] == []
    assert there["said"] == "nothing had changed"


def test_a_stack_that_is_linked_from_a_library_is_not_replaced(found):
    linked = found["linked_from_a_library"]
    assert "is linked from library.blend" in linked["said"]
    assert not linked["foreign"]
    assert linked["stack"] == 6
    assert linked["shot"] == ""


def test_a_level_that_is_dragged_shows_at_once_what_it_looks_like_there(found):
    dragged = found["live_as_it_is_dragged"]
    # 20 mm nearer the lens: as much larger as the distance is shorter
    assert dragged["grew"] == pytest.approx(dragged["expected"], rel=1e-6)
    assert dragged["grew"] > 1.01
    assert dragged["same_until_touched"]


def test_a_keyed_level_that_is_dragged_and_not_keyed_is_there_on_its_frame_alone(found):
    dragged = found["live_as_it_is_dragged"]
    assert dragged["by_hand"] == pytest.approx(0.01, abs=1e-6)
    assert dragged["after"] == pytest.approx(0.0, abs=1e-6)
    assert dragged["unsaved"] == ["card D height"]


def test_a_held_level_keeps_its_size_also_when_the_truck_is_changed(found):
    held = found["held_while_the_camera_trucks"]
    assert held["size"] > 100
    assert held["spread"] <= SIZE_HOLDS_PX
    assert held["spread_after"] <= SIZE_HOLDS_PX
    assert held["kept"] <= SIZE_HOLDS_PX
    assert held["let_go"]
    assert held["keys_stay"] == 1


def test_a_level_is_shown_on_its_frame(found):
    shown = found["shown_level_and_frame"]
    assert shown["first"] == [7, ["card B"]]
    assert shown["camera"] == ["stand camera"]
    assert shown["nobody"] == "nobody is not in the scene"


def test_files_that_somebody_else_changed_are_noticed_and_never_overwritten(found):
    changed = found["changed_on_disk"]
    assert [changed["calm"], changed["noticed"], changed["settled"]] == [False, True, False]
    assert "was changed on disk since it was read" in changed["said"]
    assert changed["untouched"]


def test_a_shot_that_was_broken_in_an_editor_leaves_the_scene_as_it_was(found):
    changed = found["changed_on_disk"]
    assert "shot.toml:1: is not valid TOML" in changed["broken"]
    assert changed["levels"] == 6
    assert changed["in_panel"]


@pytest.mark.parametrize(
    ("what", "words"),
    [
        ("tilted", "is tilted"),
        ("stretched", "is stretched"),
        ("shifted", "has a shifted lens"),
        ("doubled", "both are this level"),
        ("no camera", "the scene has no camera"),
    ],
)
def test_what_no_stand_can_do_is_refused_in_a_line(found, what, words):
    refused = found["what_no_stand_can_do"]
    assert words in refused[what]
    # what was touched in the scene, and no line of a file that nobody opened
    assert "shot.toml" not in refused[what]
    assert "\n" not in refused[what]
    assert refused["untouched"]
    assert refused["frame"] == 1


def test_a_shot_saved_elsewhere_has_all_its_files_and_what_was_changed(found):
    there = found["saved_elsewhere"]
    assert {"shot.toml", "schedule.csv", "drawings.csv", "art/heron_red.png"} <= set(there["files"])
    assert there["belongs"]
    assert there["height"] == pytest.approx(0.1254, abs=1e-9)
    assert "has a shot already" in there["again"]


def test_a_shot_is_saved_beside_other_files_and_art_that_is_gone_is_named(found):
    there = found["saved_elsewhere"]
    assert there["beside"] == ["mine", True]
    said, anything = there["gone"]
    assert "card_a.png: is no longer there" in said
    assert not anything


def test_saving_elsewhere_touches_nothing_that_lies_there(found):
    there = found["saved_elsewhere"]
    assert "card_a.png: is there already" in there["painting"][0]
    assert there["painting"][1]
    assert there["left"] == ["art/card_a.png"]


def test_undo_behind_a_save_can_be_saved_again(found):
    undone = found["undone_behind_a_save"]
    assert not undone["changed"]
    assert undone["said"] == ""
    assert undone["as_it_was"]


def test_a_level_scaled_to_nothing_is_told_in_a_line(found):
    assert "scaled by 0" in found["scaled_to_nothing"]["trouble"]
    # what the panels show stays, whatever is wrong
    assert found["scaled_to_nothing"]["levels"] == 5


def test_a_camera_that_is_dragged_and_let_go_leaves_no_mark_on_a_held_level(found):
    held = found["dragged_and_let_go_while_one_is_held"]
    assert held["same"]
    assert held["keys"] > 0


def test_a_move_rounded_to_counter_steps_is_what_the_scene_then_has(found):
    rounded = found["rounded_to_counter_steps"]
    assert "card A east" in rounded["first"]
    assert "card A,east,5,20" in rounded["rows"]
    assert rounded["unsaved"] == []
    assert rounded["again"] == "nothing had changed"


def test_a_folder_of_images_becomes_a_stack_whose_levels_fill_the_frame(found):
    made = found["new_from_a_folder"]
    assert made["levels"] == ["near", "middle", "far"]
    assert made["blocks"] == []


def test_operators_are_greyed_out_until_there_is_a_shot(found):
    assert not any(found["greyed_out"]["before"].values())
    after = found["greyed_out"]["after"]
    # a proof needs the program of Blender: as a Python module it has none
    assert {name for name, can in after.items() if not can} == {"prove", "stop_proof"}


def test_a_level_is_not_shown_while_another_is_edited(found):
    there = found["in_another_mode"]
    assert "Change to Object Mode first" in there["said"]
    assert not there["held"]
    assert [there["frame"], there["active"]] == [3, "card A"]


def test_a_shot_that_cannot_be_read_is_tried_again_when_its_files_change_and_not_before(found):
    there = found["cannot_be_read"]
    assert not any(there["there"])
    assert "is not valid TOML" in there["said"]
    assert there["tries"] == 1
    assert there["in_all"] == 3
    assert there["mended"] == [True, ""]
