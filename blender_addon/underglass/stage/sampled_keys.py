# SPDX-License-Identifier: GPL-3.0-or-later
"""Sampling: what the stack reads on every frame going by its keys alone, quick enough to follow a hand.

Reading back evaluates the whole scene frame by frame and is exact whatever moves a level; this is not, where a parent,
a constraint or a driver has a part in it: such a level is taken as it stands on the present frame.
"""

import math
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .. import blender_versions
from ..plan.plan_arrays import Plan, Tracks
from ..plan.said_lens import SaidLens, said_lens
from ..shot.errors import ShotError
from ..shot.model import CAMERA, PLACE_AXES, Level, Shot
from . import stack_marks
from .lens_marks import LENS

# What single precision makes of a scale that nobody touched.
SAME_SCALE = 1e-6


# What the hand has made of the present frame is told from rounding by this, m or radians.
BY_HAND = 1e-6


def sampled_tracks(scene: Any, plan: Plan, *, keyed: bool = False) -> tuple[Tracks, bool]:
    """Return the readings of the stack in ``scene`` on the frames of ``plan``; as planned for what is not there.

    The present frame's row is what the hand has made of it, keyed or not; returns too whether that is another than
    the keys say. With ``keyed`` that row is what the keys say, too.
    """
    by_hand = False
    camera = {axis: track.copy() for axis, track in plan.tracks.camera.items()}
    levels = {axis: track.copy() for axis, track in plan.tracks.levels.items()}
    row = -1 if keyed else scene.frame_current - int(plan.frames[0])
    eye = stack_marks.stand_camera(scene)
    if eye is not None:
        tracks, touched = _object_tracks(eye, plan.frames, row)
        by_hand |= touched
        for axis, track in tracks.items():
            camera[axis][:] = track
    seen = set()
    for name, glass in stack_marks.levels(scene):
        if name in plan.names and name not in seen:
            seen.add(name)
            tracks, touched = _object_tracks(glass, plan.frames, row)
            by_hand |= touched
            for axis, track in tracks.items():
                levels[axis][:, plan.names.index(name)] = track
    return Tracks(plan.frames, camera, levels), by_hand


def unkeyed(scene: Any, plan: Plan) -> list[str]:
    """Return the parts of the stack that the hand has moved off their keys on the present frame."""
    row = scene.frame_current - int(plan.frames[0])
    eye = stack_marks.stand_camera(scene)
    parts = [*([(CAMERA, eye)] if eye is not None else []), *stack_marks.levels(scene)]
    return [name for name, obj in parts if not _is_pulled(obj) and _object_tracks(obj, plan.frames, row)[1]]


def said_lens_now(scene: Any, plan: Plan) -> SaidLens | None:
    """Return the lens that was said of the stand's camera, as long as its keys are those that were made of it."""
    eye = stack_marks.stand_camera(scene)
    if eye is None or LENS not in eye.data:
        return None
    lens_mm = np.full(len(plan.frames), float(eye.data.lens))
    for curve in blender_versions.fcurves_of(eye.data):
        if curve.data_path == "lens" and not curve.mute:
            lens_mm = np.array([curve.evaluate(frame) for frame in plan.frames.tolist()])
    sensor_mm = np.full(len(plan.frames), float(eye.data.sensor_width))
    return said_lens(eye.data[LENS], shot=plan.shot, frames=plan.frames, lens_mm=lens_mm, sensor_mm=sensor_mm)


def resized(scene: Any, shot: Shot) -> Shot:
    """Return ``shot`` with the art widths that its objects in ``scene`` have: their meshes, times their scale."""
    things = dict(stack_marks.levels(scene))
    return replace(shot, levels=tuple(_resized(shot, level, things.get(level.name)) for level in shot.levels))


def _resized(shot: Shot, level: Level, glass: Any) -> Level:
    if glass is None:
        return level
    scale = glass.matrix_world.to_scale()[0]
    if scale <= 0.0:
        place = shot.place(f"level.{level.name}.art_width")
        raise ShotError(place, f"its object is scaled by {scale:g}", "give it a scale above 0")
    corners = np.empty(3 * len(glass.data.vertices))
    glass.data.vertices.foreach_get("co", corners)
    width = scale * float(np.ptp(corners[::3])) if len(corners) else 0.0
    if width <= 0.0 or abs(width / level.art_width - 1.0) < SAME_SCALE:
        return level
    return replace(level, art_width=width)


def _object_tracks(obj: Any, frames: NDArray[np.int64], row: int) -> tuple[dict[str, NDArray[np.float64]], bool]:
    now = obj.matrix_world
    present = {axis: now.translation[index] for index, axis in enumerate(PLACE_AXES)}
    present["turn"] = math.atan2(now[1][0], now[0][0])
    tracks = {axis: np.full(len(frames), value) for axis, value in present.items()}
    if _is_pulled(obj):
        return tracks, False
    for curve in blender_versions.fcurves_of(obj):
        axis = axis_of(obj, curve)
        if axis and not curve.mute:
            tracks[axis] = np.array([curve.evaluate(frame) for frame in frames.tolist()])
    if not 0 <= row < len(frames):
        return tracks, False
    by_hand = False
    for axis, track in tracks.items():
        # a turn of the curve may have gone round more than once, which a matrix does not tell
        gap = present[axis] - track[row]
        gap = (gap + math.pi) % math.tau - math.pi if axis == "turn" else gap
        if abs(gap) > BY_HAND:
            by_hand = True
            track[row] += gap
    return tracks, by_hand


def axis_of(obj: Any, curve: Any) -> str:
    """Return the stand's axis that an f-curve drives, empty where it is none."""
    if curve.data_path == "location":
        return PLACE_AXES[curve.array_index]
    turns = curve.data_path == "rotation_euler" and curve.array_index == 2
    return "turn" if turns and obj.rotation_mode == "XYZ" else ""


def is_pulled(scene: Any) -> bool:
    """Return whether anything but its own keys has a part in where the stack of ``scene`` is."""
    eye = stack_marks.stand_camera(scene)
    return any(map(_is_pulled, [glass for _, glass in stack_marks.levels(scene)])) or (
        eye is not None and _is_pulled(eye)
    )


def _is_pulled(obj: Any) -> bool:
    """Return whether something else than its own keys can move ``obj``."""
    anim = obj.animation_data
    driven = anim is not None and (
        len(anim.drivers) > 0
        or any(not track.mute for track in anim.nla_tracks)
        or (anim.action is not None and anim.action_influence != 1.0)
    )
    if obj.parent is not None or driven or any(not item.mute for item in obj.constraints):
        return True
    bent = obj.type == "MESH" and (len(obj.modifiers) > 0 or obj.data.shape_keys is not None)
    return bent or obj.rotation_mode != "XYZ" or any(obj.delta_location) or any(obj.delta_rotation_euler)
