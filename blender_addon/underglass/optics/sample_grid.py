# SPDX-License-Identifier: GPL-3.0-or-later
"""Grids: where in a frame a render of fewer pixels takes its samples.

A camera whose render has fewer pixels takes in the same field along the side that its sensor is fitted to; along the
other side it takes in whole pixels, and so up to one more or less than the frame has.
"""

import math
from dataclasses import dataclass

from .projection import Floats, pixel_centres

# Blender renders no smaller picture.
LEAST_SIDE = 4
# A division that comes out even up to the last bits is one.
ROOM = 1e-9


@dataclass(frozen=True)
class Grid:
    """A render of ``columns`` × ``rows`` px in the place of a frame of ``frame_px``, a sample every ``spacing`` px."""

    frame_px: tuple[int, int]
    columns: int
    rows: int
    spacing: float

    def centres(self) -> tuple[Floats, Floats]:
        """Return picture x (1, columns) and y (rows, 1, from the top) of the pixels' centres, px of the frame."""
        x, y = pixel_centres((self.columns, self.rows), spacing=self.spacing)
        return x[None, :], y[:, None]


def make_grid(frame_px: tuple[int, int], *, step: float, upright: bool = False, aspect: float = 1.0) -> Grid:
    """Return the grid whose samples lie ``step`` px apart, or a little less, so that they divide the fitted side.

    ``upright`` tells that the sensor is fitted to the frame's height; ``aspect`` is a pixel's width over its height.
    The other side never gets so many pixels that a sensor fitted to the longer side would be fitted to that one.
    """
    width, height = frame_px
    fitted, other = (height, width) if upright else (width, height)
    # The shorter side must not fall below what Blender renders.
    step = max(1.0, min(step, fitted / LEAST_SIDE, other / LEAST_SIDE))
    along = math.ceil(fitted / step)
    spacing = fitted / along
    across = math.ceil(other / spacing - ROOM)
    if upright and width * aspect < height:
        across = min(across, math.ceil(along / aspect - ROOM) - 1)
    elif not upright and height <= width * aspect:
        across = min(across, math.floor(along * aspect + ROOM))
    across = max(LEAST_SIDE, across)
    columns, rows = (across, along) if upright else (along, across)
    return Grid(frame_px, columns, rows, spacing)
