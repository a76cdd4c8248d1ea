"""Measuring: from the texture coordinates in rendered pixels to where the corners of a level's art are.

Only pixels go in; no plan, no scene. Picture coordinates are pixels from the frame's centre, x right, y up.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CORNERS_UV = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])

# A plane has three numbers a coordinate; fewer pixels than this say nothing about how well they fit.
FEWEST_PIXELS = 12
# Samples lie within this of a pixel's centre (half the smallest filter that Cycles takes).
SAMPLE_SPREAD_PX = 0.005
# Half a last bit of a single-precision coordinate near 1.
UV_ROUNDING = 2.0**-25
COVERAGE_FACTOR = 2.0
# A level is tilted when a perspective map leaves less than this share of the variance that a linear one leaves; square
# on, the two leave the same. With fewer pixels two more numbers would fit the noise.
TILTED_BELOW = 0.8
FEWEST_FOR_TILT = 200
# With those few, only a scatter several times that of the samples says that the level is tilted.
SCATTERED_ABOVE = 8.0
MOST_PIXELS_FOR_TILT = 5_000
# Pixels along a line, or all but along one, say nothing of what lies across it.
MOST_SLENDER = 1e9
# Texture coordinates that run along a line, to single precision, do not span the art.
LEAST_SPAN = 1e-6


@dataclass(frozen=True)
class Fit:
    """Where the corners of the art are, (4, 2) px in the order of CORNERS_UV, from ``pixels`` pixels.

    ``uncertainty_px`` is the expanded uncertainty (k = 2) of the worst corner; ``residual_px`` the RMS of the fit;
    ``tilted`` tells that a perspective map was needed, so that the level is not square to the lens; ``area_px`` what
    those pixels cover. ``seen`` (4, 2) px are the corners of the box that they lie in, and ``seen_uncertainty_px`` is
    the expanded uncertainty there: of a level of which little shows, far less than at its own corners.
    """

    corners: Floats
    uncertainty_px: float
    residual_px: float
    pixels: int
    tilted: bool
    area_px: float = float("nan")
    seen: Floats | None = None
    seen_uncertainty_px: float = float("nan")


def fit_level(
    u: NDArray[np.float32],
    *,
    v: NDArray[np.float32],
    hit: NDArray[np.float32],
    columns_x: Floats,
    rows_y: Floats,
    spacing: float = 1.0,
) -> Fit | None:
    """Return the fit of one level's pass, or None where too few of its pixels are in the frame.

    ``u``, ``v``, ``hit`` (H, W); ``columns_x`` (W,), ``rows_y`` (H,) picture coordinates of the pixel centres;
    ``spacing`` pixels of the delivered frame between two centres. Ordinary least squares of u and v over the pixels
    that were hit. The uncertainty follows the GUM (JCGM 100): type A from the scatter about the fit, carried to the
    corners; type B, rectangular, for samples off the pixel's centre and for the rounding of the coordinates.
    """
    rows, columns = np.nonzero(hit > 0.5)
    return fit_points(u[rows, columns], v=v[rows, columns], x=columns_x[columns], y=rows_y[rows], spacing=spacing)


def fit_points(
    u: NDArray[Any],
    *,
    v: NDArray[Any],
    x: Floats,
    y: Floats,
    spacing: float = 1.0,
    sample_px: float = SAMPLE_SPREAD_PX,
    rounding: float | Floats = UV_ROUNDING,
    scatter_px: float | None = None,
) -> Fit | None:
    """Return the fit of one level by the coordinates ``u``, ``v`` (N,) at the places ``x``, ``y`` (N,) px.

    As `fit_level`; ``sample_px`` (of a pixel of the grid) and ``rounding``, of both coordinates or of each, are the
    half-widths of type B, and with ``scatter_px`` a fit that leaves no more than several times that is no tilt.
    """
    if len(x) < FEWEST_PIXELS or np.ptp(y) < 2 * spacing or np.ptp(x) < 2 * spacing:
        return None
    coordinates = np.column_stack([u, v]).astype(np.float64)
    # Spread and offset are taken out so that the normal equations are as good as any.
    middle, reach = np.array([x.mean(), y.mean()]), float(max(np.ptp(x), np.ptp(y)))
    basis = np.column_stack([np.ones(len(x)), (x - middle[0]) / reach, (y - middle[1]) / reach])
    normal = basis.T @ basis
    if np.linalg.cond(normal) > MOST_SLENDER:
        return None
    inverse = np.linalg.inv(normal)
    linear = inverse @ (basis.T @ coordinates)
    variance = ((coordinates - basis @ linear) ** 2).sum(axis=0) / (len(x) - 3)
    if abs(np.linalg.det(linear[1:])) <= LEAST_SPAN * float((linear[1:] ** 2).sum()):
        return None
    to_px = np.linalg.inv(linear[1:].T)
    residual_px = float(np.sqrt((to_px**2 @ variance).sum())) * reach
    if not np.isfinite(residual_px):
        return None
    corners = (CORNERS_UV - linear[0]) @ to_px.T
    expected = SAMPLE_SPREAD_PX * spacing if scatter_px is None else scatter_px
    scattered = residual_px > SCATTERED_ABOVE * expected
    tilted = False
    # What the samples explain is looked at no further. Of few pixels the scatter alone tells, where it is known.
    if scatter_px is None or (scattered and len(x) >= FEWEST_FOR_TILT):
        perspective, scatter = _perspective(basis[:, 1:], coordinates)
        tilted = scattered if len(x) < FEWEST_FOR_TILT else scatter < TILTED_BELOW * float(variance.sum())
        if tilted:
            corners = _corners_under(perspective)
    low, high = basis[:, 1:].min(axis=0), basis[:, 1:].max(axis=0)
    seen = low + CORNERS_UV * (high - low)

    def uncertainty_at(places: Floats) -> float:
        at = np.column_stack([np.ones(4), places])
        leverage = np.einsum("ci,ij,cj->c", at, inverse, at)
        spread = np.sqrt(leverage[:, None] * (to_px**2 @ variance)).max(axis=0) * reach
        reached = float(np.sqrt(leverage.max() * len(x)))
        return _expanded(spread, to_px=to_px * reach, sampling=sample_px * spacing, rounding=rounding, reached=reached)

    return Fit(
        corners * reach + middle,
        uncertainty_at(corners),
        residual_px,
        len(x),
        tilted,
        len(x) * spacing**2,
        seen * reach + middle,
        uncertainty_at(seen),
    )


def _expanded(type_a: Floats, *, to_px: Floats, sampling: float, rounding: float | Floats, reached: float) -> float:
    """Return U = k·√(A² + B²) of the two directions together; the half-widths of type B are divided by √3.

    Where the sample lies in its pixel shifts the whole picture and no more; how coordinates are rounded may change
    slowly over the frame, and then grows by ``reached``, how far out the corner lies by the spread of the pixels.
    """
    shift = sampling / np.sqrt(3)
    rounded = (np.abs(to_px) * rounding).sum(axis=1) / np.sqrt(3) * max(1.0, reached)
    return float(COVERAGE_FACTOR * np.sqrt((type_a**2 + shift**2 + rounded**2).sum()))


def _perspective(places: Floats, coordinates: Floats) -> tuple[Floats, float]:
    """Return the plane-to-plane perspective (3, 3) from place to coordinate, and the variance that it leaves.

    u·(1 + g·x + h·y) = a + b·x + c·y and the same for v with the same g, h (the usual direct linear form), by least
    squares over a part of the pixels.
    """
    every = max(1, len(places) // MOST_PIXELS_FOR_TILT)
    x, y = places[::every].T
    u, v = coordinates[::every].T
    one, none = np.ones_like(x), np.zeros_like(x)
    system = np.concatenate(
        [
            np.column_stack([one, x, y, none, none, none, -u * x, -u * y]),
            np.column_stack([none, none, none, one, x, y, -v * x, -v * y]),
        ]
    )
    wanted = np.concatenate([u, v])
    numbers = np.linalg.lstsq(system, wanted, rcond=None)[0]
    a, b, c, d, e, f, g, h = numbers
    variance = float(np.sum((wanted - system @ numbers) ** 2) / max(1, len(x) - 4))
    return np.array([[b, c, a], [e, f, d], [g, h, 1.0]]), variance


def _corners_under(uv_from_place: Floats) -> Floats:
    """Return the corners of the art, (4, 2), under a perspective map."""
    place = np.column_stack([CORNERS_UV, np.ones(4)]) @ np.linalg.inv(uv_from_place).T
    return np.asarray(place[:, :2] / place[:, 2:])
