# SPDX-License-Identifier: GPL-3.0-or-later
"""Moved together: a stand that was put elsewhere as a whole, camera, levels and all, which changes no picture."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ...optics.projection import corner_offsets
from ...plan.plan_arrays import Plan
from ...reading.scene_reading import SceneReading
from ..proof_facts import NOTE, Fault
from .stand_axes import camera_axes

Floats = NDArray[np.float64]

# The axes that say where a camera is and which way it looks.
POSE = {"height", "east", "north", "turn", "tilt"}
# Axes of length one that span less than this lie in a plane.
_FLAT = 1e-6


def put_back(
    plan: Plan, *, reading: SceneReading, index: dict[str, int], tolerance: float
) -> tuple[SceneReading, Fault | None]:
    """Return the reading with its camera where it was planned and all else brought along, and a note of that.

    Only where the camera is elsewhere and more than half of the levels went with it; else the reading as it is and
    None. ``index`` gives the object of each level, ``tolerance`` is in px.
    """
    moved = any(
        axis.name in POSE and (axis.effect_px > tolerance / 2).any() for axis in camera_axes(plan, reading=reading)
    )
    if not moved:
        return reading, None
    planned, stands = camera_poses(plan), _unscaled(reading.camera.matrix)
    # A parent can shear a camera flat, and then it stands in no place that one could come back from.
    if not (np.abs(np.linalg.det(stands)) > _FLAT).all():
        return reading, None
    back = planned @ np.linalg.inv(stands)
    corners = np.einsum("fij,fgcj->fgci", back[:, :3, :3], reading.corners) + back[:, None, None, :3, 3]
    wanted = planned_corners(plan)
    # An anamorphic lens shows a step north squeeze times as large as one east.
    room = float(tolerance / plan.scale.max() / max(1.0, plan.shot.camera.squeeze))
    stayed = []
    for column, name in enumerate(plan.names):
        if name not in index:
            stayed.append(name)
            continue
        out, out_before = (
            np.abs(seen[:, index[name]] - wanted[:, column]).max() for seen in (corners, reading.corners)
        )
        # What a camera moved by less than the tolerance leaves behind is still nearer to its place than with it.
        if not (out <= room and out < out_before):
            stayed.append(name)
    if 2 * len(stayed) >= len(plan.names):
        return reading, None
    whole = int(plan.frames[0]), int(plan.frames[-1])
    text = "the whole stand is moved together: the picture is as planned"
    if stayed:
        text = f"the stand is moved together, all but {', '.join(stayed)}"
    note = Fault("stand-moved", NOTE, "scene", "", whole, float("nan"), "", 0.0, text)
    return replace(reading, corners=corners, camera=replace(reading.camera, matrix=planned)), note


def camera_poses(plan: Plan) -> Floats:
    """Return where the camera is planned, world from camera, (F, 4, 4)."""
    tracks = plan.tracks.camera
    cosine, sine = np.cos(tracks["turn"]), np.sin(tracks["turn"])
    poses = np.tile(np.eye(4), (len(cosine), 1, 1))
    poses[:, 0, 0], poses[:, 0, 1], poses[:, 1, 0], poses[:, 1, 1] = cosine, -sine, sine, cosine
    poses[:, :3, 3] = np.stack([tracks["east"], tracks["north"], tracks["height"]], axis=-1)
    return poses


def _unscaled(matrix: Floats) -> Floats:
    """Return ``matrix`` (F, 4, 4) without the scale of its axes, which does not count in a camera."""
    poses = matrix.copy()
    poses[:, :3, :3] /= np.linalg.norm(matrix[:, :3, :3], axis=1, keepdims=True)
    return poses


def planned_corners(plan: Plan) -> Floats:
    """Return where the corners of every level's art are planned on the stand, (F, L, 4, 3) m."""
    tracks, levels = plan.tracks.levels, plan.shot.levels
    shape = plan.distance.shape
    width = np.broadcast_to([level.art_width for level in levels], shape)
    height = np.broadcast_to([level.art_height for level in levels], shape)
    east, north = corner_offsets(width, height=height, turn=tracks["turn"])
    up = np.broadcast_to(tracks["height"][..., None], east.shape)
    return np.stack([east + tracks["east"][..., None], north + tracks["north"][..., None], up], axis=-1)
