# SPDX-License-Identifier: GPL-3.0-or-later
"""How much of each level shows in the frame by the plan, and how fine a grid it takes to measure that.

Every frame is rendered on a coarse grid; one that is fine enough for the smallest level in it, so that a frame with a
small level gets a finer one and no other pays for it.
"""

import math

import numpy as np
from numpy.typing import NDArray

from ..plan.plan_arrays import Plan
from ..plan.planning import corners_px

Floats = NDArray[np.float64]

# Less than this in the frame is not looked for.
LEAST_AREA_PX = 400.0
# A grid of so many samples costs hardly more than one of fewer: what takes the time is beginning to render.
SAMPLES_OF_A_FRAME = 9_500
# Test frames are rendered on a finer grid, which finds a hole or a small level as well.
SAMPLES_OF_A_TEST_FRAME = 100_000
# So many samples tell where a level is, and which of them are strange, if so many lie side by side across it.
SAMPLES_OF_A_LEVEL = 60
SAMPLES_ACROSS = 4
# Finer than this share of the usual step a frame is not rendered for the sake of a sliver: the scene's numbers tell it.
FINEST_SHARE = 4
# Steps between samples that are taken, px: every change of size is a new beginning for Cycles.
STEPS = (1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 32, 48, 64)
# So many frames are looked at together.
FRAMES_AT_ONCE = 256
# Lines across a level on which its width is looked up.
LINES = 48


def coarse_steps(plan: Plan) -> NDArray[np.int64]:
    """Return how many px apart the samples of the coarse grid lie on every frame, (F,)."""
    width, height = plan.shot.camera.frame_px
    usual = _at_most(np.sqrt(width * height / SAMPLES_OF_A_FRAME))
    corners = corners_px(plan)
    starts = range(0, len(corners), FRAMES_AT_ONCE)
    wanted = np.concatenate([_wanted(corners[start : start + FRAMES_AT_ONCE], (width, height)) for start in starts])
    finest = max(1, usual // FINEST_SHARE)
    steps = np.array([_at_most(step) if np.isfinite(step) else usual for step in np.minimum(wanted, usual)])
    return np.asarray(np.maximum(steps, finest), dtype=np.int64)


def _wanted(corners: Floats, frame_px: tuple[int, int]) -> Floats:
    """Return the step that the smallest level on each frame asks for, (F,) px; infinity where none does."""
    area, thickness = showing(corners, frame_px)
    wanted = np.minimum(np.sqrt(area / SAMPLES_OF_A_LEVEL), thickness / SAMPLES_ACROSS)
    # What shows hardly at all is not measured, and asks for nothing.
    return np.asarray(np.where(area > LEAST_AREA_PX, wanted, np.inf).min(axis=1, initial=np.inf))


def fine_step(frame_px: tuple[int, int]) -> int:
    """Return how many px apart the samples of a test frame of ``frame_px`` lie."""
    return max(1, round(math.sqrt(frame_px[0] * frame_px[1] / SAMPLES_OF_A_TEST_FRAME)))


def showing(corners: Floats, frame_px: tuple[int, int]) -> tuple[Floats, Floats]:
    """Return the area in the frame, px², and the mean thickness there the narrower way, px, of art with ``corners``
    (…, 4, 2) px; (…) each.

    By lines at even distances over the part that can show, each cut to the frame: exact enough to choose a grid by.
    """
    half = np.array(frame_px) / 2
    areas, thicknesses = [], []
    for axis in (0, 1):
        across, along = corners[..., axis], corners[..., 1 - axis]
        low = np.maximum(along.min(axis=-1), -half[1 - axis])
        high = np.minimum(along.max(axis=-1), half[1 - axis])
        extent = np.maximum(high - low, 0.0)
        lines = low[..., None] + extent[..., None] * (np.arange(LINES) + 0.5) / LINES
        start, end = _cut(across, along, lines)
        width = np.maximum(np.minimum(end, half[axis]) - np.maximum(start, -half[axis]), 0.0)
        shows = (width > 0).sum(axis=-1)
        areas.append(width.mean(axis=-1) * extent)
        thicknesses.append(width.sum(axis=-1) / np.maximum(shows, 1))
    return np.asarray(areas[0]), np.asarray(np.minimum(*thicknesses))


def _cut(across: Floats, along: Floats, lines: Floats) -> tuple[Floats, Floats]:
    """Return where each of ``lines`` (…, N) enters and leaves a convex quadrilateral, its corners (…, 4)."""
    after_across, after_along = np.roll(across, -1, axis=-1), np.roll(along, -1, axis=-1)
    start = np.full(lines.shape, np.inf)
    end = np.full(lines.shape, -np.inf)
    for side in range(4):
        a, b = along[..., side, None], after_along[..., side, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (lines - a) / (b - a)
        met = (share >= 0) & (share <= 1)
        at = across[..., side, None] + share * (after_across[..., side, None] - across[..., side, None])
        start = np.where(met, np.minimum(start, at), start)
        end = np.where(met, np.maximum(end, at), end)
    return start, end


def _at_most(step: float) -> int:
    """Return the largest step that is taken and is no more than ``step``; 1 at the least."""
    return max((one for one in STEPS if one <= step), default=1)
