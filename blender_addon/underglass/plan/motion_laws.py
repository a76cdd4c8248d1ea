# SPDX-License-Identifier: GPL-3.0-or-later
"""The laws of motion: where an axis stands after each step of a move.

A move of N frames has N positions and N − 1 steps; ``steps`` counts them from 0 at the first frame to ``span``.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..shot.model import Law, Move

Floats = NDArray[np.float64]

# A handle is a third of the move to this, of the move: closer than doubles tell.
_THIRD = 1e-12
# As often as an interval of 1 can be halved in double precision.
_HALVINGS = 54


def steady(
    steps: ArrayLike, *, span: float, start: float, end: float, slow_out: float = 0.0, slow_in: float = 0.0
) -> Floats:
    """Return positions of a move at constant speed that leaves rest over ``slow_out`` steps and stops over ``slow_in``.

    Uniform acceleration (fairing as stand handbooks describe it: increments 1 : 3 : 5 …), full speed
    V = (end − start)/(span − slow_out/2 − slow_in/2) a step. ``slow_out + slow_in <= span``.
    """
    i = np.asarray(steps, dtype=np.float64)
    speed = (end - start) / (span - slow_out / 2 - slow_in / 2)
    position = start + speed * (i - slow_out / 2)
    if slow_out > 0:
        position = np.where(i < slow_out, start + speed * i**2 / (2 * slow_out), position)
    if slow_in > 0:
        left = span - i
        position = np.where(left < slow_in, end - speed * left**2 / (2 * slow_in), position)
    return _meet_the_ends(position, i, span=span, start=start, end=end)


def sine(steps: ArrayLike, *, span: float, start: float, end: float) -> Floats:
    """Return positions along half a cosine wave: start + (end − start)·(1 − cos πi/span)/2."""
    i = np.asarray(steps, dtype=np.float64)
    position = start + (end - start) * (1 - np.cos(np.pi * i / span)) / 2
    return _meet_the_ends(position, i, span=span, start=start, end=end)


def bezier(steps: ArrayLike, *, span: float, start: float, end: float, slow_out: float, slow_in: float) -> Floats:
    """Return positions along a cubic Bézier curve that is level at both ends.

    Its handles are ``slow_out`` and ``slow_in`` steps long: with s = i/span, t solves
    s = 3(1 − t)²t·slow_out/span + 3(1 − t)t²·(1 − slow_in/span) + t³ (Bernstein form), and the place is
    start + (end − start)·(3t² − 2t³). With both a third of the span t = s: the ease of animation programs, and the
    smoothstep of shaders.
    ``slow_out + slow_in <= span``, so that there is one place on every frame.
    """
    i = np.asarray(steps, dtype=np.float64)
    t = _bezier_parameter(np.clip(i / span, 0.0, 1.0), slow_out / span, slow_in / span)
    return _meet_the_ends(start + (end - start) * t**2 * (3 - 2 * t), i, span=span, start=start, end=end)


def _bezier_parameter(shares: Floats, out: float, into: float) -> Floats:
    """Return where along the curve each share of the time is: halved until nothing is left between."""
    if abs(out - 1 / 3) + abs(into - 1 / 3) < _THIRD:
        return shares
    low, high = np.zeros_like(shares), np.ones_like(shares)
    for _ in range(_HALVINGS):
        t = (low + high) / 2
        late = 3 * (1 - t) * t * ((1 - t) * out + t * (1 - into)) + t**3 > shares
        low, high = np.where(late, low, t), np.where(late, t, high)
    return np.asarray((low + high) / 2)


def ratio(steps: ArrayLike, *, span: float, start: float, end: float) -> Floats:
    """Return positions that grow by equal ratios: start·(end/start)^(i/span). Both ends have the same sign."""
    i = np.asarray(steps, dtype=np.float64)
    position = start * (end / start) ** (i / span)
    return _meet_the_ends(position, i, span=span, start=start, end=end)


def along(move: Move, *, origin: Floats | None = None, sign: float = 1.0) -> Floats:
    """Return the readings of a move from its first frame to its last, (N,).

    A ratio scales the distance from ``origin`` (N,), counted up where ``sign`` is 1 and down where it is −1; it must be
    above 0 at both ends. Other laws have no use for it.
    """
    span = move.last - move.first
    steps = np.arange(span + 1)
    if move.law is Law.SINE:
        return sine(steps, span=span, start=move.start, end=move.end)
    if move.law is Law.STEADY:
        return steady(steps, span=span, start=move.start, end=move.end, slow_out=move.slow_out, slow_in=move.slow_in)
    if move.law is Law.BEZIER:
        return bezier(steps, span=span, start=move.start, end=move.end, slow_out=move.slow_out, slow_in=move.slow_in)
    assert origin is not None
    near, far = sign * (move.start - origin[0]), sign * (move.end - origin[-1])
    return np.asarray(origin + sign * ratio(steps, span=span, start=near, end=far))


def _meet_the_ends(position: Floats, steps: Floats, *, span: float, start: float, end: float) -> Floats:
    """Put the readings of the sheet at both ends: rounding must not make a hold out of a move's last step."""
    return np.where(steps <= 0, start, np.where(steps >= span, end, position))
