# SPDX-License-Identifier: GPL-3.0-or-later
"""Flattened passes: made grey, inverted, cut off at a value or rounded to a few, so that no level's place is in them.

What keeps places, a curve or a matrix that can be taken back, is `recoloured_passes`.
"""

from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from underglass.shot.words import number_text

from ..files.pass_fits import FULL_OF_SHARED, LevelPass
from .recoloured_passes import said_of_passes
from .whole_frame import WholeFrame

Floats = NDArray[np.float64]

# Fewer pixels tell nothing.
FEWEST = 64
# Of every so many pixels each way one is looked at.
EVERY = 3
# Numbers this near are the same: files may hold half floats, that come to 1 by sums.
SAME = 0.002
# Of the pixels that hold something so large a share is at the greatest value where all above it was cut off.
MOST_CUT = 0.2
# What is cut off at this or more may be a whole mark.
WHOLE = 0.97
# Along a line of pixels coordinates change at every one: with fewer values than this for each px they are rounded. Half
# floats alone come to no fewer.
FEWEST_VALUES = 0.25
FEWEST_IN_LINE = 16
# Rounded are those that are whole numbers of one step, but for so much of it.
UNEVEN = 0.1


def flattened(
    passes: Mapping[int, LevelPass], *, wrong: Set[int], names: Sequence[str], corners: Floats
) -> WholeFrame | None:
    """Return how the numbers in passes were flattened, or None where that does not explain all levels that are wrong.

    ``wrong`` are the levels that are not where they should be, ``names`` of all, with their ``corners`` (L, 4, 2) px.
    Passes that levels share were changed for all of them.
    """
    shared = any(made.fringes for made in passes.values())
    for what, mine in _found(passes, corners):
        if mine and (shared or wrong <= mine):
            whose = [] if shared or len(mine) == len(passes) else [names[level] for level in sorted(mine)]
            return said_of_passes(what, whose)
    return None


def inverted(passes: Mapping[int, LevelPass]) -> dict[int, LevelPass]:
    """Return the passes with all numbers taken from 1, as they were where somebody inverted them."""
    shared = any(made.fringes for made in passes.values())
    return {
        level: replace(
            made,
            u=1 - made.u,
            v=1 - made.v,
            # What levels share are colours; the mark of each is a single value, which a change of colours leaves.
            hit=made.hit if shared else 1 - made.hit,
            fringes=tuple(1 - wave for wave in made.fringes),
        )
        for level, made in passes.items()
    }


def _found(passes: Mapping[int, LevelPass], corners: Floats) -> Iterator[tuple[str, set[int]]]:
    """Yield what may have been done, and the levels that show it."""
    yield "were made grey: red, green and blue hold the same", {at for at, made in passes.items() if _is_grey(made)}
    cuts = {at: at_most for at, made in passes.items() if (at_most := _cut_at(made)) is not None}
    if cuts and np.ptp(list(cuts.values())) <= SAME:
        cut = number_text(round(float(np.median(list(cuts.values()))), 3))
        yield f"were cut off: no number in them is greater than {cut}", set(cuts)
    steps = {at: by for at, made in passes.items() if (by := _rounded_to(made, corners[at])) is not None}
    if steps:
        step = number_text(float(np.median(list(steps.values()))), digits=2)
        yield f"were rounded: coordinates go in steps of {step}", set(steps)


def _is_grey(made: LevelPass) -> bool:
    colours = (
        [(made.u, *made.fringes[:2]), (made.v, *made.fringes[2:])] if made.fringes else [(made.u, made.v, made.hit)]
    )
    for red, green, blue in colours:
        some = [values[::EVERY, ::EVERY].astype(np.float64) for values in (red, green, blue)]
        there = np.abs(some[0]) > SAME
        if there.sum() < FEWEST:
            return False
        off = max(float(np.abs(some[0] - other)[there].max()) for other in some[1:])
        if off > SAME:
            return False
    return True


def _cut_at(made: LevelPass) -> float | None:
    """Return the value that nothing in the passes of a level is above, where that was cut off; None where not."""
    most, at_most = [], []
    for values in (made.u, made.v, *(made.fringes or (made.hit,))):
        some = values[::EVERY, ::EVERY].astype(np.float64)
        some = some[np.abs(some) > SAME]
        if len(some) < FEWEST or not np.isfinite(some).all():
            return None
        most.append(float(some.max()))
        at_most.append(float((some >= some.max() - SAME).mean()))
    # A mark is the same all over the level anyway.
    if max(most) >= WHOLE or np.ptp(most) > SAME or max(at_most[:2]) < MOST_CUT:
        return None
    return max(most)


def _rounded_to(made: LevelPass, corners: Floats) -> float | None:
    """Return the steps in which coordinates go along the lines on which most of the level shows; None: in none."""
    whole = made.hit >= FULL_OF_SHARED
    across, down = int(whole.sum(axis=1).argmax()), int(whole.sum(axis=0).argmax())
    steps = []
    for values, end in ((made.u, corners[1]), (made.v, corners[3])):
        lines = values[across][whole[across]], values[:, down][whole[:, down]]
        if min(map(len, lines)) < FEWEST_IN_LINE:
            return None
        # Where a mark was made up there may be nothing.
        there = max(
            (np.unique(line[line != 0].astype(np.float64)) for line in lines),
            key=lambda line: np.ptp(line) if len(line) else 0.0,
        )
        if len(there) == 1 and there[0] == 1.0 and all((line == 0).any() for line in lines):
            # Whole numbers, of coordinates from 0 to 1. Beside a level that was inverted there are ones alone.
            steps.append(1.0)
            continue
        if len(there) < 2:
            return None
        long_px = float(np.ptp(there)) * float(np.linalg.norm(end - corners[0]))
        if not np.isfinite(long_px) or long_px < FEWEST_IN_LINE or len(there) >= FEWEST_VALUES * long_px:
            return None
        step = float(np.diff(there).min())
        if np.abs(there / step - np.round(there / step)).max() > UNEVEN:
            return None
        steps.append(step)
    return max(steps)
