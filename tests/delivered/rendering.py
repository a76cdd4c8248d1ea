# SPDX-License-Identifier: GPL-3.0-or-later
"""Run inside Blender: opens each scene and renders some of its frames as a farm would, to DIR/NAME.####.exr.

``sys.argv``: scene, folder, samples, frames as 1,5,9, and further settings as ``setting=value`` (stop, depth, parts,
denoise, adaptive, mattes). Nothing else of the scene is touched, but that frames are EXR.
"""

import os
import sys
from pathlib import Path

import bpy

from underglass import blender_versions

scene_file, folder, samples, frames, *more = sys.argv[1:]
wanted = dict(pair.split("=") for pair in more)
# Without this EEVEE asks for a screen.
os.environ.setdefault("EGL_PLATFORM", "surfaceless")
bpy.ops.wm.open_mainfile(filepath=scene_file, load_ui=False)
scene = bpy.context.scene
if scene.render.engine == "CYCLES":
    scene.cycles.samples = int(samples)
    scene.cycles.use_denoising = "denoise" in wanted
    scene.cycles.use_adaptive_sampling = "adaptive" in wanted
else:
    scene.eevee.taa_render_samples = int(samples)
if "depth" in wanted:
    scene.render.image_settings.color_depth = wanted["depth"]
if "parts" in wanted and hasattr(scene.render.image_settings, "use_exr_interleave"):
    scene.render.image_settings.use_exr_interleave = False
if "stop" in wanted:
    scene.camera.data.dof.use_dof = True
if "mattes" in wanted:
    bpy.context.view_layer.use_pass_cryptomatte_object = True
    blender_versions.use_multilayer_exr(scene.render.image_settings)
elif scene.render.image_settings.file_format == "PNG":
    blender_versions.use_exr(scene.render.image_settings)
for frame in map(int, frames.split(",")):
    scene.frame_set(frame)
    scene.render.filepath = str(Path(folder) / f"beauty.{frame:04d}.exr")
    bpy.ops.render.render(write_still=True)
answer(bpy.app.version_string)  # type: ignore[name-defined]  # noqa: F821
