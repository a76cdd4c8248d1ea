# SPDX-License-Identifier: GPL-3.0-or-later
"""One law for one stretch of a track: which law of motion runs from its first frame to its last, and how.

Where a track is cut into stretches is `fit_moves`.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from ..shot.model import CAMERA, Law, Move, bezier_handle
from . import motion_laws
from .plan_arrays import Floats

# Fewer steps than these cannot tell laws apart that are not straight.
_LEAST_SPAN = 3
# Steps of slowing are first sought as whole numbers, then finer.
_GRAINS = (1.0, 0.5, 0.1, 0.01)
# Handles that were drawn by hand have any length.
_HANDLE_GRAINS = (*_GRAINS, 0.001, 0.0001)
# Handles that stray more than so many times the tolerance are not tried: there is no law.
_NEAR = 4.0
# What single precision makes of a place at the end of its move, as a share of it.
_BEYOND = 1e-4
# A step that is slower than the fastest by less than this share of it is at full speed.
_FULL_SPEED = 1e-3


@dataclass(frozen=True)
class Stretch:
    """A track (F,) that moves are sought for, m or radians, and what is known of its axis.

    ``origin`` (F,) is where the distance is counted from that a ratio scales, None where the axis has no ratio.
    """

    track: Floats
    part: str
    axis: str
    tolerance: float
    tidy: Callable[[float], float]
    origin: Floats | None = None
    about: str = ""

    @property
    def sign(self) -> float:
        """Which way the distance of a ratio is counted: down from the lens for a level, else up."""
        return 1.0 if self.part == CAMERA else -1.0


def fitting_move(stretch: Stretch, first: int, last: int, *, start: float) -> Move | None:
    """Return the move from index ``first`` to ``last`` that leaves ``start`` and follows the track, None without one.

    Simple laws go before others: constant speed, sine, ratio, and then constant speed with slow-out and slow-in.
    """
    end = stretch.tidy(float(stretch.track[last]))
    for move in _candidates(stretch, Move(stretch.part, stretch.axis, first, last, start, end)):
        if (np.abs(positions(stretch, move) - stretch.track[first : last + 1]) <= stretch.tolerance).all():
            return move
    return None


def _candidates(stretch: Stretch, move: Move) -> Iterator[Move]:
    yield move
    if move.last - move.first < _LEAST_SPAN:
        return
    yield _changed(move, law=Law.SINE)
    if has_ratio(stretch, move):
        about = stretch.about if stretch.part == CAMERA and stretch.axis == "height" else ""
        yield _changed(move, law=Law.RATIO, about=about)
    if move.start != move.end:
        yield from _eased(stretch, move)
        yield from _slowed(stretch, move)


def _changed(
    move: Move, *, law: Law = Law.STEADY, about: str = "", slow_out: float = 0.0, slow_in: float = 0.0
) -> Move:
    ends = (move.part, move.axis, move.first, move.last, move.start, move.end)
    return Move(*ends, law=law, slow_out=slow_out, slow_in=slow_in, about=about)


def has_ratio(stretch: Stretch, move: Move) -> bool:
    """Return whether both ends of a move have a distance in front of the lens, so that there is a ratio."""
    if stretch.origin is None:
        return False
    near = stretch.sign * (move.start - stretch.origin[move.first])
    far = stretch.sign * (move.end - stretch.origin[move.last])
    return bool(near > 0 and far > 0)


def positions(stretch: Stretch, move: Move) -> Floats:
    """Return where a move puts the axis from its first frame to its last, by index."""
    origin = None if stretch.origin is None else stretch.origin[move.first : move.last + 1]
    return motion_laws.along(move, origin=origin, sign=stretch.sign)


# -- ease -------------------------------------------------------------------------------------------------------------


def _eased(stretch: Stretch, move: Move) -> Iterator[Move]:
    """Yield moves along a Bézier curve: with handles as Blender sets them, and then as long as the track has them.

    The place tells how far along its curve a frame is, t of 3t² − 2t³, and time is linear in the two handles then.
    """
    span = move.last - move.first
    handle = bezier_handle(span)
    yield _changed(move, law=Law.BEZIER, slow_out=handle, slow_in=handle)
    travelled = (stretch.track[move.first : move.last + 1] - move.start) / (move.end - move.start)
    if ((travelled < -_BEYOND) | (travelled > 1 + _BEYOND)).any():
        return
    inner = np.clip(travelled[1:-1], 0.0, 1.0)
    t = 0.5 - np.sin(np.arcsin(1.0 - 2.0 * inner) / 3.0)
    blends = np.column_stack([3 * (1 - t) ** 2 * t, -3 * (1 - t) * t**2])
    late = np.arange(1, span) / span - t**3 - 3 * (1 - t) * t**2
    # What a frame tells counts as much as the place changes there: at rest it tells nothing but its rounding.
    fast = np.gradient(travelled)[1:-1] * span
    shares = np.clip(np.linalg.lstsq(blends * fast[:, None], late * fast, rcond=None)[0], 0.0, 1.0)
    off = np.abs((blends @ shares - late) * fast).max(initial=0.0)
    if off * abs(move.end - move.start) > _NEAR * stretch.tolerance:
        return
    slows = shares * span
    tried = set()
    for grain in _HANDLE_GRAINS:
        slow_out, slow_in = (round(round(float(slow) / grain) * grain, 6) for slow in slows)
        if (slow_out, slow_in) not in tried and slow_out + slow_in <= span:
            tried.add((slow_out, slow_in))
            yield _changed(move, law=Law.BEZIER, slow_out=slow_out, slow_in=slow_in)


# -- slow-out and slow-in ----------------------------------------------------------------------------------------------


def _slowed(stretch: Stretch, move: Move) -> Iterator[Move]:
    """Yield steady moves that leave and come to rest as the track does, in whole steps before finer ones."""
    span = move.last - move.first
    travelled = (stretch.track[move.first : move.last + 1] - move.start) / (move.end - move.start)
    slows = _slows_of(travelled)
    if np.abs(_unit(slows, span) - travelled).max() > 0.5 / span:
        return
    tried = set()
    for grain in _GRAINS:
        slow_out, slow_in = (round(round(float(slow) / grain) * grain, 6) for slow in slows)
        if (slow_out, slow_in) not in tried and slow_out + slow_in <= span:
            tried.add((slow_out, slow_in))
            yield _changed(move, slow_out=slow_out, slow_in=slow_in)


def _unit(slows: Floats, span: int) -> Floats:
    """Return a steady move from 0 to 1."""
    return motion_laws.steady(np.arange(span + 1), span=span, start=0.0, end=1.0, slow_out=slows[0], slow_in=slows[1])


def _slows_of(travelled: Floats) -> Floats:
    """Return slow_out and slow_in that a move from 0 to 1 (N + 1,) has where it is steady.

    It leaves as p·i² and comes to rest as 1 − q·(N − i)², with p = V/(2·slow_out) and q = V/(2·slow_in), read where it
    has just come to full speed and where it leaves it. V·(N − slow_out/2 − slow_in/2) = 1 then gives V as the smaller
    root of (1/4p + 1/4q)·V² − N·V + 1 = 0.
    """
    span = len(travelled) - 1
    steps = np.diff(travelled)
    fast = np.flatnonzero(steps >= steps.max() * (1 - _FULL_SPEED))
    begin, left = int(fast[0]), span - int(fast[-1]) - 1
    # 1/p and 1/q, 0 where there is nothing slow
    out = begin**2 / travelled[begin] if begin and travelled[begin] > 0 else 0.0
    into = left**2 / (1.0 - travelled[span - left]) if left and travelled[span - left] < 1 else 0.0
    bend = (out + into) / 4
    speed = (span - np.sqrt(max(span**2 - 4 * bend, 0.0))) / (2 * bend) if bend else 1.0 / span
    slows = np.clip(np.array([out, into], dtype=np.float64) * speed / 2, 0.0, span)
    return np.asarray(slows * min(1.0, span / max(float(slows.sum()), 1e-9)))
