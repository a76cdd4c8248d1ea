# SPDX-License-Identifier: GPL-3.0-or-later
"""Moved parts: parts of one picture that were moved against the rest of it, or lines that are there many times.

The levels of a stand that is wrong lie each on a plane of its own, wherever that is. In a picture whose parts were
moved they do not, and all of them are out by as much at the same place of the frame.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.optics.projection import px_from_art
from underglass.shot.words import number_text

from ..files.pass_fits import FULL_OF_SHARED, LevelPass
from .recoloured_passes import said_of_passes
from .whole_frame import Places, WholeFrame

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

# A place is where it should be within this, px, and so many times its scatter.
NEAR_PX, SCATTERS = 0.15, 4.0
FEWEST_PLACES = 40
# Cells of the frame, px a side; with fewer places nothing is known of one.
CELL_PX, FEWEST_IN_CELL = 10, 3
# What places are out by in each cell has to explain so many of them, and of those that are off their level's plane.
EXPLAINED = 0.8
# A level is broken by so many places that are off its plane. So many levels have to be out alike, in so many cells.
FEWEST_BROKEN, FEWEST_OFF, FEWEST_ALIKE = 2, 10, 3
ROUNDS = 6
# A line is there twice where so many pixels of it are.
FEWEST_TWICE = 12
# Of a line no more pixels than about so many are looked at.
ENOUGH_IN_LINE = 64
# So many lines in a row that are the same were repeated; so large a share of them all was made larger.
FEWEST_REPEATED, MOST_TWICE = 4, 0.4
# Of every so many pixels each way one tells how finely coordinates are told.
EVERY = 4
# Coordinates of so many pixels have more different values than these.
ENOUGH_NUMBERS, FEW_NUMBERS = 64, 4


def moved_parts(seen: Sequence[Places], *, corners: Floats, frame_px: tuple[int, int]) -> WholeFrame | None:
    """Return that parts of the picture were moved, or None where that does not explain where levels are ``seen``.

    ``corners`` (L, 4, 2) px is where the plan has the levels.
    """
    told = [one for one in seen if len(one.px) >= FEWEST_PLACES]
    if len(told) < FEWEST_BROKEN:
        return None
    apart = [one.px - px_from_art(one.uv, corners=corners[one.level]) for one in told]
    limits = [NEAR_PX + SCATTERS * one.scatter_px for one in told]
    broken = [_off_its_plane(one.px, by, limit) for one, by, limit in zip(told, apart, limits, strict=True)]
    many_broken = sum(int(off.sum()) >= FEWEST_OFF for off in broken)
    if not many_broken:
        return None
    px, by, off = np.concatenate([one.px for one in told]), np.concatenate(apart), np.concatenate(broken)
    level = np.repeat(np.arange(len(told)), [len(one.px) for one in told])
    limit = np.array(limits)[level]
    column, row = ((px + np.array(frame_px) / 2) / CELL_PX).astype(np.int64).T
    cells, which = np.unique(row * int(np.ceil(frame_px[0] / CELL_PX) + 1) + column, return_inverse=True)
    explained, asked = np.zeros(len(px), dtype=bool), np.zeros(len(px), dtype=bool)
    known = alike = 0
    moved: list[float] = []
    ways: dict[int, list[Floats]] = {}
    for cell in range(len(cells)):
        mine = np.flatnonzero(which == cell)
        if len(mine) < FEWEST_IN_CELL:
            continue
        asked[mine] = True
        middle = np.median(by[mine], axis=0)
        far, known = float(np.hypot(*middle)), known + 1
        explained[mine] = np.hypot(*(by[mine] - middle).T) <= limit[mine]
        if far > float(np.median(limit[mine])):
            moved.append(far)
            alike += len(np.unique(level[mine][off[mine] & explained[mine]])) >= FEWEST_BROKEN
            for at in np.unique(level[mine]).tolist():
                own = np.median(by[mine][level[mine] == at], axis=0)
                if np.hypot(*own) > limits[at]:
                    ways.setdefault(at, []).append(own)
    is_alike = many_broken >= FEWEST_BROKEN and alike >= FEWEST_ALIKE
    if not (is_alike or _go_one_way(ways, float(limit.max()))) or not (off & asked).any():
        return None
    if min(explained[asked].mean(), explained[off & asked].mean()) < EXPLAINED:
        return None
    words = (
        f"parts that were moved within the picture, most by about {number_text(round(float(np.median(moved)), 1))} px"
    )
    share = f", {number_text(100 * len(moved) / known, digits=2)} % of it"
    return WholeFrame("frame-torn", "moved", f"has {words}{share}", f"have {words}{share}")


def _go_one_way(ways: Mapping[int, Sequence[Floats]], limit: float) -> bool:
    """Return whether two levels or more were moved by as much, each in several cells."""
    middles = [np.median(mine, axis=0) for mine in ways.values() if len(mine) >= FEWEST_ALIKE]
    pairs = [float(np.hypot(*(a - b))) for at, a in enumerate(middles) for b in middles[:at]]
    return bool(pairs) and max(pairs) <= limit


def _off_its_plane(px: Floats, by: Floats, limit: float) -> Mask:
    """Return which places of a level, (N,), the plane does not explain that explains most of them."""
    basis = np.column_stack([px, np.ones(len(px))])
    kept = np.ones(len(px), dtype=bool)
    left = np.zeros(len(px))
    for _ in range(ROUNDS):
        solved, *_ = np.linalg.lstsq(basis[kept], by[kept], rcond=None)
        left = np.hypot(*(by - basis @ solved).T)
        kept = left <= max(limit, float(np.median(left)))
    return np.asarray(left > limit)


def lines_twice(made: LevelPass, axis: int) -> tuple[Mask, Mask]:
    """Return which rows (axis 0) or columns (axis 1) are the same as the one before, and of which that can be told.

    Both (N - 1,). Where a level is whole no two lines of it hold the same.
    """
    lines = [np.moveaxis(values, axis, 0) for values in (made.hit, made.u, made.v, *made.fringes)]
    hit, *others = (values[:, :: max(1, values.shape[1] // ENOUGH_IN_LINE)] for values in lines)
    whole = (hit[:-1] >= FULL_OF_SHARED) & (hit[1:] >= FULL_OF_SHARED)
    same = whole.copy()
    for values in others:
        same &= values[:-1] == values[1:]
    enough = whole.sum(axis=1) >= FEWEST_TWICE
    return enough & (same.sum(axis=1) == whole.sum(axis=1)), enough


def repeated_lines(passes: Mapping[int, LevelPass]) -> WholeFrame | None:
    """Return that a picture was made larger by doubling its pixels, or holds one line many times; None: neither."""
    if not passes:
        return None
    twice = [_of_all_levels(passes, axis) for axis in (0, 1)]
    shares = [float(same.sum()) / max(1, int(enough.sum())) for same, enough in twice]
    down, across = (round(1 / max(1 - share, 1e-3)) for share in shares)
    if _hold_few_numbers(passes):
        return said_of_passes("were rounded: their numbers are a few", [])
    first = next(iter(passes.values()))
    if not first.fringes and _are_half(first.u[::EVERY, ::EVERY], first.v[::EVERY, ::EVERY]):
        # Half floats hold coordinates so coarsely that lines beside one another may well be the same.
        return None
    if min(shares) >= MOST_TWICE:
        words = f"made larger from a smaller picture: its pixels stand in blocks of {across} × {down}"
        return WholeFrame("frame-scaled", "blocks", f"was {words}", f"were {words.replace('its', 'their')}")
    for axis, what in enumerate(("row", "column")):
        length, last = _longest(twice[axis][0])
        if length >= FEWEST_REPEATED:
            begin = last - length + 1 + (first.top, first.left)[axis]
            words = f"torn at {what} {begin}: the {length} {what}s after it are the same as that one"
            return WholeFrame("frame-torn", f"{what}s repeated", f"is {words}", f"are {words}")
    return None


def _of_all_levels(passes: Mapping[int, LevelPass], axis: int) -> tuple[Mask, Mask]:
    """Return `lines_twice` of a whole frame: of a line that is there twice every level is that can be told."""
    found = [lines_twice(made, axis) for made in passes.values() if made.hit.shape == _shape(passes)]
    enough = np.logical_or.reduce([known for _, known in found])
    other = np.logical_or.reduce([known & ~same for same, known in found])
    return enough & ~other, enough


def _shape(passes: Mapping[int, LevelPass]) -> tuple[int, ...]:
    return next(iter(passes.values())).hit.shape


def _hold_few_numbers(passes: Mapping[int, LevelPass]) -> bool:
    """Return whether the coordinates of every level that can be asked have hardly any different values."""
    most = []
    for made in passes.values():
        hit, u, v = (values[::EVERY, ::EVERY] for values in (made.hit, made.u, made.v))
        whole = hit >= FULL_OF_SHARED
        if whole.sum() >= ENOUGH_NUMBERS:
            # Of many the first will do.
            most.append(max(len(np.unique(values[whole][: ENOUGH_NUMBERS**2])) for values in (u, v)))
    return bool(most) and max(most) <= FEW_NUMBERS


def _are_half(*values: NDArray[Any]) -> bool:
    """Return whether half floats can hold all of these."""
    return all(bool((some == some.astype(np.float16)).all()) for some in values)


def _longest(marked: Mask) -> tuple[int, int]:
    """Return how many in a row are ``marked`` at most, and the last of those."""
    count, best, last = 0, 0, 0
    for at, is_marked in enumerate(marked.tolist()):
        count = count + 1 if is_marked else 0
        if count > best:
            best, last = count, at
    return best, last
