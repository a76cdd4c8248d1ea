# SPDX-License-Identifier: GPL-3.0-or-later
"""From the proof passes of a finished frame to the fits of its levels: a frame rendered with any samples and filter.

A pixel counts where all of it shows the level: only there the mean of the coordinates over the pixel is the coordinate
of its centre. Only pixels go in, and what the file says of itself; no plan.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.optics.pass_fringes import SHARED, fine_coordinate, parse_pass
from underglass.proof.measure.measured_corners import COVERAGE_FACTOR, UV_ROUNDING, Fit, fit_points

Floats = NDArray[np.float64]
Pixels = NDArray[Any]

# A pixel shows the level whole when this much of it does; half floats that were summed up come to a little below 1.
FULL = 0.995
# Where levels share passes, what is missing is another level's: of one in a thousand, 0.004 px at most.
FULL_OF_SHARED = 0.999
# Scatter of the samples makes fits of more pixels than these hardly better, and reading stays what takes the time.
MOST_PIXELS = 8_000
ENOUGH_PIXELS = 2_500
# Beside the edge of a level, or of one before it, pixels that happened to be met whole are not a fair choice.
LEAST_MARGIN_PX = 2
MARGINS_TRIED = (1.0, 0.5, 0.25, 0.0)
FEWEST_AFTER_MARGIN = 60
# Of a strip fewer columns, or rows, than lie in so many px tell nothing of what lies across it.
LEAST_REACH_PX = 2
# A pixel beside an edge may be met whole by luck, which favours samples on the side of the level: as if this much of
# the scatter, by the root of the number of samples, were the same in all pixels. Of n samples all meet a pixel whose
# n-th part is cut off about once in three times, and it is off by half that part: 0.5/n, where 0.41/√n px is scatter.
UNFAIR_SHARE = 1.2
# EEVEE shifts its samples alike in every pixel, and so the whole picture: by 0.015 px with 3 and 4 samples, by 0.006 px
# with 16, by 0.045 px with 2, measured against the plan. As a file does not say how many there were, these half-widths
# take in what 3 samples or more, and what 2, make of it in both directions together.
SHARED_SHIFT_PX = 0.01
SHARED_SHIFT_OF_FEW_PX = 0.06
# EEVEE makes up a pixel of what lies within 1.5 px (the filter's size as Blender sets it) and renders nothing beyond
# the picture: the outermost pixels tell of what lies inward of them, 0.13 px off alike.
PICTURE_EDGE_PX = 3
SHIFT_AT_PICTURE_EDGE_PX = 0.2
# Of 2 samples two pixels at edges show the same share of a level more often than once in so many: once in 66 at hard
# edges and once in 137 at soft ones, measured. From 8 on it is once in 250 and more; at soft edges from 3 on.
SHARES_OF_MANY = 200.0
FEWEST_OF_MANY = 3
LEAST_AT_EDGES = 400
MOST_AT_EDGES = 20_000
# So many rows of a pass stay in a core's own memory.
ROWS_AT_ONCE = 64
# Half floats have 11 bits; summed up over samples they can lose the whole of the last one, always the same way.
HALF_ROUNDING = 2.0**-11
PXR24_ROUNDING = 2.0**-17
# The middle of Cycles' filters lies 1/2048 px off the pixel's centre, along the row and down the column (a step of its
# table, measured with 1 sample); twice that, as a half-width.
FILTER_OFF_PX = 0.001
# With several samples, depth of field and adaptive sampling leave a little more in common, measured.
SAMPLES_OFF_PX = 0.004
# The rounding of a fringe is another one in every pixel: so much of it is left in all together, measured.
FRINGES_EVEN_OUT = 0.25
# Less scatter than this is what samples and filters make; it says nothing of a level's tilt.
SCATTER_PX = 0.05
# Compression that keeps every value: "Technical Introduction to OpenEXR", openexr.com, Data Compression. PXR24 rounds
# floats, which the uncertainty takes in. Any other may change a coordinate by more than it can be known by.
LOSSLESS = ("NO", "RLE", "ZIPS", "ZIP", "PIZ", "PXR24", "HTJ2K", "HTJ2K32", "HTJ2K256", "ZSTD")
# "Channels of type UINT or FLOAT are not compressed" (the same): these change half floats alone.
LOSSY_OF_HALF = ("B44", "B44A")
# What 64 samples leave, more than most frames have: 4 leave 0.165 px, measured, and scatter falls by their root.
BEST_SCATTER_PX = 0.04


@dataclass(frozen=True)
class LevelPass:
    """The passes of one level, (H, W) each: u, v and the share of the pixel that shows it, and fringes where written.

    ``fringes`` are cos u, sin u, cos v, sin v with ``counts`` of them across and up. ``left`` and ``top`` tell where
    the first pixel lies in the frame; ``rounded_to`` is by how much the file may have rounded coordinates.
    """

    u: Pixels
    v: Pixels
    hit: Pixels
    left: int = 0
    top: int = 0
    fringes: tuple[Pixels, ...] = ()
    counts: tuple[int, int] = (0, 0)
    rounded_to: float = 0.0


def is_lossy(packing: str, kind: np.dtype[Any]) -> bool:
    """Return whether the compression named ``packing`` changes the values of a channel of this ``kind``."""
    return kind == np.float16 if packing in LOSSY_OF_HALF else packing not in LOSSLESS


def level_passes(
    channels: Mapping[str, Pixels], *, corners: Mapping[str, tuple[int, int]], packing: Mapping[str, str]
) -> dict[int, LevelPass]:
    """Return the passes of each level by its number, nearest the lens first; lossy ones are left out.

    ``channels`` of a file by name, and by the same names ``corners``, where the first pixel lies in the frame, and
    ``packing``, how it was compressed.
    """
    by_pass: dict[str, dict[str, str]] = {}
    for name in channels:
        stem, _, letter = name.rpartition(".")
        if not is_lossy(packing[name], channels[name].dtype):
            # Of several view layers the first counts.
            by_pass.setdefault(stem.rsplit(".", 1)[-1], {}).setdefault(letter, name)
    across, up = ([by_pass.get(shared, {}).get(letter, "") for letter in "RGB"] for shared in SHARED)
    found = {}
    for pass_, letters in by_pass.items():
        said = parse_pass(pass_)
        if said is None:
            continue
        level, counts = said
        if counts is None:
            names = [letters.get(letter, "") for letter in "RGB"]
        else:
            # A pass of one value has one channel, whatever its letter.
            names = [across[0], up[0], next(iter(letters.values())), *across[1:], *up[1:]]
        if "" in names or len({(channels[name].shape, corners[name]) for name in names}) > 1 or 0 in (counts or ()):
            continue
        u, v, hit, *fringes = (channels[name] for name in names)
        left, top = corners[names[0]]
        rounded = PXR24_ROUNDING if packing[names[0]] == "PXR24" else 0.0
        found[level] = LevelPass(u, v, hit, left, top, tuple(fringes), counts or (0, 0), rounded)
    return dict(sorted(found.items()))


def are_shared(passes: Mapping[int, LevelPass]) -> bool:
    """Return whether levels share the passes of their coordinates, as EEVEE's do."""
    return any(made.fringes for made in passes.values())


