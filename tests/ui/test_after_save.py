# SPDX-License-Identifier: GPL-3.0-or-later
"""File and scene agree right after a Save, nothing moves that was not moved, and a reload gives keys to go on with."""

from pathlib import Path

import pytest

import small_shots

SCRIPT = Path(__file__).parent / "after_save.py"
# Single precision on a stand of a metre, m.
SAME_M = 1e-6
# What single precision makes of a curve, a share of its largest value.
SINGLE = 4e-7
# A share of a level's size: a tenth of a pixel of 10,000.
HOLDS = 1e-5


@pytest.fixture(scope="module")
def found(tmp_path_factory, run_in_blender):
    folder = tmp_path_factory.mktemp("after_save")
    small_shots.line_up(folder / "line-up")
    return run_in_blender(SCRIPT, folder, timeout=240)


@pytest.mark.parametrize("how", ["held_and_at_rest", "held_and_at_once", "held_with_a_lens_that_was_said"])
def test_a_held_level_is_saved_as_it_is_keyed_when_what_is_in_focus_moves(found, how):
    held = found[how]
    assert held["apart"] <= SAME_M
    assert held["unsaved"] == []
    assert held["first"][1] == pytest.approx(held["first"][0], abs=SAME_M)
    assert held["spread"] <= HOLDS
    assert held["again"] == "nothing had changed"
    assert "card D height" in held["said"]
    assert not held["told"] or "card D height" in held["told"]


def test_a_held_level_stays_where_it_is_when_the_frames_are_others(found):
    held = found["held_over_other_frames"]
    assert held["moves"] > SAME_M
    assert held["later"] <= SAME_M
    assert held["shifted"] <= SAME_M


def test_keys_of_the_lens_that_a_save_makes_are_not_told_as_the_camera_s_own_field(found):
    clicked = found["saved_as_a_click_does"]
    assert clicked["lens"][0] == pytest.approx(clicked["lens"][1], rel=1e-6)
    assert clicked["right after"] == clicked["rested"] == clicked["later"] == []


def test_a_bezier_row_comes_back_as_keys_that_can_be_pulled_and_is_exact_on_every_frame(found):
    eased = found["eased_keys_come_back"]
    assert eased["keys"]["camera height"] == [[1, 25], "BB"]
    assert eased["keys"]["card C height"] == [[1, 25], "BB"]
    assert eased["keys"]["card A east"] == [[5, 20], "BB"]
    assert eased["keys"]["card B turn"] == [[1, 25], "BB"]
    assert eased["keys"]["card B east"] == [[1, 7, 19], "BBB"]
    assert eased["keys"]["card D north"] == [[3, 9, 15, 23], "BBBB"]
    frames, kinds = eased["keys"]["card D east"]
    assert frames == [2, 7, 12, 18, 19, 20, 22, 23, 24]
    assert kinds == "LBB" + "L" * 6
    assert eased["off"] <= SINGLE
    assert eased["unsaved"] == []
    assert eased["same"] == [True, "nothing had changed"]
    assert eased["pulled"]
    # and a proof has nothing to say of them
    assert len(eased["words"]) == 4
    assert eased["not asked"] == []


def test_what_is_keyed_behind_keys_that_came_back_goes_on_as_it_would_in_blender(found):
    eased = found["eased_keys_come_back"]
    assert eased["said"].startswith("saved: ")
    assert [row.split(",")[2:4] for row in eased["rows"]] == [["1", "25"], ["25", "35"]]
    assert [row.split(",")[6] for row in eased["rows"]] == ["bezier", "bezier"]
    assert eased["again"]["camera height"] == [[1, 25, 35], "BBB"]
    assert eased["off again"] <= SINGLE
    assert eased["still"] == []


def test_where_blender_s_curve_is_not_the_law_s_every_frame_has_a_key(found):
    late = found["eased_keys_where_blender_is_not_exact"]
    frames, kinds = late["keys"]["card A east"]
    assert frames[1:-1] == [*range(900005, 900021)]
    assert {*kinds} == {"L"}
    assert late["unsaved"] == []


