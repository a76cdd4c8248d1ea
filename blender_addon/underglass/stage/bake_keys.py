# SPDX-License-Identifier: GPL-3.0-or-later
"""Baking: a plan's readings as f-curves, linear between keys, with a key on every frame that needs one.

A `bezier` move has two keys where Blender's curve between them is the same on every frame: see `easing`.
"""

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .. import blender_versions
from ..optics import thin_lens
from ..plan.plan_arrays import Plan
from ..shot.model import CAMERA, PLACE_AXES
from . import easing, stack_marks

CONSTANT, LINEAR = 0, 1

# An f-curve holds single precision. A frame is left out only where the straight line between the keys about it is right
# to well below that, and below a thousandth of the counter step of the finest stand (1/1000 in).
KEEP_ABOVE = 1e-9
# What an axis of the stand is keyed as.
_CHANNELS = {axis: ("location", index) for index, axis in enumerate(PLACE_AXES)} | {"turn": ("rotation_euler", 2)}


def bake_camera(camera: Any, plan: Plan) -> None:
    """Key the camera object and its lens: place, turn, and with focus the lens's image distance and stop."""
    tracks = plan.tracks.camera
    for axis, (path, index) in _CHANNELS.items():
        eased = easing.eased(plan, CAMERA, axis)
        _bake(camera, path, index, plan.frames, tracks[axis], group="place", eased=eased)
    _bake_lens(camera, plan)


def _bake_lens(camera: Any, plan: Plan) -> None:
    if np.isnan(plan.image_distance).any():
        return
    tracks, data = plan.tracks.camera, camera.data
    _bake(data, "lens", 0, plan.frames, plan.image_distance * 1000.0, group="lens")
    if plan.shot.camera.f_stop:
        stop = thin_lens.marked_stop(plan.shot.camera.f_stop, focal=tracks["focal"], image=plan.image_distance)
        _bake(data, "dof.aperture_fstop", 0, plan.frames, stop, group="lens")
        # Blender has no infinity on its focus scale; a kilometre is as good for a stand of metres.
        _bake(data, "dof.focus_distance", 0, plan.frames, np.minimum(plan.focus_distance, 1000.0), group="lens")


def bake_level(level: Any, plan: Plan, column: int) -> None:
    """Key one level's object: place, turn, and the drawing it shows."""
    tracks = plan.tracks.levels
    for axis, (path, index) in _CHANNELS.items():
        eased = easing.eased(plan, plan.names[column], axis)
        _bake(level, path, index, plan.frames, tracks[axis][:, column], group="place", eased=eased)
    if plan.drawings[column]:
        drawing = plan.drawing[:, column].astype(np.float64)
        _bake(level, f'["{stack_marks.DRAWING}"]', 0, plan.frames, drawing, group="drawing", held=True)


def bake_lens(camera: Any, plan: Plan) -> None:
    """Key the camera's lens anew, as where the level that focus follows was moved."""
    blender_versions.remove_fcurves(camera.data, ("lens", "dof.aperture_fstop", "dof.focus_distance"))
    _bake_lens(camera, plan)


def rebake_axes(scene: Any, plan: Plan, axes: Iterable[tuple[str, str]]) -> None:
    """Key some axes of the stack in ``scene``, as (part, axis), anew from ``plan``; the lens's are `bake_lens`'s."""
    things = dict(stack_marks.levels(scene))
    for part, axis in axes:
        owner = next(iter(stack_marks.cameras(scene)), None) if part == CAMERA else things.get(part)
        if owner is None or owner.library is not None or axis == "focal":
            continue
        track = plan.tracks.camera[axis] if part == CAMERA else plan.tracks.levels[axis][:, plan.names.index(part)]
        path, index = _CHANNELS[axis]
        blender_versions.remove_fcurves(owner, (path,), index=index)
        _bake(owner, path, index, plan.frames, track, group="place", eased=easing.eased(plan, part, axis))


def rebake(
    owner: Any, path: str, index: int, frames: NDArray[np.int64], values: NDArray[np.float64], *, group: str
) -> None:
    """Key one channel of ``owner`` in the place of whatever keys it had."""
    blender_versions.remove_fcurves(owner, (path,), index=index)
    _bake(owner, path, index, frames, values, group=group)


def keys_needed(values: NDArray[np.float64], *, held: bool = False) -> NDArray[np.bool_]:
    """Return which frames need a key, (F,): those where the curve bends, or with ``held`` where it steps.

    An axis that never moves needs none at all.
    """
    if np.ptp(values) <= KEEP_ABOVE:
        return np.zeros(len(values), dtype=bool)
    needed = np.ones(len(values), dtype=bool)
    if held:
        needed[1:] = np.diff(values) != 0
        return needed
    needed[1:-1] = np.abs(np.diff(values, n=2)) > KEEP_ABOVE
    # A long slow move bends less than that on any one frame, and yet leaves the straight line.
    frames = np.arange(len(values))
    while (strays := np.abs(np.interp(frames, frames[needed], values[needed]) - values) > KEEP_ABOVE).any():
        needed |= strays
    return needed


def _bake(
    owner: Any,
    path: str,
    index: int,
    frames: NDArray[np.int64],
    values: NDArray[np.float64],
    *,
    group: str,
    held: bool = False,
    eased: easing.Eased | None = None,
) -> None:
    _set(owner, path, index, values[0])
    needed = keys_needed(values, held=held)
    count = int(needed.sum())
    if not count:
        return
    curve = blender_versions.ensure_fcurve(owner, path, index=index, group=group)
    owner.animation_data.action[stack_marks.SHOT] = 1
    if eased is not None and easing.ease(curve, eased, frames=frames, values=values, needed=needed):
        return
    curve.keyframe_points.add(count)
    pairs = np.column_stack([frames[needed], values[needed]]).astype(np.float32)
    curve.keyframe_points.foreach_set("co", pairs.ravel())
    curve.keyframe_points.foreach_set("interpolation", [CONSTANT if held else LINEAR] * count)
    curve.update()


def _set(owner: Any, path: str, index: int, value: float) -> None:
    if path.startswith("["):
        owner[stack_marks.DRAWING] = int(value)
        return
    *inner, name = path.split(".")
    for part in inner:
        owner = getattr(owner, part)
    if name in ("location", "rotation_euler"):
        getattr(owner, name)[index] = value
    else:
        setattr(owner, name, value)
