"""One law for one stretch of a track: which law of motion runs from its first frame to its last, and how.

Where a track is cut into stretches is `fitting`.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from ..shot.model import CAMERA, Law, Move
from . import laws
from .model import Floats

# Fewer steps than these cannot tell laws apart that are not straight.
_LEAST_SPAN = 3
# Steps of slowing are first sought as whole numbers, then finer.
_GRAINS = (1.0, 0.5, 0.1, 0.01)
_ROUNDS = 6
# How far slow_out and slow_in are moved to see what they change, in steps.
_NUDGE = 1e-3


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
    """Return the move from index ``first`` to ``last`` that leaves ``start`` and follows the track; None where none does.

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
    """Return where a move puts the axis from its first frame to its last, by index; see `tracks`."""
    span = move.last - move.first
    steps = np.arange(span + 1)
    if move.law is Law.SINE:
        return laws.sine(steps, span=span, start=move.start, end=move.end)
    if move.law is Law.STEADY:
        return laws.steady(
            steps, span=span, start=move.start, end=move.end, slow_out=move.slow_out, slow_in=move.slow_in
        )
    assert stretch.origin is not None
    origin, sign = stretch.origin[move.first : move.last + 1], stretch.sign
    near, far = sign * (move.start - origin[0]), sign * (move.end - origin[-1])
    return origin + sign * laws.ratio(steps, span=span, start=near, end=far)


# -- slow-out and slow-in ----------------------------------------------------------------------------------------------


def _slowed(stretch: Stretch, move: Move) -> Iterator[Move]:
    """Yield steady moves that leave and come to rest as the track does, in whole steps before finer ones."""
    span = move.last - move.first
    travelled = (stretch.track[move.first : move.last + 1] - move.start) / (move.end - move.start)
    slows = _refined(travelled, _first_guess(travelled))
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
    return laws.steady(np.arange(span + 1), span=span, start=0.0, end=1.0, slow_out=slows[0], slow_in=slows[1])


def _first_guess(travelled: Floats) -> Floats:
    """Return slow_out and slow_in as the fastest part of a move from 0 to 1 (N + 1,) tells them.

    On the straight part s = V·(i − slow_out/2), so the line through it meets 0 at half of slow_out; the same from the
    end. Without a straight part the move meets its own chord where it stops speeding up.
    """
    span = len(travelled) - 1
    steps = np.diff(travelled)
    fast = np.flatnonzero(steps >= steps.max() * (1 - 1e-3))
    begin, stop = int(fast[0]), int(fast[-1]) + 1
    if stop - begin > 1:
        speed = (travelled[stop] - travelled[begin]) / (stop - begin)
        slows = 2 * np.array([begin - travelled[begin] / speed, span - stop - (1 - travelled[stop]) / speed])
    else:
        turn = float(begin) + 0.5
        slows = np.array([turn, span - turn])
    return _within(slows, span)


def _within(slows: Floats, span: int) -> Floats:
    kept = np.clip(slows, 0.0, span)
    return kept * min(1.0, span / max(float(kept.sum()), 1e-9))


def _refined(travelled: Floats, slows: Floats) -> Floats:
    """Return ``slows`` brought nearest to the track by least squares (Gauss and Newton, differences for slopes)."""
    span = len(travelled) - 1
    for _ in range(_ROUNDS):
        here = _unit(slows, span)
        nudged = [_unit(_within(slows + step, span), span) - here for step in _NUDGE * np.eye(2)]
        slopes = np.array(nudged).T / _NUDGE
        change = np.linalg.lstsq(slopes, travelled - here, rcond=1e-6)[0]
        slows = _within(slows + change, span)
        if np.abs(change).max() < _NUDGE:
            break
    return slows
