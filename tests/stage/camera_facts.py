# SPDX-License-Identifier: GPL-3.0-or-later
"""Run inside Blender: builds each shot and answers what its camera and axes are, key by key and frame by frame."""

import sys
from pathlib import Path

import bpy

from underglass import blender_versions
from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.stage import stack_marks
from underglass.stage.build_stack import build


def facts(shot_file):
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = bpy.context.scene
    plan = make_plan(read_shot(shot_file))
    build(plan, scene)
    things = {"camera": scene.camera, **dict(stack_marks.levels(scene))}
    values = {name: [] for name in things}
    lens = []
    for frame in plan.frames.tolist():
        scene.frame_set(frame)
        depsgraph = bpy.context.evaluated_depsgraph_get()
        for name, obj in things.items():
            seen = obj.evaluated_get(depsgraph)
            values[name].append([*seen.matrix_world.translation, seen.matrix_world.to_euler().z])
        data = scene.camera.evaluated_get(depsgraph).data
        lens.append([data.lens, data.dof.aperture_fstop, data.dof.focus_distance])
    data, render = scene.camera.data, scene.render
    return {
        "values": values,
        "lens": lens,
        "keys": {name: keys(obj) | keys(obj.data) for name, obj in things.items()},
        "camera": {
            "type": data.type,
            "fit": data.sensor_fit,
            "sensor": [data.sensor_width, data.sensor_height],
            "ortho_scale": data.ortho_scale,
            "use_dof": data.dof.use_dof,
            "shift": [data.shift_x, data.shift_y],
        },
        "scene": {
            "frames": [scene.frame_start, scene.frame_end],
            "fps": render.fps / render.fps_base,
            "size": [render.resolution_x, render.resolution_y, render.resolution_percentage],
            "aspect": render.pixel_aspect_x / render.pixel_aspect_y,
            "view": scene.view_settings.view_transform,
        },
    }


def keys(owner):
    """Return the frames of the keys of every curve, and the kinds of interpolation in them."""
    return {
        f"{curve.data_path}[{curve.array_index}]": {
            "frames": [int(key.co[0]) for key in curve.keyframe_points],
            "kinds": sorted({key.interpolation for key in curve.keyframe_points}),
        }
        for curve in blender_versions.fcurves_of(owner)
    }


answer({shot: facts(Path(shot)) for shot in sys.argv[1:]})  # noqa: F821