def has_many_samples(passes: Mapping[int, LevelPass]) -> bool:
    """Return whether the edges of some level show that a pixel had three samples or more; else that is not known.

    They do where many shares of a pixel are about as frequent (Simpson's index, Nature 163, 1949, 688).
    """
    for made in passes.values():
        partly = _partly(made.hit)
        if len(partly) >= LEAST_AT_EDGES:
            count = np.unique(np.round(partly.astype(np.float64), 3), return_counts=True)[1]
            alike = float((count * (count - 1)).sum()) / (len(partly) * (len(partly) - 1))
            if alike * SHARES_OF_MANY < 1:
                return True
    return False


def _partly(hit: Pixels) -> Pixels:
    """Return the shares of pixels that show a part of the level, block by block of rows until they are enough."""
    found: list[Pixels] = [hit[:0].reshape(-1)]
    for first in range(0, hit.shape[0], ROWS_AT_ONCE):
        rows = hit[first : first + ROWS_AT_ONCE]
        found.append(rows[(rows > 0.001) & (rows < FULL)])
        if sum(map(len, found)) >= MOST_AT_EDGES:
            break
    return np.concatenate(found)[:MOST_AT_EDGES]


def with_shared_shift(fit: Fit, half_width: float) -> Fit:
    """Return the fit with the uncertainty of a shift of the whole picture in it, by up to ``half_width`` px a way."""
    return _less_certain(fit, COVERAGE_FACTOR * half_width * np.sqrt(2.0 / 3.0))


