# SPDX-License-Identifier: GPL-3.0-or-later
"""Run inside Blender: builds each shot and saves what its evaluated scene reads, as FOLDER/scene.npz."""

import sys
from pathlib import Path

import bpy

from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.stage import read_scene
from underglass.stage.build_stack import build

for folder in map(Path, sys.argv[1:]):
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    plan = make_plan(read_shot(folder / "shot.toml"))
    build(plan, bpy.context.scene)
    read_scene.read_scene(bpy.context.scene, plan.frames).save(folder / "scene.npz")
answer(True)  # type: ignore[name-defined]  # noqa: F821
