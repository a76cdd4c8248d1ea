"""What is certain of a level's paint at a place: opaque or clear all round it, whatever filter a renderer uses."""

import threading
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underglass.shot import UnderglassError

from .art import Singles, read_art

Marks = NDArray[np.uint8]

# Bits of what holds for a block of art and all blocks round it.
ALL_OPAQUE, ANY_OPAQUE, ANY_PAINT, ALL_BRIGHT = 1, 2, 4, 8
# Light of paint that no renderer would leave black.
BRIGHT = 0.01
MOST_BLOCK = 1024
# So much art is kept, a byte a block: frames come in order, and of many drawings the oldest has been seen enough.
MOST_KEPT = 64


@dataclass
class Alphas:
    """The paint of art by file and size of block; art is read when it is first asked for, by one thread."""

    _found: dict[tuple[Path, int], Marks | None] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def marks(self, path: Path, room_px: float) -> Marks | None:
        """Return the bits of the art's blocks, rows from the top; None where it cannot be read.

        What a bit says holds for all pixels of the art within ``room_px`` of it.
        """
        block = 1
        while block < min(room_px, MOST_BLOCK):
            block *= 2
        with self._lock:
            if (path, block) not in self._found:
                if len(self._found) >= MOST_KEPT:
                    del self._found[next(iter(self._found))]
                self._found[path, block] = _read(path, block)
            return self._found[path, block]


def _read(path: Path, block: int) -> Marks | None:
    try:
        return _marks(read_art(path), block)
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
        padded = np.pad(values, [(1, 1) if along == axis else (0, 0) for along in (0, 1)], mode="edge")
        count = values.shape[axis]
        parts = [padded.take(range(at, at + count), axis) for at in range(3)]
        values = pick(pick(parts[0], parts[1]), parts[2])
    return np.asarray(values, dtype=np.uint8)
