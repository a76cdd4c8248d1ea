# SPDX-License-Identifier: GPL-3.0-or-later
"""Inside Blender: one kind of edit is made, told by the panels, saved, read again, undone, and saved again.

``trip`` answers what each came to; the process tests and the real windows go the same way.
"""

import hashlib

import bpy
import numpy as np

from ui import extension
from ui.extension import refused

live = extension.part("ui.live_stack")
resting = extension.part("ui.read_at_rest")
aside = extension.part("stage.read_aside")
evaluated = extension.part("proof.measure.evaluated_scene")
shot_room = extension.part("shot")
shot_files = extension.part("shot.files")
plan_room = extension.part("plan")


def places(scene):
    """Return where every level's corners are on screen, by level, as shares of the field, on every frame."""
    reading = aside.read_aside(scene, range(scene.frame_start, scene.frame_end + 1))
    corners = evaluated.scene_corners_px(reading) / scene.render.resolution_x
    return {level.level: corners[:, number] for number, level in enumerate(reading.levels)}


def apart(one, other):
    return max((float(np.abs(one[name] - other[name]).max()) for name in other), default=0.0)


def files(folder):
    return {
        path.name: path.read_text(encoding="utf-8") for path in folder.glob("*.*") if path.suffix in (".toml", ".csv")
    }


def art(folder):
    return {str(path): hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.rglob("*.png"))}


def planned(shot_file):
    """Return the error of a reader or a planner, empty where there is a plan."""
    try:
        plan_room.make_plan(shot_files.read_shot(shot_file))
    except shot_room.UnderglassError as error:
        return str(error)
    return ""


def push(message):
    bpy.ops.ed.undo_push(message=message)


def trip(edit, shot_file, undo=None):
    """Return what became of one edit on the shot; ``undo`` goes back so many steps."""
    folder, undo = shot_file.parent, undo or undone
    original, texts, paintings = shot_files.read_shot(shot_file), files(folder), art(folder)
    push("before")
    edit()
    bpy.context.view_layer.update()
    push("edit")
    scene = bpy.context.scene
    now = resting.settle(scene)
    found = {
        "panel": list(now.unsaved),
        "trouble": now.trouble,
        "offers": list(now.offers),
        "levels": len(now.plan.names),
    }
    at = scene.frame_current, [list(obj.location) for obj in scene.objects]
    edited = places(scene) if not now.trouble else {}
    found["refused"] = refused(bpy.ops.underglass.save_shot)
    found["said"] = scene.underglass.message
    found["same_scene"] = at == (scene.frame_current, [list(obj.location) for obj in scene.objects])
    found["plans"] = planned(shot_file)
    found["same_art"] = art(folder) == paintings
    if found["refused"]:
        found["same_files"] = files(folder) == texts
        undo(1)
    else:
        push("save")
        saved, after = places(scene), files(folder)
        found["settled"] = list(resting.settle(scene).unsaved)
        found["schedule"], found["chart"] = after.get("schedule.csv", ""), after.get("chart.csv", "")
        found["drawings"] = after.get("drawings.csv", "")
        found["focus"] = [str(scene.underglass_lens.focus), round(scene.underglass_lens.focal_mm, 6)]
        bpy.ops.underglass.reload_shot()
        push("reload")
        again = places(bpy.context.scene)
        found["built_again"], found["edited"] = apart(saved, again), apart(edited, again)
        undo(3)
    scene = bpy.context.scene
    found["back"] = refused(bpy.ops.underglass.save_shot)
    found["back_plans"] = planned(shot_file)
    found["back_same"] = shot_files.read_shot(shot_file) == original
    found["back_art"] = art(folder) == paintings
    found["back_levels"] = len(live.live(scene).plan.names)
    return found


def undone(steps):
    for _ in range(steps):
        bpy.ops.ed.undo()
