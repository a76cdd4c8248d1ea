# SPDX-License-Identifier: GPL-3.0-or-later
"""Lengths and angles as people write them, and the metres and radians that the core works in.

Conversion happens in the shot room alone; everything behind it is metres and radians.
"""

import math

METRES_PER_UNIT = {"in": 0.0254, "mm": 0.001, "cm": 0.01}
METRES_PER_MM = METRES_PER_UNIT["mm"]
RADIANS_PER_DEGREE = math.pi / 180

# How far from the plain quotient the number can be that gives a product back exactly.
_NEIGHBOURS = 4


def metres_from(value: float, unit: str) -> float:
    """Return ``value`` of ``unit`` (a key of METRES_PER_UNIT) in metres."""
    return value * METRES_PER_UNIT[unit]


def in_units(metres: float, unit: str) -> float:
    """Return ``metres`` in ``unit``, rounded so that `metres_from` gives back the very same number.

    The shortest decimal that survives the way back is taken, so a file that said 13.5 says 13.5 again.
    """
    return shortest(metres, factor=METRES_PER_UNIT[unit])


def radians_from(degrees: float) -> float:
    """Return ``degrees`` in radians."""
    return degrees * RADIANS_PER_DEGREE


def in_degrees(radians: float) -> float:
    """Return ``radians`` in degrees, the shortest decimal for which `radians_from` gives the very same number."""
    return shortest(radians, factor=RADIANS_PER_DEGREE)


def shortest(value: float, *, factor: float) -> float:
    """Return the decimal with the fewest digits whose product with ``factor`` is exactly ``value``.

    A value that is no such product (it was worked out, not read) gets its plain quotient, right to the last bit.
    """
    value = float(value)  # one that was worked out may be numpy's, which is spelt otherwise
    quotient = value / factor
    for digits in range(1, 18):
        candidate = float(f"{quotient:.{digits}g}")
        if candidate * factor == value:
            return candidate
    return _beside(quotient, value=value, factor=factor)


def _beside(quotient: float, *, value: float, factor: float) -> float:
    """Return the number next to ``quotient`` that gives ``value`` back; division may miss it by a last bit or two."""
    above = below = quotient
    for _ in range(_NEIGHBOURS):
        above, below = math.nextafter(above, math.inf), math.nextafter(below, -math.inf)
        for candidate in (above, below):
            if candidate * factor == value:
                return candidate
    return quotient
