# SPDX-License-Identifier: GPL-3.0-or-later
"""How fast position sheets are there, from the start of the process on."""

import os
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from shot_strategies import make_shot_art
from underglass.shot import Camera, Focus, Gate, Level, Move, Projection, Shot
from underglass.shot.files import write_shot

pytestmark = pytest.mark.bench

FRAMES, LEVELS = 500, 8
MOST_SECONDS = 3.0
TIMES = 3
ROOT = Path(__file__).resolve().parents[2]


def long_shot() -> Shot:
    """Return a shot of which every level moves up and east on every frame, and the camera too."""
    camera = Camera(Projection.PERSPECTIVE, (1828, 1332), 3.0, Gate(0.022, 0.016), 0.05, 8.0, Focus(distance=1.0))
    levels = tuple(
        Level(f"level {n}", f"level {n}.png", 0.4, 2.0 - 0.1 * n, (40, 30), east=0.001 * n) for n in range(LEVELS)
    )
    moves = [Move("camera", "height", 1, FRAMES, 3.0, 2.7), Move("camera", "east", 1, FRAMES, 0.0, 0.3)]
    for level in levels:
        moves += [
            Move(level.name, "height", 1, FRAMES, level.height, level.height - 0.05),
            Move(level.name, "east", 1, FRAMES, level.east, level.east + 0.4),
        ]
    return Shot("long", "mm", 24.0, (1, FRAMES), camera, levels, schedule=tuple(moves))


def test_500_frames_of_8_levels_take_three_seconds_from_the_start_of_the_process(tmp_path: Path) -> None:
    shot = replace(long_shot(), folder=tmp_path)
    make_shot_art(shot, tmp_path)
    write_shot(shot, tmp_path)
    path = os.pathsep.join(str(ROOT / folder) for folder in ("blender_addon", "headless"))
    command = [sys.executable, "-m", "underglass_headless", "sheets", str(tmp_path), "-o", str(tmp_path / "sheets")]
    took = float("inf")
    for _ in range(TIMES):
        begun = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True, env=os.environ | {"PYTHONPATH": path})
        took = min(took, time.perf_counter() - begun)
    print(f"\nsheets, {FRAMES} frames x {LEVELS} levels: {took:.2f} s from process start (at most {MOST_SECONDS:g})")
    assert took <= MOST_SECONDS


def test_sheets_import_nothing_heavy() -> None:
    heavy = ("bpy", "matplotlib", "PIL", "scipy", "OpenEXR", "rich")
    script = (
        "import sys, underglass_headless.desk.sheets.write_sheets, jinja2\n"
        f"print([name for name in {heavy!r} if name in sys.modules])"
    )
    path = os.pathsep.join(str(ROOT / folder) for folder in ("blender_addon", "headless"))
    done = subprocess.run(
        [sys.executable, "-c", script],
        check=True,
        capture_output=True,
        text=True,
        env=os.environ | {"PYTHONPATH": path},
    )
    assert done.stdout.strip() == "[]"
