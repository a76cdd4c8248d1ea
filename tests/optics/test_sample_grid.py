# SPDX-License-Identifier: GPL-3.0-or-later
"""Grids: how many pixels a coarser render has, and where in the frame their centres lie."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.optics.projection import pixel_centres
from underglass.optics.sample_grid import LEAST_SIDE, make_grid

SIDES = st.integers(LEAST_SIDE, 5000)


@given(width=SIDES, height=SIDES, step=st.floats(1, 100), upright=st.booleans(), aspect=st.floats(0.4, 2.5))
def test_a_grid_spans_the_side_that_the_sensor_is_fitted_to_and_all_but_a_pixel_of_the_other(
    width: int, height: int, step: float, upright: bool, aspect: float
) -> None:
    grid = make_grid((width, height), step=step, upright=upright, aspect=aspect)
    spans = np.array([grid.columns, grid.rows]) * grid.spacing
    fitted = 1 if upright else 0
    assert spans[fitted] == pytest.approx((width, height)[fitted])
    assert min(grid.columns, grid.rows) >= LEAST_SIDE
    assert grid.spacing * (1 + 1e-9) >= 1.0
    assert grid.spacing <= step * (1 + 1e-9)
    other = 1 - fitted
    if min(grid.columns, grid.rows) > LEAST_SIDE:
        assert abs(spans[other] - (width, height)[other]) <= grid.spacing * (1 + 1e-6)


@given(width=SIDES, height=SIDES, step=st.floats(1, 100), aspect=st.floats(0.4, 2.5))
def test_a_sensor_that_is_fitted_to_the_longer_side_stays_fitted_to_it(
    width: int, height: int, step: float, aspect: float
) -> None:
    """Blender fits AUTO to the width where width × aspect is no less than the height (BKE_camera_sensor_fit)."""
    upright = width * aspect < height
    grid = make_grid((width, height), step=step, upright=upright, aspect=aspect)
    if min(grid.columns, grid.rows) > LEAST_SIDE:
        assert (grid.columns * aspect < grid.rows) == upright


def test_a_step_of_one_is_the_frame_itself() -> None:
    grid = make_grid((1828, 1332), step=1)
    assert (grid.columns, grid.rows, grid.spacing) == (1828, 1332, 1.0)
    x, y = grid.centres()
    plain_x, plain_y = pixel_centres((1828, 1332))
    np.testing.assert_array_equal(x[0], plain_x)
    np.testing.assert_array_equal(y[:, 0], plain_y)


def test_every_sixteenth_pixel_of_a_film_frame() -> None:
    grid = make_grid((1828, 1332), step=16)
    assert (grid.columns, grid.rows) == (115, 84)
    assert grid.spacing == pytest.approx(1828 / 115)
