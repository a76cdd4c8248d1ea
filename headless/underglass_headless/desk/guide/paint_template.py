# SPDX-License-Identifier: GPL-3.0-or-later
"""The template of one level: a sheet as large as the art, to scale, with the frames that it has to fill.

The sheet is clear where nothing is drawn, so that it can lie over the painting. The same strokes make the map on the
guide's page, which shows all that the lens sees and the art as far as it is painted.
"""

from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from underglass.proof.wording import length, shortened, span
from underglass.shot.units import METRES_PER_UNIT

from ...report.drawing_style import POINTS_PER_INCH, style, svg_from_figure
from ...report.elevation_strokes import round_length
from ...report.palette import MUTED, PAPER, RULE, TEXT, level_colour
from .guide_facts import Guide, Outline
from .size_to_paint import Box
from .template_pen import METRES_PER_INCH, Pen, in_inches, outline_of, ring

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

# Larger pictures of mere lines help nobody; the SVG has no pixels at all.
MOST_PX = 6000
# A map shows art and frames as far as both fit into so many times the larger of them, and is so many times as tall as
# wide at the most: it has to stay on one page.
MOST_MAP = 2.5
MOST_MAP_TALL = 1.3
# Below the art, the printed sheet has a strip for its name, of this part of the width.
_STRIP = 0.075
_DASHES: dict[str, Any] = {"first": "solid", "the whole": "solid", "last": (0, (7, 3))}
_OTHER: Any = (0, (1.5, 2.5))
# Where the numbers of frames stand: first and last opposite each other, extremes in the corners that are left.
_FIRST, _LAST = (0.0, 1.0), (1.0, 0.0)
_BETWEEN = ((1.0, 1.0), (0.0, 0.0), (0.5, 1.0), (0.5, 0.0))
_MOST_SHADES = 240
_NEAR_END = 0.25
_SHADE = 0.08


def sheet_of(guide: Guide) -> Box:
    """Return the edges of the art, m from its centre."""
    half = guide.level.art_width / 2.0, guide.level.art_height / 2.0
    return Box(-half[0], half[0], -half[1], half[1])


def _figure(guide: Guide, view: Box, *, units: str, fps: float, tint: bool = False, art: Any = None) -> "Figure":
    """Return a figure of ``view``, inches, at full size: printed at 100 % it is to scale."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(view.width, view.height), dpi=POINTS_PER_INCH)
    figure.patch.set_alpha(0.0)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    pen = Pen(axes, view=view, colour=level_colour(guide.column))
    sheet = in_inches(sheet_of(guide))
    if art is not None:
        axes.imshow(
            art, extent=(sheet.left, sheet.right, sheet.bottom, sheet.top), zorder=0.5, interpolation="antialiased"
        )
    if tint:
        axes.fill(*outline_of(sheet), color=pen.colour, alpha=0.16, linewidth=0)
    _seen(pen, guide)
    _bleed(pen, guide, sheet)
    _way(pen, guide, fps)
    for outline in guide.outlines:
        _frame(pen, outline, _corner(guide, outline), units, ink=TEXT.light if art is not None else pen.colour)
    _edge(pen, sheet)
    _centre(pen)
    axes.set(xlim=(view.left, view.right), ylim=(view.bottom, view.top), aspect="auto")
    axes.set_axis_off()
    return figure


def _seen(pen: Pen, guide: Guide) -> None:
    """Shade all that the lens ever sees."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path as Curve

    rows = np.unique(np.linspace(0, len(guide.corners) - 1, _MOST_SHADES).astype(int))
    rings = [Curve(np.stack(ring(guide.corners[row]), axis=-1), closed=True) for row in rows]
    # One path wound one way throughout: where frames overlap it is as pale as elsewhere.
    shade = Curve.make_compound_path(*rings)
    pen.axes.add_patch(PathPatch(shade, facecolor=pen.colour, edgecolor="none", alpha=_SHADE, zorder=0))


def _edge(pen: Pen, sheet: Box) -> None:
    """Draw the edge of the art, with marks at the middle of each side."""
    inset, tick = pen.points(0.6), pen.points(10)
    inner = Box(sheet.left + inset, sheet.right - inset, sheet.bottom + inset, sheet.top - inset)
    pen.line(*outline_of(inner), width=1.2, colour=TEXT.light)
    for end, way in ((sheet.left, 1), (sheet.right, -1)):
        pen.line([end, end + way * tick], [0.0, 0.0], width=1.2, colour=TEXT.light)
    for end, way in ((sheet.bottom, 1), (sheet.top, -1)):
        pen.line([0.0, 0.0], [end, end + way * tick], width=1.2, colour=TEXT.light)
    pen.text(0.0, sheet.top - tick - pen.points(3), "top", size=9.0, colour=MUTED.light, ha="center", va="top")


