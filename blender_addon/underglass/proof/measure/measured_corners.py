# SPDX-License-Identifier: GPL-3.0-or-later
"""Measuring: from the texture coordinates in rendered pixels to where the corners of a level's art are.

Only pixels go in; no plan, no scene. Picture coordinates are pixels from the frame's centre, x right, y up.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

CORNERS_UV = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])

# A plane has three numbers a coordinate; fewer pixels than this say nothing about how well they fit.
FEWEST_PIXELS = 12
# Where nothing tells it, samples lie within this of a pixel's centre (half the smallest filter that Cycles takes).
SAMPLE_SPREAD_PX = 0.005
# Half a last bit of a single-precision coordinate near 1.
UV_ROUNDING = 2.0**-25
COVERAGE_FACTOR = 2.0
# A coordinate that moves by so many half-widths of its rounding from one sample to the next is rounded anew in each.
ROUNDED_ANEW = 8.0
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
# A sample that met a surface once has a mark of 1, to the last bits; one that met it twice has 2.
ONCE = 1e-3
# A sample is strange when it is farther from the fit than so many times the scatter of the others: in a normal
# distribution not one in 10²⁰ is.
STRANGE_ABOVE = 10.0
# Where all others fit far better than samples are expected to, it is by so many times that.
STRANGE_ABOVE_EXPECTED = 40.0
# The median of distances in two directions over their scatter in one (Rayleigh distribution, √(2·ln 2)).
MEDIAN_OF_DISTANCE = 1.1774
# Strange samples are set aside while they are no more than this share, or of few samples no more than so many: more are
# the shape of the level itself.
MOST_SET_ASIDE = 0.01
FEW_SET_ASIDE = 3
ONE_IN_SET_ASIDE = 10
MOST_ROUNDS = 10
# A coordinate this far from the middle of the art, in its sides, is of no place on it.
FAR_OFF_THE_ART = 2.0
# More pixels than these tell no more of a plane.
MOST_FITTED = 20_000
# A sample this near an edge of the art, in px of the frame and in its own scatter, may lie on either side of it.
EDGE_ROOM_PX = 0.05
EDGE_ROOM_SCATTERS = 8.0


@dataclass(frozen=True)
class Rounding:
    """How far single precision may displace what is rendered: half-widths, px.

    A place ``r`` px from the frame's centre by ``base_px + growth · r``.
    """

    base_px: float = 0.0
    growth: float = 0.0

    def at(self, places: Floats) -> float:
        """Return the largest half-width at ``places`` (N, 2) px."""
        return self.base_px + self.growth * float(np.linalg.norm(places, axis=1).max())


@dataclass(frozen=True)
class Fit:
    """Where the corners of the art are, (4, 2) px in the order of CORNERS_UV, from ``pixels`` pixels.

    ``uncertainty_px`` is the expanded uncertainty (k = 2) of the worst corner; ``residual_px`` the RMS of the fit;
    ``tilted`` tells that a perspective map was needed, so that the level is not square to the lens; ``area_px`` what
    those pixels cover. ``seen`` (4, 2) px are the corners of the box that they lie in, and ``seen_uncertainty_px`` is
    the expanded uncertainty there: of a level of which little shows, far less than at its own corners.

    ``best_px`` is what either uncertainty could come to with many samples, where the same pixels show the level;
    0 where that is not asked. ``unsaid_samples`` tells that it is less certain, since the file does not say how many
    samples its pixels had.

    ``worst_px`` is how far the farthest pixel lies from the fit. Of pixels that are not as the rest, ``strange`` were
    set aside, the farthest by ``strange_px``; ``doubled`` met two surfaces of the level; ``missing`` lie inside the art
    and show nothing of it.
    """

    corners: Floats
    uncertainty_px: float
    residual_px: float
    pixels: int
    tilted: bool
    area_px: float = float("nan")
    seen: Floats | None = None
    seen_uncertainty_px: float = float("nan")
    worst_px: float = 0.0
    strange: int = 0
    strange_px: float = 0.0
    doubled: int = 0
    missing: int = 0
    best_px: float = 0.0
    unsaid_samples: bool = False


def fit_level(
    u: NDArray[np.float32],
    *,
    v: NDArray[np.float32],
    hit: NDArray[np.float32],
    x: Floats,
    y: Floats,
    spacing: float = 1.0,
    sample_px: float = SAMPLE_SPREAD_PX,
    scatter_px: float | None = None,
    roundings: tuple[Rounding, ...] = (),
) -> Fit | None:
    """Return the fit of one level's pass, or None where too few of its pixels are in the frame.

    ``u``, ``v``, ``hit`` (H, W); ``x``, ``y`` (H, W), or what broadcasts to it, are the picture coordinates of the
    samples, NaN where they are not known; ``spacing`` px of the delivered frame lie between two pixels. Ordinary least
    squares of u and v over the pixels that were met once. The uncertainty follows the GUM (JCGM 100): type A from the
    scatter about the fit, carried to the corners; type B, rectangular, for samples that lie off their places by up to
    ``sample_px`` of the grid, for the rounding of the coordinates and for that of the geometry, ``roundings``.
    """
    x, y = np.broadcast_to(x, hit.shape), np.broadcast_to(y, hit.shape)
    known = np.isfinite(x) & np.isfinite(y)
    met = (hit > 0.5) & known
    once = met & (np.abs(hit - 1.0) < ONCE)
    # Of a level that is there twice all over, the middle of both is better than nothing.
    chosen = once if 2 * once.sum() >= met.sum() else met
    fit = fit_points(
        u[chosen] / hit[chosen],
        v=v[chosen] / hit[chosen],
        x=x[chosen],
        y=y[chosen],
        spacing=spacing,
        sample_px=sample_px,
        scatter_px=scatter_px,
        roundings=roundings,
        evens_out=True,
    )
    if fit is None:
        return None
    missing = _inside(fit, x, y) & known & ~met
    twice = met & ~once
    apart = _apart(fit, u[twice] / hit[twice], v[twice] / hit[twice], x[twice], y[twice])
    # On a seam both surfaces are one; two that lie in different places do not fit with their middle.
    seam = apart <= STRANGE_ABOVE * max(fit.worst_px, fit.residual_px) + EDGE_ROOM_PX
    return replace(
        fit,
        doubled=int(seam.sum()),
        missing=int(missing.sum()),
        strange=fit.strange + int((~seam).sum()),
        strange_px=max(fit.strange_px, float(apart[~seam].max(initial=0.0))),
    )


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
    roundings: tuple[Rounding, ...] = (),
    evens_out: bool = False,
) -> Fit | None:
    """Return the fit of one level by the coordinates ``u``, ``v`` (N,) at the places ``x``, ``y`` (N,) px.

    As `fit_level`; ``sample_px`` (of a pixel of the grid) and ``rounding``, of both coordinates or of each, are the
    half-widths of type B, and with ``scatter_px`` a fit that leaves no more than several times that is no tilt. Where a
    pixel holds one sample, ``evens_out``, what rounding leaves at the corners becomes less with the lines of samples.
    """
    coordinates = np.column_stack([u, v]).astype(np.float64)
    expected = SAMPLE_SPREAD_PX * spacing if scatter_px is None else scatter_px
    plane = _robust_plane(coordinates, x, y, spacing, expected)
    if plane is None:
        return None
    scattered = plane.residual_px > SCATTERED_ABOVE * expected
    tilted, apart = False, plane.apart
    corners = plane.corners
    # What the samples explain is looked at no further. Of few pixels the scatter alone tells, where it is known.
    if plane.residual_px > plane.last_bits and (scatter_px is None or (scattered and plane.count >= FEWEST_FOR_TILT)):
        places = plane.places(x, y)[:, 1:]
        perspective, scatter = _perspective(places[plane.kept], coordinates[plane.kept])
        tilted = scattered if plane.count < FEWEST_FOR_TILT else scatter < TILTED_BELOW * float(plane.variance.sum())
        if tilted:
            corners = _corners_under(perspective)
            mapped = np.column_stack([places, np.ones(len(places))]) @ perspective.T
            apart = np.hypot(*((coordinates - mapped[:, :2] / mapped[:, 2:]) @ plane.to_px.T).T) * plane.reach
    low, high = plane.basis[:, 1:].min(axis=0), plane.basis[:, 1:].max(axis=0)
    seen = low + CORNERS_UV * (high - low)

    def uncertainty_at(places: Floats) -> float:
        at = np.column_stack([np.ones(4), places])
        leverage = np.einsum("ci,ij,cj->c", at, plane.inverse, at)
        spread = np.sqrt(leverage[:, None] * (plane.to_px**2 @ plane.variance)).max(axis=0) * plane.reach
        lines = plane.lines_of(spacing, rounding) if evens_out else np.ones(2)
        reached = np.sqrt(leverage.max() * plane.count / lines)
        halves = [sample_px * spacing, *(one.at(places * plane.reach + plane.middle) for one in roundings)]
        return _expanded(spread, to_px=plane.to_px * plane.reach, shifts=halves, rounding=rounding, reached=reached)

    strange = ~plane.kept
    return Fit(
        corners * plane.reach + plane.middle,
        uncertainty_at(corners),
        plane.residual_px,
        int(plane.kept.sum()),
        tilted,
        int(plane.kept.sum()) * spacing**2,
        seen * plane.reach + plane.middle,
        uncertainty_at(seen),
        worst_px=float(apart[plane.kept].max()),
        strange=int(strange.sum()),
        strange_px=float(apart[strange].max(initial=0.0)),
    )


@dataclass(frozen=True)
class _Plane:
    """A linear map from place to coordinate, by least squares over some of all N pixels.

    ``basis`` (K, 3) are the places of those, with ``middle`` (2,) and ``reach`` taken out of them, ``inverse`` that of
    its normal matrix, ``linear`` (3, 2) the map, ``variance`` (2,) what it leaves, ``to_px`` its inverse, ``apart``
    (N,) how far every pixel is from it, px; those that are not ``kept`` (N,) are strange.
    """

    middle: Floats
    reach: float
    basis: Floats
    inverse: Floats
    linear: Floats
    variance: Floats
    to_px: Floats
    apart: Floats
    kept: Mask

    @property
    def count(self) -> int:
        return len(self.basis)

    @property
    def corners(self) -> Floats:
        return np.asarray((CORNERS_UV - self.linear[0]) @ self.to_px.T)

    @property
    def residual_px(self) -> float:
        return float(np.sqrt((self.to_px**2 @ self.variance).sum())) * self.reach

    @property
    def last_bits(self) -> float:
        """What the last bits of the coordinates scatter by, px: a fit that leaves no more leaves nothing."""
        return UV_ROUNDING * float(np.abs(self.to_px).max()) * self.reach

    def lines_of(self, spacing: float, rounding: float | Floats) -> Floats:
        """Return how many lines of samples, ``spacing`` px apart, are rounded anew, for each coordinate.

        Along a line that lies square to the way in which a coordinate runs all samples may be rounded alike; from line
        to line they differ, where the coordinate moves by many times its rounding. 1 where it does not.
        """
        runs = np.abs(self.linear[1:]) * spacing / self.reach
        lines = np.ptp(self.basis[:, 1:], axis=0) * self.reach / spacing + 1.0
        anew = runs.max(axis=0) >= ROUNDED_ANEW * np.asarray(rounding)
        return np.where(anew, lines[runs.argmax(axis=0)], 1.0)

    def places(self, x: Floats, y: Floats) -> Floats:
        """Return the basis (N, 3) of other pixels."""
        return np.column_stack([np.ones(len(x)), (x - self.middle[0]) / self.reach, (y - self.middle[1]) / self.reach])


def _robust_plane(coordinates: Floats, x: Floats, y: Floats, spacing: float, expected: float) -> _Plane | None:
    """Return the plane through the pixels, without the few that are strange; None where they tell of none.

    A scatter of ``expected`` px is no wonder. Strange is what lies far beyond the scatter of the others (median
    absolute deviation), found over and over until it stays the same. Where that is more than a few, all pixels count:
    then it is no accident. Of very many pixels some are fitted, and all are looked at.
    """
    every = np.ones(len(x), dtype=bool)
    fitted = every if len(x) <= MOST_FITTED else np.arange(len(x)) % (1 + len(x) // MOST_FITTED) == 0
    most = max(MOST_SET_ASIDE * len(x), min(FEW_SET_ASIDE, len(x) // ONE_IN_SET_ASIDE))
    whole = plane = _plane_through(coordinates, x, y, fitted, spacing)
    if plane is None and np.isfinite(coordinates).all():
        # A few that are very wild can hide that all others lie in a plane.
        near = np.abs(coordinates - 0.5).max(axis=1) <= FAR_OFF_THE_ART
        if 0 < (~near).sum() <= most:
            plane = _plane_through(coordinates, x, y, fitted & near, spacing)
            plane = None if plane is None else replace(plane, kept=near)
    for _ in range(MOST_ROUNDS):
        if plane is None:
            return whole
        scatter = float(np.median(plane.apart[fitted])) / MEDIAN_OF_DISTANCE
        limit = STRANGE_ABOVE * max(scatter, plane.last_bits)
        limit = max(limit, STRANGE_ABOVE_EXPECTED * expected)
        near = plane.apart <= limit
        if (near == plane.kept).all():
            break
        if (~near).sum() > most:
            return whole
        again = _plane_through(coordinates, x, y, fitted & near, spacing)
        plane = None if again is None else replace(again, kept=near)
    return plane


def _plane_through(coordinates: Floats, x: Floats, y: Floats, chosen: Mask, spacing: float) -> _Plane | None:
    if chosen.sum() < FEWEST_PIXELS:
        return None
    all_chosen = bool(chosen.all())
    across, up, wanted = (x, y, coordinates) if all_chosen else (x[chosen], y[chosen], coordinates[chosen])
    if np.ptp(up) < 2 * spacing or np.ptp(across) < 2 * spacing:
        return None
    # Spread and offset are taken out so that the normal equations are as good as any.
    middle, reach = np.array([across.mean(), up.mean()]), float(max(np.ptp(across), np.ptp(up)))
    basis = np.column_stack([np.ones(len(across)), (across - middle[0]) / reach, (up - middle[1]) / reach])
    normal = basis.T @ basis
    if np.linalg.cond(normal) > MOST_SLENDER:
        return None
    inverse = np.linalg.inv(normal)
    linear = inverse @ (basis.T @ wanted)
    left = wanted - basis @ linear
    variance = (left**2).sum(axis=0) / (len(across) - 3)
    if abs(np.linalg.det(linear[1:])) <= LEAST_SPAN * float((linear[1:] ** 2).sum()):
        return None
    to_px = np.linalg.inv(linear[1:].T)
    bare = _Plane(middle, reach, basis, inverse, linear, variance, to_px, np.zeros(0), np.ones(len(x), dtype=bool))
    if not np.isfinite(bare.residual_px):
        return None
    if not all_chosen:
        left = coordinates - bare.places(x, y) @ linear
    return replace(bare, apart=np.hypot(*(left @ to_px.T).T) * reach)


def _expanded(
    type_a: Floats, *, to_px: Floats, shifts: list[float], rounding: float | Floats, reached: Floats
) -> float:
    """Return U = k·√(A² + B²) of the two directions together; the half-widths of type B are divided by √3.

    ``shifts`` are how far the place itself may be out, px. How coordinates are rounded may change slowly over the
    frame: it then grows by ``reached`` (2,), for each coordinate how far out the corner lies by the spread of the
    pixels, less what evens out.
    """
    shifted = sum(shift**2 for shift in shifts) / 3
    rounded = (np.abs(to_px) * rounding * np.maximum(1.0, reached)).sum(axis=1) / np.sqrt(3)
    return float(COVERAGE_FACTOR * np.sqrt((type_a**2 + shifted + rounded**2).sum()))


def _apart(fit: Fit, u: Floats, v: Floats, x: Floats, y: Floats) -> Floats:
    """Return how far from the places that the fit gives the coordinates ``u``, ``v`` (N,) the samples lie, (N,) px."""
    across, up = fit.corners[1] - fit.corners[0], fit.corners[3] - fit.corners[0]
    places = fit.corners[0] + np.outer(u, across) + np.outer(v, up)
    return np.asarray(np.hypot(places[:, 0] - x, places[:, 1] - y))


def _inside(fit: Fit, x: Floats, y: Floats) -> Mask:
    """Return which samples lie inside the art by the fit, clear of its edges."""
    room = EDGE_ROOM_PX + EDGE_ROOM_SCATTERS * fit.residual_px + fit.uncertainty_px
    inside = np.ones(x.shape, dtype=bool)
    ring = np.append(fit.corners, fit.corners[:1], axis=0)
    steps = np.diff(ring, axis=0)
    # Seen from behind, the corners go round the other way.
    (ax, ay), (bx, by) = steps[0], steps[1]
    way = np.sign(ax * by - ay * bx)
    for (px, py), (dx, dy) in zip(fit.corners, steps, strict=True):
        inside &= way * (dx * (y - py) - dy * (x - px)) > room * float(np.hypot(dx, dy))
    return inside


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
