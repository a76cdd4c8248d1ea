# SPDX-License-Identifier: GPL-3.0-or-later
"""Easing: moves of the law `bezier` as two keys that can be pulled, where Blender's curve between them is the law's.

Every frame is asked: where one strays from the plan, the axis is to be keyed frame by frame, as without this.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..plan.plan_arrays import Floats, Ints, Plan
from ..shot.model import CAMERA, FrameTable, Law, Move, bezier_handle

# A curve is worked out in single precision, in values and in frames. Both are less than what Save takes for rounding,
# `revise.standing.SAME` and half of `revise.schedules.SHARE`: a part of the largest value, a part of the field.
SAME = 3 * float(np.finfo(np.float32).eps)
SHARE = 1e-7
# Handles as Blender gives them to a new key: level where the curve turns, and a third of the way long.
_BLENDERS_OWN = "AUTO_CLAMPED"
# What the hand keeps in one line through the key.
_SAID = "ALIGNED"


@dataclass(frozen=True)
class Eased:
    """The `bezier` moves of an axis, in their order, and how far from the plan a curve may be, m or radians."""

    moves: tuple[Move, ...]
    within: float


def eased(plan: Plan, part: str, axis: str) -> Eased | None:
    """Return the `bezier` moves of an axis that keys can stand for; None where it goes frame by frame or on twos."""
    shot = plan.shot
    if isinstance(shot.schedule, FrameTable) or (part, axis) in shot.chart.columns:
        return None
    if part != CAMERA and shot.levels[shot.names.index(part)].on != 1:
        return None
    first, last = int(plan.frames[0]), int(plan.frames[-1])
    found = (move for move in shot.schedule if (move.part, move.axis, move.law) == (part, axis, Law.BEZIER))
    moves = sorted((one for one in found if first <= one.first and one.last <= last), key=lambda move: move.first)
    return Eased(tuple(moves), _within(plan, part, axis)) if moves else None


def _within(plan: Plan, part: str, axis: str) -> float:
    """Return the deviation of an axis that makes SHARE of the field, m or radians."""
    if axis == "turn":
        return SHARE
    columns = slice(None) if part == CAMERA else [plan.names.index(part)]
    if axis == "height":
        return SHARE * float(plan.distance[:, columns].min())
    return SHARE * plan.shot.camera.frame_px[0] / float(plan.scale[:, columns].max())


def ease(curve: Any, said: Eased, *, frames: Ints, values: Floats, needed: NDArray[np.bool_]) -> bool:
    """Key ``curve``, which has no keys, for ``values`` (F,) with two keys for each of the moves that are ``said``.

    Returns whether it gives the values on every frame; else it is left with no keys. ``needed`` (F,) are the frames
    that straight lines between keys need.
    """
    moves = said.moves
    first = int(frames[0])
    keyed = needed.copy()
    for move in moves:
        keyed[move.first - first + 1 : move.last - first] = False
        keyed[[move.first - first, move.last - first]] = True
    rows = np.flatnonzero(keyed)
    # before its first key and behind its last one a curve holds by itself
    rows = rows[int(values[rows[0]] == values[rows[1]]) :]
    rows = rows[: len(rows) - int(values[rows[-1]] == values[rows[-2]])]
    thirds = all(abs(slow - bezier_handle(move.last - move.first)) < SAME for move in moves for slow in _slows(move))
    for kind in ([_BLENDERS_OWN] if thirds else []) + [_SAID]:
        _key(curve, moves, frames=frames[rows], values=values[rows], kind=kind)
        made = np.array([curve.evaluate(frame) for frame in frames.tolist()])
        if np.abs(made - values).max() <= max(said.within, SAME * np.abs(values).max()):
            return True
        _clear(curve)
    return False


def _slows(move: Move) -> tuple[float, float]:
    return move.slow_out, move.slow_in


def _clear(curve: Any) -> None:
    for point in reversed(list(curve.keyframe_points)):
        curve.keyframe_points.remove(point, fast=True)


def _key(curve: Any, moves: tuple[Move, ...], *, frames: Ints, values: Floats, kind: str) -> None:
    points = curve.keyframe_points
    points.add(len(frames))
    points.foreach_set("co", np.column_stack([frames, values]).astype(np.float32).ravel())
    begins, ends = {move.first: move for move in moves}, {move.last: move for move in moves}
    # a hold behind a move is one of its curve too, so that the next key by hand is eased as well
    rests = {int(f) for f, rise in zip(frames, np.diff(values, append=values[-1]), strict=True) if not rise}
    for point, frame, value in zip(points, frames.tolist(), values.tolist(), strict=True):
        bends = frame in begins or (frame in ends and frame in rests)
        point.interpolation = "BEZIER" if bends else "LINEAR"
        if frame in begins or frame in ends:
            point.handle_left_type = point.handle_right_type = kind
            before, after = ends.get(frame), begins.get(frame)
            left = before.slow_in if before else after.slow_out if after else 0.0
            right = after.slow_out if after else before.slow_in if before else 0.0
            point.handle_left, point.handle_right = (frame - left, value), (frame + right, value)
    curve.update()