def _less_certain(fit: Fit, by_px: float) -> Fit:
    return replace(
        fit,
        uncertainty_px=float(np.hypot(fit.uncertainty_px, by_px)),
        seen_uncertainty_px=float(np.hypot(fit.seen_uncertainty_px, by_px)),
    )


def fit_delivered(made: LevelPass, *, frame_px: tuple[int, int], margin_px: float, samples: int = 0) -> Fit | None:
    """Return the fit of one level, or None where too few pixels show it whole.

    ``margin_px`` is how far an edge may be blurred, ``samples`` how many a pixel had, 0 where that is not known. The
    area of the fit is that of all pixels that show the level whole.
    """
    shared = bool(made.fringes)
    chosen = _chosen(
        made.hit,
        margin=round(LEAST_MARGIN_PX + margin_px),
        full=FULL_OF_SHARED if shared else FULL,
        picture_edge=PICTURE_EDGE_PX if shared else 0,
    )
    rows, columns = chosen.rows, chosen.columns
    if not len(rows):
        return None
    hit = made.hit[rows, columns].astype(np.float64)
    u, v = (values[rows, columns].astype(np.float64) / hit for values in (made.u, made.v))
    half = _is_half(made.u[rows, columns], made.v[rows, columns])
    rounding: float | Floats = max(UV_ROUNDING, made.rounded_to, HALF_ROUNDING if half else 0.0)
    if made.fringes:
        waves = [wave[rows, columns].astype(np.float64) for wave in made.fringes]
        u = fine_coordinate(u, cosine=waves[0], sine=waves[1], count=made.counts[0])
        v = fine_coordinate(v, cosine=waves[2], sine=waves[3], count=made.counts[1])
        rounding = FRINGES_EVEN_OUT * HALF_ROUNDING / (2 * np.pi * np.array(made.counts))
    x = columns + made.left + 0.5 - frame_px[0] / 2
    y = frame_px[1] / 2 - rows - made.top - 0.5
    off = FILTER_OFF_PX if samples == 1 else SAMPLES_OFF_PX
    fit = fit_points(u, v=v, x=x, y=y, sample_px=off, rounding=rounding, scatter_px=SCATTER_PX)
    if fit is None:
        return None
    unfair = 0.0 if chosen.clear_of_edges else fit.residual_px * min(1.0, UNFAIR_SHARE / np.sqrt(max(1, samples)))
    at_edge = SHIFT_AT_PICTURE_EDGE_PX / np.sqrt(3) if chosen.at_picture_edge else 0.0
    alike = COVERAGE_FACTOR * float(np.hypot(unfair, at_edge))
    # At the corners a shift that pixels share grows with how far out they lie; where they are it stays what it is.
    reached = max(1.0, fit.uncertainty_px / fit.seen_uncertainty_px)
    grown = float(np.hypot(fit.uncertainty_px, alike * reached))
    best = _at_best(x, y, fit)
    unsaid = not samples and unfair > 0 and not made.fringes
    fit = replace(_less_certain(fit, alike), uncertainty_px=grown, area_px=chosen.area, best_px=best)
    return replace(fit, unsaid_samples=unsaid)


def _at_best(x: Floats, y: Floats, fit: Fit) -> float:
    """Return the expanded uncertainty of frames of 64 samples and 32 bits, px, by pixels at the same places.

    That of the corners, or of the box in which the level shows, whichever is less: either is enough to pass.
    """
    middle = np.array([x.mean(), y.mean()])
    spread = float(np.hypot(x.std(), y.std()))
    basis = np.column_stack([np.ones(len(x)), (x - middle[0]) / spread, (y - middle[1]) / spread])
    inverse = np.linalg.pinv(basis.T @ basis)
    art_px = float(np.linalg.norm(fit.corners[1] - fit.corners[0]) + np.linalg.norm(fit.corners[3] - fit.corners[0]))

    def at(places: Floats) -> float:
        far = np.column_stack([np.ones(len(places)), (places - middle) / spread])
        leverage = float(np.einsum("ci,ij,cj->c", far, inverse, far).max())
        rounded = UV_ROUNDING * art_px * max(1.0, np.sqrt(leverage * len(x)))
        fixed = (SAMPLES_OFF_PX**2 + rounded**2) / 3
        return float(COVERAGE_FACTOR * np.sqrt(2 * (BEST_SCATTER_PX**2 * leverage + fixed)))

    return min(at(fit.corners), at(fit.corners if fit.seen is None else fit.seen))


