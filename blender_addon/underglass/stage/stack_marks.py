# SPDX-License-Identifier: GPL-3.0-or-later
"""How a stack in a .blend is known again: custom properties on what belongs to a shot.

Names can be changed by anyone; these marks stay with the thing.
"""

from typing import Any

import bpy

from .. import blender_versions

LEVEL = "underglass_level"
CAMERA = "underglass_camera"
SHOT = "underglass_shot"
DRAWING = "drawing"


def levels(scene: Any) -> list[tuple[str, Any]]:
    """Return (level name, object) of every marked level in ``scene``, doubles and all, in the scene's order."""
    return [(str(obj[LEVEL]), obj) for obj in scene.objects if LEVEL in obj and obj.type == "MESH"]


def cameras(scene: Any) -> list[Any]:
    """Return every marked camera in ``scene``."""
    return [obj for obj in scene.objects if CAMERA in obj and obj.type == "CAMERA"]


def stand_camera(scene: Any) -> Any:
    """Return the stand's camera: the scene's own where that is marked, else the one there is; None of none or many."""
    if scene.camera is not None and CAMERA in scene.camera and scene.camera.type == "CAMERA":
        return scene.camera
    found = cameras(scene)
    return found[0] if len(found) == 1 else None


def collections(scene: Any) -> list[Any]:
    """Return the marked collections of ``scene``."""
    return [collection for collection in scene.collection.children_recursive if SHOT in collection]


def is_ours(block: Any) -> bool:
    """Return whether a data-block was made by us: it bears one of the marks."""
    return any(mark in block for mark in (LEVEL, CAMERA, SHOT))


def remove_stack(scene: Any) -> None:
    """Remove the stack that an earlier build left in ``scene`` with all that only it used; leave all else alone."""
    objects = [obj for _, obj in levels(scene)] + cameras(scene)
    for collection in collections(scene):
        _move_out_others(collection, scene)
    _remove(objects, collections(scene))


def remove_levels(objects: list[Any]) -> None:
    """Remove some levels' objects with all that only they used; leave all else alone."""
    _remove(objects, [])


def _remove(objects: list[Any], collections_too: list[Any]) -> None:
    data = [obj.data for obj in objects]
    paints = [slot.material for obj in objects for slot in obj.material_slots if slot.material is not None]
    images = [
        node.image for paint in paints for node in blender_versions.node_tree(paint).nodes if node.type == "TEX_IMAGE"
    ]
    actions = [block.animation_data.action for block in objects + data if block.animation_data is not None]
    bpy.data.batch_remove(dict.fromkeys(objects + collections_too))
    # What used them goes first, so that each is seen to be out of use.
    for blocks in (data, paints, images, actions):
        ours = dict.fromkeys(block for block in blocks if block is not None and is_ours(block))
        bpy.data.batch_remove([block for block in ours if not block.users])


def _move_out_others(collection: Any, scene: Any) -> None:
    """Put what someone else keeps in ``collection`` into the scene itself, where it is not there yet."""
    for obj in collection.objects:
        if not is_ours(obj) and obj.name not in scene.collection.objects:
            scene.collection.objects.link(obj)
    for child in collection.children:
        if not is_ours(child) and child.name not in scene.collection.children:
            scene.collection.children.link(child)
