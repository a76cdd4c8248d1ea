# SPDX-License-Identifier: GPL-3.0-or-later
"""The plot of what is left between the measurements and the plan: a strip a level.

In thousandths of a pixel, or in pixels where something is out by more than one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from underglass.proof.proof_facts import FAIL, Measurement, Proof
from underglass.proof.proof_summary import by_level, worst_measurement
from underglass.proof.wording import give_or_take, shortened

from . import drawing_style
from .palette import FAILS, FIELD, MUTED, RULE, TEXT, level_colour, level_mark
from .proof_plots import NAME_COLUMNS, frame_axis, measured

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.ticker import Locator

# Up to this many px the scale is even, above it goes by powers of ten: a thousandth and a whole pixel both show.
EVEN_TO = 0.01
MOST_STRIPS = 24
SIDES = {"size_px": ("o", "size"), "x": (">", "x, east"), "y": ("^", "y, north")}

_LEFT, _BOTTOM, _TOP = 236.0, 40.0, 52.0
_STRIP, _GAP = 58.0, 16.0


@dataclass(frozen=True)
class Scale:
    """What the strips count in, so many a pixel, and where they end, in that unit."""

    unit: str
    per_px: float
    limit: float


def residual_plot(proof: Proof) -> str:
    """Return, as SVG, measured − planned of size and place for every level that was measured."""
    return drawing_style.svg_from_figure(draw_residuals(proof), name="residual")


def draw_residuals(proof: Proof) -> "Figure":
    """Return the figure of `residual_plot`: strips nearest the lens first; of very many levels, the worst ones."""
    measurements = list(by_level(proof).values())
    columns = _columns(measurements)
    with drawing_style.style():
        step = _STRIP + _GAP
        figure = drawing_style.new_figure(height=_BOTTOM + _TOP + step * len(columns) - _GAP)
        scale = scale_of(proof)
        for place, column in enumerate(columns):
            bottom = _BOTTOM + step * (len(columns) - 1 - place)
            width = drawing_style.WIDTH - _LEFT - 8.0
            axes = drawing_style.axes_at(figure, left=_LEFT, bottom=bottom, width=width, height=_STRIP)
            _strip(axes, proof, column, measurements[column], scale)
            frame_axis(axes, proof, label=place == len(columns) - 1)
            axes.tick_params(labelbottom=place == len(columns) - 1)
        _head(figure, proof, scale)
    return figure


def _columns(measurements: Sequence[Sequence[Measurement]]) -> list[int]:
    """Return which levels get a strip: all, or those that are worst where there are too many."""
    columns = range(len(measurements))
    if len(columns) <= MOST_STRIPS:
        return list(columns)
    return sorted(sorted(columns, key=lambda column: -_worst(measurements[column]))[:MOST_STRIPS])


def _worst(mine: Sequence[Measurement]) -> float:
    worst = worst_measurement(mine)
    return float("inf") if worst is None else worst.error_px or 0.0


def scale_of(proof: Proof) -> Scale:
    """Return the scale of all strips: past the tolerance and past every point, in px where one is off by more."""
    reach, worst = [proof.tolerance_px, 0.001], 0.0
    for m in proof.measurements:
        if m.measured is not None:
            off = max(abs(getattr(m.measured, side) - getattr(m.planned, side)) for side in SIDES)
            worst = max(worst, off, m.error_px or 0.0)
            reach.append(off + (m.uncertainty_px or 0.0))
    unit, per_px = ("pixels", 1.0) if worst > 1.0 else ("thousandths of a pixel", 1000.0)
    return Scale(unit, per_px, 3.0 * per_px * max(reach))


def _strip(axes: "Axes", proof: Proof, column: int, mine: Sequence[Measurement], scale: Scale) -> None:
    """Draw one level: the band of the tolerance, the points, and its name with its worst error before them."""
    tolerance, shown = proof.tolerance_px * scale.per_px, measured(mine)
    axes.set_yscale("symlog", linthresh=EVEN_TO * scale.per_px)
    axes.set_ylim(-scale.limit, scale.limit)
    # The greatest power of ten whose label keeps clear of the next strip.
    decade = 10.0 ** np.floor(np.log10(scale.limit / 2.5))
    axes.set_yticks([-decade, 0.0, decade], [f"−{decade:,.6g}", "0", f"+{decade:,.6g}"])
    axes.grid(axis="y")
    axes.yaxis.set_minor_locator(_nowhere())
    axes.axhspan(-tolerance, tolerance, color=FIELD.light, linewidth=0, zorder=0)
    axes.axhline(0.0, color=RULE.light, linewidth=0.8, zorder=1)
    for place, (side, (mark, _)) in enumerate(SIDES.items()):
        _side(axes, shown, column, side, mark, shift=(place - 1) * 4.0, per_px=scale.per_px)
    missing = [m.frame for m in mine if m.measured is None and m.verdict == FAIL]
    axes.plot(missing, [0.0] * len(missing), "x", color=FAILS.light, markersize=8.0, markeredgewidth=1.8, zorder=4)
    _caption(axes, proof.plan.names[column], column, mine, missing=len(missing))


def _nowhere() -> "Locator":
    from matplotlib.ticker import NullLocator

    return NullLocator()


def _side(
    axes: "Axes", shown: Sequence[Measurement], column: int, side: str, mark: str, *, shift: float, per_px: float
) -> None:
    """Draw the residuals of one side of a level, ``shift`` points beside the frame so that marks do not cover."""
    if not shown:
        return
    drawing_style.points(
        axes,
        [m.frame for m in shown],
        [(getattr(m.measured, side) - getattr(m.planned, side)) * per_px for m in shown],
        [(m.uncertainty_px or 0.0) * per_px for m in shown],
        mark=mark,
        colour=level_colour(column),
        size=4.0,
        shift=shift,
    )


def _caption(axes: "Axes", level: str, column: int, mine: Sequence[Measurement], *, missing: int) -> None:
    """Write the level's name before its strip, and under it the worst error and on how many frames it is missing."""
    worst = worst_measurement(mine)
    failed = any(m.verdict == FAIL for m in mine)
    said = "not measured" if worst is None else give_or_take(worst.error_px, worst.uncertainty_px)
    if missing:
        said = f"{said}, missing on {missing}"
    left, indent = 4.0 - _LEFT, 14.0
    drawing_style.line_beside(axes, [left + 4.0], [0.7 * _STRIP], colour=level_colour(column), mark=level_mark(column))
    drawing_style.write_beside(axes, left + indent, 0.7 * _STRIP, shortened(level, columns=NAME_COLUMNS))
    colour = (FAILS if failed else MUTED).light
    drawing_style.write_beside(axes, left + indent, 0.36 * _STRIP, said, colour=colour, size=drawing_style.SMALL)


def _head(figure: "Figure", proof: Proof, scale: Scale) -> None:
    """Write the title and, under it, what the marks and the band are."""
    axes = drawing_style.sheet(figure)
    top = axes.get_ylim()[1]
    axes.text(4.0, top - 14.0, f"Measured − planned, {scale.unit}")
    x, y = _LEFT, top - 34.0
    for mark, words in SIDES.values():
        axes.plot([x + 4.0], [y + 4.0], mark, color=TEXT.light, markersize=4.5)
        axes.text(x + 13.0, y, words, color=MUTED.light, fontsize=drawing_style.SMALL)
        x += 27.0 + drawing_style.text_width(figure, [words], size=drawing_style.SMALL)
    axes.fill([x, x + 18, x + 18, x], [y - 2, y - 2, y + 10, y + 10], color=FIELD.light, linewidth=0)
    tolerance = f"tolerance ±{proof.tolerance_px * scale.per_px:.4g}"
    axes.text(x + 24.0, y, tolerance, color=MUTED.light, fontsize=drawing_style.SMALL)
    axes.text(4.0, y, "level, worst corner", color=MUTED.light, fontsize=drawing_style.SMALL)
