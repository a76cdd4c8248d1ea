# SPDX-License-Identifier: GPL-3.0-or-later
"""``check``: what it prints, its exit status, its JSON and the schema of it, and what it must never load."""

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import click
import jsonschema
import pytest

from shot_strategies import make_art
from underglass.plan.findings import BLOCK, CODES, NOTE, SEVERITIES, WARN, Finding
from underglass.shot.files import read_shot
from underglass_headless import cli
from underglass_headless.cli import Status
from underglass_headless.desk.check_command import check_lines, check_shot, findings_json, findings_schema

SCENES = Path(__file__).resolve().parents[2] / "scenes"
VALIDATOR = jsonschema.Draft202012Validator(findings_schema())
FOUND = Finding("jump", WARN, "reeds", "east", (3, 9), 2.0, 1.0, "in a frame", "reeds jumps east by 2 in", "look again")

# The near level goes 4 inches east of what the stand can do, and the ground ends in the frame.
TOML = """\
format = 1
title = "A slip"
units = "in"
fps = 24
frames = [1, 48]
schedule = "schedule.csv"

[camera]
projection = "orthographic"
frame_px = [400, 300]
field_width = 8.0
height = 40.0

[stand]
level_east = [-4, 4]

[[level]]
name = "reeds"
art = "reeds.png"
art_width = 4.0
height = 10.0

[[level]]
name = "ground"
art = "ground.png"
art_width = 8.5
height = 2.0
"""
SCHEDULE = "part,axis,first,last,from,to,law,slow_out,slow_in\nreeds,east,1,48,,8,sine,,\n"


@pytest.fixture
def slip(tmp_path: Path) -> Path:
    make_art(tmp_path, "reeds.png", 400, 300)
    make_art(tmp_path, "ground.png", 850, 700)
    (tmp_path / "shot.toml").write_text(TOML)
    (tmp_path / "schedule.csv").write_text(SCHEDULE)
    return tmp_path


def ruled(slip: Path, code: str, severity: str, reason: str) -> Path:
    text = f'{TOML}\n[findings]\n{code} = {{ severity = "{severity}", reason = "{reason}" }}\n'
    (slip / "shot.toml").write_text(text)
    return slip


def test_a_finding_that_stops_the_shot_is_exit_status_1_and_is_told_with_its_remedy(slip, capsys) -> None:
    assert cli.run(["check", str(slip)]) == Status.FAILS
    told = capsys.readouterr().out.splitlines()
    assert told[0] == "“A slip”: 1 block, 1 note."
    assert told[1] == "  block out-of-travel, frames 25-48: reeds's east goes to 8 in, where the stand ends at 4 in."
    assert told[2].startswith("        → shorten the move by 4 in")
    assert told[3].startswith("  note  strobing, ")


def test_the_shot_s_own_word_changes_the_exit_status_and_its_reason_is_printed(slip, capsys) -> None:
    assert cli.run(["check", str(ruled(slip, "out-of-travel", "warn", "new rails next week"))]) == Status.HOLDS
    assert "(the shot file makes this a warn: new rails next week)" in capsys.readouterr().out


def test_a_code_that_is_none_is_bad_input_with_the_nearest(slip, capsys) -> None:
    assert cli.run(["check", str(ruled(slip, "strobbing", "note", "x"))]) == Status.BAD_INPUT
    error = capsys.readouterr().err
    assert "did you mean 'strobing'?" in error
    assert error.count("\n") == 1


def test_a_shot_that_cannot_be_planned_is_bad_input(slip, capsys) -> None:
    (slip / "schedule.csv").write_text(SCHEDULE + "reeds,height,1,48,,1,steady,,\n")
    assert cli.run(["check", str(slip)]) == Status.BAD_INPUT
    assert "meets 'reeds'" in capsys.readouterr().err


@pytest.mark.parametrize("scene", ["estuary", "market", "calibration"])
def test_the_scenes_of_the_demo_pass_in_few_lines(scene, capsys) -> None:
    assert cli.run(["check", str(SCENES / scene)]) == Status.HOLDS
    assert len(capsys.readouterr().out.splitlines()) <= 16


