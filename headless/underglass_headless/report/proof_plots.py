# SPDX-License-Identifier: GPL-3.0-or-later
"""The plots of a proof: size and place of every level, planned as lines and measured as points, and what is between.

Each comes as a figure (``draw_…``) for a PNG, or as SVG text for a page. The stack itself is `stand_elevation`.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from underglass.proof.proof_facts import Measurement, Proof
from underglass.proof.proof_summary import by_level
from underglass.proof.wording import growth, number, shortened

from . import drawing_style
from .palette import level_colour, level_mark

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

NAME_COLUMNS = 24
# More points than this on one line cannot be told apart.
MOST_POINTS = 60
# What moves less than this over the whole shot is said to hold.
HOLDS_PX = 0.05
# Left free before the first frame and after the last, as a share of the shot: marks beside a frame need it.
ROOM = 0.022

_LEFT, _BOTTOM, _TOP, _LEAD = 62.0, 40.0, 24.0, 24.0
_LEAST_PANEL = 250.0


def size_plot(proof: Proof) -> str:
    """Return, as SVG, the width of every level's art on screen over the frames, px."""
    return drawing_style.svg_from_figure(draw_size(proof), name="size")


def place_plot(proof: Proof) -> str:
    """Return, as SVG, where every level's centre is over the frames: x, and y if anything moves or is off that way."""
    return drawing_style.svg_from_figure(draw_place(proof), name="place")


def draw_size(proof: Proof) -> "Figure":
    """Return the figure of `size_plot`."""
    plan = proof.plan
    labels = [_label(name, _growth(plan.size_px[:, column])) for column, name in enumerate(plan.names)]
    with drawing_style.style():
        figure = drawing_style.new_figure(height=_panel_height(proof) + _BOTTOM + _TOP)
        _panel(proof, figure, "size_px", labels=labels, bottom=_BOTTOM, title="Width of the art on screen, px")
    return figure


def draw_place(proof: Proof) -> "Figure":
    """Return the figure of `place_plot`."""
    sides = ["x", "y"] if _leaves_the_line(proof) else ["x"]
    titles = {"x": "Centre of the art east of the frame’s centre, px", "y": "… and north of it, px"}
    step = _panel_height(proof) + _BOTTOM + _TOP
    with drawing_style.style():
        figure = drawing_style.new_figure(height=step * len(sides))
        for place, side in enumerate(reversed(sides)):
            tracks = getattr(proof.plan, side)
            labels = [_label(name, _drift(tracks[:, column], side)) for column, name in enumerate(proof.plan.names)]
            _panel(proof, figure, side, labels=labels, bottom=_BOTTOM + place * step, title=titles[side])
    return figure


def measured(measurements: Sequence[Measurement]) -> list[Measurement]:
    """Return the measurements to be shown: those with a look, thinned out evenly, the worst one kept."""
    found = [m for m in measurements if m.measured is not None]
    if len(found) <= MOST_POINTS:
        return found
    worst = max(range(len(found)), key=lambda index: found[index].error_px or 0.0)
    kept = {*np.linspace(0, len(found) - 1, MOST_POINTS).astype(int).tolist(), worst}
    return [found[index] for index in sorted(kept)]


def frame_axis(axes: "Axes", proof: Proof, *, label: bool = True) -> None:
    """Give ``axes`` the shot's frames from left to right with whole ticks, the same on every plot."""
    from matplotlib.ticker import FixedLocator, MaxNLocator

    first, last = int(proof.plan.frames[0]), int(proof.plan.frames[-1])
    free = max(0.5, ROOM * (last - first))
    axes.set_xlim(first - free, last + free)
    ticks = MaxNLocator(nbins=9, integer=True).tick_values(first, last)
    axes.xaxis.set_major_locator(FixedLocator([tick for tick in ticks if first <= tick <= last]))
    if label:
        axes.set_xlabel("frame")


