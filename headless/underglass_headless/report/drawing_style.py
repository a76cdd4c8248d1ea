# SPDX-License-Identifier: GPL-3.0-or-later
"""What every drawing of a report shares: its style, its way out as SVG or PNG, labels that keep clear of each other.

Lengths are points, of which a page at full size shows one as one CSS pixel. Matplotlib is loaded when first used.
"""

import re
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO, StringIO
from typing import TYPE_CHECKING, Any

import numpy as np

from .palette import MUTED, PAPER, RULE, TEXT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.backend_bases import RendererBase
    from matplotlib.figure import Figure
    from matplotlib.transforms import Transform

WIDTH = 760.0
POINTS_PER_INCH = 72.0
FONT_SIZE = 11.0
SMALL = 10.0
# From one line of text to the next.
LINE = 15.0
# How wide the bar of an uncertainty is, as a share of its mark.
BAR = 0.22

# Keys are typed one by one in newer stubs of matplotlib, and not at all in older ones.
_STYLE: dict[Any, Any] = {
    "axes.edgecolor": RULE.light,
    "axes.facecolor": "none",
    "axes.labelcolor": TEXT.light,
    "axes.labelsize": SMALL,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "axes.titlecolor": TEXT.light,
    "axes.titlelocation": "left",
    "axes.titlesize": FONT_SIZE,
    "axes.unicode_minus": True,
    "figure.facecolor": PAPER.light,
    "font.size": FONT_SIZE,
    "grid.color": RULE.light,
    "grid.linewidth": 0.6,
    "lines.linewidth": 1.4,
    "svg.fonttype": "none",
    "text.color": TEXT.light,
    "text.parse_math": False,
    "xtick.color": RULE.light,
    "xtick.labelcolor": MUTED.light,
    "xtick.labelsize": SMALL,
    "ytick.color": RULE.light,
    "ytick.labelcolor": MUTED.light,
    "ytick.labelsize": SMALL,
}
_GROUP_ID = re.compile(r'(<g) id="[^"]*"')
_SIZE_IN_POINTS = re.compile(r'(<svg [^>]*?)width="([\d.]+)pt" height="([\d.]+)pt"')


def load_plots() -> None:
    """Load what draws, so that it is there when it is wanted."""
    import matplotlib.backends.backend_agg
    import matplotlib.backends.backend_svg
    import matplotlib.figure  # noqa: F401


@contextmanager
def style() -> Iterator[None]:
    """Draw in the style of the house, whatever the user's own settings of matplotlib are."""
    import matplotlib

    with matplotlib.rc_context(), warnings.catch_warnings():
        # A letter that the font here lacks is still text in an SVG, and the reader's font has it.
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_STYLE)
        yield


def new_figure(*, height: float) -> "Figure":
    """Return a figure `WIDTH` wide and ``height`` high, in points."""
    from matplotlib.figure import Figure

    return Figure(figsize=(WIDTH / POINTS_PER_INCH, height / POINTS_PER_INCH), dpi=POINTS_PER_INCH)


def axes_at(figure: "Figure", *, left: float, bottom: float, width: float, height: float) -> "Axes":
    """Return new axes whose frame lies at these points, from the figure's lower left."""
    full = figure.get_figheight() * POINTS_PER_INCH
    return figure.add_axes((left / WIDTH, bottom / full, width / WIDTH, height / full))


def sheet(figure: "Figure") -> "Axes":
    """Return axes that cover ``figure``, whose data are its points, for drawings without a graph."""
    full = figure.get_figheight() * POINTS_PER_INCH
    axes = axes_at(figure, left=0.0, bottom=0.0, width=WIDTH, height=full)
    axes.set(xlim=(0.0, WIDTH), ylim=(0.0, full))
    axes.set_axis_off()
    return axes


def points(
    axes: "Axes",
    xs: Sequence[float],
    ys: Sequence[float],
    half: Sequence[float],
    *,
    mark: str,
    colour: str,
    size: float,
    shift: float = 0.0,
) -> None:
    """Draw a ``mark``, ``size`` points across, at each point, and on it a bar that reaches ``half`` up and down.

    All lie ``shift`` points to the right of where they belong.
    """
    from matplotlib.transforms import ScaledTranslation

    figure = axes.get_figure()
    assert figure is not None, "axes stand on a figure"
    place = axes.transData
    if shift:
        place = place + ScaledTranslation(shift / POINTS_PER_INCH, 0.0, figure.dpi_scale_trans)
    middles, halves = np.asarray(ys, dtype=np.float64), np.asarray(half, dtype=np.float64)
    # All bars are one line with gaps: bars that are drawn one by one take most of the time of a page.
    bars = np.stack([middles - halves, middles + halves, np.full(len(middles), np.nan)], axis=1).ravel()
    for x, y, look in ((np.repeat(xs, 3), bars, ""), (xs, middles, mark)):
        axes.plot(x, y, look, color=colour, markersize=size, linewidth=size * BAR, transform=place, zorder=3)


