# SPDX-License-Identifier: GPL-3.0-or-later
"""Sixty and more kinds of edits: told by the panels, saved or refused, read again, undone and saved again.

1e-6 of the field is the limit, as in `test_round_trip`. The kinds are in `edit_kinds`, which needs Blender; their names
and what becomes of them are read from its text.
"""

import ast
import math
import shutil
from pathlib import Path

import pytest

import small_shots
from underglass.plan import make_plan
from underglass.shot.files import read_shot

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


@pytest.fixture(scope="module", params=["table", "chart"])
def other_forms(request, tmp_path_factory, run_in_blender):
    """Return the trips of the line-up with a frame table for a schedule, or with a chart beside its moves."""
    folder = tmp_path_factory.mktemp(request.param)
    file = small_shots.line_up(folder / "line-up")
    tracks = make_plan(read_shot(file)).tracks
    if request.param == "table":
        rows = ["frame,camera.height,card C.height,card A.east,card B.turn"]
        rows += [
            f"{frame},{camera * 1000!r},{c * 1000!r},{a * 1000!r},{math.degrees(b)!r}"
            for frame, camera, c, a, b in zip(
                tracks.frames.tolist(),
                tracks.camera["height"].tolist(),
                tracks.levels["height"][:, 3].tolist(),
                tracks.levels["east"][:, 0].tolist(),
                tracks.levels["turn"][:, 2].tolist(),
                strict=True,
            )
        ]
        (file.parent / "schedule.csv").write_text("\n".join(["# by hand", *rows, ""]), encoding="utf-8")
    else:
        named = file.read_text(encoding="utf-8").replace("schedule =", 'chart = "chart.csv"\nschedule =')
        file.write_text(named, encoding="utf-8")
        # no law: each frame is off to another side
        rows = [f"{frame},{20 + frame * 7 % 11 / 10},{frame % 3 / 4}" for frame in tracks.frames.tolist()]
        text = "\n".join(["# by hand", "frame,heron.north,card D.east", *rows, ""])
        (file.parent / "chart.csv").write_text(text, encoding="utf-8")
    for kind in (*SAVED, *REFUSED):
        shutil.copytree(file.parent, folder / kind)
    return run_in_blender(SCRIPT, folder, timeout=420)


def test_nothing_is_lost_of_a_frame_table_or_a_chart(other_forms):
    assert {kind: trip["traceback"] for kind, trip in other_forms.items() if "traceback" in trip} == {}
    saved = {kind: other_forms[kind] for kind in SAVED}
    assert {kind: trip["refused"] for kind, trip in saved.items() if trip["refused"]} == {}
    assert {kind for kind, trip in saved.items() if trip["built_again"] > SAME} == set()
    assert {kind for kind, trip in saved.items() if kind not in LENS_FOLLOWS and trip["edited"] > SAME} == set()
    assert {kind for kind in REFUSED if not other_forms[kind]["same_files"]} == set()
    lost = {kind for kind, trip in other_forms.items() if trip["plans"] or trip["back_plans"] or not trip["back_same"]}
    assert lost == set()


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
