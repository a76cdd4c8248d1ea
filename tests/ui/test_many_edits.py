"""Sixty and more kinds of edits: told by the panels, saved or refused, read again, undone and saved again.

1e-6 of the field is the limit, as in `test_round_trip`. The kinds are in `edit_kinds`, which needs Blender; their names
and what becomes of them are read from its text.
"""

import ast
import shutil
from pathlib import Path

import pytest

from proof import small_shots

SCRIPT = Path(__file__).parent / "many_edits.py"
KINDS = ast.parse((Path(__file__).parent / "edit_kinds.py").read_text(encoding="utf-8"))
SAME = 1e-6


def table(name):
    """Return the list or dictionary ``name`` of the kinds: names of functions, and what stands beside them."""
    value = next(
        node.value
        for node in KINDS.body
        if isinstance(node, ast.Assign) and node.targets[0].id == name  # type: ignore[attr-defined]
    )
    if isinstance(value, ast.Dict):
        return {key.id: ast.literal_eval(said) for key, said in zip(value.keys, value.values, strict=True)}
    return [one.id for one in value.elts]


SAVED, REFUSED, LENS_FOLLOWS = table("SAVED"), table("REFUSED"), table("LENS_FOLLOWS")


@pytest.fixture(scope="module")
def trips(tmp_path_factory, run_in_blender):
    folder = tmp_path_factory.mktemp("edits")
    small_shots.line_up(folder / "line-up")
    for kind in (*SAVED, *REFUSED):
        shutil.copytree(folder / "line-up", folder / kind)
    return run_in_blender(SCRIPT, folder, timeout=420)


@pytest.fixture
def trip(trips, kind):
    found = trips[kind]
    assert "traceback" not in found, found["traceback"]
    return found


def test_there_are_as_many_kinds_as_a_day_has(trips):
    assert len(SAVED) + len(REFUSED) >= 40
    assert set(trips) == {*SAVED, *REFUSED}


@pytest.mark.parametrize("kind", SAVED)
def test_what_can_be_said_is_saved_and_built_again_as_it_was(trip, kind):
    assert trip["refused"] == ""
    assert trip["plans"] == ""
    assert trip["built_again"] <= SAME
    if kind not in LENS_FOLLOWS:
        assert trip["edited"] <= SAME


@pytest.mark.parametrize("kind", SAVED)
def test_the_panels_say_before_what_save_says_afterwards(trip):
    assert trip["trouble"] == ""
    said = f"saved: {', '.join(trip['panel'])}" if trip["panel"] else "nothing had changed"
    assert trip["said"].split("; ")[0] == said
    assert trip["settled"] == []


@pytest.mark.parametrize("kind", REFUSED)
def test_what_cannot_be_said_is_refused_with_its_reason_and_no_file_is_touched(trip, kind):
    assert REFUSED[kind] in trip["refused"]
    assert trip["trouble"] in trip["refused"]
    assert trip["trouble"]
    assert trip["offers"]
    assert trip["same_files"]
    # the panels stay
    assert trip["levels"] == 5


@pytest.mark.parametrize("kind", [*SAVED, *REFUSED])
def test_the_files_can_always_be_planned_and_undo_brings_back_all_there_was(trip):
    assert (trip["plans"], trip["back_plans"], trip["back"]) == ("", "", "")
    assert trip["back_same"]
    assert trip["same_art"]
    assert trip["back_art"]
    assert trip["back_levels"] == 5


@pytest.mark.parametrize("kind", [*SAVED, *REFUSED])
def test_saving_moves_nothing_that_the_hand_has_put_somewhere(trip):
    assert trip["same_scene"]


@pytest.mark.parametrize(
    ("kind", "law"),
    [
        ("two_keys_with_the_ease_of_blender", "heron,east,3,19,20.0,55.0,bezier,,"),
        ("an_ease_with_its_handles_drawn_out", "heron,east,3,23,20.0,55.0,bezier,12.5,2"),
        ("a_height_that_goes_and_comes_back", "heron,height,1,13,850.0,870.0,bezier,,"),
    ],
)
def test_an_ease_is_a_law_of_the_schedule(trip, law):
    assert law in trip["schedule"].splitlines()
    assert trip["chart"] == ""


@pytest.mark.parametrize("kind", ["three_keys_passed_on_the_way", "keys_that_overshoot"])
def test_one_axis_without_a_law_leaves_the_moves_of_the_others(trip, trips):
    assert trip["chart"].splitlines()[0] == "frame,heron.east"
    assert trip["schedule"] == trips["nothing_at_all"]["schedule"]


@pytest.mark.parametrize(
    ("kind", "focus", "focal"),
    [
        ("thirty_five_millimetres_typed", "card B", 35.0),
        ("a_lens_typed_and_the_focused_level_moved", "card B", 35.0),
        ("focus_put_on_another_level", "card A", 50.0),
        ("focus_on_an_object_as_blender_has_it", "card C", 50.0),
    ],
)
def test_a_lens_that_is_typed_is_that_lens_and_keeps_its_focus(trip, focus, focal):
    assert trip["focus"] == [focus, focal]
    assert "focal_mm" not in trip["schedule"]


@pytest.mark.parametrize("kind", ["drawings_on_other_frames"])
def test_the_sheet_of_drawings_is_saved_as_it_was_keyed(trip):
    assert trip["drawings"].splitlines() == ["frame,heron", "1,red", "11,blue", "19,-"]
    assert trip["panel"] == ["drawings"]
