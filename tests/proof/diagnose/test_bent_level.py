# SPDX-License-Identifier: GPL-3.0-or-later
"""When corners of a level count as pulled out of shape, just inside and just outside of each limit."""

from dataclasses import replace

import pytest

from proof.readings import reading_of
from report import synthetic
from underglass.proof.diagnose.bent_level import corner_faults

PLAN = synthetic.plan()
FRAME, COLUMN = 24, PLAN.names.index("boat")
LEAST_PX = 0.05


def message_of(*px: float) -> str:
    """Return what is said where the corners of the boat, from the lower left one on, are so many px to the east."""
    reading = reading_of(PLAN)
    corners = reading.corners.copy()
    for corner, by in enumerate(px):
        corners[FRAME - 1, COLUMN, corner, 0] += by / PLAN.scale[FRAME - 1, COLUMN]
    bent = replace(reading, corners=corners)
    faults = list(corner_faults(PLAN, reading=bent, column=COLUMN, found=COLUMN, least_px=LEAST_PX))
    return faults[0].message if faults else ""


@pytest.mark.parametrize(("px", "told"), [(0.049, False), (0.051, True)])
def test_a_corner_is_pulled_when_it_is_off_by_more_than_it_may_be(px: float, told: bool) -> None:
    assert bool(message_of(px)) == told


@pytest.mark.parametrize(("px", "named"), [(0.024, "lower left corner "), (0.026, "lower left and lower right ")])
def test_of_the_others_those_are_named_that_are_off_by_half_of_that(px: float, named: str) -> None:
    assert f"the {named}" in message_of(1.0, px)


def test_of_a_level_with_three_corners_elsewhere_it_is_not_the_corners() -> None:
    assert "the lower left and lower right corners of its plane moved" in message_of(1.0, 1.0)
    assert message_of(1.0, 1.0, 1.0) == ""
