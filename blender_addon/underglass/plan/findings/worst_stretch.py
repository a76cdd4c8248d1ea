# SPDX-License-Identifier: GPL-3.0-or-later
"""Stretches of frames: the run round the worst frame of what is found, and numbers as a sentence says them."""

import numpy as np
from numpy.typing import NDArray

from ...shot.units import METRES_PER_UNIT
from ...shot.words import number_text
from ..pass_light import fractions
from ..plan_arrays import Floats, Ints, Plan

Flags = NDArray[np.bool_]
# Values nearer to the greatest than this, as a share of it, are as great: the first of them is told.
_AS_GREAT = 1e-9


def worst_stretch(found: Flags, *, row: int, gap: int = 1) -> tuple[int, int]:
    """Return the first and last row of the run of ``found`` (F,) that ``row`` lies in.

    Rows up to ``gap`` apart are one run: a level on twos changes on every second frame only.
    """
    rows = np.flatnonzero(found)
    breaks = np.flatnonzero(np.diff(rows) > gap)
    at = int(np.searchsorted(rows, row))
    begin = int(np.searchsorted(breaks, at))
    first = rows[breaks[begin - 1] + 1] if begin else rows[0]
    last = rows[breaks[begin]] if begin < len(breaks) else rows[-1]
    return int(first), int(last)


def frames_of(frames: Ints, found: Flags, *, row: int, gap: int = 1) -> tuple[int, int]:
    """Return the first and last frame of the run of ``found`` that ``row`` lies in."""
    first, last = worst_stretch(found, row=row, gap=gap)
    return int(frames[first]), int(frames[last])


def worst_row(values: Floats, found: Flags) -> int:
    """Return the first row with the greatest of ``values`` (F,) that is ``found``."""
    among = np.where(found, values, -np.inf)
    greatest = among.max()
    return int((among >= greatest - _AS_GREAT * abs(greatest)).argmax())


def shown_frames(plan: Plan) -> Flags:
    """Return on which frames a level is there to be seen, (F, L): it has a drawing, and a pass that lights it.

    What the shot leaves blank or dark it leaves out on purpose.
    """
    shown = np.asarray(plan.drawing >= 0)
    if not plan.shot.exposures:
        return shown
    lit = np.zeros_like(shown)
    for one in plan.shot.exposures:
        light = fractions(one, frames=plan.frames)
        named = [one.levels is None or name in one.levels for name in plan.names]
        lit |= (light > 0.0)[:, None] & np.array(named)[None, :]
    return shown & lit


def in_unit(plan: Plan, metres: float) -> float:
    """Return a length in the unit of the shot's files."""
    return float(metres) / METRES_PER_UNIT[plan.shot.units]


def length_text(plan: Plan, metres: float) -> str:
    """Return a length as a sentence says it, such as ``0.125 in``."""
    return f"{number_text(in_unit(plan, metres), digits=3)} {plan.shot.units}"


def px_text(pixels: float) -> str:
    """Return pixels as a sentence says them."""
    return f"{number_text(float(pixels), digits=3)} px"


def listed_and(words: list[str]) -> str:
    """Return ``a``, ``a and b`` or ``a, b and c``."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else words[0]
