# SPDX-License-Identifier: GPL-3.0-or-later
"""Own parts: how far each level alone, or the camera alone, puts the picture out where several things are wrong."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ...plan.plan_arrays import Plan
from ...plan.planning import corners_px
from ...reading.scene_reading import SceneReading
from ...shot import Projection
from ..measure.evaluated_scene import scene_corners_px
from .moved_together import camera_poses, planned_corners

Floats = NDArray[np.float64]


def levels_own_px(plan: Plan, *, reading: SceneReading, index: dict[str, int]) -> Floats:
    """Return how far each level alone displaces its corners, (F, L) px: as the planned camera would see them.

    NaN where the level is not in the scene. ``index`` gives the object of each level.
    """
    planned, poses = corners_px(plan), camera_poses(plan)
    own = np.full(planned.shape[:2], np.nan)
    for column, name in enumerate(plan.names):
        if name not in index:
            continue
        away = reading.corners[:, index[name]] - poses[:, None, :3, 3]
        # The poses turn about the vertical alone, so that their transpose leads back.
        local = np.einsum("fji,fcj->fci", poses[:, :3, :3], away)
        scale = np.broadcast_to(plan.scale[:, column, None], local.shape[:2])
        if plan.shot.camera.projection is Projection.PERSPECTIVE:
            with np.errstate(divide="ignore", invalid="ignore"):
                scale = scale * plan.distance[:, column, None] / -local[..., 2]
        px = local[..., :2] * scale[..., None] * np.array([1.0, plan.shot.camera.squeeze])
        own[:, column] = np.linalg.norm(px - planned[:, column], axis=-1).max(axis=-1)
    return own


def camera_own_px(plan: Plan, *, reading: SceneReading) -> Floats:
    """Return how far the camera alone displaces the corners of every level, (F, L) px: were all levels in place."""
    alone = scene_corners_px(replace(reading, corners=planned_corners(plan)))
    return np.asarray(np.linalg.norm(alone - corners_px(plan), axis=-1).max(axis=-1))