def _panel(proof: Proof, figure: "Figure", side: str, *, labels: list[str], bottom: float, title: str) -> None:
    """Draw one graph: a line a level, points with their uncertainty, and the level's label where its line ends."""
    from matplotlib.ticker import FuncFormatter

    column_width = drawing_style.text_width(figure, labels) + 8.0
    width = drawing_style.WIDTH - _LEFT - _LEAD - column_width
    axes = drawing_style.axes_at(figure, left=_LEFT, bottom=bottom, width=width, height=_panel_height(proof))
    axes.set_title(title, pad=10.0)
    axes.grid(axis="y")
    frame_axis(axes, proof)
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: number(value, 0 if value == round(value) else 2)))
    tracks: Floats = getattr(proof.plan, side)
    for column, mine in enumerate(by_level(proof).values()):
        axes.plot(proof.plan.frames, tracks[:, column], color=level_colour(column), zorder=2)
        _points(axes, measured(mine), side, column)
    _label_ends(axes, tracks[-1], labels, last=int(proof.plan.frames[-1]))


def _points(axes: "Axes", shown: Sequence[Measurement], side: str, column: int) -> None:
    """Draw what was measured of one ``side`` of a level (``size_px``, ``x`` or ``y``), with error bars (k = 2)."""
    if not shown:
        return
    drawing_style.points(
        axes,
        [m.frame for m in shown],
        [getattr(m.measured, side) for m in shown],
        [m.uncertainty_px or 0.0 for m in shown],
        mark=level_mark(column),
        colour=level_colour(column),
        size=4.5,
    )


def _label_ends(axes: "Axes", ends: Floats, labels: list[str], *, last: int) -> None:
    """Write each label beside the end of its line, moved apart where they would overlap, with a leader."""
    axes.autoscale_view()
    box = axes.get_window_extent()
    to_axes = axes.transData + axes.transAxes.inverted()
    wanted = [float(to_axes.transform((0.0, end))[1]) * box.height for end in ends]
    right = float(to_axes.transform((last, 0.0))[0]) * box.width
    places = drawing_style.spread(wanted, gap=drawing_style.LINE, low=2.0, high=box.height - 2.0)
    for column, (start, place, label) in enumerate(zip(wanted, places, labels, strict=True)):
        end = box.width + _LEAD - 5.0
        xs, ys = [right + 3.0, box.width + 4.0, end], [start, start, place]
        drawing_style.line_beside(axes, xs, ys, colour=level_colour(column))
        drawing_style.line_beside(axes, [end], [place], colour=level_colour(column), mark=level_mark(column))
        drawing_style.write_beside(axes, end + 8.0, place, label)


def _panel_height(proof: Proof) -> float:
    return max(_LEAST_PANEL, drawing_style.LINE * len(proof.plan.names))


def _label(name: str, what: str) -> str:
    return f"{shortened(name, columns=NAME_COLUMNS)}\N{EN SPACE}{what}"


def _growth(size: Floats) -> str:
    """Return how much a level grows over the shot; it holds only where it never stirs on the way."""
    return growth(float(size[0]), float(size[-1]), range_px=float(np.ptp(size)))


def _drift(track: Floats, side: str) -> str:
    """Return how far and which way a level's centre drifts over the shot."""
    if np.ptp(track) <= HOLDS_PX:
        return "holds"
    way = {"x": ("east", "west"), "y": ("north", "south")}[side]
    drift = float(track[-1] - track[0])
    return f"{number(abs(drift), 1)} {way[drift < 0]}"


def _leaves_the_line(proof: Proof) -> bool:
    """Return whether any level moves north or south, or was measured there out of tolerance."""
    if (np.ptp(proof.plan.y, axis=0) > HOLDS_PX).any():
        return True
    looks = ((m.planned.y, m.measured.y) for m in proof.measurements if m.measured is not None)
    return any(abs(seen - planned) > proof.tolerance_px for planned, seen in looks)