def test_json_is_a_list_that_keeps_to_its_schema(slip, capsys) -> None:
    assert cli.run(["check", str(slip), "--json"]) == Status.FAILS
    records = json.loads(capsys.readouterr().out)
    VALIDATOR.validate(records)
    assert [record["code"] for record in records] == ["out-of-travel", "strobing"]
    assert records[0]["value"] == pytest.approx(8.0)
    assert (records[0]["limit"], records[0]["unit"], records[0]["frames"]) == (4.0, "in", [25, 48])


@pytest.mark.parametrize("scene", ["estuary", "market", "calibration"])
def test_json_of_the_scenes_keeps_to_its_schema(scene) -> None:
    _, findings = check_shot(SCENES / scene)
    VALIDATOR.validate(json.loads(findings_json(findings)))


def test_the_schema_knows_every_code_and_severity_and_refuses_others() -> None:
    jsonschema.Draft202012Validator.check_schema(findings_schema())
    item = findings_schema()["items"]["properties"]
    assert (tuple(item["code"]["enum"]), tuple(item["severity"]["enum"])) == (CODES, SEVERITIES)
    for key, wrong in (("code", "jumps"), ("severity", "grave"), ("axis", "left"), ("frames", [1]), ("message", "")):
        record = json.loads(findings_json([FOUND]))
        record[0][key] = wrong
        assert not VALIDATOR.is_valid(record), key


def test_a_number_that_is_none_becomes_null() -> None:
    records = json.loads(findings_json([replace(FOUND, value=float("inf"))]))
    assert records[0]["value"] is None
    VALIDATOR.validate(records)


def lines(*findings: Finding, columns: int | None = None) -> list[str]:
    return list(check_lines(read_shot(SCENES / "market"), findings, columns=columns))


def test_nothing_found_is_said_in_one_line() -> None:
    assert lines() == ["“Kite market”: nothing found."]


def test_notes_of_one_code_are_told_together_the_worst_first() -> None:
    soft = replace(FOUND, code="soft", severity=NOTE, unit="mm")
    some = [
        replace(soft, level=name, value=value, message=f"{name} is soft") for name, value in (("a", 2.0), ("b", 3.0))
    ]
    (_, line) = lines(*some)
    assert "frames 3-9: b is soft; also a 2 mm." in line


def test_two_warnings_of_one_code_are_told_apart() -> None:
    assert len(lines(FOUND, replace(FOUND, level="far"))) == 5


def test_names_of_a_user_cannot_break_the_line() -> None:
    (_, line, _) = lines(replace(FOUND, message="left\u202eright jumps"))
    assert "left□right" in line


def test_a_terminal_s_width_is_kept() -> None:
    told = click.unstyle("\n".join(lines(replace(FOUND, message="word " * 60), columns=60))).splitlines()
    assert len(told) > 6
    assert max(len(line) for line in told) <= 60


def test_colours_are_for_terminals_alone(slip, capsys) -> None:
    assert "\033[" in "".join(lines(replace(FOUND, severity=BLOCK)))
    cli.run(["check", str(slip)])
    assert "\033[" not in capsys.readouterr().out


LOADED = """
import json, sys
from underglass_headless import cli
status = cli.run(sys.argv[1:])
print("LOADED " + json.dumps(sorted({name.split(".")[0] for name in sys.modules})))
"""


def test_blender_and_what_is_slow_are_never_loaded(slip) -> None:
    world = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    command = [sys.executable, "-c", LOADED, "check", str(slip)]
    done = subprocess.run(command, env=world, capture_output=True, text=True, check=True, timeout=60)
    loaded = json.loads(done.stdout.splitlines()[-1].removeprefix("LOADED "))
    assert {"numpy", "underglass"} <= set(loaded)
    assert {"bpy", "matplotlib", "PIL", "OpenEXR", "jinja2", "rich", "scipy"}.isdisjoint(loaded)