def _bleed(pen: Pen, guide: Guide, sheet: Box) -> None:
    """Draw how far paint has to go: the box of all that is seen, and the bleed around it."""
    box = in_inches(guide.seen, grown=guide.bleed / METRES_PER_INCH)
    if guide.margins:
        pen.line(*outline_of(box), width=0.9, dashes=(0, (1, 2)))
    if guide.margins and sheet.bottom < box.bottom < sheet.top:
        x, y = pen.within(box.left + pen.points(8), box.bottom, inset=pen.points(6))
        pen.text(x, y + pen.points(3), "paint at least this far", size=9.0, colour=pen.colour, va="bottom")


def _way(pen: Pen, guide: Guide, fps: float) -> None:
    """Draw the way that the frame's centre goes over the art, with a tick each second."""
    way = guide.centres / METRES_PER_INCH
    if np.ptp(way, axis=0).max() < pen.points(6):
        return
    pen.line(way[:, 0], way[:, 1], width=0.9)
    seconds = way[:: max(1, round(fps))]
    ticks: dict[str, Any] = {"marker": "|", "markersize": 6 * pen.scale, "markeredgewidth": 0.9 * pen.scale}
    pen.axes.plot(*seconds.T, linestyle="none", color=pen.colour, **ticks)
    pen.axes.plot(*way[-1:].T, linestyle="none", marker="o", color=pen.colour, markersize=4 * pen.scale)


def _corner(guide: Guide, outline: Outline) -> tuple[float, float]:
    """Return the corner of ``outline`` in which its number stands."""
    others = list(guide.outlines[1:-1])
    if outline is guide.outlines[0]:
        return _FIRST
    return _LAST if outline is guide.outlines[-1] else _BETWEEN[others.index(outline) % len(_BETWEEN)]


def _frame(pen: Pen, outline: Outline, corner: tuple[float, float], units: str, *, ink: str) -> None:
    """Draw one frame on the art with its number in a corner; without, where none of its sides is in view."""
    dashes = next((dash for word, dash in _DASHES.items() if outline.what.startswith(word)), _OTHER)
    xs, ys = ring(outline.corners)
    pen.line(xs, ys, width=1.5, dashes=dashes)
    view = pen.view
    if not (((view.left < xs) & (xs < view.right)).any() or ((view.bottom < ys) & (ys < view.top)).any()):
        return
    low, high = np.array([xs.min(), ys.min()]), np.array([xs.max(), ys.max()])
    inset = pen.points(6)
    at = low + (high - low) * corner + inset * (1 - 2 * np.array(corner))
    # A frame may reach past a small sheet; its number stays on it.
    x, y = pen.within(*at, inset=inset)
    side = {0.0: "left", 0.5: "center", 1.0: "right"}[corner[0]]
    # Near an end of the map words run inwards.
    along = (x - view.left) / view.width
    side = "left" if along < _NEAR_END else "right" if along > 1 - _NEAR_END else side
    words = f"{span((outline.frame, outline.until))} · {outline.what} · {length(outline.field, units)} {units} wide"
    pen.text(x, y, words, size=11.0, colour=ink, ha=side, va="top" if corner[1] == 1.0 else "bottom")


def _centre(pen: Pen) -> None:
    """Mark the centre of the art, the point that the counters speak of."""
    arm, gap = pen.points(14), pen.points(3)
    for x, y in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        ends = np.array([gap, arm])
        pen.line(x * ends, y * ends, width=1.1, colour=TEXT.light)
    around = np.linspace(0, 2 * np.pi, 49)
    pen.line(np.cos(around) * pen.points(7), np.sin(around) * pen.points(7), width=0.9, colour=TEXT.light)


def template_png(guide: Guide, *, units: str, fps: float, tint: bool = False, width_px: int | None = None) -> bytes:
    """Return the template as a PNG ``width_px`` wide, by default the pixels the art needs; clear where nothing is.

    With ``tint`` the sheet is faintly coloured, as a stand-in for art that is not painted yet.
    """
    view = in_inches(sheet_of(guide))
    wanted = width_px or round(guide.pixels[0] * guide.level.art_width / guide.size[0])
    wanted = max(64, min(wanted, int(MOST_PX / max(1.0, view.height / view.width))))
    with style():
        figure = _figure(guide, view, units=units, fps=fps, tint=tint)
        return _png(figure, dots=wanted / view.width)


