# SPDX-License-Identifier: GPL-3.0-or-later
"""Drawings of the sheets, as SVG in lines alone: an arrow for every heading, and where the art sits in the frame."""

from collections.abc import Iterable

# Each in a box of 20 × 20, strokes only, so that no font has to have them. A bar is what a height goes from or to: the
# bed below, or the lens above. The two of a lens draw apart or together; focus goes away from the lens, or to it.
ARROWS = {
    "east": "M2 10H17M11 4L17 10L11 16",
    "west": "M18 10H3M9 4L3 10L9 16",
    "north": "M10 18V3M4 9L10 3L16 9",
    "south": "M10 2V17M4 11L10 17L16 11",
    "up": "M3 18H17M10 15V2M5 7L10 2L15 7",
    "down": "M3 18H17M10 2V15M5 10L10 15L15 10",
    "clockwise": "M4 13A7 7 0 1 1 16 13M16.5 6.5L16 13L10 11.5",
    "counter-clockwise": "M16 13A7 7 0 1 0 4 13M3.5 6.5L4 13L10 11.5",
    "longer": "M8 10H1M12 10H19M4 6L1 10L4 14M16 6L19 10L16 14",
    "shorter": "M1 10H8M19 10H12M5 6L8 10L5 14M15 6L12 10L15 14",
    "farther": "M3 2H17M10 5V18M5 13L10 18L15 13",
    "nearer": "M3 2H17M10 18V5M5 10L10 5L15 10",
}
# The frame is drawn so wide, with room about it for art that reaches beyond.
_WIDE, _ROOM = 100.0, 22.0
# A centre farther out is drawn at the edge of the drawing.
_INSET = 3.0


def arrow_symbols() -> str:
    """Return all arrows as symbols of one hidden drawing, to be used by the id `to-` and the heading."""
    symbols = "".join(
        f'<symbol id="to-{word}" viewBox="0 0 20 20"><path d="{path}"/></symbol>' for word, path in ARROWS.items()
    )
    return f'<svg class="symbols" width="0" height="0" aria-hidden="true">{symbols}</svg>'


def place_in_frame(outline: Iterable[tuple[float, float]], *, aspect: float) -> str:
    """Return a drawing of the frame, the outline of the art in it, and a cross where the art's centre is.

    ``outline`` is the four corners and then the centre, from the middle of the frame, in its widths and heights, up
    and right. ``aspect`` is the width of the frame over its height, as the eye has it.
    """
    high = _WIDE / aspect
    left, top = _WIDE / 2 + _ROOM, high / 2 + _ROOM
    *corners, (x, y) = [(left + u * _WIDE, top - v * high) for u, v in outline]
    width, height = _WIDE + 2 * _ROOM, high + 2 * _ROOM
    x = min(max(x, _INSET), width - _INSET)
    y = min(max(y, _INSET), height - _INSET)
    points = " ".join(f"{a:.2f},{b:.2f}" for a, b in corners)
    return (
        f'<svg class="place" viewBox="0 0 {width:g} {height:.2f}" role="img"'
        ' aria-label="Where the art sits in the frame on the first frame">'
        f'<polygon class="art" points="{points}"/>'
        f'<rect class="frame" x="{_ROOM:g}" y="{_ROOM:g}" width="{_WIDE:g}" height="{high:.2f}"/>'
        f'<path class="middle" d="M{left - 3:g} {top:.2f}h6M{left:g} {top - 3:.2f}v6"/>'
        f'<circle class="centre" cx="{x:.2f}" cy="{y:.2f}" r="2.2"/>'
        f'<path class="cross" d="M{x - 7:.2f} {y:.2f}h14M{x:.2f} {y - 7:.2f}v14"/></svg>'
    )
