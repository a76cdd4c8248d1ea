# SPDX-License-Identifier: GPL-3.0-or-later
"""Numbers as people write them survive the way into metres and radians and back."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.shot.units import METRES_PER_UNIT, in_degrees, in_units, metres_from, radians_from

WRITTEN = st.floats(-1e5, 1e5, allow_nan=False).filter(lambda value: value == 0 or abs(value) > 1e-12)


@pytest.mark.parametrize("unit", METRES_PER_UNIT)
@given(written=WRITTEN)
def test_any_length_that_was_read_is_written_to_the_same_metres(unit, written):
    metres = metres_from(written, unit)
    assert metres_from(in_units(metres, unit), unit) == metres


@given(written=WRITTEN)
def test_any_angle_that_was_read_is_written_to_the_same_radians(written):
    assert radians_from(in_degrees(radians_from(written))) == radians_from(written)


@pytest.mark.parametrize("unit", METRES_PER_UNIT)
@given(hundredths=st.integers(-10_000_000, 10_000_000))
def test_a_counter_reading_comes_back_as_it_was_said(unit, hundredths):
    assert in_units(metres_from(hundredths / 100, unit), unit) == hundredths / 100


@given(tenths=st.integers(-36_000, 36_000))
def test_an_angle_comes_back_as_it_was_said(tenths):
    assert in_degrees(radians_from(tenths / 10)) == tenths / 10


def test_known_lengths_and_angles():
    assert metres_from(1, "in") == 0.0254
    assert metres_from(25.4, "mm") == pytest.approx(metres_from(1, "in"))
    assert radians_from(180) == math.pi
