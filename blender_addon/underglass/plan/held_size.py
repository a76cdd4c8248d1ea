# SPDX-License-Identifier: GPL-3.0-or-later
"""Holding: where a level must stand so that it keeps its apparent size while camera and focus move.

What is at infinity keeps its size however far the viewer walks; on a stand its level rides with the camera.
"""

import numpy as np
from numpy.typing import ArrayLike

from ..shot.model import Focus, Projection
from .plan_arrays import Floats, Plan


def as_the_lens_extends(distance: ArrayLike, *, extension: ArrayLike) -> Floats:
    """Return the distances, m, that make up for a lens that has gone out to ``extension`` = v(t)/v(0) times its length.

    Size goes by v/d, so a level that is to look as it would from ``distance`` under the lens as it was stands as much
    farther as the lens is longer. Arrays broadcast.
    """
    return np.asarray(distance, dtype=np.float64) * np.asarray(extension, dtype=np.float64)


def magnification(plan: Plan, level: str, *, row: int) -> float:
    """Return v/d of ``level`` on the frame of ``row``: the size of its image on film over its own."""
    column = plan.names.index(level)
    return float(plan.image_distance[row] / plan.distance[row, column])


def magnification_at(plan: Plan, level: str, *, distance: float, row: int) -> float:
    """Return what `magnification` of ``level`` would be on the frame of ``row`` if it stood at ``distance``, m."""
    if plan.shot.camera.focus == Focus(level=level):
        focal = float(plan.tracks.camera["focal"][row])
        return focal / (distance - focal)
    return float(plan.image_distance[row]) / distance


def held_height(plan: Plan, level: str, *, magnification: float) -> Floats:
    """Return the height of ``level`` on every frame, (F,) m, at which its image is ``magnification`` times its size.

    v/d = m gives d = v/m. Where focus follows the level itself, v = f·d/(d − f) and so d = f·(1 + 1/m), the conjugate
    distances of a thin lens. With an orthographic camera every height does: it stays as it is.
    """
    if plan.shot.camera.projection is Projection.ORTHOGRAPHIC:
        return np.asarray(plan.tracks.levels["height"][:, plan.names.index(level)])
    if plan.shot.camera.focus == Focus(level=level):
        distance = plan.tracks.camera["focal"] * (1.0 + 1.0 / magnification)
    else:
        v = plan.image_distance
        distance = as_the_lens_extends(v[0] / magnification, extension=v / v[0])
    return np.asarray(plan.tracks.camera["height"] - distance)
