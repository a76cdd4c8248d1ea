# SPDX-License-Identifier: GPL-3.0-or-later
"""Places in delivered passes: where levels are seen whole, what passes hold there, and what a moved picture left."""

from collections.abc import Mapping, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from underglass.optics.pass_fringes import fine_coordinate
from underglass.optics.projection import art_from_px, px_from_art

from ..files.pass_fits import FULL, FULL_OF_SHARED, LevelPass, away_from_edges
from .moved_parts import lines_twice
from .picture_map import Border, PictureMap
from .recoloured_passes import Held
from .whole_frame import Places

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

MOST_PLACES = 1_200
# Places this near to the edge of art, as a share of it, are left out where passes were recoloured.
INSIDE = (0.05, 0.95)
# What passes hold at a place and this far off along a diagonal differs where a level is seen.
BESIDE_PX = 3
# A pixel with less than this in it is empty in part.
COVERED = 0.97
# A place fits a map this well, px and in its scatters.
NEAR_PX, SCATTERS = 0.05, 5.0
# A place that came from this far beyond the middles of the outermost pixels was left by the picture, px.
LEFT_PX = 0.1
GRID = 48
FEWEST_ASKED = 12
LEAST_COVERED = 0.3
FEWEST_IN_SQUARE = 8
SEED = 3


def whole_places(
    passes: Mapping[int, LevelPass],
    *,
    frame_px: tuple[int, int],
    within: tuple[int, float, float] | None = None,
    fine: bool = True,
) -> list[Places]:
    """Return places at which each level is seen whole, chosen at random, away from its edges.

    ``within`` (axis, first, last) keeps to columns (axis 0) or rows (axis 1) of the frame between two, px. Without
    ``fine`` fringes are not looked at.
    """
    found = []
    for level, made in passes.items():
        full = FULL_OF_SHARED if made.fringes else FULL
        rows, columns = np.nonzero(made.hit >= full)
        if within is not None:
            along = columns + made.left if within[0] == 0 else rows + made.top
            inside = (along >= within[1]) & (along <= within[2])
            rows, columns = rows[inside], columns[inside]
        if len(rows) > MOST_PLACES:
            some = np.sort(np.random.default_rng(SEED).choice(len(rows), MOST_PLACES, replace=False))
            rows, columns = rows[some], columns[some]
        kept = away_from_edges(made.hit, rows, columns, 2, full=full)
        rows, columns = rows[kept], columns[kept]
        if len(rows):
            uv, px = _uv(made, rows, columns, fine), _px(made, rows, columns, frame_px)
            found.append(Places(level, px, uv, _noise(px, uv)))
    return found


def held_by(
    passes: Mapping[int, LevelPass], *, corners: Floats, names: Sequence[str], frame_px: tuple[int, int]
) -> tuple[list[Held], list[Held]]:
    """Return what passes hold where ``corners`` (L, 4, 2) px have levels, and the same beside the other coordinate.

    The second is for coordinates that levels share, which may have changed places; it is empty where they do not.
    """
    straight, crossed = [], []
    for level, made in passes.items():
        rows, columns = _planned_pixels(made, corners[level], frame_px)
        if not len(rows):
            continue
        uv = art_from_px(_px(made, rows, columns, frame_px), corners=corners[level])
        size = (
            float(np.linalg.norm(corners[level, 1] - corners[level, 0])),
            float(np.linalg.norm(corners[level, 3] - corners[level, 0])),
        )
        u, v, hit, *waves = (
            values[rows, columns].astype(np.float64) for values in (made.u, made.v, made.hit, *made.fringes)
        )
        if not made.fringes:
            planned = np.column_stack([uv, np.ones(len(uv))])
            straight.append(Held(level, names[level], np.column_stack([u, v, hit]), planned, size, True))
            continue
        # Half floats that were summed up over samples come to a little less than one.
        sum_ = float(np.median(hit))
        sum_ = sum_ if sum_ > COVERED else 1.0
        held = [np.column_stack([u, *waves[:2]]) / sum_, np.column_stack([v, *waves[2:]]) / sum_]
        for at in (0, 1):
            phase = 2 * np.pi * made.counts[at] * uv[:, at]
            planned = np.column_stack([uv[:, at], np.cos(phase), np.sin(phase)])
            straight.append(Held(level, names[level], held[at], planned, (size[at], size[at]), False))
            crossed.append(Held(level, names[level], held[1 - at], planned, (size[at], size[at]), False))
    return straight, crossed


