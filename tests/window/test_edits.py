# SPDX-License-Identifier: GPL-3.0-or-later
"""Every kind of edit in a real window: files that can always be planned, nothing lost, built again as it was saved."""

import json
import shutil
from pathlib import Path

import pytest

import small_shots
from ui.test_many_edits import LENS_FOLLOWS, REFUSED, SAME, SAVED
from window.conftest import PICTURES, ROOT

pytestmark = [pytest.mark.window, pytest.mark.timeout(600)]

DRIVER = Path(__file__).with_name("edits_driver.py")


@pytest.fixture(scope="module")
def edits(blender, command, tmp_path_factory):
    place = tmp_path_factory.mktemp("edits")
    small_shots.line_up(place / "sidebar")
    for kind in ("ranges", "lens", *SAVED, *REFUSED):
        shutil.copytree(place / "sidebar", place / kind)
    done = command("--factory-startup", "--python", str(DRIVER), "--", str(place), str(ROOT / "tests"), timeout=560)
    pictures = PICTURES / f"{Path(blender).name} edits"
    shutil.rmtree(pictures, ignore_errors=True)
    pictures.mkdir(parents=True)
    for picture in place.glob("*.png"):
        shutil.copy(picture, pictures)
    (pictures / "console.txt").write_text(done.stdout + done.stderr, encoding="utf-8")
    if not (place / "edits.json").is_file():
        pytest.fail(f"the window told nothing\n{(done.stdout + done.stderr)[-4000:]}", pytrace=False)
    return json.loads((place / "edits.json").read_text(encoding="utf-8"))


def test_every_step_went_through(edits):
    assert edits["troubles"] == []
    assert edits.get("done")
    assert set(edits["trips"]) == {*SAVED, *REFUSED}


def test_every_kind_that_can_be_said_is_saved_and_built_again_as_it_was(edits):
    trips = {kind: edits["trips"][kind] for kind in SAVED}
    assert {kind: trip["refused"] for kind, trip in trips.items() if trip["refused"]} == {}
    assert {kind: trip["built_again"] for kind, trip in trips.items() if trip["built_again"] > SAME} == {}
    strayed = {kind: trip["edited"] for kind, trip in trips.items() if kind not in LENS_FOLLOWS}
    assert {kind: far for kind, far in strayed.items() if far > SAME} == {}


def test_every_kind_that_cannot_be_said_is_refused_and_the_panels_stay(edits):
    trips = {kind: edits["trips"][kind] for kind in REFUSED}
    assert {kind: trip["refused"] for kind, trip in trips.items() if REFUSED[kind] not in trip["refused"]} == {}
    assert {kind for kind, trip in trips.items() if not trip["same_files"] or trip["levels"] != 5} == set()


def test_files_can_always_be_planned_and_undo_brings_all_back(edits):
    kept = ("back_same", "same_art", "back_art", "same_scene")
    lost = {kind: [key for key in kept if not trip[key]] for kind, trip in edits["trips"].items()}
    assert {kind: keys for kind, keys in lost.items() if keys} == {}
    errors = {kind: [trip["plans"], trip["back_plans"], trip["back"]] for kind, trip in edits["trips"].items()}
    assert {kind: said for kind, said in errors.items() if any(said)} == {}


def test_the_panels_say_what_save_says(edits):
    for kind in SAVED:
        trip = edits["trips"][kind]
        said = f"saved: {', '.join(trip['panel'])}" if trip["panel"] else "nothing had changed"
        assert (kind, trip["said"].split("; ")[0], trip["settled"]) == (kind, said, [])


def test_the_stack_is_read_once_the_hand_rests_and_then_left_alone(edits):
    assert edits["settled"]
    assert edits["rested"] == ["card D east"]
    assert edits["idle"] == 0
