# SPDX-License-Identifier: GPL-3.0-or-later
"""What the frame sees of every level's art: the ground that several findings stand on, worked out once.

Art coordinates are metres from the centre of the art along its own sides, right and up, whatever way it is turned.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...optics.projection import CORNERS_UV
from ..plan_arrays import Floats, Plan
from .seen_motion import Motion, motions

# The frame's edges in the order in which they are met going round, each between two corners of CORNERS_UV.
EDGE_CORNERS = {"right": (1, 2), "top": (2, 3), "left": (3, 0), "bottom": (0, 1)}
# An edge of art that lies on the frame's edge is in the frame, to the last bits of its position.
_EDGE_PX = 1e-6


@dataclass(frozen=True)
class Sight:
    """Where art and frame meet, for all frames and levels.

    ``across`` and ``up`` (F, L, 4) are the frame's corners in art coordinates; ``half_width`` and ``half_height`` (L,)
    those of the art. ``points`` (F, L, 5, 2) are the places on the art nearest the frame's corners and its centre,
    ``in_frame`` (F, L, 5) whether those are in the frame and the art is shown, ``seen`` (F, L) whether any is.
    ``motions`` are the axes that move.
    """

    across: Floats
    up: Floats
    half_width: Floats
    half_height: Floats
    points: Floats
    in_frame: NDArray[np.bool_]
    seen: NDArray[np.bool_]
    motions: tuple[Motion, ...]


def look(plan: Plan) -> Sight:
    """Return what the frame sees of every level of ``plan``."""
    corners = (CORNERS_UV - 0.5) * plan.shot.camera.frame_px
    scale = plan.scale[..., None]
    right = (corners[:, 0] - plan.x[..., None]) / scale
    top = (corners[:, 1] - plan.y[..., None]) / (scale * plan.shot.camera.squeeze)
    cos, sin = np.cos(plan.turn)[..., None], np.sin(plan.turn)[..., None]
    across, up = cos * right + sin * top, cos * top - sin * right
    half_width = np.array([level.art_width / 2 for level in plan.shot.levels])
    half_height = np.array([level.art_height / 2 for level in plan.shot.levels])
    # the frame's centre is the mean of its corners, in any coordinates
    five = np.stack([_with_mean(across), _with_mean(up)], axis=-1)
    bounds = np.stack([half_width, half_height], axis=-1)[:, None, :]
    points = np.clip(five, -bounds, bounds)
    shown = positions_px(plan, points)
    in_frame = (np.abs(shown) <= np.array(plan.shot.camera.frame_px) / 2 + _EDGE_PX).all(axis=-1)
    in_frame &= (plan.drawing >= 0)[..., None]
    return Sight(across, up, half_width, half_height, points, in_frame, in_frame.any(axis=-1), tuple(motions(plan)))


def positions_px(plan: Plan, points: Floats, *, later: int = 0) -> Floats:
    """Return where places on the art, (F, L, N, 2) m in art coordinates, are seen ``later`` frames on, in pixels.

    The last ``later`` frames have no later one: (F − later, L, N, 2).
    """
    count = len(plan.frames) - later
    scale = plan.scale[later:, :, None]
    cos, sin = np.cos(plan.turn[later:])[..., None], np.sin(plan.turn[later:])[..., None]
    across, up = points[:count, ..., 0], points[:count, ..., 1]
    x = plan.x[later:, :, None] + scale * (cos * across - sin * up)
    y = plan.y[later:, :, None] + scale * plan.shot.camera.squeeze * (sin * across + cos * up)
    return np.stack([x, y], axis=-1)


def edge_reach(plan: Plan, sight: Sight) -> dict[str, Floats]:
    """Return for each edge of the frame how far the art reaches beyond it, (F, L) m; below 0 it shows its own edge.

    The side of the art that faces the frame's edge is held against both ends of that edge. A strip of reeds covers the
    left edge although it ends halfway up; covered on all four edges, the whole frame is covered.
    """
    width, height = sight.half_width[:, None], sight.half_height[:, None]
    sides = (width - sight.across, height - sight.up, width + sight.across, height + sight.up)
    quarters = np.rint(plan.turn / (np.pi / 2)).astype(np.int64)
    turned = quarters.any()
    reach = {}
    for index, (edge, (one, other)) in enumerate(EDGE_CORNERS.items()):
        facing = np.choose(((index - quarters) % 4)[..., None], sides) if turned else sides[index]
        reach[edge] = np.minimum(facing[..., one], facing[..., other])
    return reach


def _with_mean(corners: Floats) -> Floats:
    return np.concatenate([corners, corners.mean(axis=-1, keepdims=True)], axis=-1)
