# SPDX-License-Identifier: GPL-3.0-or-later
"""Axes: what each part of the stand would read, judged by where a scene puts it.

The way back from a Blender scene to readings of the stand: metres and radians, beside those of the plan.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...plan.plan_arrays import Plan
from ...plan.planning import corners_px
from ...reading.scene_reading import SceneReading
from ...shot import Projection
from ..measure.evaluated_scene import fitted_pixels, fitted_sensor, frame_size

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Axis:
    """One axis of one part, planned and seen, (F,) each, and how far one unit of it moves the picture.

    ``px_per_unit`` (F,) is the displacement of the worst corner, in px, that a deviation of 1 makes.
    """

    name: str
    planned: Floats
    seen: Floats
    px_per_unit: Floats

    @property
    def deviation(self) -> Floats:
        """Seen less planned, (F,)."""
        return self.seen - self.planned

    @property
    def effect_px(self) -> Floats:
        """How far the deviation displaces the picture, (F,) px."""
        return np.abs(self.deviation) * self.px_per_unit


def is_mirrored(reading: SceneReading, *, found: int) -> NDArray[np.bool_]:
    """Return on which frames object ``found`` shows its art from the back, (F,): flipped over, or its texture is."""
    across, up = _edges(reading, found)
    return np.asarray(across[:, 0] * up[:, 1] - across[:, 1] * up[:, 0] < 0)


def level_axes(plan: Plan, *, reading: SceneReading, column: int, found: int) -> list[Axis]:
    """Return the axes of the level in ``column`` of the plan as object ``found`` of the reading has them."""
    centre = reading.corners[:, found].mean(axis=1)
    across, up = _edges(reading, found)
    tracks, level = plan.tracks.levels, plan.shot.levels[column]
    scale, distance = plan.scale[:, column], plan.distance[:, column]
    half_diagonal = np.hypot(level.art_width, level.art_height) / 2
    squeeze, aslant = plan.shot.camera.squeeze, plan.turn[:, column]
    diagonals = [aslant + way * np.arctan2(level.art_height, level.art_width) for way in (1, -1)]
    reach, swing = (
        half_diagonal * scale * np.max([_stretch(angle + ahead, squeeze) for angle in diagonals], axis=0)
        for ahead in (0.0, np.pi / 2)
    )
    off_axis = np.hypot(plan.x[:, column], plan.y[:, column])
    growth = (reach + off_axis) / distance
    if plan.shot.camera.projection is Projection.ORTHOGRAPHIC:
        # Height shows nowhere but in which level covers which; a thousandth of the field keeps it from going unseen.
        growth = np.full(len(distance), 1e-3 * plan.shot.camera.frame_px[0])
    turn = tracks["turn"][:, column]
    seen_turn = _near(np.arctan2(across[:, 1], across[:, 0]), turn)
    tilt = np.hypot(across[:, 2] / np.linalg.norm(across, axis=1), up[:, 2] / np.linalg.norm(up, axis=1))
    still = np.zeros(len(turn))
    return [
        Axis("height", tracks["height"][:, column], centre[:, 2], growth),
        Axis("east", tracks["east"][:, column], centre[:, 0], scale),
        Axis("north", tracks["north"][:, column], centre[:, 1], scale * plan.shot.camera.squeeze),
        Axis("turn", turn, seen_turn, swing),
        Axis("width", still + level.art_width, np.linalg.norm(across, axis=1), scale / 2 * _stretch(aslant, squeeze)),
        Axis(
            "art_height",
            still + level.art_height,
            np.linalg.norm(up, axis=1),
            scale / 2 * _stretch(aslant + np.pi / 2, squeeze),
        ),
        Axis("tilt", still, np.arcsin(np.clip(tilt, 0.0, 1.0)), (reach + off_axis) * half_diagonal / distance),
    ]


def camera_axes(plan: Plan, *, reading: SceneReading) -> list[Axis]:
    """Return the axes of the camera: place, turn, tilt, and the lens as a field (wider is more)."""
    matrix, tracks = reading.camera.matrix, plan.tracks.camera
    # The corner that is farthest out moves most, and art with wide margins reaches far beyond the frame.
    out = np.linalg.norm(corners_px(plan), axis=-1).max(axis=-1)
    reach = np.maximum(out.max(axis=1), float(np.hypot(*plan.shot.camera.frame_px)) / 2)
    nearest = plan.scale.max(axis=1)
    axes = matrix[:, :3, :3] / np.linalg.norm(matrix[:, :3, :3], axis=1, keepdims=True)
    turn = _near(np.arctan2(axes[:, 1, 0], axes[:, 0, 0]), tracks["turn"])
    tilt = np.arccos(np.clip(axes[:, 2, 2], -1.0, 1.0))
    still = np.zeros(len(turn))
    growth = np.maximum((out / plan.distance).max(axis=1), reach / plan.distance.max(axis=1))
    found = [
        Axis("height", tracks["height"], matrix[:, 2, 3], growth),
        Axis("east", tracks["east"], matrix[:, 0, 3], nearest),
        Axis("north", tracks["north"], matrix[:, 1, 3], nearest * plan.shot.camera.squeeze),
        Axis("turn", tracks["turn"], turn, reach),
        # The picture slides by the angle times the lens in pixels; an arccos of 1 − 1e-16 is not zero.
        Axis("tilt", still, np.where(tilt < 1e-7, 0.0, tilt), _slide(plan, out.max(axis=1))),
        Axis("shift_x", still, reading.camera.shift[:, 0], still + plan.shot.camera.frame_px[0]),
        Axis("shift_y", still, reading.camera.shift[:, 1], still + plan.shot.camera.frame_px[0]),
    ]
    return [*found, _lens_axis(plan, reading, reach)]


def _edges(reading: SceneReading, found: int) -> tuple[Floats, Floats]:
    """Return the art's width and height as vectors of the stand, (F, 3) each, of object ``found``."""
    corners = reading.corners[:, found]
    across = (corners[:, 1] - corners[:, 0] + corners[:, 2] - corners[:, 3]) / 2
    up = (corners[:, 3] - corners[:, 0] + corners[:, 2] - corners[:, 1]) / 2
    return across, up