def _png(figure: "Figure", *, dots: float, paper: str = "none") -> bytes:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    FigureCanvasAgg(figure)
    buffer = BytesIO()
    figure.savefig(buffer, format="png", dpi=dots, facecolor=paper)
    return buffer.getvalue()


def map_png(guide: Guide, *, units: str, fps: float, width_px: int, art: Any = None) -> bytes:
    """Return the map of a level on paper: all that the lens sees, the art's sheet in it, and ``art`` where painted."""
    view = _map_view(guide)
    with style():
        figure = _figure(guide, view, units=units, fps=fps, art=art)
        figure.patch.set_alpha(1.0)
        return _png(figure, dots=width_px / view.width, paper=PAPER.light)


def is_off_map(guide: Guide) -> bool:
    """Return whether the art lies so far from all that is seen that one map of both would show neither."""
    sheet, seen = sheet_of(guide), guide.seen
    both = _around(sheet, seen)
    return both.width > MOST_MAP * max(sheet.width, seen.width) or both.height > MOST_MAP * max(
        sheet.height, seen.height
    )


def _map_view(guide: Guide) -> Box:
    """Return what the map shows, inches: all that is seen, and the art where it is not too far off."""
    seen = in_inches(guide.seen, grown=guide.bleed / METRES_PER_INCH if guide.margins else 0.0)
    whole = seen if is_off_map(guide) else _around(in_inches(sheet_of(guide)), seen)
    air = 0.02 * max(whole.width, whole.height / MOST_MAP_TALL)
    # What is taller than a page gets paper on both sides.
    beside = max(air, ((whole.height + 2 * air) / MOST_MAP_TALL - whole.width) / 2)
    return Box(whole.left - beside, whole.right + beside, whole.bottom - air, whole.top + air)


def _around(one: Box, other: Box) -> Box:
    return Box(
        min(one.left, other.left), max(one.right, other.right), min(one.bottom, other.bottom), max(one.top, other.top)
    )


def template_svg(guide: Guide, *, units: str, fps: float) -> str:
    """Return the template as an SVG to print at 100 %: the art's own size, and below it a strip with its name."""
    sheet = in_inches(sheet_of(guide))
    view = Box(sheet.left, sheet.right, sheet.bottom - _STRIP * sheet.width, sheet.top)
    with style():
        figure = _figure(guide, view, units=units, fps=fps)
        _strip(Pen(figure.axes[0], view=view, colour=level_colour(guide.column)), guide, sheet, units)
    svg = svg_from_figure(figure, name=f"template-{guide.column}")
    head, rest = svg.split(">", 1)
    for side, inches in (("width", view.width), ("height", view.height)):
        before, _, after = head.partition(f' {side}="')
        head = f'{before} {side}="{inches:.4f}in"{after.partition(chr(34))[2]}'
    head = (
        head.replace("<svg", '<svg xmlns:xlink="http://www.w3.org/1999/xlink"', 1)
        if "xmlns:xlink" not in head
        else head
    )
    return f"{head}>{rest}"


def _strip(pen: Pen, guide: Guide, sheet: Box, units: str) -> None:
    """Write what the sheet is below it, with a bar of a round length to check the print with, and a crosshair."""
    level, middle = guide.level, (sheet.bottom + pen.view.bottom) / 2
    size = f"{length(level.art_width, units)} × {length(level.art_height, units)} {units}"
    pen.text(sheet.left + pen.points(10), middle + pen.points(4), shortened(level.name, columns=34), size=14.0)
    words = f"{size} · {guide.pixels[0]} × {guide.pixels[1]} px or more"
    pen.text(sheet.left + pen.points(10), middle - pen.points(11), words, size=11.0, colour=MUTED.light)
    _crosshair(pen, middle)
    inches = METRES_PER_UNIT[units] / METRES_PER_INCH
    bar = round_length(sheet.width / inches, parts=6)
    right, rise = sheet.right - pen.points(12), pen.points(5)
    left, low = right - bar * inches, middle - pen.points(8)
    pen.line([left, left, right, right], [low + rise, low, low, low + rise], width=1.1, colour=TEXT.light)
    place = {"ha": "center", "va": "bottom"}
    pen.text(
        (left + right) / 2, low + pen.points(5), f"prints {bar:g} {units} long", size=8.0, colour=MUTED.light, **place
    )


def _crosshair(pen: Pen, y: float) -> None:
    """Draw a crosshair below the middle of the art: sheets of one size are laid over each other by it."""
    arm = np.array([-1.0, 1.0]) * pen.points(9)
    for xs, ys in ((arm, [y, y]), ([0.0, 0.0], y + arm)):
        pen.axes.plot(xs, ys, color=RULE.light, linewidth=1.4 * pen.scale)
