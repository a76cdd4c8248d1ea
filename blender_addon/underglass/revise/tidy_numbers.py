# SPDX-License-Identifier: GPL-3.0-or-later
"""Tidy numbers: what people would have written for a length or an angle that comes out of single precision."""

from ..shot.units import metres_from, radians_from

MOST_DIGITS = 9
# What single precision tells apart, as a share (2^-23).
SINGLE = 2.0**-23
DEGREES = "deg"


def tidy(value: float, *, unit: str, tolerance: float) -> float:
    """Return ``value``, m (radians for the unit ``deg``), as the shortest decimal of ``unit`` within ``tolerance``."""
    one = _back(1.0, unit)
    for digits in range(MOST_DIGITS + 1):
        candidate = _back(round(float(value) / one, digits) + 0.0, unit)
        if abs(candidate - value) <= tolerance:
            return candidate
    return float(value)


def tidy_read(value: float, *, unit: str, tolerance: float) -> float:
    """Return ``value`` that was read of a scene as `tidy` does; a step of its single floats is no other number."""
    return tidy(value, unit=unit, tolerance=max(tolerance, SINGLE * abs(float(value))))


def _back(number: float, unit: str) -> float:
    return radians_from(number) if unit == DEGREES else metres_from(number, unit)
