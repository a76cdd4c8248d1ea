# SPDX-License-Identifier: GPL-3.0-or-later
"""Coarse grids in Blender: whatever the sensor is fitted to, samples lie where the grid says, and the datum says so."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import small_shots
from small_shots import Glass

pytestmark = pytest.mark.bpy

# The smallest filter of Cycles is a hundredth of a pixel wide, so that a sample lies so near its pixel's centre.
WITHIN = 0.0075

RENDERED = """
import sys
from pathlib import Path
import bpy
from underglass.plan import make_plan
from underglass.proof.measure.passes import measure_frame
from underglass.shot.files import read_shot
from underglass.stage import build_stack, render_frames

place = Path(sys.argv[1])
found = []
for text in sys.argv[2:]:
    width, height, fit, aspect, step = text.split(",")
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = bpy.context.scene
    build_stack.build(make_plan(read_shot(place)), scene)
    scene.render.resolution_x, scene.render.resolution_y = int(width), int(height)
    scene.camera.data.sensor_fit = fit
    scene.camera.data.shift_x, scene.camera.data.shift_y = 0.03, -0.02
    scene.render.pixel_aspect_x = float(aspect)
    with render_frames.pass_renderer(scene, threads=1) as render:
        seen = measure_frame(list(render(1, float(step), place)))
    one = seen.lattice
    found.append([one.columns, one.rows, one.spacing, one.farthest_px, one.scale, one.shear, seen.fits[0] is not None])
answer(found)
"""
FRAMES = [
    (*size, fit, aspect, step)
    for size in [(400, 300), (300, 300), (301, 227), (150, 400)]
    for fit in ["AUTO", "HORIZONTAL", "VERTICAL"]
    for aspect, step in [(1.0, 1), (1.0, 4), (2.0, 7)]
]


def test_samples_lie_where_the_grid_says_however_the_sensor_is_fitted(
    tmp_path: Path, run_in_blender: Callable[..., Any]
) -> None:
    small_shots.stack(tmp_path, [Glass("a", 900.0), Glass("b", 100.0, width=300.0)])
    told = [",".join(map(str, frame)) for frame in FRAMES]
    for frame, (columns, rows, spacing, farthest, scale, shear, seen) in zip(
        FRAMES, run_in_blender(RENDERED, tmp_path, *told), strict=True
    ):
        assert farthest <= WITHIN * spacing + 1e-3, frame
        assert np.abs(np.array(scale) - 1.0).max() < 1e-5, frame
        assert np.abs(shear).max() < 1e-5, frame
        # it takes in the whole frame, but for half a pixel of the grid at either end
        assert columns * spacing >= frame[0] - spacing, frame
        assert rows * spacing >= frame[1] - spacing, frame
        assert spacing <= frame[4], frame
        assert seen, frame


def test_a_frame_of_four_pixels_is_rendered_in_full(tmp_path: Path, run_in_blender: Callable[..., Any]) -> None:
    small_shots.stack(tmp_path, [Glass("a", 900.0, width=900.0)], frame_px=(4, 4))
    ((columns, rows, spacing, farthest, *_),) = run_in_blender(RENDERED, tmp_path, "4,4,AUTO,1,16")
    assert (columns, rows, spacing) == (4, 4, 1.0)
    assert farthest < 0.01
