# SPDX-License-Identifier: GPL-3.0-or-later
"""Which pixels of a finished frame are measured by, held against plain loops over all of them; and what few tell."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from proof.measure.test_measured_corners import square_on, tilted
from underglass.proof.measure.measured_corners import FEWEST_FOR_TILT, fit_points
from underglass_headless.delivered.files.pass_fits import (
    FULL,
    LEAST_AT_EDGES,
    MOST_AT_EDGES,
    ROWS_AT_ONCE,
    LevelPass,
    _partly,
    away_from_edges,
    fit_delivered,
    has_many_samples,
)


def coverage(height: int, width: int, *, seed: int, whole: float = 0.7) -> np.ndarray:
    """Return shares (H, W) of which ``whole`` are 1 and the others anything, 0 too."""
    rng = np.random.default_rng(seed)
    shares = np.where(rng.random((height, width)) < whole, 1.0, rng.integers(0, 17, (height, width)) / 16)
    return shares.astype(np.float32)


@given(st.integers(1, 12), st.integers(1, 12), st.integers(0, 4), st.booleans(), st.integers(0, 999))
def test_pixelsaway_from_edges_have_the_level_at_their_eight_neighbours(
    height: int, width: int, by: int, turned: bool, seed: int
) -> None:
    hit = coverage(height, width, seed=seed)
    if turned:  # not one block of memory
        hit = np.asfortranarray(hit)
    rows, columns = np.nonzero(hit >= FULL)
    kept = away_from_edges(hit, rows, columns, by, full=FULL)
    for row, column, is_kept in zip(rows.tolist(), columns.tolist(), kept.tolist(), strict=True):
        neighbours = [
            hit[min(max(row + down, 0), height - 1), min(max(column + right, 0), width - 1)]
            for down in (-by, 0, by)
            for right in (-by, 0, by)
        ]
        assert is_kept == all(share >= FULL for share in neighbours)


@pytest.mark.parametrize("height", [0, 1, ROWS_AT_ONCE - 1, ROWS_AT_ONCE + 1, 3 * ROWS_AT_ONCE])
def test_shares_at_edges_are_taken_in_the_order_of_the_picture_up_to_a_number(height: int) -> None:
    for width in (5, 400):
        hit = coverage(height, width, seed=height, whole=0.2)
        partly = hit[(hit > 0.001) & (hit < FULL)]
        np.testing.assert_array_equal(_partly(hit), partly[:MOST_AT_EDGES])
    if height == 3 * ROWS_AT_ONCE:
        assert len(partly) > MOST_AT_EDGES


def test_edges_of_many_shares_tell_of_many_samples_and_edges_of_one_share_or_few_edges_do_not() -> None:
    def made(samples: int, pixels: int) -> dict[int, LevelPass]:
        rng = np.random.default_rng(samples)
        shares = rng.integers(1, samples, pixels) / samples if samples < 1000 else rng.random(pixels)
        hit = shares.astype(np.float32).reshape(-1, 20)
        return {0: LevelPass(hit, hit, hit)}

    assert has_many_samples(made(1000, 2 * LEAST_AT_EDGES))
    assert not has_many_samples(made(2, 2 * LEAST_AT_EDGES))
    assert not has_many_samples(made(1000, LEAST_AT_EDGES // 2 // 20 * 20))


def seen_tilted(pixels: int, *, scatter_px: float | None) -> bool:
    """Return whether a level that is tilted a lot is said to be, of ``pixels`` pixels on a square."""
    px_from_uv = tilted(square_on(90.0, centre=(5.0, -8.0)), 0.2, toward=1.0)
    side = round(pixels**0.5)
    x, y = (axis.reshape(-1) for axis in np.meshgrid(np.linspace(-20, 25, side), np.linspace(-25, 10, side)))
    at = np.linalg.inv(px_from_uv) @ np.stack([x, y, np.ones(len(x))])
    fit = fit_points(at[0] / at[2], v=at[1] / at[2], x=x, y=y, scatter_px=scatter_px)
    assert fit is not None
    return fit.tilted


@pytest.mark.parametrize(
    ("pixels", "scatter_px", "is_tilted"),
    [
        (100, None, True),
        (100, 0.01, False),  # the samples may be anything, and few pixels do not tell
        (900, None, True),
        (900, 0.01, True),
        (900, 5.0, False),  # the samples explain it
    ],
)
def test_a_tilt_is_told_where_the_samples_do_not_explain_it(
    pixels: int, scatter_px: float | None, is_tilted: bool
) -> None:
    assert (pixels < FEWEST_FOR_TILT) == (pixels == 100)
    assert seen_tilted(pixels, scatter_px=scatter_px) == is_tilted


def strip_seen(samples: int, *, width_px: float, seed: int) -> tuple[float, float]:
    """Return error and uncertainty, px, of a level 200 px across of which a strip shows, at the corners of its art.

    Each pixel has ``samples`` samples anywhere in it, as Cycles takes them.
    """
    rng = np.random.default_rng(seed)
    height, width = 60, 40
    rows, columns = np.indices((height, width))
    u, v, hit = np.zeros((3, height, width))
    left = 15.0 + rng.uniform(0, 1)
    for _ in range(samples):
        x, y = columns + rng.random((height, width)), rows + rng.random((height, width))
        met = (x > left) & (x < left + width_px) & (y > 10.3) & (y < 48.6)
        u, v, hit = u + met * (x + 60) / 200 / samples, v + met * (1 - (y + 40) / 150) / samples, hit + met / samples
    made = LevelPass(*(values.astype(np.float32) for values in (u, v, hit)))
    fit = fit_delivered(made, frame_px=(width, height), margin_px=0.0, samples=samples)
    assert fit is not None
    place = np.array([(-60.0, -110), (140, -110), (140, 40), (-60, 40)])
    place += np.array([-width / 2, height / 2])
    return float(np.linalg.norm(fit.corners - place, axis=1).max()), fit.uncertainty_px


@pytest.mark.parametrize("samples", [1, 4, 8, 32])
@pytest.mark.parametrize("width_px", [4.4, 6.5, 8.2])
def test_a_strip_is_measured_and_its_uncertainty_knows_that_pixels_at_edges_are_met_whole_by_luck(
    samples: int, width_px: float
) -> None:
    seen = np.array([strip_seen(samples, width_px=width_px, seed=seed) for seed in range(80)])
    # 95 of 100 are meant to be within (JCGM 100, k = 2); of 80 no more than 8 are beyond, but once in 30 runs.
    assert np.mean(seen[:, 0] <= seen[:, 1]) >= 0.9
