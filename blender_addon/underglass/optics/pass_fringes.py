# SPDX-License-Identifier: GPL-3.0-or-later
"""The passes that a level's own material writes for a proof of finished frames: their names, and fringes read back.

A pass of Cycles holds (u, v, 1): texture coordinates, and 1 where the level is hit. EEVEE writes the nearest surface
alone, and no more than 16 passes: there every level has a pass for where it is hit, and all levels share two for the
coordinates, (u, cos, sin) and (v, cos, sin). A pixel that one level fills holds the coordinates of that one.

EEVEE keeps passes as half floats, which tell a coordinate to a half of a thousandth only. Cosine and sine are of
2π·n·u and 2π·m·v, fringes across and up the art whose phase is known far finer; the coarse coordinate then only has to
tell which fringe it is (the way of fringe projection, as in Takeda & Mutoh, Applied Optics 22, 1983, 3977). A filter
that is the same both ways leaves the phase of a fringe where it is.
"""

import re

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# A fringe this wide on screen, where the level is smallest: wide against a pixel's filter, narrow against the level.
FRINGE_PX = 24.0
MOST_FRINGES = 64
# The passes that levels share in EEVEE, across and up the art.
SHARED = ("proofu", "proofv")
# EEVEE writes no more passes of materials of a view layer: of 17 none at all ("Too many AOVs"), or all but one (5.2).
MOST_PASSES = 16
# Names: proof3 · proof3u16v12, the second where fringes are shared; the level nearest the lens is 0.
_NAME = re.compile(r"proof(?P<level>\d{1,4})(?:u(?P<u>\d{1,3})v(?P<v>\d{1,3}))?")


def pass_name(level: int, *, counts: tuple[int, int] | None = None) -> str:
    """Return the name of the pass of the level with this number, the nearest the lens is 0.

    ``counts`` fringes across and up its art are in the name of a pass that tells where the level is hit.
    """
    return f"proof{level}" if counts is None else f"proof{level}u{counts[0]}v{counts[1]}"


def parse_pass(name: str) -> tuple[int, tuple[int, int] | None] | None:
    """Return level and number of fringes (None in a pass of coordinates); None for any other pass."""
    match = _NAME.fullmatch(name)
    if match is None:
        return None
    return int(match["level"]), None if match["u"] is None else (int(match["u"]), int(match["v"]))


def most_levels(others: int = 0) -> int:
    """Return of how many levels EEVEE can write passes, beside ``others`` that are no proof passes."""
    return max(0, MOST_PASSES - len(SHARED) - others)


def fringe_counts(size_px: float, *, shape: float) -> tuple[int, int]:
    """Return how many fringes go across and up art that is ``size_px`` wide and ``shape`` times as high as wide."""
    return _count(size_px), _count(size_px * shape)


def fine_coordinate(coarse: Floats, *, cosine: Floats, sine: Floats, count: int) -> Floats:
    """Return the coordinate that ``count`` fringes tell, on the fringe that ``coarse`` says."""
    phase = np.arctan2(sine, cosine) / (2 * np.pi * count)
    return np.asarray(phase + np.round((coarse - phase) * count) / count)


def _count(size_px: float) -> int:
    return int(np.clip(round(size_px / FRINGE_PX), 1, MOST_FRINGES))
