# SPDX-License-Identifier: GPL-3.0-or-later
"""Pixels of art: the port through which they are read and written, and painting one layer over another.

Decoding is somebody else's: Blender does it in a window, an image library on the command line.
"""

from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Singles = NDArray[np.float32]
Painted = Bytes | Singles


class Pixels(Protocol):
    """Who decodes and encodes images. Arrays are (H, W, 4), top row first, RGBA, alpha not multiplied into the colours:
    uint8, or float32 from 0 to 1 where the file has more than 8 bits. Colours are as the file has them, undecoded.
    """

    def read(self, path: Path) -> Painted:
        """Return the pixels of the PNG, TIFF or EXR file at ``path``; raises ShotError where it has none."""

    def write(self, path: Path, array: Painted) -> None:
        """Write a new PNG file at ``path``: 8 bits a channel from uint8, 16 from float32."""


def fade(array: Painted, *, opacity: float) -> Painted:
    """Return pixels with ``opacity``, 0 to 1, painted into their alpha."""
    faded = array.copy()
    if array.dtype == np.uint8:
        faded[..., 3] = np.rint(array[..., 3] * opacity)
    else:
        faded[..., 3] *= np.float32(opacity)
    return faded


def paint_over(sheet: Singles, above: Singles, *, left: int, top: int, opacity: float) -> None:
    """Paint ``above`` over ``sheet``, within which it must lie; both (H, W, 4), colours multiplied by their alpha.

    Source over, on the colours as the file has them, as painting programs do. Source: W3C Compositing and Blending
    Level 1, section 9.1.4: co = cs·αs + cb·αb·(1 − αs), αo = αs + αb·(1 − αs).
    """
    height, width = above.shape[:2]
    below = sheet[top : top + height, left : left + width]
    below *= 1 - above[..., 3:] * np.float32(opacity)
    below += above * np.float32(opacity)


def premultiplied(array: Painted) -> Singles:
    """Return pixels as float32 with the alpha multiplied into the colours."""
    singles = array.astype(np.float32)
    if array.dtype == np.uint8:
        singles /= 255
    singles[..., :3] *= singles[..., 3:]
    return singles


def straight(sheet: Singles, *, as_bytes: bool) -> Painted:
    """Return a sheet with its colours divided by its alpha, black where it is clear; rounded to uint8 on demand."""
    alpha = sheet[..., 3:]
    colours = np.divide(sheet[..., :3], alpha, out=np.zeros_like(sheet[..., :3]), where=alpha > 0)
    array: Singles = np.concatenate([np.clip(colours, 0, 1), np.clip(alpha, 0, 1)], axis=-1)
    return np.rint(array * 255).astype(np.uint8) if as_bytes else array
