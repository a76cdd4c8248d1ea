# SPDX-License-Identifier: GPL-3.0-or-later
"""The facts of a painting guide: for each level what is seen of it, the size to paint, and the frames worth drawing."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.plan import Plan
from underglass.plan.findings.out_of_frame import overlaps
from underglass.plan.findings.seen_art import look
from underglass.shot import Level

from .size_to_paint import Box, frame_corners, margins, needed_px, needed_size, seen_box

Floats = NDArray[np.float64]

# Frames that reach no further than this part of the field beyond first and last are not drawn as extremes.
_BEYOND = 0.004
# Frames that lie as near to each other as this part of the field are one to the eye.
_SAME = 1e-6
_EXTREMES = {"left": "farthest left", "right": "farthest right", "bottom": "lowest", "top": "highest"}


@dataclass(frozen=True)
class Outline:
    """One frame as it lies on the art: its corners (4, 2), m from the art's centre; ``field`` is its width, m.

    ``what`` is why it is drawn; ``until`` is the last frame where it lies so from ``frame`` on.
    """

    frame: int
    until: int
    what: str
    corners: Floats
    field: float


@dataclass(frozen=True)
class Guide:
    """What the painter of one level needs to know; metres on the art.

    ``size`` is what covers all that is seen, with ``bleed``; ``pixels`` what it needs to have. ``margins`` says how
    far the art as it is reaches beyond what is seen at each edge that it must cover, ``density`` how many of its
    pixels a pixel of the frame gets at least, and ``nearest`` on which frame. ``centres`` (F, 2) is the frame's centre.
    ``never_in`` tells that none of the art is in the frame on any frame.
    """

    level: Level
    column: int
    seen: Box
    bleed: float
    size: tuple[float, float]
    pixels: tuple[int, int]
    margins: dict[str, float]
    density: float
    nearest: int
    outlines: tuple[Outline, ...]
    corners: Floats
    centres: Floats
    never_in: bool = False

    @property
    def apart(self) -> dict[str, float]:
        """On which sides of all that is seen the art lies, and how far beyond it, m; empty where the two meet."""
        across, up = self.level.art_width / 2.0, self.level.art_height / 2.0
        gaps = {
            "left of": self.seen.left - across,
            "right of": -across - self.seen.right,
            "below": self.seen.bottom - up,
            "above": -up - self.seen.top,
        }
        return {side: gap for side, gap in gaps.items() if gap > 0}

    @property
    def uncovered(self) -> dict[str, float]:
        """Edges at which the art ends within the frame, and by how much, m."""
        return {edge: -margin for edge, margin in self.margins.items() if margin < 0}


def guides_of(plan: Plan, *, bleed: float) -> list[Guide]:
    """Return the guide of every level, nearest the lens first."""
    ever_in = overlaps(plan, look(plan)).any(axis=0)
    return [_guide(plan, column, bleed, never_in=not ever_in[column]) for column in range(len(plan.names))]


def _guide(plan: Plan, column: int, bleed: float, *, never_in: bool) -> Guide:
    shot, level = plan.shot, plan.shot.levels[column]
    corners = frame_corners(plan, level.name)
    seen = seen_box(corners)
    edges = shot.edges_to_cover(level)
    # A thing on its own glass covers nothing: it is painted to the size that the shot says.
    mine = level.art_width, level.art_height
    size = needed_size(seen, bleed=bleed, units=shot.units, edges=edges, other=mine)
    scale = plan.scale[:, column]
    nearest = int(np.argmax(scale >= scale.max() * (1.0 - _SAME)))
    squeeze = shot.camera.squeeze
    return Guide(
        level=level,
        column=column,
        seen=seen,
        bleed=bleed,
        size=size,
        pixels=needed_px(size, density=float(scale[nearest]), squeeze=squeeze),
        margins=margins(level, seen, edges),
        density=level.art_px[0] / (level.art_width * float(scale[nearest]) * max(1.0, squeeze)),
        nearest=int(plan.frames[nearest]),
        outlines=_outlines(plan, column, corners),
        corners=corners,
        centres=corners.mean(axis=1),
        never_in=never_in,
    )


def _outlines(plan: Plan, column: int, corners: Floats) -> tuple[Outline, ...]:
    """Return first and last frame, and those that reach beyond both; one for all where the art rides with the lens."""
    last = len(plan.frames) - 1
    picked = {0: "first", last: "last"}
    fields = np.linalg.norm(corners[:, 1] - corners[:, 0], axis=-1)
    if float(np.ptp(corners, axis=0).max()) < _SAME * fields[0]:
        return (Outline(int(plan.frames[0]), int(plan.frames[-1]), "the whole shot", corners[0], float(fields[0])),)
    low, high = corners.min(axis=1), corners.max(axis=1)
    reach = {"left": -low[:, 0], "right": high[:, 0], "bottom": -low[:, 1], "top": high[:, 1]}
    for edge, distances in reach.items():
        row = int(distances.argmax())
        if distances[row] > max(distances[0], distances[last]) + _BEYOND * fields[row]:
            picked[row] = f"{picked[row]}, {_EXTREMES[edge]}" if row in picked else _EXTREMES[edge]
    row = int(fields.argmin())
    if fields[row] < min(fields[0], fields[last]) * (1 - _BEYOND):
        picked[row] = f"{picked[row]}, nearest" if row in picked else "nearest"
    return tuple(
        Outline(int(plan.frames[row]), int(plan.frames[row]), what, corners[row], float(fields[row]))
        for row, what in sorted(picked.items())
    )
