# SPDX-License-Identifier: GPL-3.0-or-later
"""How sharp the lens draws what it is not focused on: the blur circle on the film, and from where to where it is small.

Thin lens, geometrical optics; every length in one and the same unit, distances from the lens. Nothing is left out for
near distances, so the forms hold on a stand; diffraction is another matter.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .thin_lens import image_distance

Floats = NDArray[np.float64]


def blur_circle(distance: ArrayLike, *, focal: ArrayLike, focus: ArrayLike, f_stop: ArrayLike) -> Floats:
    """Return the diameter on the film of the image of a point at ``distance``: (f/N)·v·|1/u − 1/d|.

    f/N is the lens's opening, v the image distance for ``focus`` u (inf allowed, ``u > f``). By similar triangles
    behind the lens, with 1/f = 1/u + 1/v put in. Arrays broadcast.
    """
    f, u, d = (np.asarray(length, dtype=np.float64) for length in (focal, focus, distance))
    opening = f / np.asarray(f_stop, dtype=np.float64)
    return np.asarray(opening * image_distance(f, focus=u) * np.abs(1.0 / u - 1.0 / d))


def hyperfocal(focal: ArrayLike, *, f_stop: ArrayLike, circle: ArrayLike) -> Floats:
    """Return H = f²/(N·c), the short form of the handbooks: `near_limit` and `far_limit` are exact with it."""
    f = np.asarray(focal, dtype=np.float64)
    return np.asarray(f**2 / (np.asarray(f_stop, dtype=np.float64) * np.asarray(circle, dtype=np.float64)))


def near_limit(focus: ArrayLike, *, focal: ArrayLike, f_stop: ArrayLike, circle: ArrayLike) -> Floats:
    """Return the nearest distance whose blur is no larger than ``circle``: H·u/(H + u − f), H at infinity."""
    u, f = np.asarray(focus, dtype=np.float64), np.asarray(focal, dtype=np.float64)
    h = hyperfocal(f, f_stop=f_stop, circle=circle)
    # divided by u, so that a lens at infinity needs no case of its own
    return np.asarray(h / (1.0 + (h - f) / u))


def far_limit(focus: ArrayLike, *, focal: ArrayLike, f_stop: ArrayLike, circle: ArrayLike) -> Floats:
    """Return the farthest distance whose blur is no larger than ``circle``: H·u/(H − (u − f)), or inf."""
    u, f = np.asarray(focus, dtype=np.float64), np.asarray(focal, dtype=np.float64)
    h = hyperfocal(f, f_stop=f_stop, circle=circle)
    with np.errstate(divide="ignore"):
        far = h / ((h + f) / u - 1.0)
    return np.asarray(np.where((h + f) / u > 1.0, far, np.inf))


def close_up_depth(magnification: ArrayLike, *, f_stop: ArrayLike, circle: ArrayLike) -> Floats:
    """Return how deep the sharp zone is in all, 2·c·N·(1 + m)/m²: what the limits come to when the lens is near.

    The form that handbooks print for close work; it takes the zone for symmetric, which it is not by some per cent.
    """
    m = np.asarray(magnification, dtype=np.float64)
    return np.asarray(2.0 * np.asarray(circle, np.float64) * np.asarray(f_stop, np.float64) * (1.0 + m) / m**2)
