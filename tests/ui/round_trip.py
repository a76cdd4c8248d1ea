# SPDX-License-Identifier: GPL-3.0-or-later
"""Inside Blender: a shot is opened, edited as an artist would, saved, and opened again; answers what each came to.

``round_trip.py FOLDER``: a copy of a small shot for each edit lies in FOLDER/<edit>/.
"""

import sys
from pathlib import Path

import bpy
import numpy as np

from ui import extension

extension.enable()
live = extension.part("ui.live_stack")
readback = extension.part("stage.read_scene")
evaluated = extension.part("proof.measure.evaluated_scene")
compat = extension.part("blender_versions")


def glass(name):
    return live.glass_of(bpy.context.scene, name)


def places(scene):
    """Return the places of every level's corners on screen, by level, on every frame of the scene."""
    reading = readback.read_scene(scene, range(scene.frame_start, scene.frame_end + 1))
    corners = evaluated.scene_corners_px(reading)
    return {level.level: corners[:, number] for number, level in enumerate(reading.levels)}, reading


def drag_a_still_level():
    glass("card D").location[2] += 0.0254


def drag_sideways():
    glass("heron").location[0] += 0.003
    glass("heron").location[1] -= 0.0017


def move_all_keys():
    for curve in compat.fcurves_of(glass("card A")):
        if curve.data_path == "location" and curve.array_index == 0:
            for key in curve.keyframe_points:
                key.co[1] += 0.004
            curve.update()


def key_by_hand():
    obj = glass("heron")
    for frame, east in ((3, 0.02), (11, 0.055), (20, 0.03)):
        obj.location[0] = east
        obj.keyframe_insert("location", index=0, frame=frame)


def key_up_by_the_way():
    obj = glass("heron")
    for frame, east in ((3, 0.02), (11, 0.03), (20, 0.055)):
        obj.location[0] = east
        obj.keyframe_insert("location", index=0, frame=frame)


def key_in_straight_lines():
    obj = glass("heron")
    for frame, north in ((4, 0.02), (12, 0.036)):
        obj.location[1] = north
        obj.keyframe_insert("location", index=1, frame=frame)
    for curve in compat.fcurves_of(obj):
        for key in curve.keyframe_points:
            key.interpolation = "LINEAR"


def truck_farther():
    scene = bpy.context.scene
    for curve in compat.fcurves_of(scene.camera):
        if curve.data_path == "location" and curve.array_index == 2:
            for key in curve.keyframe_points:
                key.co[1] = 1.3 - (1.3 - key.co[1]) * 1.25
            curve.update()


def turn_and_scale():
    glass("card C").rotation_euler[2] = 0.3
    glass("card C").scale = (1.1, 1.1, 1.0)


def shorten():
    bpy.context.scene.frame_start, bpy.context.scene.frame_end = 4, 18


def lengthen():
    bpy.context.scene.frame_end = 40


def longer_lens():
    data = bpy.context.scene.camera.data
    for curve in compat.fcurves_of(data):
        if curve.data_path == "lens":
            for key in curve.keyframe_points:
                key.co[1] *= 1.2
            curve.update()


def parent_to_an_empty():
    pull = bpy.data.objects.new("slider", None)
    bpy.context.scene.collection.objects.link(pull)
    pull.location = (0.01, 0.0, 0.0)
    pull.keyframe_insert("location", frame=1)
    pull.location = (0.03, 0.01, 0.0)
    pull.keyframe_insert("location", frame=25)
    glass("card D").parent = pull


def swap_heights():
    a, c = glass("heron"), glass("card B")
    a.location[2], c.location[2] = c.location[2], a.location[2]


def move_the_focused_level():
    glass("card B").location[2] += 0.02


def delete_a_level():
    bpy.data.objects.remove(glass("heron"))


def do_nothing():
    pass


EDITS = [
    do_nothing,
    drag_a_still_level,
    drag_sideways,
    move_all_keys,
    key_by_hand,
    key_up_by_the_way,
    key_in_straight_lines,
    truck_farther,
    turn_and_scale,
    shorten,
    lengthen,
    longer_lens,
    parent_to_an_empty,
    swap_heights,
    move_the_focused_level,
    delete_a_level,
]


def one(edit, folder):
    extension.empty()
    scene = bpy.context.scene
    shot_file = folder / edit.__name__ / "shot.toml"
    bpy.ops.underglass.open_shot(filepath=str(shot_file))
    before = {path.name: path.read_text() for path in shot_file.parent.glob("*.*") if path.suffix in (".toml", ".csv")}
    edit()
    bpy.context.view_layer.update()
    edited, _ = places(scene)
    result = bpy.ops.underglass.save_shot()
    said = scene.underglass.message
    if result != {"FINISHED"}:
        return {"result": "cancelled", "said": said}
    saved, _ = places(scene)
    bpy.ops.underglass.reload_shot()
    again, _ = places(scene)
    width = scene.render.resolution_x
    after = {path.name: path.read_text() for path in shot_file.parent.glob("*.*") if path.suffix in (".toml", ".csv")}
    return {
        "result": "saved",
        "said": said,
        "levels": sorted(again),
        "frames": [scene.frame_start, scene.frame_end],
        # how far the picture is from what was saved, and what was saved from what was edited, as shares of the field
        "built_again": max(float(np.abs(saved[name] - again[name]).max()) for name in again) / width,
        "edited": max(float(np.abs(edited[name] - again[name]).max()) for name in again) / width,
        "changed_files": sorted(name for name in after if before.get(name) != after[name]),
        "schedule": after.get("schedule.csv", ""),
        "chart": after.get("chart.csv", ""),
        "toml": after["shot.toml"],
    }


answer({edit.__name__: one(edit, Path(sys.argv[1])) for edit in EDITS})  # type: ignore[name-defined]  # noqa: F821