def left_by(
    moved: PictureMap,
    passes: Mapping[int, LevelPass],
    *,
    corners: Floats,
    frame_px: tuple[int, int],
    seen: Sequence[Places],
) -> Border:
    """Return what is seen at places of the frame to which ``moved`` brought nothing of it.

    Only those are asked at which a camera that moved the picture would show some level of ``corners`` (L, 4, 2) px.
    """
    width, height = frame_px
    rows, columns = _edges_and_grid(width, height)
    px = np.column_stack([columns + 0.5 - width / 2, height / 2 - rows - 0.5])
    came = moved.back(px)
    # Beyond the middles of the outermost pixels there was nothing.
    half = np.array([width, height]) / 2 - 0.5 + LEFT_PX
    left = (np.abs(came) > half).any(axis=1)
    expected = np.zeros(len(px), dtype=bool)
    for level in passes:
        expected |= _on_art(came, corners[level])
    asked = left & expected
    if asked.sum() < FEWEST_ASKED:
        return Border(0.0, 0.0, 0, 0.0)
    scatter = max((one.scatter_px for one in seen), default=0.0)
    look = partial(_seen_at, passes, moved=moved, corners=corners, frame_px=frame_px, scatter=scatter)
    cover, right = look(rows[asked], columns[asked])
    empty = cover < COVERED
    just_inside = moved(np.clip(came[asked], -half + 2, half - 2))
    beside = np.column_stack([height / 2 - just_inside[:, 1] - 0.5, just_inside[:, 0] + width / 2 - 0.5])
    near_rows, near_columns = np.round(beside).astype(np.int64).T
    within = (near_rows >= 0) & (near_rows < height) & (near_columns >= 0) & (near_columns < width)
    covered, inside = look(near_rows[within], near_columns[within])
    # Where art is soft a part is covered; where none is, nothing tells that it was empty only beyond.
    whole = covered >= COVERED
    enough = whole.sum() >= max(FEWEST_ASKED, LEAST_COVERED * len(whole))
    return Border(
        float(empty.mean()),
        float((~empty & ~right).mean()),
        int(asked.sum()),
        float(inside[whole].mean()) if enough else 0.0,
    )


def is_repeated(moved: PictureMap, passes: Mapping[int, LevelPass]) -> bool:
    """Return whether a picture that was made larger has rows or columns twice, where none was made up."""
    larger = max(np.hypot(*moved.linear[:, 0]), np.hypot(*moved.linear[:, 1]))
    if larger <= 1.001 or not passes:
        return False
    made = max(passes.values(), key=lambda one: int((one.hit >= FULL_OF_SHARED).sum()))
    for axis in (0, 1):
        twice, enough = lines_twice(made, axis)
        if twice.sum() >= max(2, 0.4 * (1 - 1 / larger) * int(enough.sum())):
            return True
    return False


def _uv(made: LevelPass, rows: Whole, columns: Whole, fine: bool) -> Floats:
    with np.errstate(all="ignore"):
        hit = made.hit[rows, columns].astype(np.float64)
        u, v = (values[rows, columns].astype(np.float64) / hit for values in (made.u, made.v))
    if made.fringes and fine:
        waves = [wave[rows, columns].astype(np.float64) for wave in made.fringes]
        u = fine_coordinate(u, cosine=waves[0], sine=waves[1], count=made.counts[0])
        v = fine_coordinate(v, cosine=waves[2], sine=waves[3], count=made.counts[1])
    return np.nan_to_num(np.column_stack([u, v]), nan=1e3, posinf=1e3, neginf=1e3)


def _px(made: LevelPass, rows: Whole, columns: Whole, frame_px: tuple[int, int]) -> Floats:
    return np.column_stack(
        [columns + made.left + 0.5 - frame_px[0] / 2, frame_px[1] / 2 - rows - made.top - 0.5]
    ).astype(np.float64)


def _noise(px: Floats, uv: Floats) -> float:
    """Return how far one place scatters in one direction, px: about straight maps of small squares of the level.

    The middle one of the squares counts, so that an edge through some of them does not.
    """
    squares = 4 if len(px) >= 400 else 2 if len(px) >= 60 else 1
    low, high = px.min(axis=0), px.max(axis=0)
    which = np.minimum(((px - low) / np.maximum(high - low, 1e-9) * squares).astype(int), squares - 1)
    found = []
    for square in np.unique(which, axis=0):
        mine = (which == square).all(axis=1)
        if mine.sum() < FEWEST_IN_SQUARE:
            continue
        basis = np.column_stack([px[mine] - px[mine].mean(axis=0), np.ones(int(mine.sum()))])
        to_uv, _, rank, _ = np.linalg.lstsq(basis, uv[mine], rcond=1e-9)
        size = np.sqrt(abs(np.linalg.det(to_uv[:2])))
        if rank == 3 and size > 1e-12:
            left = np.abs(uv[mine] - basis @ to_uv)
            found.append(1.4826 * float(np.median(left)) / size * np.sqrt(mine.sum() / (mine.sum() - 3)))
    return float(np.median(found)) if found else 0.0


