# SPDX-License-Identifier: GPL-3.0-or-later
"""Levels that are never in the frame, although the shot shows them."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ..plan_arrays import Floats, Plan
from ..planning import corners_px
from .finding import WARN, Finding
from .seen_art import Sight
from .worst_stretch import in_unit, length_text, px_text, shown_frames

# Art that ends on the frame's edge is in the frame, to the last bits of its place.
_EDGE_PX = 1e-6
# Where art lies from the frame, and on which axis of the stand it is brought back: right and left, above and below.
_WHERE = (("right of", "left of", "east", "west"), ("above", "below", "north", "south"))


def overlaps(plan: Plan, sight: Sight) -> NDArray[np.bool_]:
    """Return on which frames any of a level's art lies in the frame, (F, L), whether a drawing is shown or not.

    Two parallelograms are apart where a side of one has all of the other beyond it (the separating axis theorem).
    """
    corners = corners_px(plan)
    half = np.array(plan.shot.camera.frame_px) / 2.0
    gaps = _gaps_px(corners, half).max(axis=-1) <= _EDGE_PX
    room = _EDGE_PX / plan.scale
    width, height = sight.half_width + room, sight.half_height + room
    for along, reach in ((sight.across, width), (sight.up, height)):
        gaps &= (along.min(axis=-1) <= reach) & (along.max(axis=-1) >= -reach)
    return np.asarray(gaps)


def _gaps_px(corners: Floats, half: Floats) -> Floats:
    """Return how far art with ``corners`` (F, L, 4, 2) px lies beyond the frame's sides across and up, (F, L, 2) px."""
    low, high = corners.min(axis=2), corners.max(axis=2)
    return np.asarray(np.maximum(low - half, -half - high))


def find_out_of_frame(plan: Plan, sight: Sight) -> Iterator[Finding]:
    """Yield levels of which nothing is in the frame on any frame on which the shot shows them.

    Without a drawing and without light a level is out of the picture on purpose. One that has an edge to cover is told
    as one that uncovers it.
    """
    shown = shown_frames(plan)
    never = shown.any(axis=0) & ~(shown & overlaps(plan, sight)).any(axis=0)
    for column in np.flatnonzero(never):
        if not plan.shot.edges_to_cover(plan.shot.levels[column]):
            yield _never(plan, int(column), shown[:, column])


def _never(plan: Plan, column: int, shown: NDArray[np.bool_]) -> Finding:
    half = np.array(plan.shot.camera.frame_px) / 2.0
    corners = corners_px(plan)[:, column : column + 1]
    gaps = np.where(shown[:, None], _gaps_px(corners, half)[:, 0], np.inf)
    row = int(gaps.max(axis=1).argmin())
    side = int(gaps[row].argmax())
    name, frame, gap = plan.names[column], plan.frames[row], max(0.0, float(gaps[row, side]))
    ahead, behind, axis, back = _WHERE[side]
    is_ahead = float(corners[row, 0, :, side].mean()) > 0
    where = ahead if is_ahead else behind
    by = gap / float(plan.scale[row, column] * (plan.shot.camera.squeeze if side else 1.0))
    rows = np.flatnonzero(shown)
    return Finding(
        "out-of-frame",
        WARN,
        name,
        axis,
        (int(plan.frames[rows[0]]), int(plan.frames[rows[-1]])),
        in_unit(plan, by),
        0.0,
        plan.shot.units,
        f"{name} is never in the frame: at its nearest, on frame {frame}, its art lies"
        f" {length_text(plan, by)} ({px_text(gap)}) {where} the frame",
        f"move {name} more than {length_text(plan, by)} {back if is_ahead else axis}, or the camera the other way",
    )
