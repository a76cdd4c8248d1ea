# SPDX-License-Identifier: GPL-3.0-or-later
"""Outlines: where a level lies on a delivered frame, as measured or as planned, and which pixels fit it there."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from underglass.optics.projection import art_from_px
from underglass.proof.measure.measured_corners import Fit

from ..files.pass_fits import FULL, FULL_OF_SHARED, LevelPass
from .lines_of_pixels import Lines, Mask

Floats = NDArray[np.float64]

# A pass whose fit is no better known than this says nothing of its neighbours, px.
MOST_UNCERTAIN_PX = 4.0
# A level is elsewhere if its corners are so far out, px. What leaves more than WILD_PX is no fit of one plane.
MOVED_PX = 2.0
WILD_PX = 1.0
# Of a level that is in its place no larger share of pixels is strange.
FEW_STRANGE = 0.1
CLEAR_OF_0 = 0.05
# Half floats tell a coordinate no better than by half of this share of the art.
STRANGE_SHARE = 0.002


@dataclass(frozen=True)
class SeenFrame:
    """One frame: its passes and fits by the level's number, the planned ``corners`` (L, 4, 2) px.

    ``room_px`` is how near an edge nothing is certain. With ``nearest_alone`` passes tell of the first paint alone;
    ``is_moved`` says that some level is elsewhere.
    """

    frame: int
    passes: Mapping[int, LevelPass]
    fits: Mapping[int, Fit | None]
    corners: Floats
    room_px: float
    nearest_alone: bool
    is_moved: bool


@dataclass(frozen=True)
class Outline:
    """A level's ``corners`` (4, 2) px, how near its edges nothing is certain, and whether that was measured."""

    corners: Floats
    room_px: float
    is_sure: bool


def outline_of(
    seen: SeenFrame, number: int, made: LevelPass | None, lines: Lines, places: tuple[Floats, Floats]
) -> Outline | None:
    """Return where a level is: as measured, or as planned where that tells more; None where neither is known."""
    planned = Outline(seen.corners[number], seen.room_px, False)
    fit = seen.fits.get(number)
    if made is None or fit is None or fit.tilted or fit.uncertainty_px > MOST_UNCERTAIN_PX:
        # A few wrong pixels may have spoilt the fit of a level that is in its place.
        if made is not None and fit is not None and _spoilt(made, planned, lines, places) < FEW_STRANGE:
            return replace(planned, is_sure=True)
        return None if seen.is_moved else planned
    # What was made larger has edges that are softer by as much.
    larger = max(1.0, *(a / max(b, 1e-9) for a, b in zip(size_px(fit.corners), size_px(planned.corners), strict=True)))
    measured = Outline(fit.corners, seen.room_px * larger + fit.uncertainty_px, True)
    if fit.residual_px > WILD_PX and _spoilt(made, planned, lines, places) < FEW_STRANGE:
        return replace(planned, is_sure=True)
    return measured


def _spoilt(made: LevelPass, outline: Outline, lines: Lines, places: tuple[Floats, Floats]) -> float:
    """Return the share of the pixels which the level fills whose coordinates are not those of the outline."""
    hit, _ = lines.values(made.hit, made.left, made.top)
    whole = int((hit >= _full(made)).sum())
    across, up = size_px(outline.corners)
    rooms = outline.room_px / across, outline.room_px / up
    strange = strange_at(made, hit, art_at(places, outline.corners), rooms, lines)
    return float(strange.sum()) / whole if whole else 1.0


def strange_at(
    made: LevelPass, hit: Floats, uv: tuple[Floats, Floats], rooms: tuple[float, float], lines: Lines
) -> Mask:
    """Return where a pixel that the level fills has coordinates farther than ``rooms`` from ``uv``, or no numbers."""
    return np.asarray((hit >= _full(made)) & ~of_the_level(made, (uv[0] * hit, uv[1] * hit), rooms, lines))


def unmarked_at(
    made: LevelPass, uv: tuple[Floats, Floats], where: Mask, rooms: tuple[float, float], lines: Lines
) -> Mask:
    """Return ``where`` coordinates that levels share are those of this one, though its mark is not there."""
    # Near the corner at which both are 0 coordinates are no more than what a filter left of them.
    found = where & (uv[0] > CLEAR_OF_0) & (uv[1] > CLEAR_OF_0)
    found &= of_the_level(made, uv, rooms, lines)
    return np.asarray(found & (lines.values(made.u, made.left, made.top)[0] != 0))


def _full(made: LevelPass) -> float:
    """Return the mark of a pixel that shows nothing but the level; where levels share passes it is a stricter one."""
    return FULL_OF_SHARED if made.fringes else FULL


def of_the_level(made: LevelPass, wanted: tuple[Floats, Floats], rooms: tuple[float, float], lines: Lines) -> Mask:
    """Return where both coordinates are within ``rooms`` of the ``wanted``; what is no number is not."""
    fits = np.ones(len(lines.rows), dtype=bool)
    for values, along, room in zip((made.u, made.v), wanted, rooms, strict=True):
        read, _ = lines.values(values, made.left, made.top)
        with np.errstate(invalid="ignore"):
            fits &= np.abs(read - along) <= room + STRANGE_SHARE
    return fits


def size_px(corners: Floats) -> tuple[float, float]:
    """Return how wide and how high the art is on the frame, px."""
    return float(np.linalg.norm(corners[1] - corners[0])), float(np.linalg.norm(corners[3] - corners[0]))


def any_moved(fits: Mapping[int, Fit | None], corners: Floats) -> bool:
    """Return whether any level was surely measured elsewhere than planned."""
    return any(
        fit is not None
        and fit.uncertainty_px <= MOST_UNCERTAIN_PX
        and float(np.abs(fit.corners - corners[number]).max()) > MOVED_PX + 2 * fit.uncertainty_px
        for number, fit in fits.items()
    )


def art_at(places: tuple[Floats, Floats], corners: Floats) -> tuple[Floats, Floats]:
    """Return u and v of the art, (N,) each, at places x, y px: `art_from_px` along each axis."""
    (start, right, up) = art_from_px(np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)]), corners=corners)
    u, v = (start[axis] + (right - start)[axis] * places[0] + (up - start)[axis] * places[1] for axis in (0, 1))
    return u, v


def between(along: Floats, edge: float) -> Mask:
    """Return where a coordinate of art is farther than ``edge`` inside it."""
    return np.asarray((along > edge) & (along < 1 - edge))
