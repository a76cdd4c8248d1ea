# SPDX-License-Identifier: GPL-3.0-or-later
"""What an artist does next: the stack is changed by the add-on's operators, saved, planned, built again, undone.

1e-6 of the field is the limit, as for every round trip.
"""

import shutil
import tomllib
from pathlib import Path

import numpy as np
import pytest

import small_shots
from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass_headless import cli

SCRIPT = Path(__file__).parent / "actions.py"
# A share of the field.
SAME = 1e-6
ACTIONS = [
    "add_an_image",
    "add_a_card",
    "duplicate_a_moving_level",
    "duplicate_a_level_with_drawings",
    "replace_with_the_same_width",
    "replace_with_the_same_size_on_screen",
    "farther",
    "nearer_at_its_own_size",
    "rename_the_level_in_focus",
    "rename_a_level_with_drawings",
    "delete_a_level",
    "count_in_inches",
    "edit_a_move",
    "add_a_move_to_one_that_rests",
    "truck_by_ratios",
    "remove_a_move",
    "type_a_height",
    "type_a_place_on_a_keyed_axis",
    "type_a_width",
    "many_things",
]
OTHERS = ["art_of_a_draft_goes_away", "refusals", "beside_the_stack", "pictures_stay_with_the_shot"]
LEVELS = ["card A", "heron", "card B", "card C", "card D"]


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    folder = tmp_path_factory.mktemp("actions")
    first = small_shots.line_up(folder / ACTIONS[0])
    text = first.read_text(encoding="utf-8")
    first.write_text("# the line-up card\n" + text, encoding="utf-8")
    for action in [*ACTIONS[1:], *OTHERS]:
        shutil.copytree(folder / ACTIONS[0], folder / action)
    small_shots.one_colour(folder / "other.png", (200, 20, 120, 160), (64, 48))
    small_shots.one_colour(folder / "opaque.png", (200, 20, 120), (64, 48))
    return folder


@pytest.fixture(scope="module")
def done(place, run_in_blender):
    return run_in_blender(SCRIPT, place, timeout=400)


def size_of(corners, frame):
    """Return the length of the lower edge of a level on a frame, px."""
    first, second = np.array(corners)[frame][:2]
    return float(np.linalg.norm(second - first))


def centre_of(corners, frame):
    return np.array(corners)[frame].mean(axis=0)


@pytest.mark.parametrize("action", ACTIONS)
def test_what_was_done_is_saved_can_be_planned_and_is_built_again_to_the_same_scene(done, action):
    did = done[action]
    assert not did["failed"], did["said"]
    assert did["trouble"] == ""
    assert did["result"] == ["FINISHED"], did["saved"]
    assert did["built_again"] <= SAME
    assert did["edited"] <= SAME
    assert did["levels"] == sorted(did["levels"], key=did["levels"].index)
    assert sorted(did["levels"]) == did["scene"]


@pytest.mark.parametrize("action", ACTIONS)
def test_nothing_is_written_before_save_and_after_it_nothing_is_left_to_save(done, action):
    did = done[action]
    assert did["untouched"]
    # what was moved by hand before is told beside it, and saved with it
    assert "card D east" in did["unsaved"]
    assert len(did["unsaved"]) > 1
    assert did["unsaved_after"] == []


@pytest.mark.parametrize("action", ACTIONS)
def test_undo_goes_back_over_it_and_behind_a_save_it_can_be_saved_again(done, action):
    did = done[action]
    assert did["undone"] <= SAME
    assert did["undone_levels"]
    assert did["undone_unsaved"] == ["card D east"]
    assert did["again"]["result"] == ["FINISHED"], did["again"]["said"]
    assert did["again"]["same"]


@pytest.mark.parametrize("action", ACTIONS)
def test_comments_stay_and_the_command_reads_what_was_saved(done, place, action):
    assert done[action]["toml"].startswith("# the line-up card\n")
    tomllib.loads(done[action]["toml"])
    # a finding that blocks the shot is an answer too; bad input is 2
    assert cli.run(["check", str(place / action)]) in (0, 1)
    make_plan(read_shot(place / action))