def line_beside(axes: "Axes", xs: Sequence[float], ys: Sequence[float], *, colour: str, mark: str = "") -> None:
    """Draw a thin line, or a ``mark``, whose points count from the lower left of ``axes`` and may lie outside it."""
    from matplotlib.lines import Line2D

    line = Line2D(xs, ys, color=colour, linewidth=0.8, marker=mark, markersize=4.5, clip_on=False)
    line.set_transform(_points_from(axes))
    axes.add_artist(line)


def write_beside(axes: "Axes", x: float, y: float, text: str, *, colour: str = "", size: float = FONT_SIZE) -> None:
    """Write ``text`` from a point that counts from the lower left of ``axes`` and may lie outside it."""
    ink = colour or TEXT.light
    axes.text(x, y, text, transform=_points_from(axes), color=ink, fontsize=size, va="center_baseline")


def _points_from(axes: "Axes") -> "Transform":
    """Return the transform from points, counted from the lower left of ``axes``, to the drawing."""
    from matplotlib.transforms import Affine2D

    box = axes.get_window_extent()
    return Affine2D().scale(1.0 / box.width, 1.0 / box.height) + axes.transAxes


def svg_from_figure(figure: "Figure", *, name: str) -> str:
    """Return ``figure`` as an SVG element, ready for a page or, as UTF-8, for a file.

    The same facts give the same text. ``name`` keeps the marks of several drawings on one page apart.
    """
    import matplotlib
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    with style():
        matplotlib.rcParams["svg.hashsalt"] = name
        figure.set_facecolor("none")
        text = StringIO()
        FigureCanvasSVG(figure)
        unsaid = dict.fromkeys(("Date", "Creator", "Format", "Type"))
        figure.savefig(text, format="svg", metadata=unsaid)
    svg = _GROUP_ID.sub(r"\1", text.getvalue())
    return _SIZE_IN_POINTS.sub(r'\1width="\2" height="\3"', svg[svg.index("<svg") :], count=1)


def png_from_figure(figure: "Figure", *, dots: float = 2.0) -> bytes:
    """Return ``figure`` as a PNG on light paper, with ``dots`` pixels a point."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    with style():
        figure.set_facecolor(PAPER.light)
        buffer = BytesIO()
        FigureCanvasAgg(figure)
        figure.savefig(buffer, format="png", dpi=POINTS_PER_INCH * dots)
    return buffer.getvalue()


def text_width(figure: "Figure", texts: Sequence[str], *, size: float = FONT_SIZE) -> float:
    """Return the width of the widest of ``texts``, in points."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.font_manager import FontProperties

    renderer: RendererBase = FigureCanvasAgg(figure).get_renderer()  # type: ignore[no-untyped-call]
    font = FontProperties(size=size)
    return max((renderer.get_text_width_height_descent(text, font, False)[0] for text in texts), default=0.0)


def spread(wanted: Sequence[float], *, gap: float, low: float, high: float) -> list[float]:
    """Return positions as near to ``wanted`` as can be, at least ``gap`` apart and from ``low`` to ``high``.

    In order of ``wanted``, equals in the order given. Least squares with an order kept is isotonic regression: runs
    that want to overlap are pooled at their mean. Where there is no room for all, the gap gives way.
    """
    count = len(wanted)
    if count > 1:
        gap = min(gap, (high - low) / (count - 1))
    order = sorted(range(count), key=lambda index: wanted[index])
    pools: list[tuple[float, int]] = []
    for rank, index in enumerate(order):
        mean, size = wanted[index] - rank * gap, 1
        while pools and pools[-1][0] > mean:
            other, members = pools.pop()
            mean, size = (mean * size + other * members) / (size + members), size + members
        pools.append((mean, size))
    fitted = np.repeat([mean for mean, _ in pools], [size for _, size in pools])
    fitted = np.clip(fitted, low, max(low, high - (count - 1) * gap))
    places = [0.0] * count
    for rank, index in enumerate(order):
        places[index] = float(fitted[rank]) + rank * gap
    return places
