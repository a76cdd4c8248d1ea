# SPDX-License-Identifier: GPL-3.0-or-later
"""The thin lens: where it throws the image, how large, and the field it takes in.

Pure functions over numbers or arrays; every length in one and the same unit, angles in radians. What the stand does
with them is `projection`.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def image_distance(focal: ArrayLike, *, focus: ArrayLike) -> Floats:
    """Return v, the distance from lens to film when the lens is focused at ``focus``.

    v = f·u/(u − f), the Gaussian lens equation 1/f = 1/u + 1/v solved for v; v = f at infinity. Arrays broadcast.
    ``u <= f`` has no real image: NaN.
    """
    f = np.asarray(focal, dtype=np.float64)
    u = np.asarray(focus, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        v = f / (1.0 - f / u)
    return np.where(u > f, v, np.nan)


def focus_of(focal: ArrayLike, *, image: ArrayLike) -> Floats:
    """Return u, the distance that is sharp when the film sits ``image`` behind the lens (inverse of the above)."""
    f = np.asarray(focal, dtype=np.float64)
    v = np.asarray(image, dtype=np.float64)
    with np.errstate(divide="ignore"):
        return np.asarray(np.where(v > f, f / (1.0 - f / v), np.inf))


def magnification(focal: ArrayLike, *, focus: ArrayLike) -> Floats:
    """Return m = v/u = f/(u − f), the size of the image over the size of the thing; positive, 0 at infinity."""
    u = np.asarray(focus, dtype=np.float64)
    return np.asarray(image_distance(focal, focus=u) / u)


def lens_angle(gate: ArrayLike, *, image: ArrayLike) -> Floats:
    """Return the full angle of view across ``gate``: 2·atan(gate/(2·v)), v the image distance."""
    return 2.0 * np.arctan(np.asarray(gate, dtype=np.float64) / (2.0 * np.asarray(image, dtype=np.float64)))


def field_width(gate: ArrayLike, *, image: ArrayLike, distance: ArrayLike) -> Floats:
    """Return the width on a level at ``distance`` that fills ``gate``: gate·d/v, in focus or not."""
    return np.asarray(gate, dtype=np.float64) * np.asarray(distance, dtype=np.float64) / np.asarray(image, np.float64)


def marked_stop(f_stop: ArrayLike, *, focal: ArrayLike, image: ArrayLike) -> Floats:
    """Return N·v/f, the f-stop that a pinhole camera of length v needs for the lens's own aperture f/N."""
    return np.asarray(f_stop, dtype=np.float64) * np.asarray(image, np.float64) / np.asarray(focal, np.float64)
