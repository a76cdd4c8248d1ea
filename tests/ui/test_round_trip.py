# SPDX-License-Identifier: GPL-3.0-or-later
"""What an artist changes in Blender comes back into the files, and building again gives the same picture.

1e-6 of the field is the limit: 0.002 px in a picture 2,000 px wide, a twenty-fifth of what a proof allows.
"""

import shutil
import tomllib
from pathlib import Path

import pytest

import small_shots

SCRIPT = Path(__file__).parent / "round_trip.py"
# A share of the field.
SAME = 1e-6
EDITS = [
    "do_nothing",
    "drag_a_still_level",
    "drag_sideways",
    "move_all_keys",
    "key_by_hand",
    "key_up_by_the_way",
    "key_in_straight_lines",
    "truck_farther",
    "turn_and_scale",
    "shorten",
    "lengthen",
    "longer_lens",
    "parent_to_an_empty",
    "swap_heights",
    "move_the_focused_level",
    "delete_a_level",
]
# The lens reaches out with focus: where the level it follows is at another distance, saving keys the lens anew.
LENS_FOLLOWS = {"swap_heights", "move_the_focused_level", "truck_farther"}


@pytest.fixture(scope="module")
def trips(tmp_path_factory, run_in_blender):
    folder = tmp_path_factory.mktemp("trips")
    first = small_shots.line_up(folder / EDITS[0])
    text = first.read_text(encoding="utf-8")
    # what a person wrote beside the numbers
    text = text.replace("height = 1300.0", "height = 1300.0   # as high as it goes")
    first.write_text("# the line-up card\n" + text, encoding="utf-8")
    schedule = first.parent / "schedule.csv"
    schedule.write_text("# rehearsed twice\n" + schedule.read_text(encoding="utf-8"), encoding="utf-8")
    for edit in EDITS[1:]:
        shutil.copytree(folder / EDITS[0], folder / edit)
    return run_in_blender(SCRIPT, folder, timeout=240)


@pytest.mark.parametrize("edit", EDITS)
def test_what_was_saved_and_built_again_looks_the_same_on_every_frame(trips, edit):
    trip = trips[edit]
    assert trip["result"] == "saved", trip["said"]
    assert trip["built_again"] <= SAME


@pytest.mark.parametrize("edit", [edit for edit in EDITS if edit not in LENS_FOLLOWS])
def test_what_was_saved_looks_as_it_was_edited(trips, edit):
    assert trips[edit]["edited"] <= SAME


def test_a_scene_that_nobody_touched_changes_no_file(trips):
    assert trips["do_nothing"]["changed_files"] == []
    assert "nothing had changed" in trips["do_nothing"]["said"]


def test_a_level_that_stands_still_changes_its_own_line_alone(trips):
    assert trips["drag_a_still_level"]["changed_files"] == ["shot.toml"]
    level = tomllib.loads(trips["drag_a_still_level"]["toml"])["level"][-1]
    # 25.4 mm above the 100 mm that the file said, in the figures that a person would write
    assert level["height"] == 125.4


def test_keys_moved_as_one_keep_their_law(trips):
    rows = [line for line in trips["move_all_keys"]["schedule"].splitlines() if line.startswith("card A,east")]
    assert [[float(cell) for cell in row.split(",")[4:6]] for row in rows] == [[-11.0, 19.0]]
    assert rows[0].endswith(",steady,4,4")


def test_straight_lines_between_keys_become_a_steady_move(trips):
    rows = [line for line in trips["key_in_straight_lines"]["schedule"].splitlines() if line.startswith("heron,north")]
    assert len(rows) == 1
    part, axis, first, last, *_ = rows[0].split(",")
    assert (part, axis, first, last) == ("heron", "north", "4", "12")


def test_eases_between_keys_become_bezier_moves(trips):
    """Three keys, of which the middle one is the farthest: level at all of them."""
    rows = [line.split(",") for line in trips["key_by_hand"]["schedule"].splitlines() if line.startswith("heron,east")]
    assert [(row[2], row[3], row[6]) for row in rows] == [("3", "11", "bezier"), ("11", "20", "bezier")]
    assert trips["key_by_hand"]["chart"] == ""


def test_an_axis_that_no_law_fits_has_a_chart_of_its_own_beside_the_moves_of_the_others(trips):
    trip = trips["key_up_by_the_way"]
    header = next(line for line in trip["chart"].splitlines() if not line.startswith("#"))
    assert header == "frame,heron.east"
    kept = [line for line in trip["schedule"].splitlines() if not line.startswith("heron,east")]
    assert kept == trips["do_nothing"]["schedule"].splitlines()
    assert tomllib.loads(trip["toml"])["chart"] == "chart.csv"


@pytest.mark.parametrize("edit", [edit for edit in EDITS if edit != "do_nothing"])
def test_what_people_wrote_beside_the_numbers_stays(trips, edit):
    assert "# the line-up card" in trips[edit]["toml"]
    assert "# as high as it goes" in trips[edit]["toml"]
    assert "# rehearsed twice" in trips[edit]["schedule"]


def test_another_range_of_frames_is_taken_over(trips):
    assert tomllib.loads(trips["shorten"]["toml"])["frames"] == [4, 18]
    assert tomllib.loads(trips["lengthen"]["toml"])["frames"] == [1, 40]


def test_levels_that_changed_places_change_their_order_in_the_file(trips):
    names = [level["name"] for level in tomllib.loads(trips["swap_heights"]["toml"])["level"]]
    assert names == ["card A", "card B", "heron", "card C", "card D"]


def test_a_level_that_was_deleted_leaves_the_shot_and_takes_its_drawings_along(trips):
    shot = tomllib.loads(trips["delete_a_level"]["toml"])
    assert "heron" not in [level["name"] for level in shot["level"]]
    assert "drawings" not in shot
    assert "heron is no longer in the scene" in trips["delete_a_level"]["said"]
