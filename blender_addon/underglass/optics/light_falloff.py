# SPDX-License-Identifier: GPL-3.0-or-later
"""How much light arrives: on the film from a lens that is drawn out, and on a level from a lamp.

Ratios of light are also said in stops, each a doubling.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def close_up_factor(focal: ArrayLike, *, image: ArrayLike) -> Floats:
    """Return how many times more exposure a lens needs that is drawn out to ``image``: (v/f)² = (1 + m)²."""
    return np.asarray((np.asarray(image, dtype=np.float64) / np.asarray(focal, dtype=np.float64)) ** 2)


def working_stop(f_stop: ArrayLike, *, magnification: ArrayLike) -> Floats:
    """Return N·(1 + m), the f-stop that a lens marked N works at when it images at ``magnification`` m."""
    return np.asarray(np.asarray(f_stop, np.float64) * (1.0 + np.asarray(magnification, dtype=np.float64)))


def stops(ratio: ArrayLike) -> Floats:
    """Return a ratio of light in stops: its logarithm to the base of 2, -inf for none."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.log2(np.asarray(ratio, dtype=np.float64)))


def illuminance(height: ArrayLike, *, aside: ArrayLike, candela: ArrayLike) -> Floats:
    """Return the light on a flat level from a small lamp, in lux where lengths are metres: I·cos θ/r².

    ``height`` is how far the lamp is above the level, below 0 where it shines through from beneath; ``aside`` how far
    to the side of the point that is lit. The inverse square law with Lambert's cosine, cos θ = |height|/r.
    """
    up, side = np.asarray(height, dtype=np.float64), np.asarray(aside, dtype=np.float64)
    square = up**2 + side**2
    with np.errstate(divide="ignore", invalid="ignore"):
        light = np.asarray(candela, dtype=np.float64) * np.abs(up) / square**1.5
    # a lamp that lies in the very point
    return np.where(square > 0, light, np.inf)
