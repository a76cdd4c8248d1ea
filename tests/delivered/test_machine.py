# SPDX-License-Identifier: GPL-3.0-or-later
"""What is the machine's matter is not told as a fault of a frame, and a library's own lines are told by nobody."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from delivered.conftest import MAKING, judged
from delivered.made_frames import write_frames
from underglass.plan import make_plan
from underglass.shot import UnderglassError
from underglass.shot.files import read_shot
from underglass_headless import cli
from underglass_headless.blender.blender_process import BlenderError
from underglass_headless.delivered import read_frame


def spoil(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2 :] = bytes(len(data) - len(data) // 2)
    path.write_bytes(data)


def test_too_little_memory_to_judge_what_was_read_is_the_machines_matter(
    shot: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_frames(make_plan(read_shot(shot)), tmp_path / "frames", frames=[1], making=MAKING)

    def full(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr(read_frame, "fit_delivered", full)
    with pytest.raises(UnderglassError, match="too little free memory") as error:
        judged(shot, tmp_path / "frames", frames=(1,))
    # whose exit status is 3, see cli.run
    assert isinstance(error.value, BlenderError)
    assert "\n" not in str(error.value)


def test_too_little_memory_anywhere_is_one_line_of_its_own(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr(cli.cli, "main", full)
    assert cli.run(["check", "shot.toml"]) == cli.Status.BLENDER_FAILED
    assert capsys.readouterr().err == "underglass: this machine has too little free memory for that\n"


def test_openexr_prints_nothing_of_its_own(shot: Path, tmp_path: Path) -> None:
    files = write_frames(make_plan(read_shot(shot)), tmp_path / "frames", frames=range(1, 13), making=MAKING)
    spoil(files[4])
    command = [
        sys.executable,
        "-m",
        "underglass_headless",
        "prove",
        str(shot),
        "--frames-from",
        str(tmp_path / "frames"),
    ]
    world = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run(
        [*command, "--out", str(tmp_path / "out")], capture_output=True, text=True, check=False, env=world
    )
    assert done.returncode == 1, done.stderr
    assert "looking at the frames" in done.stderr
    assert "EXR_ERR" not in done.stderr
    assert "frame 5 cannot be read" in done.stdout + done.stderr
