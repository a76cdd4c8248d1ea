"""How numbers are written in the sidebar: to the counter's last figure, steps with their sign. Free of Blender."""

import math
from dataclasses import dataclass

from ..shot import Shot
from ..shot.units import METRES_PER_MM, METRES_PER_UNIT

# Figures behind the point where the stand has no counter to go by.
FIGURES = {"in": 3, "cm": 3, "mm": 2}
DEGREE_FIGURES = LENS_FIGURES = 2


@dataclass(frozen=True)
class Counter:
    """How an axis is read: what one of its ``unit`` is in metres or radians, and the figures behind the point.

    A step of a length is read closer than a place.
    """

    unit: float
    figures: int
    step_figures: int

    def reads(self, value: float) -> str:
        """Return what the counter shows for ``value``."""
        return written(value / self.unit, self.figures)

    def steps(self, step: float) -> str:
        """Return a ``step`` with its sign."""
        text = written(step / self.unit, self.step_figures)
        return text if text.startswith("-") else f"+{text}"


def counter(axis: str, shot: Shot) -> Counter:
    """Return how ``axis`` is read on the stand of ``shot``."""
    if axis == "turn":
        return Counter(math.radians(1), DEGREE_FIGURES, DEGREE_FIGURES)
    if axis == "focal":
        return Counter(METRES_PER_MM, LENS_FIGURES, LENS_FIGURES)
    figures = length_figures(shot)
    return Counter(METRES_PER_UNIT[shot.units], figures, figures + 1)


def unit_of(axis: str, shot: Shot) -> str:
    """Return the name of the unit that an axis is read in."""
    return {"turn": "°", "focal": "mm"}.get(axis, shot.units)


def length_figures(shot: Shot) -> int:
    """Return the figures behind the point of a length: as many as tell one step of the counter from the next."""
    step = shot.stand.counter
    if not step:
        return FIGURES[shot.units]
    return min(6, max(0, math.ceil(-math.log10(step / METRES_PER_UNIT[shot.units]) - 1e-6)))


def written(value: float, figures: int) -> str:
    """Return ``value`` to so many figures behind the point; what rounds to nothing has no minus."""
    text = f"{value:.{figures}f}"
    return text if text[0] != "-" or text.strip("-0.") else text[1:]


def frames(first: int, last: int, *, brief: bool = False) -> str:
    """Return a range of frames, with the word or, ``brief``, without it."""
    if first == last:
        return f"{first}" if brief else f"frame {first}"
    return f"{first}–{last}" if brief else f"frames {first}–{last}"
