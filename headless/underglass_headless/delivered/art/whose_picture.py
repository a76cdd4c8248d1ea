# SPDX-License-Identifier: GPL-3.0-or-later
"""Whose picture: of which of two frames of the plan a picture is, told by the art where the two differ."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .register_levels import Art, layer_at, looked_at

Floats = NDArray[np.float64]
Arts = Sequence[Art | None]

BLOCK = 2
# Where the two frames differ by this much light they are compared, at no fewer places.
LEAST_LIGHT = 0.01
FEWEST_PLACES = 60
# The picture is of the frame from which it differs this many times less than from the other.
TIMES_NEARER = 2.0


def nearer_picture(
    picture: NDArray[np.float32],
    *,
    corners: tuple[Floats, Floats],
    arts: tuple[Sequence[Art | None], Sequence[Art | None]],
) -> int | None:
    """Return 0 or 1: whether ``picture`` (H, W, 3) shows the art at the first ``corners`` (L, 4, 2) px or the second.

    None where the two hardly differ, or it shows neither.
    """
    seen, places = looked_at(picture, BLOCK)
    first, second = (
        _planned(one, at.astype(np.float64), places, picture.shape[2]) for one, at in zip(arts, corners, strict=True)
    )
    apart = np.abs(first - second).max(axis=1)
    told = apart > LEAST_LIGHT
    if told.sum() < FEWEST_PLACES:
        return None
    out = [float(np.mean(np.abs(seen - planned).max(axis=1)[told])) for planned in (first, second)]
    near = int(np.argmin(out))
    if out[near] * TIMES_NEARER > out[1 - near] or out[near] > float(np.mean(apart[told])):
        return None
    return near


def _planned(arts: Arts, corners: Floats, places: Floats, depth: int) -> Floats:
    """Return what the art shows at places, (N, D), the levels laid over one another, nearest the lens first."""
    light = np.zeros((len(places), depth))
    for number in reversed(range(len(arts))):
        if arts[number] is not None:
            layer = layer_at(arts[number], corners[number], places, BLOCK)
            light = layer.light + (1 - layer.alpha)[:, None] * light
    return light
