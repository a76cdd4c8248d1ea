# SPDX-License-Identifier: GPL-3.0-or-later
"""Measuring made-up pixels, whose corners are known: maps, mirrors, scatter, tilt, and levels hardly in the frame."""

import math
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.optics.projection import pixel_centres
from underglass.proof.measure.measured_corners import (
    CORNERS_UV,
    FEWEST_PIXELS,
    SAMPLE_SPREAD_PX,
    Fit,
    fit_level,
    fit_points,
)

FRAME_PX = (160, 120)
CASES = 300
# An expanded uncertainty with k = 2 is meant to hold in 95 of 100 cases (JCGM 100).
COVERAGE = 0.95
# How much larger than need be the uncertainty of samples may be that are exact but for their last bits.
MOST_OF_ROUNDING = 10.0


@dataclass(frozen=True)
class Pass:
    """The pass of one level as Cycles writes it: u, v and whether it was hit, (H, W)."""

    u: np.ndarray
    v: np.ndarray
    hit: np.ndarray


def square_on(
    width: float, *, centre: tuple[float, float] = (0.0, 0.0), turn: float = 0.0, shape: float = 0.75
) -> np.ndarray:
    """Return the map from texture to picture, (3, 3), of art ``width`` px wide; a negative width is a mirror image."""
    cos, sin = math.cos(turn), math.sin(turn)
    across = np.array([[cos, -sin], [sin, cos]]) @ np.diag([width, abs(width) * shape])
    return np.vstack([np.column_stack([across, np.array(centre) - across @ [0.5, 0.5]]), [0, 0, 1]])


def tilted(px_from_uv: np.ndarray, by: float, *, toward: float = 0.0) -> np.ndarray:
    """Return the map with one side nearer the lens: at the edge sizes differ from the middle's by a share of ``by``."""
    centre = px_from_uv @ [0.5, 0.5, 1.0]
    there = np.eye(3)
    there[:2, 2] = centre[:2]
    width = np.hypot(*px_from_uv[:2, 0])
    nearer = np.eye(3)
    nearer[2, :2] = np.array([math.cos(toward), math.sin(toward)]) * by * 2 / width
    return there @ nearer @ np.linalg.inv(there) @ px_from_uv


def corners_of(px_from_uv: np.ndarray) -> np.ndarray:
    places = np.column_stack([CORNERS_UV, np.ones(4)]) @ px_from_uv.T
    return places[:, :2] / places[:, 2:]


