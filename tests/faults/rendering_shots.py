# SPDX-License-Identifier: GPL-3.0-or-later
"""Run inside Blender: builds shots with proof passes and renders all of their frames, as a farm would.

``rendering_shots.py LIST``: a line of JSON for each job, {"shot": folder, "engine", "samples", "soft", "out": folder}.
"""

import json
import os
import sys
from pathlib import Path

import bpy

from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.shot.files.shot_fingerprint import fingerprint
from underglass.stage.build_stack import build

# Without this EEVEE asks for a screen.
os.environ.setdefault("EGL_PLATFORM", "surfaceless")
for line in Path(sys.argv[1]).read_text(encoding="utf-8").splitlines():
    job = json.loads(line)
    shot = read_shot(Path(job["shot"]))
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = bpy.context.scene
    build(make_plan(shot), scene, fingerprint=fingerprint(shot), engine=job["engine"], proof_passes=True)
    scene.camera.data.dof.use_dof = job["soft"]
    if job["engine"] == "cycles":
        scene.cycles.samples = job["samples"]
        scene.cycles.use_denoising = False
        scene.cycles.use_adaptive_sampling = False
    else:
        scene.eevee.taa_render_samples = job["samples"]
    for frame in range(shot.frames[0], shot.frames[1] + 1):
        scene.frame_set(frame)
        scene.render.filepath = str(Path(job["out"]) / f"beauty.{frame:04d}.exr")
        bpy.ops.render.render(write_still=True)
answer(True)  # type: ignore[name-defined]  # noqa: F821