def test_a_level_of_an_image_fills_the_frame_below_the_chosen_one(done):
    did = done["add_an_image"]
    assert did["levels"].index("other") == did["levels"].index("card A") + 1
    assert did["art"]["other"] == ["art/other.png", [64, 48]]
    # the frame is 400 px wide, and the image has its proportions
    assert size_of(did["after"]["other"], 0) == pytest.approx(400, abs=0.1)
    assert np.abs(centre_of(did["after"]["other"], 0)).max() < 0.1


def test_an_empty_card_is_a_clear_image_of_the_frames_size(done, place):
    from PIL import Image

    art, size = done["add_a_card"]["art"]["mist"]
    assert size == [400, 300]
    image = Image.open(place / "add_a_card" / art)
    assert image.mode == "RGBA"
    assert image.getextrema()[3] == (0, 0)


def test_a_copy_stands_half_way_down_and_moves_as_the_first(done):
    did = done["duplicate_a_moving_level"]
    assert "card C 2,height,1,25," in did["schedule"]
    assert done["duplicate_a_level_with_drawings"]["levels"].count("heron 2") == 1


def test_another_painting_keeps_its_place_and_what_was_asked_of_its_size(done):
    same, pixels = done["replace_with_the_same_width"], done["replace_with_the_same_size_on_screen"]
    for did, name in ((same, "card C"), (pixels, "card A")):
        assert did["art"][name] == ["art/other.png", [64, 48]]
        for frame in (0, 12, 24):
            assert np.allclose(centre_of(did["before"][name], frame), centre_of(did["after"][name], frame), atol=1e-3)
    assert size_of(same["after"]["card C"], 0) == pytest.approx(size_of(same["before"]["card C"], 0), rel=1e-5)
    width = read_shot(small_shots.CALIBRATION).levels[0].art_px[0]
    ratio = size_of(pixels["after"]["card A"], 0) / size_of(pixels["before"]["card A"], 0)
    assert ratio == pytest.approx(64 / width, rel=1e-4)


def test_two_levels_change_places_and_look_as_large_as_before_where_that_is_asked(done):
    did = done["farther"]
    assert did["levels"] == ["card A", "heron", "card C", "card B", "card D"]
    for name in ("card B", "card C"):
        # though the lens reaches out otherwise: focus follows card B
        assert size_of(did["after"][name], 0) == pytest.approx(size_of(did["before"][name], 0), rel=1e-6)
    own = done["nearer_at_its_own_size"]
    assert own["levels"] == ["card A", "heron", "card C", "card B", "card D"]
    assert size_of(own["after"]["card C"], 0) > 1.1 * size_of(own["before"]["card C"], 0)


def test_a_name_is_changed_wherever_it_is_said(done):
    assert 'focus = "church"' in done["rename_the_level_in_focus"]["toml"]
    assert "church,turn,1,25" in done["rename_the_level_in_focus"]["schedule"]
    assert "card B" not in done["rename_the_level_in_focus"]["toml"] + done["rename_the_level_in_focus"]["schedule"]
    assert done["rename_a_level_with_drawings"]["levels"][1] == "grey heron"


def test_other_units_move_nothing_and_have_few_figures(done):
    did = done["count_in_inches"]
    document = tomllib.loads(did["toml"])
    assert document["units"] == "in"
    # a camera 1300 mm up
    assert document["camera"]["height"] == pytest.approx(1300 / 25.4, abs=1e-8)
    assert len(str(document["camera"]["height"])) <= 12
    for name in LEVELS:
        assert np.allclose(did["before"][name], did["after"][name], atol=400 * SAME)