def photographed(
    px_from_uv: np.ndarray,
    *,
    frame_px: tuple[int, int] = FRAME_PX,
    off: tuple[np.ndarray | float, np.ndarray | float] = (0.0, 0.0),
    step: int = 1,
) -> Pass:
    """Return the pass of a level under ``px_from_uv``; its samples lie ``off`` the centres of the pixels."""
    x, y = np.meshgrid(*pixel_centres((frame_px[0] // step, frame_px[1] // step), spacing=step))
    places = np.stack([x + off[0], y + off[1], np.ones_like(x)], axis=-1) @ np.linalg.inv(px_from_uv).T
    u, v = places[..., 0] / places[..., 2], places[..., 1] / places[..., 2]
    hit = (u >= 0) & (u <= 1) & (v >= 0) & (v <= 1) & (places[..., 2] > 0)
    return Pass(*(np.where(hit, value, 0.0).astype(np.float32) for value in (u, v, 1.0)))


def fit_of(made: Pass, *, frame_px: tuple[int, int] = FRAME_PX, step: int = 1) -> Fit | None:
    x, y = pixel_centres((frame_px[0] // step, frame_px[1] // step), spacing=step)
    return fit_level(made.u, v=made.v, hit=made.hit, x=x, y=y[:, None], spacing=step)


def fit_level_exactly(made: Pass) -> Fit:
    """Return the fit of samples that lie exactly in the middle of their pixels."""
    x, y = pixel_centres(FRAME_PX)
    fit = fit_level(made.u, v=made.v, hit=made.hit, x=x, y=y[:, None], sample_px=0.0, scatter_px=1e-4)
    assert fit is not None
    return fit


def error_of(fit: Fit, px_from_uv: np.ndarray) -> float:
    """Return how far the worst corner is off, px."""
    return float(np.linalg.norm(fit.corners - corners_of(px_from_uv), axis=1).max())


@st.composite
def places(draw: st.DrawFn) -> np.ndarray:
    """Draw art of any size, turn and shape, mirrored too, whose middle is in the frame."""
    return square_on(
        draw(st.floats(12, 600)) * draw(st.sampled_from([1, -1])),
        centre=(draw(st.floats(-60, 60)), draw(st.floats(-45, 45))),
        turn=draw(st.floats(-math.pi, math.pi)),
        shape=draw(st.floats(0.4, 2.0)),
    )


@given(px_from_uv=places())
def test_clean_pixels_give_the_corners_to_the_last_bits_of_a_coordinate(px_from_uv: np.ndarray) -> None:
    fit = fit_of(photographed(px_from_uv))
    assert fit is not None
    assert error_of(fit, px_from_uv) < 1e-4
    assert error_of(fit, px_from_uv) <= fit.uncertainty_px
    assert not fit.tilted


def test_corners_come_in_the_order_of_the_texture_and_y_points_up() -> None:
    fit = fit_of(photographed(square_on(40, centre=(20, 10))))
    assert fit is not None
    np.testing.assert_allclose(fit.corners, [(0, -5), (40, -5), (40, 25), (0, 25)], atol=1e-4)


def test_art_that_is_seen_from_behind_keeps_the_order_of_its_texture() -> None:
    fit = fit_of(photographed(square_on(-40, centre=(20, 10))))
    assert fit is not None
    np.testing.assert_allclose(fit.corners, [(40, -5), (0, -5), (0, 25), (40, 25)], atol=1e-4)


def test_corners_far_outside_the_frame_are_found_from_the_part_that_is_in_it() -> None:
    px_from_uv = square_on(900, centre=(430, -260), turn=0.2)
    fit = fit_of(photographed(px_from_uv))
    assert fit is not None
    assert np.abs(fit.corners).max() > 600
    assert error_of(fit, px_from_uv) <= fit.uncertainty_px


def test_a_grid_of_every_second_pixel_finds_the_same_corners() -> None:
    px_from_uv = square_on(70, centre=(-12.3, 4.5), turn=0.7)
    fit = fit_of(photographed(px_from_uv, step=2), step=2)
    assert fit is not None
    assert error_of(fit, px_from_uv) < 1e-4


def drawn(rng: np.random.Generator) -> np.ndarray:
    return square_on(
        rng.uniform(12, 250) * rng.choice([1, -1]),
        centre=tuple(rng.uniform(-60, 60, 2)),
        turn=rng.uniform(-math.pi, math.pi),
        shape=rng.uniform(0.4, 1.6),
    )


def coverage(rng: np.random.Generator, *, scatter: float = 0.0, shared: float = 0.0, tilt: float = 0.0) -> float:
    """Return the share of made-up cases in which the worst corner is within the stated uncertainty.

    Samples are off by ``scatter`` px each on its own and by ``shared`` px all together, evenly up to as much each way.
    """
    within = []
    for _ in range(CASES):
        px_from_uv = drawn(rng)
        if tilt:
            px_from_uv = tilted(px_from_uv, tilt, toward=rng.uniform(-math.pi, math.pi))
        off = rng.uniform(-scatter, scatter, (2, *FRAME_PX[::-1])) + rng.uniform(-shared, shared, (2, 1, 1))
        fit = fit_of(photographed(px_from_uv, off=(off[0], off[1])))
        if fit is not None:
            within.append(error_of(fit, px_from_uv) <= fit.uncertainty_px)
    assert len(within) > CASES / 2
    return float(np.mean(within))


def test_scattered_samples_leave_the_corners_within_the_stated_uncertainty(seed: int) -> None:
    assert coverage(np.random.default_rng(seed), scatter=SAMPLE_SPREAD_PX) >= COVERAGE


def test_samples_off_by_some_scatter_and_some_in_common_leave_the_corners_within_it(seed: int) -> None:
    half = SAMPLE_SPREAD_PX / 2
    assert coverage(np.random.default_rng(seed), scatter=half, shared=half) >= COVERAGE


def test_samples_that_are_all_off_in_common_leave_the_corners_within_it(seed: int) -> None:
    assert coverage(np.random.default_rng(seed), shared=SAMPLE_SPREAD_PX) >= COVERAGE


@pytest.mark.parametrize("tilt", [0.0003, 0.003, 0.03, 0.1])
def test_a_level_that_is_tilted_has_its_corners_within_the_stated_uncertainty(seed: int, tilt: float) -> None:
    assert coverage(np.random.default_rng(seed), scatter=SAMPLE_SPREAD_PX, tilt=tilt) >= COVERAGE


def test_a_level_that_is_tilted_is_said_to_be() -> None:
    px_from_uv = tilted(square_on(90, centre=(5, -8), turn=0.3), 0.05, toward=1.0)
    fit = fit_of(photographed(px_from_uv))
    assert fit is not None
    assert fit.tilted
    assert error_of(fit, px_from_uv) < 1e-3


def test_rounding_that_differs_from_line_to_line_evens_out_at_corners_far_out() -> None:
    errors, stated = [], []
    for seed in range(CASES):
        draw = np.random.default_rng(seed)
        width = float(draw.uniform(8, 30)) * FRAME_PX[0]
        centre = tuple(draw.uniform(-0.4, 0.4, 2) * width * [1.0, 0.75])
        px_from_uv = square_on(width, centre=centre, turn=float(draw.choice([0.0, draw.uniform(-0.5, 0.5)])))
        fit = fit_level_exactly(photographed(px_from_uv))
        errors.append(error_of(fit, px_from_uv))
        stated.append(fit.uncertainty_px)
    ratio = np.array(errors) / np.array(stated)
    assert np.mean(ratio <= 1.0) >= COVERAGE
    # Rounded alike all over the frame it would be fifty times; renders add their own rounding, and fill the rest.
    assert np.quantile(ratio, COVERAGE) * MOST_OF_ROUNDING >= 1.0


def test_coordinates_that_stay_the_same_over_many_pixels_are_rounded_alike_in_all_of_them() -> None:
    coarse = np.float32(2.0**-9)
    errors, stated = [], []
    for seed in range(CASES):
        draw = np.random.default_rng(seed)
        px_from_uv = square_on(float(draw.uniform(8, 30)) * FRAME_PX[0], centre=tuple(draw.uniform(-300, 300, 2)))
        made = photographed(px_from_uv)
        x, y = (part.ravel() for part in np.meshgrid(*pixel_centres(FRAME_PX)))
        u, v = (np.round(part / coarse).ravel() * coarse for part in (made.u, made.v))
        fit = fit_points(u, v=v, x=x, y=y, sample_px=0.0, rounding=float(coarse) / 2, evens_out=True)
        errors.append(error_of(fit, px_from_uv))
        stated.append(fit.uncertainty_px)
    assert np.mean(np.array(errors) <= np.array(stated)) >= COVERAGE


def test_scatter_makes_the_uncertainty_larger() -> None:
    rng = np.random.default_rng(5)
    px_from_uv = square_on(90, centre=(5, -8), turn=0.3)
    noise = rng.normal(0, 1, (2, *FRAME_PX[::-1]))
    stated = []
    for scatter in (0.0, 0.005, 0.02):
        fit = fit_of(photographed(px_from_uv, off=(scatter * noise[0], scatter * noise[1])))
        assert fit is not None
        stated.append(fit.uncertainty_px)
    assert stated == sorted(stated)
    assert stated[0] < stated[2]


def test_the_scatter_of_the_fit_is_stated_in_pixels() -> None:
    rng = np.random.default_rng(5)
    noise = rng.normal(0, 0.01, (2, *FRAME_PX[::-1]))
    fit = fit_of(photographed(square_on(90, turn=0.3), off=(noise[0], noise[1])))
    assert fit is not None
    assert fit.residual_px == pytest.approx(0.01 * math.sqrt(2), rel=0.05)


# What says too little to be measured.


def test_a_level_out_of_the_frame_is_not_measured() -> None:
    assert fit_of(photographed(square_on(30, centre=(300, 0)))) is None


def test_a_level_of_too_few_pixels_is_not_measured() -> None:
    made = photographed(square_on(2.9, centre=(0.5, 0.5), shape=1.0))
    assert 0 < np.count_nonzero(made.hit) < FEWEST_PIXELS
    assert fit_of(made) is None


def test_a_level_that_shows_only_one_row_of_pixels_is_not_measured() -> None:
    made = photographed(square_on(100, centre=(0, 60 + 75 / 2 - 1)))
    assert np.ptp(np.nonzero(made.hit)[0]) == 0
    assert fit_of(made) is None


def test_a_level_that_shows_only_a_slanting_line_of_pixels_is_not_measured() -> None:
    made = photographed(square_on(200))
    assert fit_of(Pass(made.u, made.v, np.eye(*FRAME_PX[::-1], dtype=np.float32))) is None


@pytest.mark.parametrize("broken", ["all of it is one point", "it has no height", "its height is its width"])
def test_texture_coordinates_that_do_not_span_the_art_are_not_measured(broken: str) -> None:
    made = photographed(square_on(200))
    u, v = made.u, made.v
    if broken == "all of it is one point":
        u, v = np.zeros_like(u), np.zeros_like(v)
    elif broken == "it has no height":
        v = np.full_like(v, 0.5)
    else:
        v = u
    assert fit_of(Pass(u, v, made.hit)) is None


@pytest.mark.filterwarnings("ignore:invalid value")
def test_texture_coordinates_that_are_no_numbers_are_not_measured() -> None:
    made = photographed(square_on(200))
    assert fit_of(Pass(np.full_like(made.u, np.nan), made.v, made.hit)) is None
