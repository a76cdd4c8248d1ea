# SPDX-License-Identifier: GPL-3.0-or-later
"""Run inside Blender: builds again and again beside things that are none of ours, and answers what is there.

``rebuilding.py shot.toml other.toml file.blend``: the second shot is built into a second scene.
"""

import sys
from pathlib import Path

import bpy

from underglass import blender_versions
from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.stage import stack_marks
from underglass.stage.build_stack import build

KINDS = ("objects", "meshes", "materials", "images", "actions", "collections", "cameras", "node_groups")


def census():
    return {kind: len(getattr(bpy.data, kind)) for kind in KINDS}


def stand_aside(scene):
    """Add a cube with a material, and a camera with a move, that belong to someone else."""
    mesh = bpy.data.meshes.new("cube")
    mesh.from_pydata([(0, 0, 0), (1, 0, 0), (0, 1, 0)], [], [(0, 1, 2)])
    mesh.materials.append(bpy.data.materials.new("cube paint"))
    cube = bpy.data.objects.new("card A", mesh)  # someone else may well use our names
    scene.collection.objects.link(cube)
    camera = bpy.data.objects.new("stand camera", bpy.data.cameras.new("stand camera"))
    scene.collection.objects.link(camera)
    for frame, value in ((1, 0.0), (10, 5.0)):
        camera.location[0] = value
        camera.keyframe_insert("location", index=0, frame=frame)
    return cube, camera


def foreign(cube, camera, borrower):
    curve = blender_versions.fcurves_of(camera)[0]
    return {
        "cube": [cube.name, len(cube.data.vertices), cube.data.materials[0].name],
        "camera": [camera.name, [list(key.co) for key in curve.keyframe_points]],
        "linked": all(obj.name in bpy.data.scenes["Scene"].objects for obj in (cube, camera, borrower)),
        "borrowed": [slot.material.name if slot.material else "" for slot in borrower.material_slots],
    }


def stack_of(scene):
    return {
        "levels": [[name, obj.name] for name, obj in stack_marks.levels(scene)],
        "cameras": [camera.name for camera in stack_marks.cameras(scene)],
        "collections": [collection.name for collection in stack_marks.collections(scene)],
        "active": scene.camera.name,
        "keys": {
            obj.name: sum(len(c.keyframe_points) for c in blender_versions.fcurves_of(obj)) for obj in scene.objects
        },
    }


def main(shot_file, other_file, blend):
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = bpy.context.scene
    plan = make_plan(read_shot(shot_file))
    cube, camera = stand_aside(scene)
    second = bpy.data.scenes.new("second")
    build(make_plan(read_shot(other_file)), second)
    build(plan, scene)
    # Someone keeps a thing of theirs in our collection, painted with our paint.
    borrower = bpy.data.objects.new("borrower", bpy.data.meshes.new("borrower"))
    borrower.data.materials.append(stack_marks.levels(scene)[0][1].data.materials[0])
    stack_marks.collections(scene)[0].objects.link(borrower)
    seen = {"first": stack_of(scene), "second": stack_of(second), "foreign": foreign(cube, camera, borrower)}
    build(plan, scene)
    counts = [census()]
    for _ in range(4):
        build(plan, scene)
        counts.append(census())
    again = {"first": stack_of(scene), "second": stack_of(second), "foreign": foreign(cube, camera, borrower)}
    bpy.ops.wm.save_as_mainfile(filepath=str(blend))
    bpy.ops.wm.open_mainfile(filepath=str(blend), load_ui=False)
    scene = bpy.data.scenes["Scene"]
    reopened = {"first": stack_of(scene), "counts": census(), "places": places(scene, plan)}
    build(plan, scene)
    return {
        "seen": seen,
        "again": again,
        "counts": counts,
        "reopened": reopened,
        "rebuilt": census(),
        "planned": plan.tracks.levels["east"].T.tolist(),
        "drawn": plan.drawing.T.tolist(),
        "names": list(plan.names),
    }


def places(scene, plan):
    """Return where every level stands east, and which drawing it shows, on every frame."""
    bpy.context.window.scene = scene
    found = {name: {"east": [], "drawing": []} for name, _ in stack_marks.levels(scene)}
    for frame in plan.frames.tolist():
        scene.frame_set(frame)
        depsgraph = bpy.context.evaluated_depsgraph_get()
        for name, obj in stack_marks.levels(scene):
            seen = obj.evaluated_get(depsgraph)
            found[name]["east"].append(seen.matrix_world.translation.x)
            found[name]["drawing"].append(seen.get(stack_marks.DRAWING, 0))
    return found


answer(main(*(Path(name) for name in sys.argv[1:])))  # noqa: F821
