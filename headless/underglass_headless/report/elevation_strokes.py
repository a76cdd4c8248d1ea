# SPDX-License-Identifier: GPL-3.0-or-later
"""The strokes that the side elevation is made of: lens, field, glass, counter post, scale bar and the table beside it.

Each draws one thing onto a sheet whose data are points; what stands where is `stand_elevation`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from underglass.proof.wording import number
from underglass.shot.units import METRES_PER_UNIT

from . import drawing_style
from .palette import FIELD, MUTED, RULE, TEXT

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# From left to right: the counter post, the drawing, the lines to the table, the table.
POST, LEFT, RIGHT, TABLE = 46.0, 66.0, 366.0, 400.0
COLUMNS = {"height": 594.0, "from lens": 674.0, "field": 754.0}
LENS_HALF = 15.0
UNIT_NAMES = {"in": "inches", "mm": "millimetres", "cm": "centimetres"}
_LENS_BULGE = 4.5
_GHOST = 0.38


@dataclass(frozen=True)
class Place:
    """From the stand to the sheet: points are ``origin`` + ``scale`` × metres, east to x and height to y."""

    scale: float
    origin_x: float
    origin_y: float

    def x(self, east: float) -> float:
        """Return the sheet's x, in points, of ``east`` in metres."""
        return self.origin_x + self.scale * float(east)

    def y(self, height: float) -> float:
        """Return the sheet's y, in points, of ``height`` above the bed in metres."""
        return self.origin_y + self.scale * float(height)


@dataclass(frozen=True)
class Row:
    """One row of the table: the point of the sheet that it speaks of, its words, its colour and its mark."""

    x: float
    y: float
    name: str
    cells: tuple[str, str, str]
    colour: str
    mark: str = ""


def lens(axes: "Axes", x: float, y: float, *, ghost: str = "", beside: float = 0.0) -> None:
    """Draw the lens, a glass bulging both ways; as a pale outline where it is only now and then.

    Its name is then ``ghost``, which ends at x ``beside``.
    """
    across = np.linspace(-1.0, 1.0, 25)
    bulge = _LENS_BULGE * (1.0 - across**2)
    xs = x + LENS_HALF * np.concatenate([across, across[::-1]])
    ys = y + np.concatenate([bulge, -bulge])
    if ghost:
        axes.plot(xs, ys, color=MUTED.light, linewidth=0.8, alpha=0.7)
        axes.text(beside, y, ghost, color=MUTED.light, size=drawing_style.SMALL, ha="right", va="center_baseline")
        return
    axes.fill(xs, ys, facecolor=FIELD.light, edgecolor=TEXT.light, linewidth=1.3, zorder=5)
    body_x, body_y = LENS_HALF * np.array([-0.8, -1.2, 1.2, 0.8]), np.array([6.0, 24.0, 24.0, 6.0])
    axes.plot(x + body_x, y + body_y, color=TEXT.light, linewidth=1.3)


def field(axes: "Axes", left: tuple[float, float], right: tuple[float, float], *, top: float, bottom: float) -> None:
    """Shade what the camera takes in; ``left`` and ``right`` are x at the ``top`` and at the ``bottom``."""
    xs, ys = [left[0], right[0], right[1], left[1]], [top, top, bottom, bottom]
    axes.fill(xs, ys, color=FIELD.light, linewidth=0, zorder=0)
    for side in (left, right):
        axes.plot(side, [top, bottom], color=MUTED.light, linewidth=0.7, zorder=1)
    middle = [(left[0] + right[0]) / 2, (left[1] + right[1]) / 2]
    axes.plot(middle, [top, bottom], color=MUTED.light, linewidth=0.6, dashes=(8, 3, 2, 3), zorder=1)


def glass(axes: "Axes", x: float, y: float, width: float, colour: str, *, ghost: bool = False) -> None:
    """Draw a level as a line as wide as its art, about its centre at ``x``."""
    ends = [x - width / 2, x + width / 2]
    if ghost:
        axes.plot(ends, [y, y], color=colour, linewidth=1.0, alpha=_GHOST, zorder=2)
    else:
        axes.plot(ends, [y, y], color=colour, linewidth=2.6, solid_capstyle="butt", zorder=4)


