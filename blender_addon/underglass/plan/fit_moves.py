# SPDX-License-Identifier: GPL-3.0-or-later
"""Fitting moves to a track: the rows of a schedule that put an axis where it is on every frame.

A track is cut where it holds and where it turns round; the law of each stretch is found in `fit_laws`.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from ..shot.model import CAMERA, Move
from .fit_laws import Stretch, fitting_move, has_ratio, positions
from .plan_arrays import Floats

# More stretches than any schedule has: the track trembles.
_MOST_RUNS = 40
# How many moves may follow each other the same way without a hold between them, and how many cuts are tried for each.
_MOST_JOINED = 4
_MOST_CUTS = 6
# The first and last steps of a slow move may be lost in rounding; so many are looked for.
_LOST = 2
# The rounding of single precision, as a share of the largest reading.
_SINGLE = float(np.finfo(np.float32).eps)
_DOUBLE = 8 * float(np.finfo(np.float64).eps)


def fit_moves(
    values: Floats,
    *,
    part: str,
    axis: str,
    first: int,
    tolerance: float,
    tidy: Callable[[float], float],
    origin: Floats | None = None,
    about: str = "",
    before: tuple[Move, ...] = (),
    on: int = 1,
) -> tuple[Move, ...] | None:
    """Return the moves that give the track ``values`` (F,), m or radians, within ``tolerance`` on every frame.

    Empty where the axis stands still, None where no laws of motion do it. ``first`` is the frame of the first value;
    ``origin`` (F,) is where the distance of a ratio is counted from, the lens for a level, the level ``about`` for the
    camera. The former moves ``before`` are tried with new ends first. ``tidy`` rounds an end as people write it. A
    level that is animated ``on`` twos has moves that are right on the frames on which it changes.
    """
    held = values[::on]
    if axis == "focal":
        origin = np.zeros(len(values))
    usable = origin if axis in ("height", "focal") and (part != CAMERA or about or axis == "focal") else None
    stretch = Stretch(held, part, axis, tolerance, tidy, None if usable is None else usable[::on], about)
    start = _start(stretch, before)
    if (np.abs(held - start) <= tolerance).all():
        return ()
    whole = Stretch(values, part, axis, tolerance, tidy, usable, about)
    again = _former(whole, [_by_index(move, first) for move in before], start, on)
    if again is None:
        again = _found(stretch, start)
        again = None if again is None else [_slower(move, on) for move in again]
    if again is None or not _follows(whole, again, start, on):
        return None
    return tuple(replace(move, first=move.first + first, last=move.last + first) for move in again)


def _start(stretch: Stretch, before: Sequence[Move]) -> float:
    """Return where the axis stands at first: as it was written where that is near enough."""
    seen = float(stretch.track[0])
    said = min(before, key=lambda move: move.first).start if before else seen
    return said if before and abs(said - seen) <= stretch.tolerance else stretch.tidy(seen)


def _by_index(move: Move, first: int) -> Move:
    return replace(move, first=move.first - first, last=move.last - first)


def _slower(move: Move, every: int) -> Move:
    """Return a move with ``every`` steps in place of one."""
    times = {name: getattr(move, name) * every for name in ("first", "last", "slow_out", "slow_in")}
    return replace(move, **times)


def _follows(stretch: Stretch, moves: Sequence[Move], start: float, every: int) -> bool:
    """Return whether moves, by index and in any order, give the track; one that changes every so many frames."""
    made = np.full(len(stretch.track), start)
    for move in sorted(moves, key=lambda move: move.first):
        made[move.first : move.last + 1] = positions(stretch, move)
        made[move.last + 1 :] = move.end
    made = made[np.arange(len(made)) // every * every]
    return bool((np.abs(made - stretch.track) <= stretch.tolerance).all())


# -- the moves that were -----------------------------------------------------------------------------------------------


def _former(stretch: Stretch, before: Sequence[Move], start: float, every: int) -> list[Move] | None:
    """Return the former moves, in their order, with the ends that the track has; None where they do not give it."""
    count = len(stretch.track)
    in_time = sorted(before, key=lambda move: move.first)
    if not before or in_time[0].first < 0 or in_time[-1].last >= count:
        return None
    made: dict[Move, Move] = {}
    stood = start
    for move, later in zip(in_time, [*in_time[1:], None], strict=True):
        # The end shows on the next frame on which the level changes, if it still stands there.
        shown = -(-move.last // every) * every
        is_shown = shown < count and (later is None or shown <= later.first)
        seen = float(stretch.track[shown]) if is_shown else move.end
        end = move.end if abs(move.end - seen) <= stretch.tolerance else stretch.tidy(seen)
        made[move] = replace(move, start=stood, end=end)
        if move.law.value == "ratio" and not has_ratio(stretch, made[move]):
            return None
        if move.about != (stretch.about if move.about else ""):
            return None
        stood = end
    moves = [made[move] for move in before]
    return moves if _follows(stretch, moves, start, every) else None


# -- moves found in the track ------------------------------------------------------------------------------------------


def _found(stretch: Stretch, start: float) -> list[Move] | None:
    """Return moves for the whole of a track, by index; None where some part of it follows no law."""
    reach = float(np.abs(stretch.track).max())
    if stretch.origin is not None and (whole := _at_once(stretch, start)):
        return [whole]
    finer, coarser = (list(_runs(stretch.track, still)) for still in (_DOUBLE * reach, _SINGLE * reach))
    for runs in (finer, coarser) if finer != coarser else (finer,):
        moves = _along(stretch, runs, start) if len(runs) <= _MOST_RUNS else None
        if moves:
            return moves
    return None


def _at_once(stretch: Stretch, start: float) -> Move | None:
    """Return the one move of the whole track: a ratio from a lens that moves too may turn round on its way."""
    changes = np.flatnonzero(np.abs(np.diff(stretch.track)) > _SINGLE * float(np.abs(stretch.track).max()))
    return fitting_move(stretch, int(changes[0]), int(changes[-1]) + 1, start=start) if len(changes) else None


def _runs(track: Floats, still: float) -> Iterator[tuple[int, int]]:
    """Yield first and last index of every stretch that goes one way without a step of ``still`` or less."""
    steps = np.diff(track)
    ways = np.where(np.abs(steps) <= still, 0.0, np.sign(steps))
    cuts = [0, *(np.flatnonzero(np.diff(ways)) + 1).tolist(), len(steps)]
    for begin, stop in pairwise(cuts):
        if ways[begin]:
            yield begin, stop


def _along(stretch: Stretch, runs: Sequence[tuple[int, int]], start: float) -> list[Move] | None:
    moves: list[Move] = []
    for begin, stop in runs:
        free = moves[-1].last if moves else 0
        if stop <= free:
            continue
        stood = moves[-1].end if moves else start
        found = _one_way(stretch, max(begin, free), stop, stood, free)
        if found is None:
            return None
        moves += found
    return moves


def _one_way(stretch: Stretch, begin: int, stop: int, start: float, free: int, *, joined: int = 1) -> list[Move] | None:
    """Return the moves of a stretch that goes one way: one, or several that follow each other; None where none do."""
    for first, last in _windows(stretch, begin, stop, start, free):
        if move := fitting_move(stretch, first, last, start=start):
            return [move]
    if joined == _MOST_JOINED:
        return None
    for cut in _cuts(stretch.track[begin : stop + 1]):
        move = fitting_move(stretch, begin, begin + cut, start=start)
        if move is None:
            continue
        rest = _one_way(stretch, begin + cut, stop, move.end, begin + cut, joined=joined + 1)
        if rest is not None:
            return [move, *rest]
    return None


def _windows(stretch: Stretch, begin: int, stop: int, start: float, free: int) -> list[tuple[int, int]]:
    """Return first and last indices for a stretch: its own, and those with steps that rounding has hidden."""
    track, tolerance = stretch.track, stretch.tolerance
    firsts = [begin - lost for lost in range(_LOST + 1) if begin - lost >= free]
    firsts = [first for first in firsts if first == begin or abs(track[first] - start) <= tolerance]
    lasts = [stop + lost for lost in range(_LOST + 1) if stop + lost < len(track)]
    lasts = [last for last in lasts if last == stop or abs(track[last] - track[stop]) <= tolerance]
    windows = [(first, last) for first in firsts for last in lasts]
    return sorted(windows, key=lambda window: (begin - window[0] + window[1] - stop, begin - window[0]))


def _cuts(track: Floats) -> list[int]:
    """Return where one move may pass into the next, likeliest first: where it is slowest, where its speed breaks."""
    if len(track) < 3:
        return []
    bends = np.abs(np.diff(track, 2))
    speeds = np.abs(np.diff(track))
    between = speeds[:-1] + speeds[1:]
    inner = np.flatnonzero((between[1:-1] < between[:-2]) & (between[1:-1] <= between[2:])) + 2
    slowest = sorted(inner.tolist(), key=lambda index: between[index - 1])
    breaks = np.argsort(-np.abs(np.diff(bends, prepend=bends[0])))[:_MOST_CUTS]
    kinks = (np.argsort(-bends)[:_MOST_CUTS] + 1).tolist()
    likely = [*slowest[:_MOST_CUTS], *kinks[:2], *(breaks + 1).tolist(), *breaks.tolist()]
    return [cut for cut in dict.fromkeys(likely) if 0 < cut < len(track) - 1][: 2 * _MOST_CUTS]
