# SPDX-License-Identifier: GPL-3.0-or-later
"""What the planner hands on: a stack with its proof of being the best, or the limits that clash."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from underglass.shot import Shot

from ..brief.brief import Brief
from .walk_frames import World

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


class Prefer(StrEnum):
    """What counts first: the fewest levels that move, or the least travel of all of them together."""

    MOVERS = "movers"
    TRAVEL = "travel"


@dataclass(frozen=True)
class Solved:
    """How sure the optimum is. ``gap`` is the largest relative difference between the programme and its dual, of all
    that were solved; ``mip_gap`` that of the choice of levels that rest, None where there was none to make.

    ``iterations`` counts how often the focus was followed until it settled, ``programmes`` what was solved in all,
    and ``rows`` the (limit, frame) pairs that the last one held.
    """

    gap: float
    mip_gap: float | None
    iterations: int
    programmes: int
    rows: int


@dataclass(frozen=True)
class Binding:
    """A limit that the stack stands at. ``price`` is the metres of level travel that easing it by one would save."""

    key: str
    subject: str
    words: str
    frame: int
    price: float


@dataclass(frozen=True)
class Stack:
    """Where everything stands where the walk begins, and how it goes with the walk; metres.

    ``focal`` and ``image`` are f and v on the first frame, ``extension`` (F,) is v(t)/v. ``height`` is the lens's,
    ``scale`` metres on the stand for one of the world. ``distance`` (L,) is each level's from the lens, ``gain`` (L,)
    the scale at which it is shown, d/D: a level whose gain is the scale rests. ``east`` (L,) is where its art sits.
    """

    focal: float
    image: float
    extension: Floats
    height: float
    scale: float
    distance: Floats
    gain: Floats
    east: Floats
    rests: Bools
    solved: Solved
    binding: tuple[Binding, ...] = ()

    @property
    def shown_distance(self) -> Floats:
        """How far each level looks, (L,) m of the world: as in the brief, but for a compromise."""
        with np.errstate(divide="ignore"):
            return self.distance / self.gain


@dataclass(frozen=True)
class Answer:
    """A brief with its stack and the shot that comes of it.

    ``error_px`` (L,) is how far a point that begins in a corner of the frame ends up at most from where the world
    has it.
    """

    brief: Brief
    world: World
    stack: Stack
    shot: Shot
    prefer: Prefer
    error_px: Floats


@dataclass(frozen=True)
class Way:
    """One way out of a clash: this limit alone would have to give by ``by`` metres; None where it alone cannot."""

    key: str
    words: str
    by: float | None


@dataclass(frozen=True)
class Clash:
    """No stack fits. ``least`` are limits and the metres by which they have to give, least in all; ``ways`` all limits
    that clash, each with what it alone would have to give. ``nearest`` is the best stack inside the limits, None
    where not even a stand at rest fits.
    """

    brief: Brief
    least: tuple[Way, ...]
    ways: tuple[Way, ...]
    nearest: Answer | None
