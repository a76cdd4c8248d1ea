# SPDX-License-Identifier: GPL-3.0-or-later
"""The art of a shot as something to look into at places of its own, light and alpha, for registering frames."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underglass.plan import Plan

from .art_shown import Singles, art_shown, read_art
from .kept_art import Kept
from .register_levels import Art

Floats = NDArray[np.float64]
# So many images are kept at once.
MOST_KEPT = 32


@dataclass
class Painted:
    """Art by file and by how many times it was made smaller; read when it is first asked for."""

    plan: Plan
    images: Kept[tuple[Path, int], Singles] = field(default_factory=lambda: Kept(MOST_KEPT))

    def arts(self, frame: int, *, mattes: bool) -> Sequence[Art | None]:
        """Return what each level shows on ``frame``: its light, or with ``mattes`` its alpha in a channel of its own.

        Raises UnderglassError for art that cannot be read.
        """
        return [self._art(frame, number, mattes) for number in range(len(self.plan.names))]

    def _art(self, frame: int, number: int, mattes: bool) -> Art | None:
        plan, row = self.plan, frame - int(self.plan.frames[0])
        path = art_shown(plan, row, number)
        if path is None:
            return None
        smaller = max(1, int(plan.shot.levels[number].art_px[0] / float(plan.size_px[row, number])))
        image = self._image(path, smaller)
        count = len(plan.names)

        def look(u: Floats, v: Floats) -> tuple[Floats, Floats]:
            rgba = _between(image, u, v)
            if not mattes:
                return rgba[:, :3], rgba[:, 3]
            matte = np.zeros((len(u), count))
            matte[:, number] = rgba[:, 3]
            return matte, rgba[:, 3]

        return look

    def _image(self, path: Path, smaller: int) -> Singles:
        key = path, smaller
        return self.images.get(key, lambda: _smaller(read_art(path), smaller))


def _smaller(image: Singles, smaller: int) -> Singles:
    """Return an image made so many times smaller, by means over squares; as it is where it has too few pixels."""
    height, width = image.shape[0] // smaller * smaller, image.shape[1] // smaller * smaller
    if smaller == 1 or not height or not width:
        return image
    blocks = image[:height, :width].reshape(height // smaller, smaller, width // smaller, smaller, 4)
    means: Singles = blocks.mean(axis=(1, 3), dtype=np.float32)
    return means


def _between(image: Singles, u: Floats, v: Floats) -> Floats:
    """Return the image at places u, v between its pixels, (N, 4); clear beyond its edges."""
    height, width = image.shape[:2]
    x = np.clip(u * width - 0.5, 0, width - 1)
    y = np.clip((1 - v) * height - 0.5, 0, height - 1)
    left, top = x.astype(int), y.astype(int)
    right, bottom = np.minimum(left + 1, width - 1), np.minimum(top + 1, height - 1)
    across, down = (x - left)[:, None], (y - top)[:, None]
    upper = image[top, left] * (1 - across) + image[top, right] * across
    lower = image[bottom, left] * (1 - across) + image[bottom, right] * across
    inside = (u >= 0) & (u <= 1) & (v >= 0) & (v <= 1)
    return np.asarray((upper * (1 - down) + lower * down) * inside[:, None], dtype=np.float64)
