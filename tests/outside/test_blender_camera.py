# SPDX-License-Identifier: GPL-3.0-or-later
"""Blender's own word for where a point is in the picture, against ours for the scene that it evaluated."""

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shot_strategies import make_shot_art
from underglass.plan import corners_px, make_plan
from underglass.proof.measure.evaluated_scene import scene_corners_px
from underglass.reading.scene_reading import SceneReading
from underglass.shot import Camera, Focus, Gate, Law, Level, Move, Projection, Shot
from underglass.shot.files import read_shot, write_shot

# Blender's vectors are single precision, and it takes the picture's edges by a difference of two of them.
CLOSE = 3e-6

SCRIPT = """
import json, sys
from pathlib import Path
import bpy
from bpy_extras.object_utils import world_to_camera_view
from mathutils import Vector
from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.stage import build_stack, read_scene

found = []
for folder, changes in json.loads(sys.argv[1]):
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = bpy.context.scene
    plan = make_plan(read_shot(Path(folder) / "shot.toml"))
    build_stack.build(plan, scene)
    for name, value in changes.items():
        setattr(scene.camera.data, name, value)
    reading = read_scene.read_scene(scene, plan.frames.tolist())
    reading.save(Path(folder) / "scene.npz")
    seen = []
    for row, frame in enumerate(plan.frames.tolist()):
        scene.frame_set(frame)
        bpy.context.view_layer.update()
        corners = reading.corners[row].reshape(-1, 3)
        seen.append([list(world_to_camera_view(scene, scene.camera, Vector(corner)))[:2] for corner in corners])
    found.append(seen)
answer(found)
"""

LENS = Camera(
    Projection.PERSPECTIVE, (1828, 1332), 1.3, Gate(0.022, 0.016), 0.05, 8.0, Focus("middle"), east=0.02, north=-0.03
)
PARALLEL = replace(LENS, projection=Projection.ORTHOGRAPHIC, gate=None, focal=0.0, f_stop=0.0, field_width=0.42)
# What a shot is photographed with, and what somebody then changed on the camera in Blender.
STANDS = {
    "a lens": (LENS, {}),
    "a turned squeezed lens": (replace(LENS, squeeze=2.0, turn=math.radians(33), focus=Focus()), {}),
    "a tall frame": (replace(LENS, frame_px=(700, 1200), turn=math.radians(-100)), {"sensor_fit": "AUTO"}),
    "a shifted lens fitted by its height": (
        replace(LENS, squeeze=1.33),
        {"sensor_fit": "VERTICAL", "shift_x": 0.07, "shift_y": -0.21},
    ),
    "parallel rays": (replace(PARALLEL, turn=math.radians(12)), {}),
    "shifted parallel rays": (
        replace(PARALLEL, frame_px=(640, 900), squeeze=2.0),
        {"sensor_fit": "AUTO", "shift_x": -0.11, "shift_y": 0.05},
    ),
}


def laid_out(folder: Path, camera: Camera, rng: np.random.Generator) -> Path:
    """Write a shot of three levels at places drawn by ``rng``, under a camera that moves on every axis it has."""
    levels = tuple(
        Level(
            name,
            f"{name}.png",
            float(rng.uniform(0.1, 0.4)),
            height,
            (40, int(rng.integers(20, 60))),
            *rng.uniform(-0.15, 0.15, 2).tolist(),
            float(rng.uniform(-3, 3)),
        )
        for name, height in (("near", 0.9), ("middle", 0.6), ("far", 0.1))
    )
    moves = [
        Move("camera", axis, 1, 5, start, start + change, Law.SINE)
        for axis, start, change in (
            ("height", camera.height, 0.15),
            ("east", camera.east, 0.11),
            ("north", camera.north, -0.08),
            ("turn", camera.turn, 0.7),
        )
    ]
    moves += [Move("near", "east", 1, 5, levels[0].east, 0.2), Move("middle", "height", 2, 4, 0.6, 0.4)]
    shot = Shot("stands", "mm", 24.0, (1, 5), camera, levels, schedule=tuple(moves), schedule_file="schedule.csv")
    make_shot_art(shot, folder)
    write_shot(shot, folder)
    return folder


@pytest.fixture(scope="module")
def stands(
    run_in_blender: Callable[..., Any], tmp_path_factory: pytest.TempPathFactory, seed: int
) -> dict[str, tuple[Path, np.ndarray]]:
    """Return the folder of each stand's shot and where Blender says its corners are, (F, L, 4, 2) of the frame."""
    rng = np.random.default_rng(seed)
    folders = {name: laid_out(tmp_path_factory.mktemp("stand"), camera, rng) for name, (camera, _) in STANDS.items()}
    found = run_in_blender(SCRIPT, json.dumps([(str(folders[name]), changes) for name, (_, changes) in STANDS.items()]))
    return {
        name: (folder, np.array(seen).reshape(5, 3, 4, 2))
        for (name, folder), seen in zip(folders.items(), found, strict=True)
    }


@pytest.mark.parametrize("name", STANDS)
def test_world_to_camera_view_puts_the_corners_where_we_read_them(
    stands: dict[str, tuple[Path, np.ndarray]], name: str
) -> None:
    folder, view = stands[name]
    frame_px = np.array(STANDS[name][0].frame_px)
    # Blender's picture goes from 0 to 1, from the lower left corner of the frame.
    blender = (view - 0.5) * frame_px
    ours = scene_corners_px(SceneReading.load(folder / "scene.npz"))
    far = np.abs(blender).max() + frame_px.max()
    np.testing.assert_allclose(ours, blender, atol=CLOSE * far)


@pytest.mark.parametrize("name", [name for name, (_, changes) in STANDS.items() if not changes])
def test_world_to_camera_view_puts_the_corners_of_a_built_stack_where_the_plan_has_them(
    stands: dict[str, tuple[Path, np.ndarray]], name: str
) -> None:
    folder, view = stands[name]
    frame_px = np.array(STANDS[name][0].frame_px)
    planned = corners_px(make_plan(read_shot(folder / "shot.toml")))
    far = np.abs(planned).max() + frame_px.max()
    np.testing.assert_allclose(planned, (view - 0.5) * frame_px, atol=CLOSE * far)
