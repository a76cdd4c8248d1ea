# SPDX-License-Identifier: GPL-3.0-or-later
"""Run inside Blender: builds shots and films them exactly as built, to scene-linear EXR.

``film.py shot.toml folder frame…`` builds the shot and renders the frames to ``folder/FRAME.exr``.
"""

import sys
from pathlib import Path

import bpy

from underglass import blender_versions
from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.stage.build_stack import build


def film(shot_file: Path, folder: Path, frames: list[int]) -> None:
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = bpy.context.scene
    build(make_plan(read_shot(shot_file)), scene)
    blender_versions.use_exr(scene.render.image_settings)
    for frame in frames:
        scene.frame_set(frame)
        scene.render.filepath = str(folder / f"{frame}.exr")
        bpy.ops.render.render(write_still=True)


film(Path(sys.argv[1]), Path(sys.argv[2]), [int(frame) for frame in sys.argv[3:]])
answer(True)  # type: ignore[name-defined]  # noqa: F821