def test_a_move_that_is_looked_at_in_its_dialog_and_left_stays_to_the_letter(found):
    looked_at = found["the_pencil_with_nothing_changed"]
    assert len(looked_at) == 5
    for row in looked_at.values():
        assert "is as it was" in row["said"]
        assert row["unsaved"] == row["differ"] == []
        assert row["keys"]
        assert not row["draft"]


def test_what_is_changed_in_the_dialog_of_a_move_is_all_that_changes_in_its_row(found):
    assert found["the_pencil_with_one_field_changed"] == [
        ["camera,height,1,25,1300,1120.1,bezier,,"],
        ["camera,height,1,22,1300,1123.456789,bezier,,"],
        ["card A,east,5,20,-15,12.12345678,bezier,4.1,8.4"],
        ["card D,east,2,9,,10.7,steady,1.1,2.3"],
        ["card C,height,1,25,550,430.1,sine,,"],
    ]


def test_the_file_that_was_changed_on_disk_is_the_one_that_is_named(found):
    changed = found["which_file_was_changed"]
    for names, (said, told) in changed.items():
        if names == "shot.toml schedule.csv":
            assert said.startswith("shot.toml, schedule.csv of FOLDER: were changed on disk since they were read")
            assert told.startswith("shot.toml, schedule.csv: changed on disk")
        else:
            assert said.startswith(f"FOLDER/{names}: was changed on disk since it was read; reload it")
            assert told.startswith(f"{names}: changed on disk")


@pytest.mark.parametrize("how", ["renamed", "deeper", "with its parent"])
def test_a_folder_that_was_moved_as_a_whole_is_found_near_where_it_was(found, how):
    moved = found["folders_that_were_moved"][how]
    assert moved["said"] == ""
    assert moved["file"]
    assert moved["art"]
    assert moved["east"] == pytest.approx(0.01, abs=SAME_M)


@pytest.mark.parametrize("other", ["a copy beside it", "another take"])
def test_what_may_be_another_shot_is_not_taken_for_a_folder_that_was_moved(found, other):
    moved = found["folders_that_were_moved"][other]
    assert "the shot's folder is no longer there" in moved["said"]
    assert not moved["file"]


def test_a_level_that_was_renamed_is_told_as_renamed_and_not_as_removed(found):
    renamed = found["words_of_a_rename"]
    assert renamed["told"] == ["card B is called church"]
    assert renamed["notes"] == ["Out of date: card B is called church"]
    assert renamed["said"] == "saved: card B is called church"
    assert renamed["back"] == "saved: church is called card B, card B east"


def test_a_change_of_units_is_told_as_that_and_nothing_else(found):
    units = found["units_that_were_undone"]
    assert units["forth"] == "saved: units"
    assert units["unsaved"] == ["units"]
    assert units["back"] == "saved: units"
    assert units["units"] == "mm"


def test_what_the_hand_holds_and_has_not_keyed_is_shown_and_not_told_as_what_save_writes(found):
    held = found["moved_by_hand_and_not_keyed"]
    line = "card A was moved by hand and not keyed: its keys are saved, not where it is now"
    assert held["east"] == pytest.approx(0.0, abs=SAME_M)
    assert held["unsaved"] == held["after"] == []
    assert held["remarks"] == [line]
    assert held["findings"]
    assert held["said"] == held["shown"] == f"nothing had changed; {line}"
    assert held["same"]


def test_the_sign_of_a_level_that_holds_its_size_is_lit_when_its_shot_is_opened(found):
    sign = found["opened_with_a_level_that_holds_its_size"]
    assert sign["opened"] == ["card D"]
    assert sign["unsaved"] == []
    # and who let it go has it let go
    assert sign["let go"] == []


def test_a_shot_that_is_shifted_far_along_and_back_is_as_it_was_to_the_letter(found):
    shifted = found["shifted_and_back"]
    assert "card D.height" in shifted["header"]
    assert shifted["differ"] == []