def focal_plane(axes: "Axes", y: float) -> None:
    """Draw the plane that the lens is focused on across the whole drawing."""
    axes.plot([LEFT, RIGHT], [y, y], color=MUTED.light, linewidth=1.0, dashes=(4, 3), zorder=3)


def bed(axes: "Axes", y: float) -> None:
    """Draw the bed, with the ends of the world named."""
    axes.plot([POST - 6.0, RIGHT], [y, y], color=TEXT.light, linewidth=1.6, zorder=3)
    for x, word, side in ((LEFT, "west", "left"), (RIGHT, "east", "right")):
        axes.text(x, y - 14.0, word, color=MUTED.light, size=drawing_style.SMALL, ha=side)
    axes.text((LEFT + RIGHT) / 2, y - 14.0, "bed", color=MUTED.light, size=drawing_style.SMALL, ha="center")


def post(axes: "Axes", place: Place, low: float, high: float, *, units: str) -> None:
    """Draw the post with its counter: heights above the bed in the shot's units, from ``low`` to ``high`` metres."""
    metres = METRES_PER_UNIT[units]
    step = round_length((high - low) / metres, parts=8)
    ticks = np.arange(np.ceil(low / metres / step - 1e-9), np.floor(high / metres / step + 1e-9) + 1) * step
    axes.plot([POST, POST], [place.y(low), place.y(high)], color=RULE.light, linewidth=1.0)
    for tick in ticks.tolist():
        y = place.y(tick * metres)
        axes.plot([POST - 4.0, POST], [y, y], color=RULE.light, linewidth=1.0)
        digits = max(0, -math.floor(math.log10(step)))
        text = number(tick, digits)
        axes.text(POST - 8.0, y, text, color=MUTED.light, size=drawing_style.SMALL, ha="right", va="center_baseline")


def scale_bar(axes: "Axes", place: Place, *, y: float, units: str) -> None:
    """Draw a bar of a round length in the shot's units, a third of the drawing at most."""
    metres = METRES_PER_UNIT[units]
    size = round_length((RIGHT - LEFT) / place.scale / metres, parts=3)
    x = LEFT, LEFT + size * metres * place.scale
    axes.plot([x[0], x[0], x[1], x[1]], [y + 4.0, y, y, y + 4.0], color=TEXT.light, linewidth=1.2)
    axes.text(x[1] + 8.0, y, f"{size:g} {units}", color=MUTED.light, size=drawing_style.SMALL)


def table(axes: "Axes", rows: Sequence[Row], *, low: float, high: float, units: str) -> None:
    """Write ``rows`` beside the drawing, each as near to its own height as the others leave room for."""
    for word, x in COLUMNS.items():
        axes.text(x, high + 8.0, word, color=MUTED.light, size=drawing_style.SMALL, ha="right")
    axes.text(TABLE, high + 8.0, f"lengths in {UNIT_NAMES[units]}", color=MUTED.light, size=drawing_style.SMALL)
    places = drawing_style.spread(
        [row.y for row in rows], gap=drawing_style.LINE, low=low, high=high - drawing_style.LINE / 2
    )
    for row, y in zip(rows, places, strict=True):
        leader = [row.x + 3.0, RIGHT + 4.0, TABLE - 5.0], [row.y, row.y, y]
        axes.plot(*leader, color=row.colour, linewidth=0.8, zorder=2)
        axes.plot([TABLE - 5.0], [y], row.mark, color=row.colour, markersize=4.5, zorder=2)
        axes.text(TABLE + 3.0, y, row.name, va="center_baseline")
        for cell, x in zip(row.cells, COLUMNS.values(), strict=True):
            axes.text(x, y, cell, ha="right", va="center_baseline")


def round_length(whole: float, *, parts: int) -> float:
    """Return the greatest of 1, 2, 5, 10, 20 … that goes at least ``parts`` times into ``whole``."""
    most = whole / parts
    decade: float = 10.0 ** math.floor(math.log10(most))
    return next(step * decade for step in (5.0, 2.0, 1.0) if step * decade <= most * (1 + 1e-9))
