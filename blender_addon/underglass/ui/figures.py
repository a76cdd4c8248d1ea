# SPDX-License-Identifier: GPL-3.0-or-later
"""How numbers are written in the sidebar: to the counter's last figure, steps with their sign. Free of Blender."""

from dataclasses import dataclass

import numpy as np

from ..plan.counter import Counter as Counting
from ..plan.counter import counter_of
from ..shot import CAMERA, Shot

# Figures behind the point where the stand has no counter to go by.
FIGURES = {"in": 3, "cm": 3, "mm": 2}


@dataclass(frozen=True)
class Counter:
    """How an axis is read: in whole steps of its counter and with its sign, as on the sheets (`plan.counter`)."""

    counting: Counting

    def counts(self, value: float) -> int:
        """Return the steps of the counter at ``value``, m or radians."""
        sign = -1 if self.counting.reversed else 1
        return int(np.rint(sign * value / self.counting.core_step))

    def shows(self, value: float) -> float:
        """Return what the counter shows for ``value`` as a number of its unit."""
        return float(self.counts(value) * self.counting.step)

    def reads(self, value: float) -> str:
        """Return what the counter shows for ``value``."""
        return self.counting.text(self.counts(value))

    def steps(self, value: float, *, before: float) -> str:
        """Return the step from ``before`` to ``value`` with its sign: the difference of two readings."""
        text = self.counting.text(self.counts(value) - self.counts(before))
        return text if text.startswith("-") else f"+{text}"


def counter(axis: str, shot: Shot, *, part: str) -> Counter:
    """Return how ``axis`` of ``part`` is read on the stand of ``shot``."""
    return Counter(counter_of(shot, part=part, axis=axis))


def unit_of(axis: str, shot: Shot) -> str:
    """Return the name of the unit that an axis is read in."""
    return {"turn": "°", "focal": "mm"}.get(axis, shot.units)


def length_figures(shot: Shot) -> int:
    """Return the figures behind the point of a length: as many as a step of the counter has."""
    if not shot.stand.counter:
        return FIGURES[shot.units]
    exponent = counter_of(shot, part=CAMERA, axis="height").step.normalize().as_tuple().exponent
    return min(6, max(0, -exponent)) if isinstance(exponent, int) else FIGURES[shot.units]


def written(value: float, figures: int) -> str:
    """Return ``value`` to so many figures behind the point; what rounds to nothing has no minus."""
    text = f"{value:.{figures}f}"
    return text if text[0] != "-" or text.strip("-0.") else text[1:]


def frames(first: int, last: int, *, brief: bool = False) -> str:
    """Return a range of frames, with the word or, ``brief``, without it."""
    if first == last:
        return f"{first}" if brief else f"frame {first}"
    return f"{first}–{last}" if brief else f"frames {first}–{last}"
