# SPDX-License-Identifier: GPL-3.0-or-later
"""From the stand to the picture: the one place where axes, pixel origin and half-pixel centres are written.

Stand: x east, y north, z up, the camera looks straight down. Picture: pixels of the delivered frame from its centre,
x right, y up; pixel (column c, row r from the top) has its centre at (c + 0.5 − W/2, H/2 − r − 0.5).

The gate's width is the frame's width; the frame's height follows from its pixels, which are square but for an
anamorphic lens: a squeeze of 2 takes in a field twice as wide, so a pixel stands for twice as much east–west.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

# Corners of the art in the order of its texture coordinates: lower left, lower right, upper right, upper left.
CORNERS_UV = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])


def px_per_metre(
    distance: ArrayLike, *, frame_width: int, gate_width: float, squeeze: float, image: ArrayLike
) -> Floats:
    """Return k = frame_px·v/(gate·squeeze·d): pixels across the frame per metre on a level at ``distance``.

    ``image`` is v; it is out by (1 + m) when the marked focal length is put in its place.
    """
    d = np.asarray(distance, dtype=np.float64)
    return np.asarray(frame_width * np.asarray(image, dtype=np.float64) / (gate_width * squeeze * d))


def px_per_metre_parallel(distance: ArrayLike, *, frame_width: int, field_width: float) -> Floats:
    """Return k for an orthographic camera: frame_px/field_width at every distance."""
    return np.full(np.shape(distance), frame_width / field_width)


def px_from_stand(
    east: ArrayLike, *, north: ArrayLike, camera_turn: ArrayLike, scale: ArrayLike, squeeze: float
) -> tuple[Floats, Floats]:
    """Return picture x and y of points ``east`` and ``north`` of the optical axis, in metres on a level.

    (x, y) = k·R(−θc)·(e, n), and y is stretched by the squeeze, since k counts the squeezed pixels across.
    Arrays broadcast; ``scale`` is k in px/m, ``camera_turn`` radians counter-clockwise seen from the lens.
    """
    e = np.asarray(east, dtype=np.float64)
    n = np.asarray(north, dtype=np.float64)
    k = np.asarray(scale, dtype=np.float64)
    cos, sin = np.cos(camera_turn), np.sin(camera_turn)
    return np.asarray(k * (cos * e + sin * n)), np.asarray(k * squeeze * (cos * n - sin * e))


def corner_offsets(width: ArrayLike, *, height: ArrayLike, turn: ArrayLike) -> tuple[Floats, Floats]:
    """Return how far east and north the four corners of turned art lie from its centre; a last axis of 4 is added.

    ``width`` and ``height`` in metres, ``turn`` radians; the order is that of CORNERS_UV.
    """
    half = CORNERS_UV - 0.5
    u = np.asarray(width, dtype=np.float64)[..., None] * half[:, 0]
    v = np.asarray(height, dtype=np.float64)[..., None] * half[:, 1]
    angle = np.asarray(turn, dtype=np.float64)[..., None]
    cos, sin = np.cos(angle), np.sin(angle)
    return u * cos - v * sin, u * sin + v * cos


def px_from_art(uv: Floats, *, corners: Floats) -> Floats:
    """Return the picture places (…, 2) px of the places ``uv`` (…, 2) on art whose ``corners`` (4, 2) px are in the
    order of CORNERS_UV; art on a level that lies flat is never seen in perspective.
    """
    return np.asarray(uv @ _sides(corners) + corners[0])


def art_from_px(places: Floats, *, corners: Floats) -> Floats:
    """Return where on the art, (…, 2) of its width and height, the picture ``places`` (…, 2) px lie; see px_from_art.

    Raises numpy's LinAlgError for corners on one line.
    """
    (a, b), (c, d) = _sides(corners)
    by = a * d - b * c
    if not by:
        raise np.linalg.LinAlgError("the corners lie on one line")
    # Cramer's rule: of so small a matrix it takes a tenth of what a library takes.
    return np.asarray((places - corners[0]) @ (np.array([(d, -b), (-c, a)]) / by))


def _sides(corners: Floats) -> Floats:
    return np.stack([corners[1] - corners[0], corners[3] - corners[0]])


def pixel_centres(size: tuple[int, int], *, spacing: float = 1.0) -> tuple[Floats, Floats]:
    """Return picture x of the columns and y of the rows (from the top) of a render of ``size``, width and height.

    ``spacing`` px of the frame lie from one pixel of the render to the next.
    """
    columns, rows = size
    x = (np.arange(columns) + 0.5 - columns / 2) * spacing
    y = (rows / 2 - np.arange(rows) - 0.5) * spacing
    return x, y
