# SPDX-License-Identifier: GPL-3.0-or-later
"""Gaps: what does not show as it should, told from what each level does at the places that are looked at."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..judging.level_gaps import COVERED, CUT_OFF, HOLE, STRANGE, THROUGH, TOO_MUCH, Gap
from .level_at_places import LevelAtPlaces
from .lines_of_pixels import Lines, Mask

Floats = NDArray[np.float64]

# Fewer places than these may be chance: a denoiser, a firefly.
FEWEST = 4
# A level covers what its art leaves clear if it does so at so many of the places where that could be seen.
MOSTLY = 0.9
# Where a level certainly fills a pixel all levels together come to at least so much of it.
LEAST_OF_A_PIXEL = 0.9
# Light of less than this is none.
BLACK = 1e-6


def gaps_among(levels: Sequence[LevelAtPlaces], lines: Lines, light: Floats | None, *, shared: bool) -> Iterator[Gap]:
    """Yield the gaps, from what concerns most of the frame to what concerns one level."""
    size = float(lines.weight.sum())
    any_shows = np.logical_or.reduce([level.shows for level in levels])
    unmarked = _of_one_each([level.unmarked & ~any_shows for level in levels])
    solid = np.logical_or.reduce([level.solid for level in levels])
    unmarked = [bare for level, bare in zip(levels, unmarked, strict=True) if not level.gone]
    levels = [level for level in levels if not level.gone]
    if not levels:
        return
    should = np.logical_or.reduce([level.should for level in levels])
    empty = should & ~any_shows
    if light is not None:
        # Where a level is gone with all that is behind it the picture tells that it is a hole.
        empty = empty | (solid & ~any_shows & (light <= BLACK))
        yield from _gap(HOLE, None, empty & (light <= BLACK), lines, size)
        covered = empty & (light > BLACK)
        if _of_one_level(levels, covered, shared=shared):
            empty = empty & ~covered
        else:
            yield from _gap(COVERED, None, covered, lines, size)
        seen_bright = np.logical_or.reduce([level.bright & level.shows for level in levels])
        for gap in _gap(HOLE, None, seen_bright & (light <= BLACK), lines, size):
            yield replace(gap, only_picture=True)
    else:
        yield from _gap(HOLE, None, empty, lines, size)
    thin = should & any_shows & (_of_a_pixel(levels, shared=shared) < LEAST_OF_A_PIXEL)
    is_hole = empty.sum() >= FEWEST
    if not is_hole and sum(int((level.should & level.shows & thin).sum()) >= FEWEST for level in levels) > 1:
        # Something half clear is before all levels there, or all channels were faded.
        yield from _gap(COVERED, None, thin, lines, size)
        empty = empty | thin
    explained = empty
    missing = [level.should & ~level.shows for level in levels]
    for at, level in enumerate(levels):
        too_much = level.barred & level.shows
        rear_missing = _any(missing[at + 1 :], lines)
        rear_should = _any([rear.should for rear in levels[at + 1 :]], lines)
        blocks = level.shows & level.clear_inside & rear_should
        blocked = blocks & rear_missing & ~explained
        if blocked.sum() >= FEWEST and blocked.sum() >= MOSTLY * blocks.sum():
            too_much = too_much | blocked
        yield from _gap(TOO_MUCH, level.number, too_much, lines, size)
        through = _any([rear.through == level.number for rear in levels[at + 1 :]], lines)
        yield from _gap(THROUGH, level.number, through, lines, size)
        if too_much.sum() >= FEWEST:
            explained = explained | (level.shows & level.clear_inside)
        yield from _gap(STRANGE, level.number, level.strange, lines, size)
    # Coordinates that are there are of something that shows.
    missing = [(lost | bare) & ~explained for lost, bare in zip(missing, unmarked, strict=True)]
    yield from _covered(levels, missing, lines, size)


def _of_a_pixel(levels: Sequence[LevelAtPlaces], *, shared: bool) -> Floats:
    """Return how much of each pixel shows any level; those whose passes are their own may show in the same samples."""
    marks = [level.mark for level in levels]
    return np.asarray(np.sum(marks, axis=0) if shared else np.max(marks, axis=0))


def _of_one_each(unmarked: Sequence[Mask]) -> list[Mask]:
    """Return the places at which coordinates are there without a mark, each for the level that has the most of them.

    Where two levels have nearly the same coordinates, it is not the one that has them there by chance.
    """
    left = list(unmarked)
    for at in sorted(range(len(left)), key=lambda at: -int(unmarked[at].sum())):
        left = [mask if other == at else mask & ~left[at] for other, mask in enumerate(left)]
    return left


def _of_one_level(levels: Sequence[LevelAtPlaces], empty: Mask, *, shared: bool) -> bool:
    """Return whether it is one level alone that is missing where no level shows at all.

    Where levels have ``shared`` coordinates, those are still there.
    """
    if shared:
        bare = np.logical_or.reduce([level.unmarked for level in levels])
        return bool((bare & empty).sum() >= MOSTLY * empty.sum())
    expected = [int((level.should & empty).sum()) for level in levels]
    alone = sum(count > 0 for count in expected) == 1
    for level, count in zip(levels, expected, strict=True):
        missing_elsewhere = int((level.should & ~level.shows & ~empty).sum())
        if count >= MOSTLY * empty.sum() and (alone or missing_elsewhere >= FEWEST):
            return True
    return False


def _covered(levels: Sequence[LevelAtPlaces], missing: Sequence[Mask], lines: Lines, size: float) -> Iterator[Gap]:
    """Yield what hides levels: a thing that stands before one hides that and all that is behind it there."""
    rest = list(missing)
    for at, level in enumerate(levels):
        lost = rest[at]
        if lost.sum() < FEWEST:
            continue
        behind = _any([rear.should & lost for rear in levels[at + 1 :]], lines)
        behind_lost = _any(
            [rear.should & lost & gone for rear, gone in zip(levels[at + 1 :], rest[at + 1 :], strict=True)], lines
        )
        shows_behind = _any([rear.shows & lost & rear.should for rear in levels[at + 1 :]], lines)
        is_thing = behind.any() and behind_lost.sum() >= MOSTLY * behind.sum() and not shows_behind.sum() > FEWEST
        yield from _gap(COVERED if is_thing else CUT_OFF, level.number, lost, lines, size)
        if is_thing:
            rest = [gone & ~lost for gone in rest]


def _any(masks: Sequence[Mask], lines: Lines) -> Mask:
    return np.logical_or.reduce(masks) if len(masks) else np.zeros(len(lines.rows), dtype=bool)


def _gap(code: str, level: int | None, wrong: Mask, lines: Lines, size: float) -> Iterator[Gap]:
    """Yield one gap, if the places are more than chance."""
    if wrong.sum() < FEWEST:
        return
    rows, columns = lines.rows[wrong], lines.columns[wrong]
    box = int(columns.min()), int(rows.min()), int(columns.max()) + 1, int(rows.max()) + 1
    # Lines stand for what lies beside them, which may be more than there is.
    most = (box[2] - box[0]) * (box[3] - box[1]) / size
    yield Gap(code, level, min(float(lines.weight[wrong].sum()) / size, most), box)
