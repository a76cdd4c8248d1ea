# SPDX-License-Identifier: GPL-3.0-or-later
"""What a plan puts into its folder: the estuary as it was committed, stand-ins for art, and never over a painting."""

import json
import shutil
from dataclasses import replace
from importlib import resources
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from PIL import Image

from desk.briefs import brief_text, level
from underglass.plan import corners_px, make_plan
from underglass.plan.expectations_held import unmet_expectations
from underglass.shot.files import read_shot
from underglass_headless import cli
from underglass_headless.cli import Status
from underglass_headless.desk.guide.stand_in_art import is_stand_in

pytestmark = pytest.mark.once

ESTUARY = Path(__file__).resolve().parents[3] / "scenes" / "estuary"
SAID = {
    "levels": [level("gate", 4), level("star", "infinity", covers=["left", "right", "top", "bottom"])],
    "toward": [[1, 0], [49, 1]],
    "across": [[1, 0], [49, 0.5]],
    "camera": {"height": 1000},
    "stand": {"level_height": [0, 800], "least_gap": 100},
}


def run(*words: object) -> int:
    return cli.run([str(word) for word in words])


@pytest.fixture
def brief(tmp_path) -> Path:
    (tmp_path / "brief.toml").write_text(brief_text(**SAID), encoding="utf-8")
    return tmp_path / "brief.toml"


def test_the_estuary_s_brief_gives_the_estuary_that_was_painted(tmp_path, capsys):
    assert run("plan", ESTUARY, "-o", tmp_path, "--json") == Status.HOLDS
    told = json.loads(capsys.readouterr().out)
    planned, committed = make_plan(read_shot(tmp_path)), make_plan(read_shot(ESTUARY))
    assert planned.names == committed.names
    assert np.abs(corners_px(planned) - corners_px(committed)).max() < 1e-6
    for axis, track in committed.tracks.levels.items():
        np.testing.assert_allclose(planned.tracks.levels[axis], track, atol=1e-12)
    assert told["schedule"] == "moves"
    assert told["worst_error_px"] < 1e-6
    assert unmet_expectations(planned, hold_px=0.05) == []
    # The two were said apart: the plan keeps what the committed shot expects, too.
    expected = replace(planned.shot, expectations=committed.shot.expectations)
    assert unmet_expectations(make_plan(expected), hold_px=0.05) == []


@pytest.mark.parametrize("gap", [100, 5000])
def test_what_is_printed_for_a_machine_holds_what_its_schema_promises(gap, tmp_path, capfd):
    said = SAID | {"stand": {"level_height": [0, 800], "least_gap": gap}, "across": [[1, 0], [49, -3]]}
    (tmp_path / "brief.toml").write_text(brief_text(**said), encoding="utf-8")
    assert run("plan", tmp_path, "-o", tmp_path / "out", "--json") == (Status.HOLDS if gap < 800 else Status.FAILS)
    schema = resources.files("underglass_headless.desk").joinpath("plan.schema.json").read_text(encoding="utf-8")
    told = json.loads(capfd.readouterr().out)
    jsonschema.Draft202012Validator(json.loads(schema)).validate(told)
    assert told["fits"] is (gap < 800)


def test_a_brief_without_art_comes_out_as_a_shot_that_can_be_read_and_has_stand_ins(brief, tmp_path, capsys):
    out = tmp_path / "out"
    assert run("plan", brief, "-o", out) == Status.HOLDS
    shot = read_shot(out)
    for glass in shot.levels:
        assert is_stand_in(out / glass.art)
        with Image.open(out / glass.art) as image:
            assert image.size == glass.art_px
    with Image.open(out / shot.levels[-1].art) as image:
        assert np.asarray(image)[..., 3].min() == 255
    assert {path.name for path in out.iterdir()} == {"art", "templates", "guide.html", "schedule.csv", "shot.toml"}
    assert "proved best within the limits (figures: --json)" in capsys.readouterr().out


def test_a_painting_in_the_folder_is_kept_and_its_size_counts(brief, tmp_path):
    out = tmp_path / "out"
    run("plan", brief, "-o", out)
    Image.new("RGBA", (400, 300), "red").save(out / "art" / "gate.png")
    before = (out / "art" / "gate.png").read_bytes()
    assert run("plan", brief, "-o", out) == Status.HOLDS
    assert (out / "art" / "gate.png").read_bytes() == before
    assert read_shot(out).levels[0].art_px == (400, 300)
    assert is_stand_in(out / "art" / "star.png")


def test_art_beside_the_brief_is_copied(brief, tmp_path):
    (tmp_path / "art").mkdir()
    Image.new("RGBA", (400, 300), "red").save(tmp_path / "art" / "gate.png")
    assert run("plan", brief, "-o", tmp_path / "out") == Status.HOLDS
    assert (tmp_path / "out/art/gate.png").read_bytes() == (tmp_path / "art/gate.png").read_bytes()


def test_where_nothing_fits_nothing_is_written_and_the_clash_is_told(tmp_path, capsys):
    (tmp_path / "brief.toml").write_text(
        brief_text(**(SAID | {"stand": {"level_height": [700, 800], "least_gap": 150}})), encoding="utf-8"
    )
    assert run("plan", tmp_path, "-o", tmp_path / "out") == Status.FAILS
    told = capsys.readouterr().out
    assert "no stack fits within" in told
    assert "lower least_gap of 150 mm by " in told
    assert "raise level_height at most 800 mm by " in told
    assert not (tmp_path / "out").exists()


