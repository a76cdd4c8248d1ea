# SPDX-License-Identifier: GPL-3.0-or-later
"""Registering: where each level lies in a finished frame, by the picture or by Cryptomatte, without proof passes.

The frame is put together from the art as the plan has it, and what differs is laid to levels that lie elsewhere: Gauss
and Newton's least squares over all levels at once, each shifted, turned and sized (Lucas & Kanade, IJCAI 1981, for
layers that cover one another). It tells a level's place to a part of a pixel where its art has something to hold on to.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.optics.projection import art_from_px
from underglass.proof.measure.measured_corners import COVERAGE_FACTOR, Fit

Floats = NDArray[np.float64]
# Art at places u, v: (N, D) of its light, alpha multiplied in, and (N,) alpha; clear beyond its edges.
Art = Callable[[Floats, Floats], tuple[Floats, Floats]]

MOST_PLACES = 24_000
# Blocks of so many pixels a side are looked at first: what is far off is found coarsely, and then ever more finely.
BLOCKS = (8, 4, 2, 1)
ROUNDS = 6
SETTLED_PX = 0.01
# Places where no level's move changes anything by this share of the most that one does tell nothing.
LEAST_SLOPE = 0.02
# Beyond so many times the usual difference a place shows something that is not in the plan.
OUTLIER = 4.0
# Less than this of light, filters and samples make.
STRANGE_LIGHT = 0.01
# Half the width that a pixel's filter averages over.
FILTER_PX = 0.5
# Neighbouring places differ alike: there are fewer independent ones than places. Measured on renders of known shots.
ALIKE = 6.0
# Filters of a renderer and of textures are only about those assumed here: half-width, measured on renders.
FILTERED_PX = 0.35
# A level with less of it in sight, counted in places at which it is all there is to see, has nothing to hold on to.
LEAST_PLACES = 150.0
# A start further off than this from where it is found cannot be trusted to have found the right thing.
MOST_STRAY_PX = 12.0
# A level that the last round still moved by so much, px, or of whose places so many show something else than it, was
# not found, wherever the search has come to.
UNSETTLED_PX = 0.3
# Of levels in place it is 0.03 at most, beside one that is off 0.15; what was taken for something else has a third.
MOST_STRANGE = 0.2
# What is no better known than this is not known.
MOST_UNCERTAIN_PX = 10.0


@dataclass(frozen=True)
class Layer:
    """One level at the places: its light and alpha, what they change by for a pixel to the right and up."""

    light: Floats
    alpha: Floats
    light_by: tuple[Floats, Floats]
    alpha_by: tuple[Floats, Floats]


@dataclass(frozen=True)
class _Last:
    """The last round: what it looked at, and what it came to."""

    layers: list[Layer]
    places: Floats
    held: list[float]
    inverse: Floats
    variance: float
    reach: float
    step: Floats
    strange: list[float]


def register(picture: NDArray[np.float32], *, corners: Floats, arts: Sequence[Art | None]) -> dict[int, Fit | None]:
    """Return the fit of each level that has something to hold on to, by its number, nearest the lens first.

    None for one that is there by the plan, but was not found: far off, missing, or of art that looks alike everywhere.

    ``picture`` (H, W, D) is the whole frame, rows from the top; ``corners`` (L, 4, 2) px where each level is planned;
    ``arts`` None for a level that shows nothing.
    """
    shown = [number for number, art in enumerate(arts) if art is not None]
    found = corners.astype(np.float64).copy()
    reach = float(max(picture.shape[:2])) / 2
    last: _Last | None = None
    for block in BLOCKS:
        seen, places = looked_at(picture, block)
        if min(seen.shape[0], len(places)) < 8 * len(shown) + 8:
            continue
        for turn in range(ROUNDS):
            layers = [layer_at(arts[number], found[number], places, block) for number in shown]
            left, columns, held, weights = _differences(seen, layers, places, found[shown].mean(axis=1), reach)
            solved = _solve(columns, left)
            if solved is None:
                return {}
            step, inverse, variance = solved
            for at, number in enumerate(shown):
                found[number] = _moved(found[number], step[4 * at : 4 * at + 4], reach, most=2.0 * block)
            strange = _strange(left.reshape(seen.shape), weights)
            last = _Last(layers, places, held, inverse, variance, reach, step, strange)
            if turn and np.abs(step).max() < SETTLED_PX * block:
                break
    return {} if last is None else _fits(corners, found, shown, last, picture.shape[0] * picture.shape[1])


def _fits(corners: Floats, found: Floats, shown: list[int], last: _Last, picture_px: int) -> dict[int, Fit | None]:
    fits: dict[int, Fit | None] = {}
    for at, number in enumerate(shown):
        held = last.held[at]
        strays = float(np.linalg.norm(found[number] - corners[number], axis=1).max())
        if strays > MOST_STRAY_PX + 0.1 * last.reach or last.strange[at] > MOST_STRANGE:
            fits[number] = None
            continue
        if held < LEAST_PLACES:
            continue
        block = slice(4 * at, 4 * at + 4)
        covariance = last.inverse[block, block] * last.variance * ALIKE**2
        centre = found[number].mean(axis=0)
        where = last.places[last.layers[at].alpha > 0.5]
        box = _box(where) if len(where) else found[number]
        at_corners, about = (_uncertainty(points, centre, covariance, last.reach) for points in (found[number], box))
        if at_corners > MOST_UNCERTAIN_PX:
            continue
        more = _moved(found[number], last.step[block], last.reach, most=MOST_STRAY_PX) - found[number]
        if np.linalg.norm(more, axis=1).max() > max(UNSETTLED_PX, at_corners):
            fits[number] = None
            continue
        area = held * picture_px / len(last.places)
        residual = float(np.sqrt(last.variance))
        fits[number] = Fit(found[number], at_corners, residual, int(held), False, area, box, about)
    return fits


def looked_at(picture: NDArray[np.float32], block: int) -> tuple[Floats, Floats]:
    """Return what blocks of pixels show on the whole, (N, D), and where their middles are, (N, 2) px."""
    height, width = (side // block for side in picture.shape[:2])
    step = max(1, int(np.ceil(np.sqrt(height * width / MOST_PLACES))))
    # Each somewhere in its own square of the grid: an upright edge of art could else lie between two columns of it.
    corner = np.mgrid[0 : height - step + 1 : step, 0 : width - step + 1 : step].reshape(2, -1)
    rows, columns = corner + np.random.default_rng(1).integers(0, step, corner.shape)
    seen = np.zeros((len(rows), picture.shape[2]))
    for down in range(block):
        for right in range(block):
            seen += picture[rows * block + down, columns * block + right]
    x = (columns + 0.5) * block - picture.shape[1] / 2
    y = picture.shape[0] / 2 - (rows + 0.5) * block
    return seen / block**2, np.stack([x, y], axis=1)


def layer_at(art: Art | None, corners: Floats, places: Floats, block: int) -> Layer:
    """Return what art at ``corners`` (4, 2) px shows at ``places`` (N, 2) px in blocks of so many pixels a side."""
    assert art is not None
    off = FILTER_PX * block

    def at(x: float, y: float) -> tuple[Floats, Floats]:
        u, v = art_from_px(places + np.array([x, y]), corners=corners).T
        return art(u, v)

    middle, right, left, up, down = (at(x * off, y * off) for x, y in ((0, 0), (1, 0), (-1, 0), (0, 1), (0, -1)))
    light, alpha = ((2 * middle[i] + right[i] + left[i] + up[i] + down[i]) / 6 for i in (0, 1))
    by = tuple((one[i] - two[i]) / (2 * off) for i in (0, 1) for one, two in ((right, left), (up, down)))
    return Layer(light, alpha, (by[0], by[1]), (by[2], by[3]))


def _differences(
    seen: Floats, layers: Sequence[Layer], places: Floats, centres: Floats, reach: float
) -> tuple[Floats, Floats, list[float], list[Floats]]:
    """Return what is seen less what is planned, (N·D,), by what each of the 4·L moves changes it, and what is held on:
    in places, and at which ones, (N,) from 0 to 1 for each level.

    A level that moves to the right shows at a place what was to the left of it: the change is the slope, reversed.
    """
    behind = [np.zeros_like(seen)]
    for layer in reversed(layers):
        behind.append(layer.light + (1 - layer.alpha)[:, None] * behind[-1])
    planned = behind[-1]
    behind = behind[-2::-1]
    open_to = np.ones(len(places))
    columns, held, weights = [], [], []
    for layer, rear, centre in zip(layers, behind, centres, strict=True):
        slopes = [
            -open_to[:, None] * (light - alpha[:, None] * rear)
            for light, alpha in zip(layer.light_by, layer.alpha_by, strict=True)
        ]
        from_centre = (places - centre) / reach
        larger = slopes[0] * from_centre[:, :1] + slopes[1] * from_centre[:, 1:]
        turned = slopes[1] * from_centre[:, :1] - slopes[0] * from_centre[:, 1:]
        columns += [slopes[0].ravel(), slopes[1].ravel(), larger.ravel(), turned.ravel()]
        weights.append(open_to * layer.alpha)
        held.append(float(weights[-1].sum()))
        open_to = open_to * (1 - layer.alpha)
    return (seen - planned).ravel(), np.stack(columns, axis=1), held, weights


def _strange(left: Floats, weights: Sequence[Floats]) -> list[float]:
    """Return for each level the share of its places that show something else: far more is ``left`` than usual."""
    most = np.abs(left).max(axis=1)
    usual = 1.4826 * float(np.median(most)) + STRANGE_LIGHT
    return [float((weight * (most > OUTLIER * usual)).sum() / max(weight.sum(), 1e-9)) for weight in weights]


def _solve(columns: Floats, left: Floats) -> tuple[Floats, Floats, float] | None:
    """Return the step, the inverse of the normal equations, and the variance of what is left.

    Only places that tell something are asked, and those with something else in them than the plan has count less.
    """
    telling = np.abs(columns).max(axis=1)
    rows = telling > LEAST_SLOPE * telling.max()
    if rows.sum() <= columns.shape[1]:
        return None
    columns, left = columns[rows], left[rows]
    usual = 1.4826 * float(np.median(np.abs(left))) + 1e-6
    weights = 1.0 / np.maximum(1.0, np.abs(left) / (OUTLIER * usual))
    weighed = columns * weights[:, None]
    normal = columns.T @ weighed
    scale = np.sqrt(np.diag(normal))
    # A level that nothing holds, by so much less than the others, stays where it is.
    scale = np.maximum(scale, 1e-6 * max(float(scale.max()), 1e-12))
    normal = normal / scale[:, None] / scale[None, :] + 1e-9 * np.eye(len(scale))
    try:
        inverse = np.linalg.inv(normal) / scale[:, None] / scale[None, :]
    except np.linalg.LinAlgError:
        return None
    step = inverse @ (weighed.T @ left)
    after = left - columns @ step
    variance = float((weights * after**2).sum() / max(1.0, weights.sum() - len(step)))
    return step, inverse, variance


def _moved(corners: Floats, step: Floats, reach: float, *, most: float) -> Floats:
    """Return the corners shifted, sized and turned about their middle by ``step``, no farther than ``most`` px."""
    centre = corners.mean(axis=0)
    shift = np.clip(step[:2], -most, most)
    size, turn = np.clip(step[2:], -2 * most, 2 * most) / reach
    arms = corners - centre
    turned = np.stack([arms[:, 0] - turn * arms[:, 1], arms[:, 1] + turn * arms[:, 0]], axis=1)
    return np.asarray(centre + shift + turned + size * arms)


def _uncertainty(points: Floats, centre: Floats, covariance: Floats, reach: float) -> float:
    """Return the expanded uncertainty (k = 2) of the worst of ``points`` that move with a level about ``centre``."""
    worst = 0.0
    for arm in (points - centre) / reach:
        x = np.array([1.0, 0.0, arm[0], -arm[1]])
        y = np.array([0.0, 1.0, arm[1], arm[0]])
        worst = max(worst, float(x @ covariance @ x + y @ covariance @ y))
    return float(COVERAGE_FACTOR * np.sqrt(worst + 2 * FILTERED_PX**2 / 3))


def _box(places: Floats) -> Floats:
    (left, bottom), (right, top) = places.min(axis=0), places.max(axis=0)
    return np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