def _planned_pixels(made: LevelPass, corners: Floats, frame_px: tuple[int, int]) -> tuple[Whole, Whole]:
    """Return rows and columns of pixels at which a level is planned and something is seen that changes over it."""
    uv = np.random.default_rng(SEED).uniform(*INSIDE, (4 * MOST_PLACES, 2))
    x, y = px_from_art(uv, corners=corners).T
    columns = np.round(x + frame_px[0] / 2 - 0.5).astype(np.int64) - made.left
    rows = np.round(frame_px[1] / 2 - y - 0.5).astype(np.int64) - made.top
    height, width = made.hit.shape
    inside = (rows >= BESIDE_PX) & (rows < height - BESIDE_PX) & (columns >= BESIDE_PX) & (columns < width - BESIDE_PX)
    flat = np.unique(rows[inside] * width + columns[inside])
    rows, columns = flat // width, flat % width
    if not len(rows):
        return rows, columns
    if made.fringes:
        full = 0.99 * float(made.hit.max())
        kept = away_from_edges(made.hit, rows, columns, 2, full=full) & (made.hit[rows, columns] >= max(full, 0.01))
    else:
        kept = np.ones(len(rows), dtype=bool)
        for by in (-BESIDE_PX, BESIDE_PX):
            kept &= (made.u[rows, columns] != made.u[rows + by, columns + by]) | (
                made.v[rows, columns] != made.v[rows + by, columns + by]
            )
    rows, columns = rows[kept], columns[kept]
    if len(rows) > MOST_PLACES:
        some = np.sort(np.random.default_rng(SEED).choice(len(rows), MOST_PLACES, replace=False))
        rows, columns = rows[some], columns[some]
    return rows, columns


def _on_art(places: Floats, corners: Floats) -> NDArray[np.bool_]:
    """Return which ``places`` (N, 2) px lie well on art with these ``corners`` (4, 2) px."""
    try:
        uv = art_from_px(places, corners=corners)
    except np.linalg.LinAlgError:
        return np.zeros(len(places), dtype=bool)
    size = np.array([np.linalg.norm(corners[1] - corners[0]), np.linalg.norm(corners[3] - corners[0])])
    room = 1.5 / np.maximum(size, 3.0)
    return np.asarray(((uv > room) & (uv < 1 - room)).all(axis=1))


def _seen_at(
    passes: Mapping[int, LevelPass],
    rows: Whole,
    columns: Whole,
    *,
    moved: PictureMap,
    corners: Floats,
    frame_px: tuple[int, int],
    scatter: float,
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return how much of pixels of the frame is covered, (N,), and where some level is as ``moved`` would have it."""
    cover, right = np.zeros(len(rows)), np.zeros(len(rows), dtype=bool)
    for level, made in passes.items():
        down, across = rows - made.top, columns - made.left
        height, width = made.hit.shape
        there = (down >= 0) & (down < height) & (across >= 0) & (across < width)
        hit = np.zeros(len(rows))
        hit[there] = made.hit[down[there], across[there]]
        cover = np.maximum(cover, hit)
        whole = hit >= COVERED
        uv = _uv(made, down[whole], across[whole], True)
        places = _px(made, down[whole], across[whole], frame_px)
        out = np.linalg.norm(moved(px_from_art(uv, corners=corners[level])) - places, axis=1)
        right[whole] |= out <= NEAR_PX + SCATTERS * scatter
    return cover, right


def _edges_and_grid(width: int, height: int) -> tuple[Whole, Whole]:
    """Return rows and columns of the outermost pixels of a frame, and of a grid all over it."""
    every_row, every_column = np.arange(height), np.arange(width)
    rows = [np.zeros(width, dtype=int), np.full(width, height - 1), every_row, every_row]
    columns = [every_column, every_column, np.zeros(height, dtype=int), np.full(height, width - 1)]
    grid_rows, grid_columns = np.meshgrid(
        np.linspace(0, height - 1, min(GRID, height)).astype(int),
        np.linspace(0, width - 1, min(GRID, width)).astype(int),
        indexing="ij",
    )
    return np.concatenate([*rows, grid_rows.ravel()]), np.concatenate([*columns, grid_columns.ravel()])
