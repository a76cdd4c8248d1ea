"""The grid of the proof passes: every second pixel where there are pixels to spare."""

from collections.abc import Callable
from typing import Any

import pytest

pytestmark = pytest.mark.bpy

FITTING = """
import sys
import bpy
from underglass.stage import proofpass

scene = bpy.context.scene
steps = []
for size in sys.argv[1:]:
    scene.render.resolution_x, scene.render.resolution_y = map(int, size.split("x"))
    steps.append(proofpass.fitting_step(scene, 2))
answer(steps)
"""


def test_small_and_odd_frames_are_measured_on_every_pixel(run_in_blender: Callable[..., Any]) -> None:
    sizes = {"1828x1332": 2, "200x200": 2, "198x300": 1, "300x198": 1, "1827x1332": 1, "4x4": 1}
    assert run_in_blender(FITTING, *sizes) == list(sizes.values())
