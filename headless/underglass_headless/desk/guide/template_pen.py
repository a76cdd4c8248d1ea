# SPDX-License-Identifier: GPL-3.0-or-later
"""A pen for templates: lines and letters over paint, as thick and large as the sheet asks.

Places are inches from the centre of the art, x right and y up; what is drawn with it is `paint_template`.
"""

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from underglass.shot.units import METRES_PER_UNIT

from ...report.drawing_style import POINTS_PER_INCH
from ...report.palette import PAPER, TEXT
from .size_to_paint import Box

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]

METRES_PER_INCH = METRES_PER_UNIT["in"]
# Letters and lines are made for a view of this width, and grow or shrink with it.
_USUAL_INCHES = 11.0
_LEAST_SCALE = 0.3


class Pen:
    """Axes that show ``view``, a box in inches; ``colour`` is the level's ink."""

    def __init__(self, axes: "Axes", *, view: Box, colour: str) -> None:
        self.axes, self.view, self.colour = axes, view, colour
        self.scale = max(view.width / _USUAL_INCHES, _LEAST_SCALE)

    def line(self, xs: Any, ys: Any, *, width: float, colour: str = "", dashes: Any = "solid") -> None:
        """Draw a line with a pale edge, so that it is seen over any paint; ``width`` in points of a usual view."""
        edge = {"color": PAPER.light, "linewidth": (width + 1.6) * self.scale, "alpha": 0.7}
        ink = {"color": colour or self.colour, "linewidth": width * self.scale, "linestyle": dashes}
        for look in (edge, ink):
            self.axes.plot(xs, ys, solid_joinstyle="miter", **look)

    def text(self, x: float, y: float, words: str, *, size: float, colour: str = "", **where: Any) -> None:
        """Write ``words`` with a pale edge; ``size`` in points of a usual view."""
        from matplotlib.patheffects import withStroke

        written = self.axes.text(x, y, words, color=colour or TEXT.light, fontsize=size * self.scale, **where)
        written.set_path_effects([withStroke(linewidth=4.0 * self.scale, foreground=PAPER.light, alpha=0.92)])

    def points(self, count: float) -> float:
        """Return ``count`` points of a usual view in inches."""
        return count * self.scale / POINTS_PER_INCH

    def within(self, x: float, y: float, *, inset: float) -> tuple[float, float]:
        """Return the place in the view, ``inset`` inches from its edges, that is nearest to x, y."""
        view = self.view
        return (
            float(np.clip(x, view.left + inset, view.right - inset)),
            float(np.clip(y, view.bottom + inset, view.top - inset)),
        )


def ring(corners: Floats) -> tuple[Floats, Floats]:
    """Return the closed line through ``corners`` (N, 2), metres, in inches."""
    closed = np.concatenate([corners, corners[:1]]) / METRES_PER_INCH
    return closed[:, 0], closed[:, 1]


def in_inches(box: Box, *, grown: float = 0.0) -> Box:
    """Return a box of metres in inches, ``grown`` inches larger on every side."""
    left, right, bottom, top = (side / METRES_PER_INCH for side in (box.left, box.right, box.bottom, box.top))
    return Box(left - grown, right + grown, bottom - grown, top + grown)


def outline_of(box: Box) -> tuple[list[float], list[float]]:
    """Return the closed line round a box."""
    return (
        [box.left, box.right, box.right, box.left, box.left],
        [box.bottom, box.bottom, box.top, box.top, box.bottom],
    )