def test_a_compromise_is_written_where_it_is_asked_for(tmp_path):
    stand = {"level_height": [100, 800], "level_east": [-10, 10]}
    said = SAID | {"across": [[1, 0], [49, 5]], "stand": stand}
    (tmp_path / "brief.toml").write_text(brief_text(**said), encoding="utf-8")
    assert run("plan", tmp_path, "-o", tmp_path / "out", "--compromise") == Status.FAILS
    east = make_plan(read_shot(tmp_path / "out")).tracks.levels["east"]
    assert np.abs(east).max() <= 0.01 + 1e-9


def test_a_plan_that_fails_leaves_the_earlier_one_whole(brief, tmp_path, capsys):
    out = tmp_path / "out"
    run("plan", brief, "-o", out)
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    brief.write_text(brief.read_text(encoding="utf-8").replace("toward", "toword"), encoding="utf-8")
    assert run("plan", brief, "-o", out) == Status.BAD_INPUT
    assert "did you mean 'toward'?" in capsys.readouterr().err
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before


def test_the_brief_s_own_folder_can_take_the_plan(brief, tmp_path):
    assert run("plan", brief, "-o", tmp_path) == Status.HOLDS
    text = (tmp_path / "shot.toml").read_text(encoding="utf-8")
    assert run("plan", brief, "-o", tmp_path) == Status.HOLDS
    assert (tmp_path / "shot.toml").read_text(encoding="utf-8") == text


@pytest.mark.bpy
@pytest.mark.render
@pytest.mark.parametrize("focus", [700, "gate"])
def test_a_planned_shot_measures_in_the_pixels_as_the_world_would_look(focus, brief, tmp_path, capsys):
    levels = [level("leaf", 3, art_width=120), *SAID["levels"]]
    said = SAID | {"levels": levels, "camera": {"height": 1000, "focus": focus}}
    brief.write_text(brief_text(**said), encoding="utf-8")
    assert run("plan", brief, "-o", tmp_path / "out") == Status.HOLDS
    capsys.readouterr()
    out = tmp_path / "out"
    # What a measurement may be off is 0.016 px here, and counts in a verdict; the sizes themselves are held to 0.01 px.
    words = ["prove", out, "--out", tmp_path / "proof", "--frames", "1,25,49", "--no-pictures"]
    assert run(*words, "--json") == Status.HOLDS
    proof = json.loads(capsys.readouterr().out.splitlines()[-1])["proof"]
    sizes = {(one["level"], one["frame"]): one["measured"]["size_px"] for one in proof["measurements"]}
    for name, distance in (("leaf", 3.0), ("gate", 4.0), ("star", np.inf)):
        for frame, walked in ((25, 0.5), (49, 1.0)):
            wanted = sizes[name, 1] / (1 - walked / distance)
            assert sizes[name, frame] == pytest.approx(wanted, abs=0.01), (name, frame)


def test_the_estuary_is_planned_from_a_copy_of_its_brief_alone(tmp_path, capsys):
    for name in ("brief.toml", "drawings.csv"):
        shutil.copy(ESTUARY / name, tmp_path / name)
    assert run("plan", tmp_path, "-o", tmp_path / "out") == Status.HOLDS
    assert "5 of them move" in capsys.readouterr().out
    assert read_shot(tmp_path / "out").levels[2].has_drawings


def test_a_shot_that_was_edited_by_hand_is_kept_beside_the_new_one(brief, tmp_path, capsys):
    assert run("plan", brief, "-o", tmp_path / "out") == Status.HOLDS
    shot = tmp_path / "out" / "shot.toml"
    planned = shot.read_text(encoding="utf-8")
    assert run("plan", brief, "-o", tmp_path / "out") == Status.HOLDS
    assert not (tmp_path / "out" / "shot.before.toml").exists()
    edited = planned.replace("fps", "# rehearsed\nfps", 1)
    shot.write_text(edited, encoding="utf-8")
    capsys.readouterr()
    assert run("plan", brief, "-o", tmp_path / "out") == Status.HOLDS
    assert shot.read_text(encoding="utf-8") == planned
    assert (tmp_path / "out" / "shot.before.toml").read_text(encoding="utf-8") == edited
    assert "what was there is kept as shot.before.toml" in capsys.readouterr().out


def test_easing_a_limit_saves_the_travel_that_was_said(brief, tmp_path, capsys):
    def travel(text: str, out: str) -> tuple[float, list[dict]]:
        file = tmp_path / f"{out}.toml"
        file.write_text(text, encoding="utf-8")
        assert run("plan", file, "-o", tmp_path / out, "--json") == Status.HOLDS
        told = json.loads(capsys.readouterr().out)
        return sum(one["travel_height"] + one["travel_east"] for one in told["levels"]), told["binding"]

    run("plan", brief, "-o", tmp_path / "said")
    said = capsys.readouterr().out
    text = brief.read_text(encoding="utf-8")
    before, binding = travel(text, "before")
    saves = next(one["saves"] for one in binding if one["limit"] == "stand.level_height:most")
    after, _ = travel(text.replace("[0, 800]", "[0, 801]"), "after")
    assert before - after == pytest.approx(saves, rel=0.02)
    # a limit at its upper end has to be higher, one at its lower end lower
    (line,) = [line for line in said.splitlines() if "level_height at most 800 mm" in line and "save" in line]
    assert f"; 1 mm more would save {saves:.2f} mm of travel" in line
