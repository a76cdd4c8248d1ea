# SPDX-License-Identifier: GPL-3.0-or-later
"""Which drawing is seen on which frame, in rendered pixels."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import small_shots
from small_shots import BLUE, GREEN, RED, Glass
from stage import art
from underglass_headless.exr.read_exr import read_picture

pytestmark = [pytest.mark.bpy, pytest.mark.render]

SHEET = "frame,heron\n1,red\n3,green\n5,-\n6,red\n8,blue\n"
COLOURS = {"red": RED, "green": GREEN, "blue": BLUE}
SHOWN = ["red", "red", "green", "green", "-", "red", "red", "blue", "blue"]


def test_the_sheet_says_which_drawing_is_seen(tmp_path: Path, run_in_blender: Callable[..., Any]) -> None:
    for name, colour in COLOURS.items():
        small_shots.one_colour(tmp_path / f"heron_{name}.png", colour)
    shot_file = small_shots.stack(
        tmp_path,
        [Glass("heron", 900.0, width=32.0, art="heron_{drawing}.png")],
        camera='projection = "orthographic"\nfield_width = 32.0\n',
        frame_px=(16, 12),
        frames=(1, 9),
        drawings=SHEET,
    )
    frames = range(1, 10)
    run_in_blender(Path(__file__).with_name("film.py"), shot_file, tmp_path, *frames)
    for frame, name in zip(frames, SHOWN, strict=True):
        pixel = read_picture(tmp_path / f"{frame}.exr")[6, 8]
        if name == "-":
            assert pixel.tolist() == [0, 0, 0, 0], frame
        else:
            assert art.code_from_linear(pixel[:3]) == pytest.approx(np.array(COLOURS[name][:3]), abs=0.5), frame
            assert pixel[3] == pytest.approx(1.0, abs=1e-4)
