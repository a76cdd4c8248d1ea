# SPDX-License-Identifier: GPL-3.0-or-later
"""Filtered passes: whether a frame was blurred, denoised, or made smaller and larger again after it was rendered.

A renderer chooses the samples of each pixel anew: what they scatter about the place of a level says nothing of what the
next pixel's do. Any filter that makes pixels of their neighbours makes neighbours alike.
"""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..files.pass_fits import FULL, LevelPass
from .whole_frame import WholeFrame

Floats = NDArray[np.float64]

# Neighbours are alike by chance, or by the patterns of a sampler, less than this: a correlation (1 is the same). Frames
# of Cycles come to no more than 0.04 either way, a median of 3 × 3 to 0.24, other filters to 0.65 and more, measured.
LEAST_ALIKE = 0.15
# A filter's reach is shorter than this, px; what is alike as far off is no filter's work, and that by no more than so.
FAR_PX = 8
MOST_ALIKE_FAR = 0.15
# So many pairs of pixels tell a correlation to 0.04.
FEWEST_PAIRS = 600
# Less scatter than this, px, is that of numbers and not of samples.
LEAST_SCATTER_PX = 2e-3
# What is out by more than so many times the scatter is of something else.
MOST_OUT = 5.0
# No more of a level is looked at, rows and columns about its middle.
MOST_ROWS, MOST_COLUMNS = 400, 800

FILTERED = WholeFrame(
    "passes-filtered",
    "",
    "has proof passes that were filtered after the render (blurred, denoised, or made smaller and larger again);"
    " deliver the frame as it was rendered",
    "have proof passes that were filtered after the render (blurred, denoised, or made smaller and larger again);"
    " deliver the frames as they were rendered",
)


class _Alike(NamedTuple):
    """Sums over pairs of pixels: of products of neighbours, of those far apart, and how many pairs there are."""

    near: float
    far: float
    pairs: int


def filtered(passes: Mapping[int, LevelPass]) -> WholeFrame | None:
    """Return that proof passes were filtered, or None where that is not so, or nothing in them scatters.

    Levels that share passes are told by nothing: EEVEE moves the samples of all pixels alike.
    """
    for axis in (0, 1):
        sums = [one for made in passes.values() if not made.fringes for one in _of_level(made, axis)]
        pairs = sum(one.pairs for one in sums)
        if pairs < FEWEST_PAIRS:
            continue
        near, far = (sum(getattr(one, which) for one in sums) / pairs for which in ("near", "far"))
        if near >= LEAST_ALIKE and abs(far) <= min(MOST_ALIKE_FAR, near / 2):
            return FILTERED
    return None


def _of_level(made: LevelPass, axis: int) -> Iterator[_Alike]:
    """Yield how alike what scatters in each coordinate of a level is, along columns (axis 0) or rows (axis 1)."""
    whole = made.hit >= FULL
    rows, columns = np.nonzero(whole)
    if len(rows) < FEWEST_PAIRS:
        return
    middle = int(np.median(rows)), int(np.median(columns))
    part = tuple(
        slice(max(0, at - most // 2), at + most // 2)
        for at, most in zip(middle, (MOST_ROWS, MOST_COLUMNS), strict=True)
    )
    whole = whole[part]
    rows, columns = np.nonzero(whole)
    if len(rows) < FEWEST_PAIRS:
        return
    basis = np.column_stack([rows, columns, np.ones(len(rows))]).astype(np.float64)
    hit = made.hit[part][whole].astype(np.float64)
    for values in (made.u, made.v):
        left, slope = _left(basis, values[part][whole].astype(np.float64) / hit)
        scatter = 1.4826 * float(np.median(np.abs(left)))
        if not np.isfinite(scatter) or scatter < LEAST_SCATTER_PX * slope or not scatter:
            continue
        scattered = np.full(whole.shape, np.nan)
        scattered[whole] = np.where(np.abs(left) <= MOST_OUT * scatter, left, np.nan)
        square = float(np.nanmean(scattered**2))
        near, far = (_products(scattered, axis, by) / square for by in (1, FAR_PX))
        known, known_far = np.isfinite(near), np.isfinite(far)
        if known.sum() and known_far.sum():
            count = int(known.sum())
            yield _Alike(float(near[known].sum()), float(far[known_far].mean()) * count, count)


def _left(basis: Floats, values: Floats) -> tuple[Floats, float]:
    """Return what a straight map leaves of coordinates, (N,), and by how much they go on from pixel to pixel."""
    kept = np.isfinite(values)
    values = np.where(kept, values, 1e3)
    solved, left = np.zeros(3), values
    for _ in range(3):
        solved, *_ = np.linalg.lstsq(basis[kept], values[kept], rcond=1e-9)
        left = values - basis @ solved
        kept = np.abs(left) <= max(MOST_OUT * float(np.median(np.abs(left))), 1e-12)
    return left, float(np.hypot(solved[0], solved[1]))


def _products(values: Floats, axis: int, by: int) -> Floats:
    """Return the products of pixels that lie ``by`` px apart."""
    first = values[:-by] if axis == 0 else values[:, :-by]
    return np.asarray(first * (values[by:] if axis == 0 else values[:, by:]))
