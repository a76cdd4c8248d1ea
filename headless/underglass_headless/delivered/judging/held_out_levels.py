# SPDX-License-Identifier: GPL-3.0-or-later
"""Held out: levels that are wholly missing and yet hide what is behind them, as Blender's Holdout makes them.

Such a level is what is to be named; those behind it, of which too little is seen for that reason, are not.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from underglass.optics.projection import art_from_px
from underglass.plan.plan_arrays import Plan
from underglass.proof.proof_facts import FAIL, PASS, Measurement

Floats = NDArray[np.float64]

# Said of a level that a missing one hides, after the name of that.
HIDES = ", which is missing, hides it"
# Places at which a frame is looked at, across and up.
GRID = (96, 72)
# So much of what is missed of a level has to lie behind one that is gone.
LEAST_BEHIND = 0.9
# A level of which more than this lies behind a held-out one cannot be seen whole.
MOST_COVERED = 0.3


def named_alone(
    plan: Plan,
    measurements: Sequence[Measurement],
    *,
    corners: Floats,
    shares: Mapping[tuple[int, str], float],
    tolerance: float,
) -> tuple[Measurement, ...]:
    """Return the measurements, those of levels that pass but for what a missing level before them hides as passed.

    ``corners`` (F, L, 4, 2) px; ``shares`` by (frame, level) is which share is seen of what should be seen of a level
    that is cut off. Held-out art hides with all of it, so that nothing is seen behind any of it.
    """
    by_frame: dict[int, list[Measurement]] = {}
    for m in measurements:
        by_frame.setdefault(m.frame, []).append(m)
    hidden: dict[tuple[int, str], Measurement] = {}
    for frame, mine in by_frame.items():
        missed = [m for m in mine if m.verdict == FAIL and (m.error_px is None or not m.whole)]
        if len(missed) > 1 and any(m.error_px is None for m in missed):
            inside = _covered(plan, corners[frame - int(plan.frames[0])])
            found = _hidden(plan, mine, missed, inside=inside, shares=shares, tolerance=tolerance)
            hidden.update({(frame, m.level): m for m in found})
    return tuple(hidden.get((m.frame, m.level), m) for m in measurements)


def _hidden(
    plan: Plan,
    every: Sequence[Measurement],
    missed: Sequence[Measurement],
    *,
    inside: NDArray[np.bool_],
    shares: Mapping[tuple[int, str], float],
    tolerance: float,
) -> list[Measurement]:
    """Return those of the ``missed`` levels of a frame that a missing one hides, as they are but for that."""
    seen = [plan.names.index(m.level) for m in every if m.error_px is not None and m.whole]
    gone: list[int] = []
    found = []
    for m in sorted(missed, key=lambda one: plan.names.index(one.level)):
        column = plan.names.index(m.level)
        behind = (inside[column] & inside[gone].any(axis=0)).sum() if gone else 0
        lost = 1.0 - shares.get((m.frame, m.level), 0.0)
        if gone and behind >= LEAST_BEHIND * lost * inside[column].sum():
            names = " and ".join(plan.names[one] for one in gone)
            near = m.error_px is None or m.error_px + (m.uncertainty_px or 0.0) <= tolerance
            remark = f"{names}{HIDES}"
            found.append(replace(m, verdict=PASS if near else FAIL, whole=True, remark=remark))
        elif m.error_px is None and not any(_shows_behind(inside, column, other) for other in seen):
            gone.append(column)
    return found


def _shows_behind(inside: NDArray[np.bool_], column: int, other: int) -> bool:
    """Return whether the level ``other``, which is seen whole, could not be so if ``column`` were held out."""
    covered = (inside[column] & inside[other]).sum()
    return other > column and covered > MOST_COVERED * inside[other].sum()


def _covered(plan: Plan, corners: Floats) -> NDArray[np.bool_]:
    """Return at which places of the frame each level lies, (L, N)."""
    width, height = plan.shot.camera.frame_px
    x, y = ((np.arange(count) + 0.5) / count - 0.5 for count in GRID)
    places = np.stack(np.meshgrid(x * width, y * height), axis=-1).reshape(-1, 2)
    uv = np.stack([art_from_px(places, corners=level) for level in corners])
    return np.asarray(((uv > 0) & (uv < 1)).all(axis=-1))
