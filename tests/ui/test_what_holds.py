# SPDX-License-Identifier: GPL-3.0-or-later
"""What stays as it was said while lens, camera, frames or folder change, and what Save says of the rest."""

from pathlib import Path

import pytest

import small_shots

SCRIPT = Path(__file__).parent / "what_holds.py"
# A share of a level's size: a tenth of a pixel of 10,000.
HOLDS = 1e-5


@pytest.fixture(scope="module")
def found(tmp_path_factory, run_in_blender):
    folder = tmp_path_factory.mktemp("holds")
    small_shots.line_up(folder / "line-up")
    return run_in_blender(SCRIPT, folder, timeout=240)


def test_actions_follow_one_another_on_a_shot_with_a_chart(found):
    chart = found["two_actions_on_a_chart"]
    assert chart["chart"]
    assert chart["said"] == ["", "", "", ""]
    assert chart["saved"] == ""
    assert ["heron north", "frame by frame"] in chart["rows"]


def test_a_held_level_keeps_its_size_when_the_lens_is_another(found):
    held = found["held_while_the_lens_changes"]
    assert held["before"] <= HOLDS
    assert held["after"] <= HOLDS
    assert held["held"]
    # the size on the first frame is held: the level stays there
    assert held["first"] == pytest.approx(0.25, abs=1e-6)


def test_a_held_level_keeps_its_size_when_lens_camera_and_focus_change_in_turn(found):
    held = found["held_while_lens_camera_and_focus_change"]
    assert held["held"]
    assert held["spread"] <= HOLDS


def test_where_there_is_no_room_to_hold_its_size_the_sign_goes_out_and_that_is_said(found):
    held = found["held_where_there_is_no_room"]
    assert not held["held"]
    assert "it no longer holds its size: card D" in held["said"]


def test_reload_keeps_a_level_held_where_the_files_hold_its_size_and_says_where_not(found):
    held = found["held_over_reload"]
    assert held["held"]
    assert "no longer" not in held["said"]
    assert not held["after"]
    assert "card D holds its size no longer" in held["lost"]


def test_save_says_which_moves_the_frames_cut_and_the_panel_lists_their_chart(found):
    cut = found["cut_by_the_frames"]
    assert "frames" in cut["said"][0].partition(";")[0]
    line = "card A east is cut by the range: it goes frame by frame in chart.csv"
    assert f"{line}; to keep the move whole, let the frames be 5–25" in cut["said"][0]
    assert any(remark.startswith(line) for remark in cut["remarks"])
    assert cut["rows"] == ["card A east"]


def test_save_says_which_moves_it_dropped(found):
    without = found["saved_without_a_move"]
    assert "card A east 5–20" in without["refusal"]
    assert without["said"].startswith("saved: ")
    assert "frames" in without["said"].partition(";")[0]
    assert "; dropped card A east 5–20" in without["said"]


def test_a_lens_in_blenders_own_field_is_told_in_the_panel_and_by_save(found):
    own = found["blenders_own_lens"]
    assert own["calm"] == ""
    (told,) = own["told"]
    assert "35 mm was typed into Blender's Focal Length on frame 1" in told
    assert f"{told}: it is not saved" in own["said"]


def test_a_lens_in_blenders_own_field_is_read_back_and_leaves_the_stop_alone(found):
    own = found["blenders_own_lens_without_keys"]
    assert own["said"].startswith("saved: camera focal;")
    assert "set the lens under Lens" in own["said"]
    assert "f_stop = 64\n" in own["toml"]


def test_another_camera_is_told_before_anybody_saves(found):
    assert found["through_another_camera"]["told"].startswith("the scene looks through 'other'")


def test_what_save_said_goes_once_the_stack_is_another(found):
    undone = found["undone_past_a_save"]
    assert undone["saved"] == "saved: card D east"
    assert undone["unsaved"] == ["card D east"]
    assert undone["after"] == ""


def test_a_folder_that_goes_elsewhere_is_opened_there_and_edits_stay(found):
    goes = found["the_folder_goes_elsewhere_with_unsaved_work"]
    assert all(said.endswith("is no longer there: open it where it is now") for said in goes["said"])
    assert goes["linked"] == ""
    assert "edits are kept" in goes["told"]
    assert goes["kept"] == 0.01
    assert (goes["saved"], goes["what"]) == ("", "saved: card D east")
    assert Path(goes["file"]).parent.name == "gone elsewhere"


def test_save_works_out_texts_and_plan_once(found):
    once = found["one_save_plans_once"]
    assert once["said"] == "saved: card D east"
    assert once["calls"] == ["amend_shot", "make_plan"]
    assert once["unsaved"] == []
    assert once["same"]


