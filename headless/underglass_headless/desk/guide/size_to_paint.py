# SPDX-License-Identifier: GPL-3.0-or-later
"""What the lens sees of each level's art over the whole shot, and how large the art has to be for it.

Places on the art are metres from its centre, x right and y up as it is painted.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from underglass.plan import Plan, make_plan
from underglass.shot import EDGES, Level, Shot
from underglass.shot.units import METRES_PER_UNIT

from ..brief.brief import Brief

Floats = NDArray[np.float64]

# Art is sized up to the next of these in the shot's unit: what a ruler can be trusted to.
_RULER = {"in": 0.01, "cm": 0.01, "mm": 0.1}
# A stand-in for art that is still to be painted is lines and letters; it need not have all of the art's pixels.
MOST_STAND_IN_PX = 4000
_SIGN = {"left": -1, "right": 1, "bottom": -1, "top": 1}


@dataclass(frozen=True)
class Box:
    """An upright rectangle on the art."""

    left: float
    right: float
    bottom: float
    top: float

    @property
    def width(self) -> float:
        """Its width."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Its height."""
        return self.top - self.bottom

    def edge(self, name: str) -> float:
        """Return where the edge ``name`` (a word of EDGES) lies."""
        return float(getattr(self, name))


def frame_corners(plan: Plan, level: str) -> Floats:
    """Return the corners of the frame on the art of ``level``, (F, 4, 2): lower left, lower right, and so on round.

    The inverse of how a point of the art comes to the picture: x, y over k, turned by the camera, less the glass's own
    place and turn.
    """
    column, shot, tracks = plan.names.index(level), plan.shot, plan.tracks
    width, height = shot.camera.frame_px
    x, y = np.array([-1, 1, 1, -1]) * width / 2.0, np.array([-1, -1, 1, 1]) * height / (2.0 * shot.camera.squeeze)
    scale = plan.scale[:, column, None]
    east, north = _turned(x / scale, y / scale, tracks.camera["turn"][:, None])
    east = east + (tracks.camera["east"] - tracks.levels["east"][:, column])[:, None]
    north = north + (tracks.camera["north"] - tracks.levels["north"][:, column])[:, None]
    return np.stack(_turned(east, north, -tracks.levels["turn"][:, column, None]), axis=-1)


def _turned(x: Floats, y: Floats, angle: Floats) -> tuple[Floats, Floats]:
    cos, sin = np.cos(angle), np.sin(angle)
    return x * cos - y * sin, x * sin + y * cos


def seen_box(corners: Floats) -> Box:
    """Return the box around all frames, (F, 4, 2), on a level's art."""
    (left, bottom), (right, top) = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
    return Box(float(left), float(right), float(bottom), float(top))


def margins(level: Level, seen: Box, edges: tuple[str, ...]) -> dict[str, float]:
    """Return how far the art reaches beyond what is seen at each of ``edges``, m; below 0 it uncovers the edge."""
    half = {"left": level.art_width, "right": level.art_width, "bottom": level.art_height, "top": level.art_height}
    return {edge: half[edge] / 2.0 - _SIGN[edge] * seen.edge(edge) for edge in edges}


def needed_size(
    seen: Box, *, bleed: float, units: str, edges: tuple[str, ...] = EDGES, other: tuple[float, float] = (0.0, 0.0)
) -> tuple[float, float]:
    """Return the width and the height of art, centred where it sits, that covers ``seen`` with ``bleed``.

    Where it need not cover ``edges`` of a direction, that side is free, and is given as in ``other``.
    """
    half = {edge: _SIGN[edge] * seen.edge(edge) + bleed for edge in edges}
    width = max((half[edge] for edge in ("left", "right") if edge in half), default=None)
    height = max((half[edge] for edge in ("bottom", "top") if edge in half), default=None)
    return (
        other[0] if width is None else _up(2.0 * max(width, bleed), units),
        other[1] if height is None else _up(2.0 * max(height, bleed), units),
    )


def _up(metres: float, units: str) -> float:
    """Return a length rounded up to what a ruler shows."""
    step, unit = _RULER[units], METRES_PER_UNIT[units]
    count = math.ceil(metres / unit / step - 1e-6)
    return round(count * step, 4) * unit


def needed_px(size: tuple[float, float], *, density: float, squeeze: float) -> tuple[int, int]:
    """Return the pixels at which art of ``size`` (m) has at least one for each of the frame's, where it is nearest.

    ``density`` is the greatest k, px of the frame across for a metre; up and down a squeezed frame has more.
    """
    each = density * max(1.0, squeeze)
    width = max(1, math.ceil(size[0] * each - 1e-6))
    return width, max(1, math.ceil(width * size[1] / size[0] - 1e-6))


def sized(shot: Shot, *, brief: Brief) -> Shot:
    """Return the shot with the size of all art said: what the brief leaves open covers the frame on every frame.

    Art that is not painted yet gets the pixels that it needs.
    """
    blank = replace(shot, levels=tuple(_blank(level) for level in shot.levels))
    plan = make_plan(blank)
    return replace(shot, levels=tuple(_sized(plan, shot, level, brief) for level in shot.levels))


def _blank(level: Level) -> Level:
    """Return the level with some size where it has none yet: a plan of places needs one."""
    width = level.art_width if math.isfinite(level.art_width) else 1.0
    return replace(level, art_width=width, art_px=level.art_px if all(level.art_px) else (4, 3))


def _sized(plan: Plan, shot: Shot, level: Level, brief: Brief) -> Level:
    painted, said = all(level.art_px), math.isfinite(level.art_width)
    if painted and said:
        return level
    seen = seen_box(frame_corners(plan, level.name))
    width, height = needed_size(seen, bleed=brief.paint.bleed, units=shot.units)
    if painted:
        aspect = level.art_px[0] / level.art_px[1]
        return replace(level, art_width=max(width, _up(height * aspect, shot.units)))
    if said:
        # A thing on its own glass is as high as the frame is to its width; what covers is as high as what is seen.
        frame = shot.camera.frame_px
        free = level.art_width, level.art_width * frame[1] / frame[0]
        edges = shot.edges_to_cover(level)
        height = needed_size(seen, bleed=brief.paint.bleed, units=shot.units, edges=edges, other=free)[1]
        width = level.art_width
    density = float(plan.scale[:, plan.names.index(level.name)].max())
    pixels = needed_px((width, height), density=density, squeeze=shot.camera.squeeze)
    across = min(pixels[0], int(MOST_STAND_IN_PX * min(1.0, width / height)))
    return replace(level, art_width=width, art_px=(across, max(1, math.ceil(across * height / width - 1e-6))))
