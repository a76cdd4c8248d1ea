"""The passes that a level's own material writes for a proof of finished frames: their names, and fringes read back.

A pass holds (u, v, 1): texture coordinates, and 1 where the level is hit. EEVEE keeps passes as half floats, which tell
a coordinate to a half of a thousandth only; there the coordinates come once more as fringes, cos and sin of 2π·n·u and
2π·m·v, whose phase is known far finer. The coarse coordinate then only has to tell which fringe it is (the way of
fringe projection, as in Takeda & Mutoh, Applied Optics 22, 1983, 3977). A filter that is the same both ways leaves
the phase of a fringe where it is.
"""

import re

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# A fringe this wide on screen, where the level is smallest: wide against a pixel's filter, narrow against the level.
FRINGE_PX = 24.0
MOST_FRINGES = 64
# Names: proof3 · proof3u16v12 (cos u, sin u, cos v) · proof3u16v12s (sin v); the level nearest the lens is 0.
_NAME = re.compile(r"proof(?P<level>\d{1,4})(?:u(?P<u>\d{1,3})v(?P<v>\d{1,3})(?P<last>s?))?")


def pass_name(level: int) -> str:
    """Return the name of the pass of the level with this number, the nearest the lens is 0."""
    return f"proof{level}"


def fringe_names(level: int, *, counts: tuple[int, int]) -> tuple[str, str]:
    """Return the names of the two passes of fringes, so many of them across and up the art."""
    name = f"{pass_name(level)}u{counts[0]}v{counts[1]}"
    return name, f"{name}s"


def parse_pass(name: str) -> tuple[int, tuple[int, int] | None, bool] | None:
    """Return level, number of fringes (None in a pass of coordinates) and whether it is the second pass of them.

    None for a pass of somebody else's.
    """
    match = _NAME.fullmatch(name)
    if match is None:
        return None
    counts = None if match["u"] is None else (int(match["u"]), int(match["v"]))
    return int(match["level"]), counts, bool(match["last"])


def fringe_counts(size_px: float, *, shape: float) -> tuple[int, int]:
    """Return how many fringes go across and up art that is ``size_px`` wide and ``shape`` times as high as wide."""
    return _count(size_px), _count(size_px * shape)


def fine_coordinate(coarse: Floats, *, cosine: Floats, sine: Floats, count: int) -> Floats:
    """Return the coordinate that ``count`` fringes tell, on the fringe that ``coarse`` says."""
    phase = np.arctan2(sine, cosine) / (2 * np.pi * count)
    return np.asarray(phase + np.round((coarse - phase) * count) / count)


def _count(size_px: float) -> int:
    return int(np.clip(round(size_px / FRINGE_PX), 1, MOST_FRINGES))
