"""How the sidebar shows numbers and words: readings to the counter's last figure, lines broken to the panel's width."""

import math
import textwrap
from functools import lru_cache
from typing import Any

import blf

from ..shot import Shot
from ..shot.units import METRES_PER_MM, METRES_PER_UNIT

# Figures behind the point where the stand has no counter to go by.
FIGURES = {"in": 3, "cm": 3, "mm": 2}
DEGREE_FIGURES = 2
# About how wide a character, the borders of a panel and an icon in a box are, in points.
CHARACTER_PT, BORDER_PT, ICON_PT = 6.6, 40, 26
# What a button with an icon has of the region besides its words, in points, and the size of Blender's letters.
BUTTON_BORDER_PT, LETTERS_PT = 84, 11


def length(metres: float, shot: Shot, *, most: int = 0) -> str:
    """Return a length in the shot's unit, to the last figure of the counter, without the unit's name.

    Where ``most`` is given, figures behind the point are left out that would make it longer than so many characters.
    """
    value, figures = metres / METRES_PER_UNIT[shot.units], _figures(shot)
    if most:
        before = len(f"{value:.0f}") + 1
        figures = max(0, min(figures, most - before))
    return _signed_zero(f"{value:.{figures}f}")


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


def frames(first: int, last: int, *, brief: bool = False) -> str:
    """Return a range of frames, with the word or, ``brief``, without it."""
    if first == last:
        return f"{first}" if brief else f"frame {first}"
    return f"{first}–{last}" if brief else f"frames {first}–{last}"


def lines(text: str, context: Any, *, icon: bool = False) -> tuple[str, ...]:
    """Return ``text`` broken to the width of the region that is drawn, less the room of an ``icon`` in a box."""
    points = context.region.width / context.preferences.system.ui_scale - BORDER_PT - (ICON_PT if icon else 0)
    return _broken(text, max(18, int(points / CHARACTER_PT)))


def fits_button(text: str, context: Any) -> bool:
    """Return whether a button with an icon, as wide as the panel, shows ``text`` uncut."""
    scale = context.preferences.system.ui_scale
    return _width(text, LETTERS_PT * scale) <= context.region.width - BUTTON_BORDER_PT * scale


# Panels write the same lines on every frame.
@lru_cache(maxsize=256)
def _broken(text: str, width: int) -> tuple[str, ...]:
    return tuple(textwrap.wrap(text, width=width))


@lru_cache(maxsize=256)
def _width(text: str, size: float) -> float:
    blf.size(0, size)
    return float(blf.dimensions(0, text)[0])


def _figures(shot: Shot) -> int:
    counter = shot.stand.counter
    if not counter:
        return FIGURES[shot.units]
    return min(6, max(0, math.ceil(-math.log10(counter / METRES_PER_UNIT[shot.units]) - 1e-6)))


def _signed_zero(text: str) -> str:
    """Return a number that rounds to nothing without its minus."""
    return text.lstrip("-") if not text.strip("-0.") else text
