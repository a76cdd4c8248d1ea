# SPDX-License-Identifier: GPL-3.0-or-later
"""Steps: whether the numbers in proof passes were once whole numbers of 8, 10, 12 or 16 bits, whatever holds them now.

A file that went through a program of 8 bits holds nothing but multiples of 1/255, in 32-bit floats too.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .pass_fits import LevelPass

# Steps between 0 and 1 of whole numbers of so many bits.
STEPS = tuple(2**bits - 1 for bits in (8, 10, 12, 16))
# A multiple is one to this part of a step, and to what a float of 16 bits holds of it.
EVEN = 0.02
# So many different numbers tell; no more than so many are looked at.
FEWEST, MOST = 24, 4_000


def with_steps(passes: Mapping[int, LevelPass]) -> tuple[dict[int, LevelPass], int]:
    """Return the passes with what rounding may have taken from their coordinates, and in how many steps; 0 for none.

    Passes that levels share are summed up over samples and hold fringes: of them nothing is said.
    """
    steps = {level: 0 if made.fringes else _steps_of(made) for level, made in passes.items()}
    rounded = {
        level: replace(made, rounded_to=max(made.rounded_to, 0.5 / steps[level])) if steps[level] else made
        for level, made in passes.items()
    }
    return rounded, min((count for count in steps.values() if count), default=0)


def _steps_of(made: LevelPass) -> int:
    """Return in how many steps both coordinates of a level go, the fewest that fit; 0 where in none."""
    every = max(1, int(np.sqrt(made.u.size / MOST)))
    values = [held[::every, ::every].ravel() for held in (made.u, made.v)]
    values = [np.unique(held[np.isfinite(held) & (held > 0) & (held < 1)]) for held in values]
    if min(map(len, values)) < FEWEST:
        return 0
    for count in STEPS:
        if all(_are_multiples(held, count) for held in values):
            return count
    return 0


def _are_multiples(values: NDArray[Any], count: int) -> bool:
    there = values.astype(np.float64) * count
    allowed = EVEN + (np.spacing(values).astype(np.float64) / 2 * count if values.dtype == np.float16 else 0.0)
    # Where a float of 16 bits holds less than a step, everything would be a multiple.
    return bool((np.abs(there - np.round(there)) <= allowed).all() and np.max(allowed) < 0.2)
