"""How the sidebar shows numbers and words: readings to the counter's last figure, lines broken to the panel's width."""

import math
import textwrap
from typing import Any

from ..shot import Shot
from ..shot.units import METRES_PER_MM, METRES_PER_UNIT

# Figures behind the point where the stand has no counter to go by.
FIGURES = {"in": 3, "cm": 3, "mm": 2}
DEGREE_FIGURES = 2
# About how wide a character and the borders of a panel are, in points.
CHARACTER_PT, BORDER_PT = 6.6, 40


def length(metres: float, shot: Shot) -> str:
    """Return a length in the shot's unit, to the last figure of the counter, without the unit's name."""
    return _signed_zero(f"{metres / METRES_PER_UNIT[shot.units]:.{_figures(shot)}f}")


def reading(value: float, axis: str, shot: Shot, *, step: bool = False) -> str:
    """Return what a counter shows for ``axis``, or a ``step`` of it with its sign."""
    if axis == "turn":
        text = f"{math.degrees(value):.{DEGREE_FIGURES}f}"
    elif axis == "focal":
        text = f"{value / METRES_PER_MM:.2f}"
    else:
        # a step is read closer than a place
        text = f"{value / METRES_PER_UNIT[shot.units]:.{_figures(shot) + step}f}"
    text = _signed_zero(text)
    return f"+{text}" if step and not text.startswith("-") else text


def unit_of(axis: str, shot: Shot) -> str:
    """Return the name of the unit that an axis is read in."""
    return {"turn": "°", "focal": "mm"}.get(axis, shot.units)


def frames(first: int, last: int) -> str:
    """Return a range of frames."""
    return f"frame {first}" if first == last else f"frames {first}–{last}"


def lines(text: str, context: Any) -> list[str]:
    """Return ``text`` broken to the width of the region that is drawn."""
    points = context.region.width / context.preferences.system.ui_scale - BORDER_PT
    return textwrap.wrap(text, width=max(18, int(points / CHARACTER_PT)))


def _figures(shot: Shot) -> int:
    counter = shot.stand.counter
    if not counter:
        return FIGURES[shot.units]
    return min(6, max(0, math.ceil(-math.log10(counter / METRES_PER_UNIT[shot.units]) - 1e-6)))


def _signed_zero(text: str) -> str:
    """Return a number that rounds to nothing without its minus."""
    return text.lstrip("-") if not text.strip("-0.") else text
