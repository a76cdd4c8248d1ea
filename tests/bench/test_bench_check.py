# SPDX-License-Identifier: GPL-3.0-or-later
"""How fast findings come: the whole command from process start, and the core alone, as a sidebar asks for it."""

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from shot_strategies import make_art
from underglass.plan import make_plan
from underglass.plan.findings import find
from underglass.shot import Camera, Expectation, Focus, Gate, Lamp, Law, Level, Move, Projection, Shot, Stand
from underglass.shot.files import read_shot, write_shot

pytestmark = pytest.mark.bench

FRAMES, LEVELS = 240, 8
MOST_SECONDS_COMMAND = 0.5
MOST_SECONDS_FIND = 0.015
TIMES = 7


def busy_shot() -> Shot:
    """Return a shot in which everything moves, much is found and everything that can be said is said."""
    camera = Camera(Projection.PERSPECTIVE, (1828, 1332), 3.0, Gate(0.022, 0.016), 0.05, 8.0, Focus("level 3"))
    moves = [Move("camera", "height", 1, FRAMES, 3.0, 2.7, Law.SINE), Move("camera", "turn", 1, FRAMES, 0.0, 0.3)]
    levels = []
    for index in range(LEVELS):
        name = f"level {index}"
        levels.append(Level(name, f"{name}.png", 1.4, 2.0 - 0.2 * index, (400, 300), on=1 + index % 2))
        moves += [
            Move(name, axis, 20, 200, base, base + 0.05, slow_out=12.0)
            for axis, base in (("east", 0.0), ("north", 0.0), ("turn", 0.0), ("height", levels[-1].height))
        ]
    return Shot(
        "busy stand",
        "mm",
        24.0,
        (1, FRAMES),
        camera,
        tuple(levels),
        stand=Stand((0.5, 2.9), (0.0, 2.0), (-0.02, 0.02), (-0.02, 0.02), 0.19, 1e-4, 1e-3, 1e-4),
        schedule=tuple(moves),
        expectations=tuple(Expectation(level.name, holds=True) for level in levels),
        lamps=(Lamp("key", 100.0, 3.0, 1.0), Lamp("fill", 20.0, 3.0, -1.0)),
    )


def best(function: Callable[[], object]) -> float:
    took = []
    for _ in range(TIMES):
        begun = time.perf_counter()
        function()
        took.append(time.perf_counter() - begun)
    return min(took)


def test_the_findings_of_240_frames_and_8_levels_come_as_fast_as_a_sidebar_is_drawn() -> None:
    plan = make_plan(busy_shot())
    took, planning = best(lambda: find(plan)), best(lambda: make_plan(busy_shot()))
    codes = {finding.code for finding in find(plan)}
    print(f"\nfind, {FRAMES} frames x {LEVELS} levels: {took * 1e3:.1f} ms (at most {MOST_SECONDS_FIND * 1e3:.0f})")
    print(f"-> beside {planning * 1e3:.1f} ms for the plan itself; found {', '.join(sorted(codes))}")
    assert len(codes) >= 6
    assert took <= MOST_SECONDS_FIND


def test_check_takes_half_a_second_from_its_start(tmp_path: Path) -> None:
    shot = busy_shot()
    for level in shot.levels:
        make_art(tmp_path, level.art, *level.art_px)
    assert read_shot(write_shot(shot, tmp_path)).frame_count == FRAMES
    world = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    command = [sys.executable, "-m", "underglass_headless", "check", str(tmp_path)]

    def check() -> None:
        assert subprocess.run(command, env=world, capture_output=True, check=False).returncode == 1

    bare = best(lambda: subprocess.run([sys.executable, "-c", "import numpy"], env=world, check=True))
    took = best(check)
    print(f"\ncheck, {FRAMES} frames x {LEVELS} levels: {took:.3f} s (at most {MOST_SECONDS_COMMAND})")
    print(f"-> {took / bare:.2f} x the {bare:.3f} s of a process that imports numpy and ends")
    assert took <= MOST_SECONDS_COMMAND
