"""What stays as it was said while lens, camera, frames or folder change, and what Save says of the rest."""

from pathlib import Path

import pytest

from proof import small_shots

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
    assert "the camera's own field says 35 mm" in own["told"]
    assert "set the lens under Lens" in own["told"]
    assert "set the lens under Lens" in own["said"]


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
    assert "edits stay" in goes["told"]
    assert goes["kept"] == 0.01
    assert (goes["saved"], goes["what"]) == ("", "saved: card D east")
    assert Path(goes["file"]).parent.name == "gone elsewhere"
