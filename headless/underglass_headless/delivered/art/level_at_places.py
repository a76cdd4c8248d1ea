# SPDX-License-Identifier: GPL-3.0-or-later
"""What one level does at the places of a frame that are looked at: where it shows, and where it should."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .lines_of_pixels import Mask


@dataclass(frozen=True)
class LevelAtPlaces:
    """What one level does at the places, (N,) each.

    It ``shows`` in its pass, ``should`` for certain, or is ``barred`` for certain. Inside its outline it is certainly
    ``clear_inside``, or its paint ``bright``: opaque and not black. Its coordinates are ``strange``,
    or are there ``unmarked``, where levels share them. ``through`` which level it shows that should hide it; else -1.
    ``mark`` is how much of each pixel shows it. Where it is ``solid`` it or a nearer one has to show. Of one that is
    ``gone`` nothing is in its pass: only where it should show, or is unmarked, tells of it.
    """

    number: int
    shows: Mask
    should: Mask
    barred: Mask
    clear_inside: Mask
    bright: Mask
    strange: Mask
    unmarked: Mask
    through: NDArray[np.int64]
    solid: Mask
    mark: NDArray[np.float64]
    gone: bool = False


def gone_level(number: int, should: Mask, solid: Mask, unmarked: Mask | None) -> LevelAtPlaces:
    """Return a level of whose pass nothing is there."""
    none, nobody = np.zeros_like(should), np.full(len(should), -1)
    unmarked = none if unmarked is None else unmarked
    return LevelAtPlaces(
        number, none, should, none, none, none, none, unmarked, nobody, solid, np.zeros(len(should)), gone=True
    )
