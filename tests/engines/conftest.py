# SPDX-License-Identifier: GPL-3.0-or-later
"""Proofs by the command line, in processes that can be killed, and what they leave."""

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import small_shots

COMMAND = [sys.executable, "-m", "underglass_headless"]


@pytest.fixture(scope="session")
def line_up(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the shot.toml of a small shot with every kind of move in it."""
    return small_shots.line_up(tmp_path_factory.mktemp("line-up") / "shot")


@pytest.fixture(scope="session")
def proof_of_one_process(line_up: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Return the proof that one process makes of `line_up`, apart from times."""
    out = tmp_path_factory.mktemp("one") / "proof"
    assert run(["prove", str(line_up), "--out", str(out)]).returncode == 0
    return timeless(out)


def run(words: list[str], **more: Any) -> "subprocess.CompletedProcess[str]":
    """Run a command to its end."""
    return subprocess.run([*COMMAND, *words], capture_output=True, text=True, check=False, env=environment(), **more)


@pytest.fixture
def started() -> Iterator[Callable[..., "subprocess.Popen[str]"]]:
    """Return what starts a command in a group of its own; none of the group outlives the test."""
    begun: list[subprocess.Popen[str]] = []

    def start(words: list[str]) -> "subprocess.Popen[str]":
        begun.append(
            subprocess.Popen(
                [*COMMAND, *words],
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
                env=environment(),
                start_new_session=True,
            )
        )
        return begun[-1]

    yield start
    for process in begun:
        if process.poll() is None:
            os.killpg(process.pid, 9)
        process.wait()


def environment() -> dict[str, str]:
    """Return an environment in which the project is found as it is here."""
    return os.environ | {"PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}


def timeless(out: Path) -> dict[str, Any]:
    """Return what a proof says, apart from what it took: time, memory, and how much of it an earlier run had done."""
    record: dict[str, Any] = json.loads((out / "proof.json").read_text(encoding="utf-8"))
    assert record.pop("seconds")
    assert record.pop("peak_memory_mb") > 0
    assert sum(record.pop("units").values()) > 0
    return record
