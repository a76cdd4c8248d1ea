# SPDX-License-Identifier: GPL-3.0-or-later
"""What is certain of a level's paint at a place: opaque or clear all round it, whatever filter a renderer uses."""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underglass.shot import UnderglassError

from .art_blocks import with_those_round
from .art_shown import Singles, read_art
from .kept_art import Kept

Floats = NDArray[np.float64]
Marks = NDArray[np.uint8]

# Bits of what holds for a block of art and all blocks round it.
ALL_OPAQUE, ANY_OPAQUE, ANY_PAINT, ALL_BRIGHT = 1, 2, 4, 8
# Light of paint that no renderer would leave black.
BRIGHT = 0.01
MOST_BLOCK = 1024
# So much art is kept, a byte a block.
MOST_KEPT = 64


@dataclass(frozen=True)
class Blocks:
    """The bits of art in blocks of ``side`` pixels each way, ``marks`` (H, W), rows from the top.

    Of art that is clear all over no bit is there to be asked.
    """

    side: int
    marks: Marks
    holds_paint: bool = True

    def at(self, u: Floats, v: Floats, art_px: tuple[int, int]) -> Marks:
        """Return the bits at places ``u``, ``v`` (N,) of the art, or at its nearest edge."""
        rows, columns = self.marks.shape
        right = (u * (art_px[0] / self.side)).astype(np.int32).clip(0, columns - 1)
        down = ((1 - v) * (art_px[1] / self.side)).astype(np.int32).clip(0, rows - 1)
        return np.asarray(self.marks[down, right])


@dataclass
class Alphas:
    """The paint of art by file and size of block; art is read when it is first asked for."""

    _found: Kept[tuple[Path, int], Blocks | None] = field(default_factory=lambda: Kept(MOST_KEPT))

    def blocks(self, path: Path, room_px: float) -> Blocks | None:
        """Return the art's blocks; None where it cannot be read.

        What a bit says holds for all pixels of the art within ``room_px`` of it.
        """
        side = 1
        while side < min(room_px, MOST_BLOCK):
            side *= 2
        return self._found.get((path, side), lambda: _read(path, side))


def _read(path: Path, side: int) -> Blocks | None:
    try:
        marks = _marks(read_art(path), side)
        return Blocks(side, marks, bool(marks.any()))
    except UnderglassError:
        return None


def _marks(art: Singles, block: int) -> Marks:
    alpha, light = art[..., 3], art[..., :3].max(axis=-1)
    return np.asarray(
        ALL_OPAQUE * _pooled(alpha >= 1.0, block, every=True)
        + ANY_OPAQUE * _pooled(alpha >= 1.0, block, every=False)
        + ANY_PAINT * _pooled(alpha > 0.0, block, every=False)
        + ALL_BRIGHT * _pooled(light > BRIGHT, block, every=True),
        dtype=np.uint8,
    )


def _pooled(holds: NDArray[np.bool_], block: int, *, every: bool) -> NDArray[np.uint8]:
    """Return, for each block, whether something holds for every or for any pixel of it and of those round it."""
    pick = np.minimum if every else np.maximum
    values = holds.astype(np.uint8)
    for axis in (0, 1):
        starts = np.arange(0, values.shape[axis], block)
        values = pick.reduceat(values, starts, axis=axis)
    return with_those_round(np.asarray(values, dtype=np.uint8), pick)
