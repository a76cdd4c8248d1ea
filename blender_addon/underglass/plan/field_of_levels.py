# SPDX-License-Identifier: GPL-3.0-or-later
"""The field: what the frame takes in on every level of the stand."""

import numpy as np

from ..optics.projection import CORNERS_UV
from .plan_arrays import Floats, Plan


def field_corners(plan: Plan) -> Floats:
    """Return where the frame's corners meet every level, (F, L, 4, 2) m east and north on the stand."""
    camera = plan.tracks.camera
    width, height = plan.shot.camera.frame_px
    half = (CORNERS_UV - 0.5) * [width, height / plan.shot.camera.squeeze]
    x, y = half[:, 0] / plan.scale[..., None], half[:, 1] / plan.scale[..., None]
    cos, sin = np.cos(camera["turn"])[:, None, None], np.sin(camera["turn"])[:, None, None]
    east = camera["east"][:, None, None] + cos * x - sin * y
    north = camera["north"][:, None, None] + sin * x + cos * y
    return np.stack([east, north], axis=-1)
