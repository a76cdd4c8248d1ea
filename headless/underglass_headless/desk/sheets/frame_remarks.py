# SPDX-License-Identifier: GPL-3.0-or-later
"""Remarks: what an operator should know of a frame beside its reading, such as where a move starts or turns round."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from underglass.plan.counter import Counted
from underglass.plan.plan_arrays import Ints, Plan
from underglass.proof.wording import listed, plain
from underglass.shot import CAMERA, Exposure

from .sheet_set import LABELS

# A ten-thousandth of a counter step from one frame to the next is rest; conversions of units leave less.
_REST = 1e-4

Remarks = dict[int, list[str]]


def remarks_of(plan: Plan, *, part: str, moving: Sequence[Counted]) -> Remarks:
    """Return the remarks about ``part`` by row, counted from 0; rows without one have no entry."""
    found: Remarks = defaultdict(list)
    for row, text in (*_passes(plan, part), *_moves(plan, part, moving), *_drawings(plan, part)):
        found[row].append(text)
    return found


def is_in(exposure: Exposure, part: str) -> bool:
    """Return whether ``part`` is shot in the pass ``exposure``; the camera is in all of them."""
    return part == CAMERA or exposure.levels is None or part in exposure.levels


def percent(fraction: float) -> str:
    """Return a fraction of light in per cent, without decimals that say nothing."""
    return f"{round(100 * fraction, 1):g} %"


def _passes(plan: Plan, part: str) -> Iterator[tuple[int, str]]:
    shot = plan.shot
    mine = [exposure for exposure in shot.exposures if is_in(exposure, part)]
    if mine:
        names = listed([plain(exposure.name) for exposure in mine], most=len(mine))
        yield 0, f"{'pass' if len(mine) == 1 else 'passes'}: {names}"
    for exposure in mine:
        name = plain(exposure.name)
        for (first, start), (last, end) in pairwise(exposure.fade):
            if start != end:
                way = "in" if end > start else "out"
                yield first - shot.frames[0], f"{name} fades {way}, {percent(start)} to {percent(end)} on frame {last}"
        if exposure.fade:
            frame, fraction = exposure.fade[-1]
            yield frame - shot.frames[0], f"{name} stays at {percent(fraction)}"


def _moves(plan: Plan, part: str, moving: Sequence[Counted]) -> Iterator[tuple[int, str]]:
    """Yield where moves start, turn round and stop, axes that do the same on one frame together."""
    on = 1 if part == CAMERA else plan.shot.levels[plan.names.index(part)].on
    told: dict[tuple[int, str], list[str]] = defaultdict(list)
    for axis in moving:
        for row, what in _events(axis, on):
            told[row, what].append(LABELS[axis.axis])
    for (row, what), labels in told.items():
        names = f"{listed(labels, most=len(labels))} " if len(moving) > 1 else ""
        yield row, f"{names}{what if len(labels) == 1 else _plural(what)}"


def _plural(what: str) -> str:
    return {"starts": "start", "stops": "stop", "turns round": "turn round"}.get(what, what)


def _events(axis: Counted, on: int) -> Iterator[tuple[int, str]]:
    """Yield the rows on which the counter starts, turns round and stops, by the runs in which the plan goes one way.

    A run that never shows on the counter is none.
    """
    rows = np.arange(0, len(axis.counts), on)
    ways = np.where(np.abs(np.diff(axis.planned[rows])) > _REST, np.sign(np.diff(axis.planned[rows])), 0).astype(int)
    counts = np.diff(axis.counts[rows])
    ended, way_before = -1, 0
    runs = [run for run in _runs(ways) if counts[run[0] : run[1]].any()]
    for position, (begin, stop) in enumerate(runs):
        shows = begin + np.flatnonzero(counts[begin:stop])
        touches = begin == ended and ways[begin] == -way_before
        yield int(rows[shows[0] + 1]), "turns round" if touches else "starts"
        ended, way_before = stop, ways[begin]
        if position + 1 == len(runs) or runs[position + 1][0] != stop:
            yield int(rows[shows[-1] + 1]), "stops"


def _runs(ways: Ints) -> list[tuple[int, int]]:
    """Return begin and end of every stretch of steps that go the same way."""
    edges = [0, *(np.flatnonzero(np.diff(ways)) + 1).tolist(), len(ways)]
    return [(begin, stop) for begin, stop in pairwise(edges) if stop > begin and ways[begin]]


def _drawings(plan: Plan, part: str) -> Iterator[tuple[int, str]]:
    """Yield for how long each drawing is held, and where the glass stays clear."""
    if part == CAMERA or not plan.shot.levels[plan.names.index(part)].has_drawings:
        return
    column = plan.names.index(part)
    shown = plan.drawing[:, column]
    starts = [0, *(np.flatnonzero(np.diff(shown)) + 1).tolist()]
    for begin, stop in zip(starts, [*starts[1:], len(shown)], strict=True):
        until = int(plan.frames[stop - 1])
        if shown[begin] < 0:
            yield begin, f"no drawing to frame {until}: leave the glass clear"
        elif stop - begin > 1:
            yield begin, f"held to frame {until}"
