# SPDX-License-Identifier: GPL-3.0-or-later
"""What the pixels of one frame hold at some hundred places of each level: the picture's light, and where on the art."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...exr.read_exr import ExrFile
from ..files.pass_fits import FULL, LevelPass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Places across and up at which a level is looked at.
PLACES = (28, 21)
# Nearer to the picture's edge a filter has nothing to take in on one side, and EEVEE draws what is there weaker.
EDGE_PX = 3


@dataclass(frozen=True)
class Sample:
    """What pixels hold at ``places`` (N, 2) px from the middle of the frame, y up: ``light`` (N, 3).

    By the level's proof pass ``u`` and ``v`` (N,), none where the level does not fill the pixel; None without a pass.
    """

    places: Floats
    light: Floats
    u: Floats | None = None
    v: Floats | None = None

    def only(self, chosen: NDArray[np.bool_]) -> "Sample":
        """Return the ``chosen`` (N,) of the places."""
        u, v = (None if values is None else values[chosen] for values in (self.u, self.v))
        return Sample(self.places[chosen], self.light[chosen], u, v)


def pixels_to_look_at(corners: Floats, frame_px: tuple[int, int]) -> dict[int, tuple[Ints, Ints]]:
    """Return rows and columns of the frame's pixels at which each level is looked at, by its number.

    ``corners`` (L, 4, 2) px is where the levels are planned.
    """
    found = {}
    middle = np.array(frame_px) / 2
    inner = np.maximum(middle - EDGE_PX, 0.0)
    for number, box in enumerate(corners):
        low, high = (np.clip(by(box, axis=0), -inner, inner) for by in (np.min, np.max))
        if (high - low).min() <= 1.0:
            continue
        x, y = (
            np.unique((low[axis] + (np.arange(PLACES[axis]) + 0.5) / PLACES[axis] * (high - low)[axis]).astype(int))
            for axis in (0, 1)
        )
        columns, rows = np.meshgrid(x + frame_px[0] // 2, frame_px[1] // 2 - 1 - y)
        found[number] = np.clip(rows.ravel(), 0, frame_px[1] - 1), np.clip(columns.ravel(), 0, frame_px[0] - 1)
    return found


def take_samples(
    exr: ExrFile, picture: Sequence[str], passes: Mapping[int, LevelPass], pixels: Mapping[int, tuple[Ints, Ints]]
) -> dict[int, Sample]:
    """Return what the file holds at the ``pixels`` of each level.

    ``picture`` names the picture's channels.
    """
    if len(picture) < 3:
        return {}
    first = exr.channels[picture[0]]
    height, width = first.pixels.shape
    found = {}
    for number, (rows, columns) in pixels.items():
        down, across = rows - first.top, columns - first.left
        inside = (down >= EDGE_PX) & (down < height - EDGE_PX) & (across >= EDGE_PX) & (across < width - EDGE_PX)
        made = passes.get(number)
        if passes and made is None:
            continue
        u = v = None
        if made is not None:
            own_down, own_across = rows - made.top, columns - made.left
            inside &= (own_down >= 0) & (own_down < made.hit.shape[0])
            inside &= (own_across >= 0) & (own_across < made.hit.shape[1])
            at = own_down[inside], own_across[inside]
            hit = made.hit[at].astype(np.float64)
            hit[hit < FULL] = np.nan
            u, v = (values[at].astype(np.float64) / hit for values in (made.u, made.v))
        down, across = down[inside], across[inside]
        light = np.stack([exr.channels[name].pixels[down, across].astype(np.float64) for name in picture[:3]], axis=1)
        x = across + first.left + 0.5 - exr.size[0] / 2
        y = exr.size[1] / 2 - down - first.top - 0.5
        found[number] = Sample(np.stack([x, y], axis=1), light, u, v)
    return found
