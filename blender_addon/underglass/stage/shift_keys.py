# SPDX-License-Identifier: GPL-3.0-or-later
"""Shifting keys along the frames: the whole stack so many frames later, or keys onto whole frames; handles and all."""

import math
from collections.abc import Iterator
from typing import Any

from .. import blender_versions
from ..shot.model import CAMERA
from . import hold_size, lens_marks, stack_marks
from .sampled_keys import axis_of

AxisName = tuple[str, str]

# What a key is off its frame by rounding of single precision, on frame 100,000, frames.
_ON_FRAME = 0.01


def shift_keys(scene: Any, frames: int) -> None:
    """Move every key of the levels, of the stand's camera and of its lens by ``frames``; each curve once."""
    eye = stack_marks.stand_camera(scene)
    owners = [glass for _, glass in stack_marks.levels(scene)] + ([eye, eye.data] if eye is not None else [])
    seen = set()
    for owner in owners:
        for curve in blender_versions.fcurves_of(owner):
            if curve.as_pointer() in seen:
                continue
            seen.add(curve.as_pointer())
            for key in curve.keyframe_points:
                _move(key, frames)
            curve.update()
    for _, glass in stack_marks.levels(scene):
        hold_size.shift(glass, frames)
    if eye is not None:
        lens_marks.shift(eye.data, frames)


def keys_between(scene: Any) -> dict[AxisName, list[float]]:
    """Return the axes of the stack that have keys between two frames, and at which times."""
    return {axis: found for axis, curve in _curves(scene) if (found := [key.co[0] for key in _off(curve)])}


def keys_to_whole_frames(scene: Any) -> list[AxisName]:
    """Put every key of an axis of the stack on the nearest frame and return the axes that had others.

    Where a value jumps it jumps on the frame on which it is first seen. Of keys that meet the nearest stays.
    """
    changed = []
    for axis, curve in _curves(scene):
        if not _off(curve):
            continue
        changed.append(axis)
        best: dict[int, tuple[float, int]] = {}
        points = curve.keyframe_points
        for number, key in enumerate(points):
            jumps = number > 0 and points[number - 1].interpolation == "CONSTANT"
            frame = math.ceil(key.co[0] - _ON_FRAME) if jumps else math.floor(key.co[0] + 0.5)
            best[frame] = min(best.get(frame, (math.inf, -1)), (abs(key.co[0] - frame), number))
        stays = {number: frame for frame, (_, number) in best.items()}
        for number in reversed(range(len(points))):
            if number in stays:
                _move(points[number], stays[number] - points[number].co[0])
            else:
                points.remove(points[number], fast=True)
        curve.update()
    return changed


def _curves(scene: Any) -> Iterator[tuple[AxisName, Any]]:
    """Yield the curves of the axes of the stack."""
    eye = stack_marks.stand_camera(scene)
    for part, obj in [*([(CAMERA, eye)] if eye is not None else []), *stack_marks.levels(scene)]:
        for curve in blender_versions.fcurves_of(obj):
            if axis := axis_of(obj, curve):
                yield (part, axis), curve


def _off(curve: Any) -> list[Any]:
    """Return the keys of a curve that stand on no frame."""
    return [key for key in curve.keyframe_points if abs(key.co[0] - round(key.co[0])) > _ON_FRAME]


def _move(key: Any, frames: float) -> None:
    key.co[0] += frames
    key.handle_left[0] += frames
    key.handle_right[0] += frames