def test_a_row_that_was_edited_is_the_row_in_the_file(done):
    assert "camera,height,3,25,1310.0,1150.0,sine" in done["edit_a_move"]["schedule"]
    assert tomllib.loads(done["edit_a_move"]["toml"])["camera"]["height"] == 1310.0
    assert "card D,north,1,12,-4.0,8.0,steady,3,2" in done["add_a_move_to_one_that_rests"]["schedule"]
    assert ",ratio," in done["truck_by_ratios"]["schedule"]
    assert done["truck_by_ratios"]["schedule"].splitlines()[1].endswith("card D")
    assert "card A,east" not in done["remove_a_move"]["schedule"]


def test_a_typed_height_is_in_the_file_as_it_was_typed(done):
    levels = {level["name"]: level for level in tomllib.loads(done["type_a_height"]["toml"])["level"]}
    assert levels["card D"]["height"] == 112.5
    levels = {level["name"]: level for level in tomllib.loads(done["type_a_width"]["toml"])["level"]}
    assert levels["card C"]["art_width"] == 66.0


@pytest.mark.parametrize(
    ("what", "words"),
    [
        ("nothing chosen", "Choose a level first"),
        ("in focus", "the lens is focused on card B"),
        ("taken", "there is a level 'heron' already"),
        ("reserved", "is a word of the format"),
        ("nearest", "is nearest the lens already"),
        ("opaque", "no alpha channel"),
        ("no image", "does not end in .png"),
        ("no alpha", "no alpha channel"),
        ("drawings", "shows a run of drawings"),
        ("through the stack", "above the lens"),
        ("too many steps", "more than the 24 steps"),
        ("outside", "write a whole number from 1 to 25"),
        ("by hand", "was moved by hand: Save first"),
        ("pulled", "by a parent, a constraint or a driver"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_line(done, what, words):
    said = done["refusals"]["said"][what]
    assert words in said
    assert "\n" not in said
    assert "shot.toml:" not in said


def test_what_is_refused_leaves_everything_as_it_was(done):
    refused = done["refusals"]
    assert refused["draft"] == ""
    assert refused["files"]
    assert refused["art"]
    assert refused["levels"] == sorted(LEVELS)


def test_art_of_an_added_level_that_goes_away_is_told_by_the_level(done):
    there = done["art_of_a_draft_goes_away"]
    assert there["gone"]
    for said in (there["said"], there["save"]):
        assert said.startswith("other art: there is no file")
        assert "underglass-" not in said
    assert there["back"] == ""


def test_a_cube_in_the_stack_is_told_and_put_away_and_brought_back(done):
    there = done["beside_the_stack"]
    assert there["told"] == ["Cube"]
    assert there["away"] == [False, ["Put away"], True]
    assert there["hidden"] == [True, True]
    assert there["told after"] == []
    assert there["back"] == [True, ["home of Cube"]]


def test_a_level_hidden_in_the_viewport_is_there_for_renders_plan_and_save(done):
    there = done["beside_the_stack"]
    assert there["eye"] == [True, False, True, True, []]
    assert there["saved while hidden"] == [["FINISHED"], "nothing had changed"]


def test_the_choice_of_edges_holds_after_the_shot_is_read_again(done):
    assert done["beside_the_stack"]["edges"] == ["BLENDED"]


def test_the_saved_version_is_compared_with_the_scene(done):
    there = done["beside_the_stack"]
    assert there["alike"] == 0
    assert there["differ"][0] == ["card D", "height", "120.0", "100.0"]
    assert there["differ"][1][1] == "size px"


def test_pictures_of_a_proof_stay_with_the_shot(done):
    there = done["pictures_stay_with_the_shot"]
    assert there["kept"] == {
        "1": ["proof-in-window/pictures/0001.png", True],
        "25": ["proof-in-window/pictures/0025.png", True],
    }
    assert there["left"] == []


def test_a_line_is_broken_where_it_is_too_wide_and_nothing_of_it_is_left_out(done):
    lines = done["lines_are_broken_by_their_width"]
    assert all(whole and fits for whole, fits, _ in lines)
    # at 200 px a path alone takes several, at 600 points it is one
    assert lines[2][2] > 2
    assert [count for _, _, count in lines[-3:]] == [1, 2, 1]
