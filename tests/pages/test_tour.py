# SPDX-License-Identifier: GPL-3.0-or-later
"""The tour on the first page: its commands are run as they stand there, in a copy of the scenes."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pages.markdown import blocks

pytestmark = pytest.mark.once

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
ACTIVATE = ". .venv/bin/activate"
TOUR = ("check", "table", "sheets", "plan", "prove")

# Writes the command of the package that is tested, whatever else is installed under its name.
COMMAND = '#!/bin/sh\nexec "{python}" -m underglass_headless "$@"\n'


def tour() -> list[str]:
    """Return the lines of the tour."""
    (block,) = [block for block in blocks(README) if block.heading == "A tour of five minutes"]
    assert block.language == "sh"
    return block.text.splitlines()


def shown_by(line: str) -> list[str]:
    """Return the files that the remark at the end of a line says to open, or that the command is told to write."""
    command, _, remark = line.partition("#")
    opened = re.findall(r"open ([^\s:]+)", remark)
    return opened or re.findall(r"-o (\S+)", command)


@pytest.fixture
def desk(tmp_path) -> tuple[Path, dict[str, str]]:
    """Return a folder with the scenes in it, and an environment that has the command."""
    shutil.copytree(
        ROOT / "scenes", tmp_path / "scenes", ignore=shutil.ignore_patterns("proof", "proof-of-frames", "shown")
    )
    (tmp_path / "bin").mkdir()
    command = tmp_path / "bin" / "underglass"
    command.write_text(COMMAND.format(python=sys.executable), encoding="utf-8")
    command.chmod(0o755)
    packages = os.pathsep.join(str(ROOT / folder) for folder in ("blender_addon", "headless"))
    path = os.pathsep.join([str(command.parent), os.environ["PATH"]])
    return tmp_path, os.environ | {"PATH": path, "PYTHONPATH": packages}


def test_the_tour_has_a_command_for_each_thing_in_order():
    first, *rest = tour()
    assert first == ACTIVATE
    assert [line.split()[:2] for line in rest] == [["underglass", command] for command in TOUR]


@pytest.mark.bpy
@pytest.mark.render
@pytest.mark.slow
def test_the_commands_of_the_tour_work_as_they_stand_and_leave_what_they_say(desk):
    place, world = desk
    for line in tour()[1:]:
        done = subprocess.run(
            ["sh", "-c", line], cwd=place, env=world, capture_output=True, text=True, timeout=200, check=False
        )
        assert done.returncode == 0, f"{line}\n{done.stdout}{done.stderr}"
        assert done.stdout or "-o" in line
        assert [name for name in shown_by(line) if not (place / name).exists()] == [], line
