# SPDX-License-Identifier: GPL-3.0-or-later
"""Light on film and glass: formulas against each other and in the limit."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.optics.light_falloff import close_up_factor, illuminance, stops, working_stop
from underglass.optics.thin_lens import image_distance, magnification


@given(focal=st.floats(0.01, 0.5), times=st.floats(1.05, 1000.0))
def test_the_close_up_factor_is_one_and_the_magnification_squared(focal: float, times: float) -> None:
    image, m = image_distance(focal, focus=focal * times), magnification(focal, focus=focal * times)
    factor = close_up_factor(focal, image=image)
    assert factor == pytest.approx((1 + float(m)) ** 2, rel=1e-9)
    # a working stop lets in as much less light as the factor says
    assert (working_stop(8.0, magnification=m) / 8.0) ** 2 == pytest.approx(float(factor), rel=1e-9)


def test_a_lens_at_infinity_needs_no_correction() -> None:
    assert close_up_factor(0.05, image=image_distance(0.05, focus=math.inf)) == 1.0


def test_a_stop_is_a_doubling() -> None:
    np.testing.assert_allclose(stops([0.5, 1, 2, 8]), [-1, 0, 1, 3])
    assert stops(0.0) == -math.inf


@given(height=st.floats(0.05, 3.0), aside=st.floats(0.0, 3.0), candela=st.floats(0.1, 1e4))
def test_light_of_a_lamp_summed_over_the_ground_is_half_of_what_it_sends(height, aside, candela) -> None:
    """Of 4π·I lumens half go down. Summed in rings: a check of the whole law, not of one point of it."""
    radius = np.concatenate([[0.0], np.geomspace(height * 1e-4, height * 1e5, 20_000)])
    rings = illuminance(height, aside=radius, candela=candela) * 2 * np.pi * radius
    total = float(((rings[1:] + rings[:-1]) / 2 * np.diff(radius)).sum())
    assert total == pytest.approx(2 * np.pi * candela, rel=1e-3)
    # and from beneath as from above
    up, down = (float(illuminance(h, aside=aside, candela=candela)) for h in (height, -height))
    assert up == down


def test_a_lamp_in_the_plane_of_a_level_gives_it_nothing() -> None:
    assert illuminance(0.0, aside=1.0, candela=100.0) == 0.0
    assert illuminance(0.0, aside=0.0, candela=100.0) == math.inf