def test_frames_that_leave_moves_out_are_given_back_and_no_shift_is_offered_where_it_would_do_nothing(found):
    given = found["frames_that_leave_moves_out_are_given_back"]
    assert given["short"]["offers"] == ["frames", "cut"]
    assert given["short"]["whole"] == [1, 25]
    words = "frames 1–4 leave out card A east 5–20; give frames 1–25 back, or save without it"
    assert given["short"]["said"] == words
    assert given["back"]["frames"] == [1, 25]
    assert (given["back"]["unsaved"], given["back"]["trouble"], given["back"]["offers"]) == ([], "", [])
    assert given["again"] == "no move is cut by frames 1–25"
    assert given["later"]["offers"] == ["shift", "frames", "cut"]
    assert given["later"]["whole"] == [1, 25]
    assert "shift the moves along, give frames 1–25 back, or save without them" in given["later"]["said"]
    assert given["saved"] == ["", "nothing had changed"]
    assert given["same"]


def test_frames_that_cut_moves_say_what_goes_and_are_given_back(found):
    given = found["frames_that_cut_moves_are_given_back"]
    cut = given["cut"]
    assert (cut["offers"], cut["whole"]) == (["frames"], [1, 25])
    assert "frames 1–6 go, with what camera height, card C height, card A east and 1 more do there" in cut["remarks"]
    assert "frames 13–25 go, with what camera height, card C height, card A east and 2 more do there" in cut["remarks"]
    assert given["frames"] == [1, 25]
    assert (given["back"]["offers"], given["back"]["remarks"], given["back"]["unsaved"]) == ([], [], [])


def test_a_lens_that_was_said_goes_along_with_the_moves(found):
    along = found["a_lens_that_was_said_goes_along"]
    assert along["shown"] == [35.0, "card B"]
    assert 'focus = "card B"' in along["toml"]
    assert "focal_mm = 35.0\n" in along["toml"]


def test_keys_between_frames_are_told_and_go_to_whole_ones(found):
    keys = found["keys_between_frames"]
    line = "card D east is keyed between frames, on 3.4 and 20.6: it goes frame by frame in chart.csv"
    assert line in keys["between"]["remarks"]
    assert keys["between"]["offers"] == ["keys"]
    assert line in keys["said"]
    assert keys["chart"]
    assert keys["told"] == "keys of card D east are on whole frames; Save writes them"
    assert (keys["after"]["offers"], keys["after"]["remarks"]) == ([], [])
    assert keys["rows"] == ["card D,east,3,21,0.0,10.0,bezier,,"]
    assert keys["again"] == "every key is on a whole frame"
    # of keys that come to one frame the nearest stays
    assert keys["met"] == [[5.0, 0.0], [9.0, 0.125]]


@pytest.mark.parametrize(
    "how",
    ["elsewhere_after_the_folder_was_moved", "elsewhere_where_only_the_art_is_left", "elsewhere_with_packed_art"],
)
def test_a_shot_whose_folder_went_is_saved_elsewhere_with_its_art_from_where_that_is_now(found, how):
    saved = found[how]
    assert saved["refusal"] == ""
    assert saved["east"] == pytest.approx(0.01)
    assert saved["art"] == ["card_a.png", "card_b.png", "card_c.png", "card_d.png", "heron_blue.png", "heron_red.png"]
    assert saved["bytes"] == [True] * 6
    assert len(saved["shown"]) == 1
    assert saved["shown"][0].endswith(" elsewhere")
    assert saved["file"]
    assert saved["unsaved"] == []


def test_a_shot_whose_art_is_found_in_another_folder_is_saved_there(found):
    saved = found["saved_where_the_folder_is_now"]
    assert (saved["trouble"], saved["refusal"]) == ("", "")
    assert saved["east"] == pytest.approx(0.01)
    assert saved["file"]


def test_keys_on_a_material_are_told_before_and_at_save(found):
    keys = found["keys_on_materials"]
    assert keys["calm"] == []
    left_out = "Save leaves that out, and a proof fails where it shows"
    strength = "card C: Emission Strength is keyed"
    number = f"card D: Pass Index is keyed; {left_out}"
    assert keys["keyed"]["remarks"] == [f"{strength}; {left_out}", number]
    assert keys["keyed"]["unsaved"] == []
    assert keys["noticed"]
    driven = f"{strength}, Gamma Gamma in glow is driven by 1+frame*0.1; {left_out}"
    assert keys["driven"] == [driven, number]
    assert driven in keys["said"]


def test_what_is_typed_over_keys_of_the_lens_is_told_until_it_is_used_or_left(found):
    over = found["typed_over_keys"]
    assert over["calm"] == []
    line = "35 mm was typed into Blender's Focal Length on frame 12, over the keys of the stand's lens"
    assert over["here"] == [line, ""]
    assert over["elsewhere"] == [line, ""]
    assert f"{line}: it is not saved" in over["remarks"]
    assert over["used"] == [35.0, "card B", ""]
    assert over["stop"] == ["8 was typed into Blender's F-Stop on frame 20, over the keys of the stand's lens"]
    assert over["left"] == [64.0]
    assert over["distance"] == [
        "500 mm was typed into Blender's Focus Distance on frame 3, over the keys of the stand's lens"
    ]
    assert over["at"] == [True, 500.0]
    assert "40 mm was typed into Blender's Focal Length on frame 1" in over["saved"][0]
    assert len(over["saved"]) == 1
    assert over["keyed"] == []