def _stretch(angle: Floats, squeeze: float) -> Floats:
    """Return how much longer what lies at ``angle`` (F,) shows in a picture whose squeeze is not taken out."""
    return np.asarray(np.hypot(np.cos(angle), squeeze * np.sin(angle)))


def _slide(plan: Plan, out: Floats) -> Floats:
    """Return how far an angle of 1 that the camera leans slides the picture at ``out`` (F,) px from its centre, px."""
    slide = (plan.scale * plan.distance).max(axis=1)
    if plan.shot.camera.projection is Projection.ORTHOGRAPHIC:
        return np.asarray(slide)
    # A place that is seen at an angle θ slides by F·dθ/cos²θ.
    return np.asarray(slide + out**2 / slide)


def _lens_axis(plan: Plan, reading: SceneReading, reach: Floats) -> Axis:
    """Return the lens: its image distance in metres, or for an orthographic camera the field width in metres.

    The sensor is folded in, so that a lens and a sensor that are out by the same ratio are not called out.
    """
    camera = plan.shot.camera
    if camera.projection is Projection.ORTHOGRAPHIC or camera.gate is None:
        planned = np.full(len(plan.frames), camera.field_width)
        across, _ = fitted_pixels(reading)
        width = frame_size(reading)[0] / across * reading.camera.ortho_scale
        return Axis("field", planned, width, reach / planned)
    across, _ = fitted_pixels(reading)
    per_metre = across * reading.camera.lens_mm / fitted_sensor(reading) / camera.frame_px[0]
    seen = per_metre * camera.gate.width * camera.squeeze * _size_ratio(plan, reading)
    return Axis("lens", plan.image_distance, seen, reach / plan.image_distance)


def _size_ratio(plan: Plan, reading: SceneReading) -> float:
    """Return the planned frame's width over the scene's: another frame size is a fault of its own, not of the lens."""
    return plan.shot.camera.frame_px[0] / frame_size(reading)[0]


def _near(angle: Floats, planned: Floats) -> Floats:
    """Return ``angle`` with whole turns added so that it lies within half a turn of ``planned``."""
    return np.asarray(planned + np.remainder(angle - planned + np.pi, 2 * np.pi) - np.pi)