@dataclass(frozen=True)
class _Chosen:
    """The pixels to measure by, and how many show the level whole.

    ``clear_of_edges`` tells whether all lie away from edges of levels, ``at_picture_edge`` whether some have to lie at
    the picture's.
    """

    rows: NDArray[np.int64]
    columns: NDArray[np.int64]
    area: float
    clear_of_edges: bool
    at_picture_edge: bool


def _chosen(hit: Pixels, *, margin: int, full: float, picture_edge: int) -> _Chosen:
    """Return the pixels to measure by, on an even grid: ``margin`` px from edges, ``picture_edge`` from the picture's.

    A grid is made finer round what it met until there are enough; either distance is given up where it leaves too few.
    """
    step = max(1, int(np.sqrt(hit.size / MOST_PIXELS)))
    box = (0, hit.shape[0], 0, hit.shape[1])
    while True:
        rows, columns = np.nonzero(hit[box[0] : box[1] : step, box[2] : box[3] : step] >= full)
        if len(rows) >= ENOUGH_PIXELS or step == 1:
            break
        rows, columns = rows * step + box[0], columns * step + box[2]
        if len(rows):
            box = (
                max(0, int(rows.min()) - step),
                min(hit.shape[0], int(rows.max()) + step + 1),
                max(0, int(columns.min()) - step),
                min(hit.shape[1], int(columns.max()) + step + 1),
            )
        size = (box[1] - box[0]) * (box[3] - box[2])
        step = min(step - 1, max(1, int(np.sqrt(size / MOST_PIXELS))))
    area = float(len(rows) * step**2)
    rows, columns = rows * step + box[0], columns * step + box[2]
    inside = np.minimum(rows, hit.shape[0] - 1 - rows) >= picture_edge
    inside &= np.minimum(columns, hit.shape[1] - 1 - columns) >= picture_edge
    at_picture_edge = inside.sum() < min(FEWEST_AFTER_MARGIN, len(rows))
    if not at_picture_edge:
        rows, columns = rows[inside], columns[inside]
    for share in MARGINS_TRIED:
        kept = away_from_edges(hit, rows, columns, round(margin * share), full=full)
        if kept.sum() >= min(FEWEST_AFTER_MARGIN, len(rows)) and _reach(rows[kept], columns[kept]) >= LEAST_REACH_PX:
            break
    return _Chosen(rows[kept], columns[kept], area, share == MARGINS_TRIED[0], bool(at_picture_edge))


def _reach(rows: NDArray[np.int64], columns: NDArray[np.int64]) -> int:
    """Return how far pixels lie apart, px, down or across, whichever is less."""
    return int(min(np.ptp(rows), np.ptp(columns))) if len(rows) else 0


def away_from_edges(
    hit: Pixels, rows: NDArray[np.int64], columns: NDArray[np.int64], by: int, *, full: float
) -> NDArray[np.bool_]:
    """Return which pixels have the level all round them, ``by`` pixels away; beyond the picture counts as level."""
    kept = np.ones(len(rows), dtype=bool)
    if not by:
        return kept
    (height, width), flat = hit.shape, hit.reshape(-1)
    beside = [np.clip(columns + right, 0, width - 1) for right in (-by, 0, by)]
    for down in (-by, 0, by):
        start = np.clip(rows + down, 0, height - 1) * width
        for column in beside:
            kept &= flat.take(start + column) >= full
    return kept


def _is_half(*values: Pixels) -> bool:
    """Return whether half floats can hold all of these: then they were half floats once."""
    return all(value.dtype == np.float16 or bool((value == value.astype(np.float16)).all()) for value in values)
