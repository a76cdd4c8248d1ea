"""Measuring: from the texture coordinates in rendered pixels to where the corners of a level's art are.

Only pixels go in; no plan, no scene. Picture coordinates are pixels from the frame's centre, x right, y up.
"""

from dataclasses import dataclass

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
# A level seen square on fits a linear map to the spread of the samples; several times that means it is tilted.
TILTED_ABOVE = 8.0
MOST_PIXELS_FOR_TILT = 40_000


@dataclass(frozen=True)
class Fit:
    """Where the corners of the art are, (4, 2) px in the order of CORNERS_UV, from ``pixels`` pixels.

    ``uncertainty_px`` is the expanded uncertainty (k = 2) of the worst corner; ``residual_px`` the RMS of the fit;
    ``tilted`` tells that a perspective map was needed, so that the level is not square to the lens.
    """

    corners: Floats
    uncertainty_px: float
    residual_px: float
    pixels: int
    tilted: bool


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
    if len(rows) < FEWEST_PIXELS or np.ptp(rows) < 2 or np.ptp(columns) < 2:
        return None
    x, y = columns_x[columns], rows_y[rows]
    coordinates = np.column_stack([u[rows, columns], v[rows, columns]]).astype(np.float64)
    # Spread and offset are taken out so that the normal equations are as good as any.
    middle, reach = np.array([x.mean(), y.mean()]), float(max(np.ptp(x), np.ptp(y)))
    basis = np.column_stack([np.ones(len(x)), (x - middle[0]) / reach, (y - middle[1]) / reach])
    inverse = np.linalg.inv(basis.T @ basis)
    linear = inverse @ (basis.T @ coordinates)
    variance = ((coordinates - basis @ linear) ** 2).sum(axis=0) / (len(x) - 3)
    to_px = np.linalg.inv(linear[1:].T)
    residual_px = float(np.sqrt((to_px**2 @ variance).sum())) * reach
    if not np.isfinite(residual_px):
        return None
    tilted = residual_px > TILTED_ABOVE * SAMPLE_SPREAD_PX * spacing
    corners = _tilted_corners(basis[:, 1:], coordinates) if tilted else (CORNERS_UV - linear[0]) @ to_px.T
    at_corners = np.column_stack([np.ones(4), corners])
    leverage = np.einsum("ci,ij,cj->c", at_corners, inverse, at_corners)
    spread = np.sqrt(leverage[:, None] * (to_px**2 @ variance)).max(axis=0) * reach
    uncertainty = _expanded(spread, to_px=to_px * reach, spacing=spacing)
    return Fit(corners * reach + middle, uncertainty, residual_px, len(x), tilted)


def _expanded(type_a: Floats, *, to_px: Floats, spacing: float) -> float:
    """Return U = k·√(A² + B²) of the worst direction; the half-widths of type B are divided by √3."""
    sampling = SAMPLE_SPREAD_PX * spacing / np.sqrt(3)
    rounding = UV_ROUNDING * np.abs(to_px).sum(axis=1) / np.sqrt(3)
    return float(COVERAGE_FACTOR * np.sqrt(type_a**2 + sampling**2 + rounding**2).max())


def _tilted_corners(places: Floats, coordinates: Floats) -> Floats:
    """Return the corners under a plane-to-plane perspective, (4, 2), by linear least squares.

    u·(1 + g·x + h·y) = a + b·x + c·y and the same for v with the same g, h (the usual direct linear form).
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
    a, b, c, d, e, f, g, h = np.linalg.lstsq(system, np.concatenate([u, v]), rcond=None)[0]
    uv_from_px = np.array([[b, c, a], [e, f, d], [g, h, 1.0]])
    px = np.column_stack([CORNERS_UV, np.ones(4)]) @ np.linalg.inv(uv_from_px).T
    return np.asarray(px[:, :2] / px[:, 2:])
