# SPDX-License-Identifier: GPL-3.0-or-later
"""The shape of a deviation: what an operator did to make an axis stray from its track the way it does.

Pure functions over tracks; units and sentences are `diagnose`.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST_FRAMES_LATE = 48
# A move is reversed when its steps lie so far against the planned ones: the cosine between the two, −1 for a mirror
# image. By ratio, a way back is not as long as the way there.
AGAINST = -0.9
# A shape explains a deviation when it leaves less than this share of it.
EXPLAINED = 0.08


class Shape(StrEnum):
    """Kinds of mistake, each a word of the stand."""

    OFFSET = "offset"
    LATE = "late"
    EARLY = "early"
    REVERSED = "reversed"
    STILL = "still"
    TOO_FAR = "too-far"
    UNEVEN = "uneven"
    STRAYS = "strays"


@dataclass(frozen=True)
class Deviation:
    """What shape, how much (units of the axis; frames for late and early; a factor for too-far), and where worst."""

    shape: Shape
    amount: float
    first: int
    last: int
    worst: int


def shape_of(planned: Floats, *, seen: Floats, floor: float) -> Deviation:
    """Return the shape of ``seen − planned``, (F,) each; what is below ``floor`` counts as being there.

    ``first``, ``last`` and ``worst`` are indices into the frames. The simplest mistake that explains it is taken.
    """
    error = seen - planned
    off = np.flatnonzero(np.abs(error) > floor)
    if not len(off):
        off = np.array([int(np.abs(error).argmax())])
    worst = int(np.abs(error).argmax())
    where = int(off[0]), int(off[-1]), worst
    largest = float(np.abs(error).max())
    travel = float(np.ptp(planned))
    if np.ptp(error) <= max(EXPLAINED * largest, floor * 0.5):
        return Deviation(Shape.OFFSET, float(np.median(error)), *where)
    if travel > floor:
        if np.ptp(seen) <= max(EXPLAINED * travel, floor) and np.ptp(seen) < 0.5 * travel:
            return Deviation(Shape.STILL, float(error[worst]), *where)
        # Where an operator begins is one thing and which way he goes another: shapes of a move compare from its start.
        move, did = planned - planned[0], seen - seen[0]
        room = max(EXPLAINED * largest, floor)
        late = _lateness(planned, seen, room)
        if late:
            return Deviation(Shape.LATE if late > 0 else Shape.EARLY, float(abs(late)), *where)
        if _is_reversed(move, did, floor):
            return Deviation(Shape.REVERSED, float(error[worst]), *where)
        factor = float(did @ move) / float(move @ move)
        if np.abs(did - factor * move).max() <= room and np.abs(seen[0] - planned[0]) <= room:
            return Deviation(Shape.TOO_FAR, factor, *where)
        if abs(error[0]) <= room and abs(error[-1]) <= room:
            return Deviation(Shape.UNEVEN, float(error[worst]), *where)
        if late := _late_begin(planned, seen, floor, room):
            return Deviation(Shape.LATE if late > 0 else Shape.EARLY, float(abs(late)), *where)
    return Deviation(Shape.STRAYS, float(error[worst]), *where)


def _is_reversed(move: Floats, did: Floats, floor: float) -> bool:
    """Return whether ``did`` goes where ``move``, (F,) each from where they began, was to come from."""
    if np.abs(did + move).max() <= max(EXPLAINED * np.abs(move).max(), floor):
        return True
    lengths = float(np.linalg.norm(did) * np.linalg.norm(move))
    return np.abs(did).max() > floor and float(did @ move) < AGAINST * lengths


def _lateness(planned: Floats, seen: Floats, room: float) -> int:
    """Return by how many whole frames ``seen`` runs after ``planned`` (negative: before it), or 0.

    What is late stands where the move begins until it is made, and what is early where it ends from then on, or a step
    further: of a level that is held for several frames a shot need not show the end of its move.
    """
    most = min(MOST_FRAMES_LATE, len(planned) - 1)
    rows = np.arange(len(planned))
    shifts = [*range(1, most + 1), *range(-1, -most - 1, -1)]
    left = {}
    steps = np.diff(planned)
    further = steps[np.abs(steps).argmax()] if len(steps) else 0.0
    for shift in shifts:
        apart = seen - planned[np.clip(rows - shift, 0, rows[-1])]
        # Of a move that hardly shows any more nobody can say that it was made early.
        if shift < 0 and np.ptp(planned[-shift:]) > np.ptp(planned) / 2:
            apart[shift:] -= np.clip(apart[shift:], min(further, 0.0), max(further, 0.0))
        left[shift] = float(np.abs(apart).max())
    best = min(left, key=lambda shift: (left[shift], abs(shift)), default=0)
    return best if best and left[best] <= room else 0


def _late_begin(planned: Floats, seen: Floats, floor: float, room: float) -> int:
    """Return by how many frames a move begins late (negative: comes to its end early) that runs otherwise too, or 0.

    Keys that are moved without their handles bend the curve between them. The move must be on every frame where it was
    planned at some time since then.
    """
    for way in (1, -1):
        track, did = planned[::way], seen[::way]
        leaves = [int(np.flatnonzero(np.abs(one - one[0]) > floor)[:1].sum()) for one in (track, did)]
        late = leaves[1] - leaves[0]
        if not (leaves[0] and leaves[1] and 0 < late <= (len(planned) - 1) // 2 and abs(did[0] - track[0]) <= room):
            continue
        between = [track[max(0, row - late) : row + 1] for row in range(len(track))]
        if all(one.min() - room <= value <= one.max() + room for one, value in zip(between, did, strict=True)):
            return late * way
    return 0
