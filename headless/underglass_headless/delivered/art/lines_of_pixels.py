# SPDX-License-Identifier: GPL-3.0-or-later
"""Lines of pixels across and down a frame, on which a large one is looked at.

A hole of some pixels' width and a single lost row are both met, without a look at every pixel.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

# A frame of more pixels than these is looked at on lines.
MOST_LOOKED_AT = 50_000
# Lines lie no farther apart than this, px: what renderers leave out are tiles of 32 px or more.
FARTHEST_APART = 32
# Down the frame fewer lines than across it: what a file loses, it loses in rows.
MORE_ACROSS = 4


@dataclass(frozen=True)
class Lines:
    """Places of the frame that are looked at: ``rows``, ``columns`` (N,) of the pixels, ``weight`` (N,) their area.

    They are those of the rows ``across`` a frame of ``size``, and then those of the columns ``down`` it, one by one.
    """

    rows: NDArray[np.int64]
    columns: NDArray[np.int64]
    weight: Floats
    size: tuple[int, int]
    across: NDArray[np.int64]
    down: NDArray[np.int64]

    @classmethod
    def of(cls, size: tuple[int, int]) -> "Lines":
        """Return all pixels of a small frame; of a large one whole rows and whole columns, the outermost among them."""
        width, height = size
        every = min(FARTHEST_APART, max(1, int(np.ceil(width * height / MOST_LOOKED_AT))))
        if every == 1:
            rows, columns = (place.reshape(-1) for place in np.mgrid[0:height, 0:width])
            return cls(rows, columns, np.ones(len(rows)), size, np.arange(height), np.arange(0))
        across, down = _lines(height, every), _lines(width, MORE_ACROSS * every)
        rows = np.concatenate([np.repeat(across, width), np.tile(np.arange(height), len(down))])
        columns = np.concatenate([np.tile(np.arange(width), len(across)), np.repeat(down, height)])
        # Both sets of lines see the whole frame, each a half of what is said.
        count = len(across) * width, len(down) * height
        weight = np.concatenate([np.full(number, width * height / number / 2) for number in count])
        return cls(rows, columns, weight, size, across, down)

    def values(self, pixels: NDArray[Any], left: int, top: int) -> tuple[NDArray[Any], Mask]:
        """Return the values at the places, 0 where the file holds none, and where it holds some.

        ``left`` and ``top`` tell where the first of the ``pixels`` (H, W) lies in the frame.
        """
        (height, width), (wide, high) = pixels.shape, self.size
        if left <= 0 and top <= 0 and left + width >= wide and top + height >= high:
            # Whole rows are taken far sooner than so many pixels one by one.
            whole = pixels[-top : high - top, -left : wide - left]
            found = np.concatenate([whole[self.across].reshape(-1), whole[:, self.down].T.reshape(-1)])
            return found, np.ones(len(found), dtype=bool)
        rows, columns = self.rows - top, self.columns - left
        known = (rows >= 0) & (rows < height) & (columns >= 0) & (columns < width)
        places = rows.clip(0, height - 1) * width + columns.clip(0, width - 1)
        return np.where(known, pixels.reshape(-1).take(places), 0.0), known


def _lines(count: int, every: int) -> NDArray[np.int64]:
    """Return rows, or columns, about ``every`` so many apart, the first and the last among them."""
    return np.unique(np.linspace(0, count - 1, max(2, int(np.ceil(count / every)) + 1)).astype(np.int64))
