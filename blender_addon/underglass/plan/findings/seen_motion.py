# SPDX-License-Identifier: GPL-3.0-or-later
"""The moves as the stand makes them: every axis side by side, and how much of each is seen.

A level on twos is looked at on the frames on which it moves.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ...shot.model import CAMERA, CAMERA_AXES, LEVEL_AXES, Projection
from ...shot.units import METRES_PER_MM, METRES_PER_UNIT, RADIANS_PER_DEGREE
from ...shot.words import number_text
from ..plan_arrays import Floats, Ints, Plan

# What is seen of a change of speed or a jump: half a thousandth of the frame's width, about a pixel of 2,000. Slower
# than a hundred-thousandth a frame is rest. Both are our own choice: common practice, no source.
SEEN_SHARE = 1 / 2000
REST_SHARE = 1e-5


@dataclass(frozen=True)
class Motion:
    """Axes that move on the same frames.

    ``axes`` (A,) are (part, axis), ``on`` how many frames apart the ``frames`` (R,) are, ``readings`` (R, A) m and rad,
    ``px`` (R, A) how many pixels a metre or a radian of each moves what it moves most in the frame.
    """

    axes: tuple[tuple[str, str], ...]
    on: int
    frames: Ints
    readings: Floats
    px: Floats

    @property
    def steps(self) -> Floats:
        """Speed from each frame to the next, (R − 1, A) m or rad a frame."""
        return np.diff(self.readings, axis=0) / self.on


def motions(plan: Plan) -> Iterator[Motion]:
    """Yield the axes of the camera and the levels on ones, then those on twos and more; axes that rest are left out."""
    reach = float(np.hypot(*plan.shot.camera.frame_px)) / 2
    for on in sorted({1, *(level.on for level in plan.shot.levels)}):
        columns = [column for column, level in enumerate(plan.shot.levels) if level.on == on]
        tracks = list(_level_tracks(plan, columns, reach))
        if on == 1:
            tracks += _camera_tracks(plan, reach)
        moving = [track for track in tracks if np.ptp(track[1])]
        if moving and len(plan.frames) > on:
            yield Motion(
                tuple(axis for axis, _, _ in moving),
                on,
                plan.frames[::on],
                np.stack([readings for _, readings, _ in moving], axis=-1)[::on],
                np.stack([px for _, _, px in moving], axis=-1)[::on],
            )


_Track = tuple[tuple[str, str], Floats, Floats]


def _level_tracks(plan: Plan, columns: list[int], reach: float) -> Iterator[_Track]:
    camera, levels = plan.shot.camera, plan.shot.levels
    grows = camera.projection is Projection.PERSPECTIVE
    for column in columns:
        scale = plan.scale[:, column]
        half = np.hypot(levels[column].art_width, levels[column].art_height * camera.squeeze) / 2
        px = {
            "height": reach / plan.distance[:, column] * grows,
            "east": scale,
            "north": scale * camera.squeeze,
            "turn": np.minimum(reach, half * scale),
        }
        for axis in LEVEL_AXES:
            yield (levels[column].name, axis), plan.tracks.levels[axis][:, column], px[axis]


def _camera_tracks(plan: Plan, reach: float) -> Iterator[_Track]:
    camera = plan.shot.camera
    nearest = plan.scale.max(axis=1)
    everywhere = np.full(len(plan.frames), reach)
    px = {"height": reach / plan.distance[:, 0], "east": nearest, "north": nearest * camera.squeeze, "turn": everywhere}
    if camera.projection is Projection.ORTHOGRAPHIC:
        px["height"] = np.zeros(len(plan.frames))
    for axis in CAMERA_AXES:
        if axis == "focal":
            if camera.projection is Projection.PERSPECTIVE:
                yield (CAMERA, axis), plan.tracks.camera[axis], reach / plan.tracks.camera[axis]
        else:
            yield (CAMERA, axis), plan.tracks.camera[axis], px[axis]


def axis_unit(plan: Plan, axis: str) -> tuple[str, float]:
    """Return the unit in which files give readings of ``axis``, and how many metres or radians it is."""
    if axis == "turn":
        return "degrees", RADIANS_PER_DEGREE
    return ("mm", METRES_PER_MM) if axis == "focal" else (plan.shot.units, METRES_PER_UNIT[plan.shot.units])


def reading_text(plan: Plan, axis: str, value: float) -> str:
    """Return a reading, or a step, as a sentence says it: ``0.12 in``, ``3 degrees``."""
    unit, factor = axis_unit(plan, axis)
    return f"{number_text(float(value) / factor, digits=3)} {unit}"
