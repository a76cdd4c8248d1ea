# SPDX-License-Identifier: GPL-3.0-or-later
"""Restacking a scene: one level more, another name, other art, two exchanged, moves keyed anew; the rest stays.

What the shot is to be then is worked out before, and given as its plan.
"""

from typing import Any

import bpy
import numpy as np

from .. import blender_versions
from ..plan.plan_arrays import Plan
from ..shot.errors import UnderglassError
from ..shot.model import CAMERA, PLACE_AXES
from . import bake_keys, build_stack, hold_size, materials, stack_marks

HEIGHT = PLACE_AXES.index("height")
PLACE_AND_TURN = (*PLACE_AXES, "turn")


def add(scene: Any, plan: Plan, name: str) -> Any:
    """Build the level ``name`` of ``plan`` in ``scene`` beside the others, and return its object."""
    glass = build_stack.level_object(plan, plan.names.index(name))
    _home(scene).objects.link(glass)
    build_stack.light_through(scene, len(plan.names))
    return glass


def copy(scene: Any, glass: Any, name: str, *, lower: float) -> Any:
    """Copy the object of a level as one called ``name``, ``lower`` m below it, with keys of its own; return it."""
    made, made.data = glass.copy(), glass.data.copy()
    made.name, made.data.name = name, name
    made[stack_marks.LEVEL] = made.data[stack_marks.LEVEL] = name
    if hold_size.is_held(made):
        hold_size.let_go(made)
    for slot in made.material_slots:
        if slot.material is not None:
            slot.material = slot.material.copy()
            slot.material[stack_marks.LEVEL] = name
    blender_versions.copy_action(made)
    made.location[HEIGHT] -= lower
    for curve in _heights(made):
        _shift(curve, -lower)
    for collection in glass.users_collection:
        collection.objects.link(made)
    build_stack.light_through(scene, len(stack_marks.levels(scene)))
    return made


def rename(glass: Any, name: str) -> None:
    """Let the object of a level be that of the level ``name``."""
    blocks = [glass, glass.data, *(slot.material for slot in glass.material_slots if slot.material is not None)]
    for block in (*blocks, *materials.images(glass)):
        if stack_marks.is_ours(block):
            block[stack_marks.LEVEL] = name
    for block in blocks:
        block.name = name


def remove(glass: Any) -> None:
    """Take the object of a level out of the file, with all that only it used."""
    stack_marks.remove_levels([glass])


def paint(glass: Any, plan: Plan, name: str) -> None:
    """Let the object of the level ``name`` wear its art, as large as ``plan`` has it; it has no scale then."""
    column = plan.names.index(name)
    level = plan.shot.levels[column]
    worn = [slot.material for slot in glass.material_slots if slot.material is not None]
    images = materials.images(glass)
    glass.data.materials.clear()
    glass.data.materials.append(materials.paint(level, plan.shot, plan.drawings[column]))
    build_stack.shape(glass.data, level)
    glass.scale = (1.0, 1.0, 1.0)
    for blocks in (worn, images):
        bpy.data.batch_remove([block for block in blocks if stack_marks.is_ours(block) and not block.users])


def exchange(one: Any, other: Any, *, sizes: tuple[float, float]) -> None:
    """Exchange the heights of two levels' objects, keys and all; their scales grow by ``sizes``."""
    for glass in (one, other):
        if is_pulled(glass):
            raise UnderglassError(f"{glass.name} is moved by a parent, a constraint or a driver: take that off first")
    keys = [_keys(curve) for curve in (next(iter(_heights(glass)), None) for glass in (one, other))]
    one.location[HEIGHT], other.location[HEIGHT] = other.location[HEIGHT], one.location[HEIGHT]
    for glass, its in ((one, keys[1]), (other, keys[0])):
        blender_versions.remove_fcurves(glass, ("location",), index=HEIGHT)
        if its is not None:
            _give(glass, its)
    held = [hold_size.mark_of(glass) for glass in (one, other)]
    for glass, size, its in ((one, sizes[0], held[1]), (other, sizes[1], held[0])):
        glass.scale = tuple(side * size for side in glass.scale)
        if its is not None:
            glass[hold_size.HELD] = its
        elif hold_size.is_held(glass):
            hold_size.let_go(glass)


def key_changes(scene: Any, before: Plan, after: Plan) -> None:
    """Key the axes of the stack in ``scene`` that ``after`` has otherwise than ``before``; the levels are the same."""
    old, new = before.tracks, after.tracks
    axes = [(CAMERA, axis) for axis in PLACE_AND_TURN if not np.array_equal(old.camera[axis], new.camera[axis])]
    for column, name in enumerate(after.names):
        was = before.names.index(name)
        axes += [
            (name, axis)
            for axis in PLACE_AND_TURN
            if not np.array_equal(old.levels[axis][:, was], new.levels[axis][:, column])
        ]
    bake_keys.rebake_axes(scene, after, axes)
    key_lens(scene, before, after)


def key_lens(scene: Any, before: Plan, after: Plan) -> None:
    """Key the lens of ``scene`` anew where ``after`` has it focused otherwise than ``before``: it reaches out."""
    same = (
        np.array_equal(getattr(before, name), getattr(after, name), equal_nan=True)
        for name in ("image_distance", "focus_distance")
    )
    if not all(same):
        for camera in stack_marks.cameras(scene):
            if camera.library is None and camera.data.library is None:
                bake_keys.bake_lens(camera, after)


def is_pulled(glass: Any) -> bool:
    """Return whether something else than its own keys moves an object."""
    anim = glass.animation_data
    driven = anim is not None and (len(anim.drivers) > 0 or any(not track.mute for track in anim.nla_tracks))
    return glass.parent is not None or driven or any(not item.mute for item in glass.constraints)


def _home(scene: Any) -> Any:
    """Return the collection that the stack lies in; the scene's own where it has none."""
    return next(iter(stack_marks.collections(scene)), scene.collection)


def _heights(glass: Any) -> list[Any]:
    return [c for c in blender_versions.fcurves_of(glass) if c.data_path == "location" and c.array_index == HEIGHT]


def _shift(curve: Any, by: float) -> None:
    for key in curve.keyframe_points:
        key.co[1] += by
        key.handle_left[1] += by
        key.handle_right[1] += by
    curve.update()


_PARTS = ("co", "handle_left", "handle_right")
_CHOICES = ("interpolation", "easing", "handle_left_type", "handle_right_type")


def _keys(curve: Any) -> list[dict[str, Any]] | None:
    """Return the keys of a curve as plain values, None where there is no curve."""
    if curve is None:
        return None
    return [
        {part: tuple(getattr(key, part)) for part in _PARTS} | {name: getattr(key, name) for name in _CHOICES}
        for key in curve.keyframe_points
    ]


def _give(glass: Any, keys: list[dict[str, Any]]) -> None:
    curve = blender_versions.ensure_fcurve(glass, "location", index=HEIGHT, group="place")
    glass.animation_data.action[stack_marks.SHOT] = 1
    curve.keyframe_points.add(len(keys))
    for key, said in zip(curve.keyframe_points, keys, strict=True):
        for name in (*_CHOICES, *_PARTS):
            setattr(key, name, said[name])
    curve.update()
