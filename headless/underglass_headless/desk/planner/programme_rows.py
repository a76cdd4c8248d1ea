# SPDX-License-Identifier: GPL-3.0-or-later
"""The rows of a programme beyond its limits: what a travel is, what rests, what makes a level look its distance.

Which unknowns there are beyond those of the limits is said in a `Layout`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from underglass.shot.quantity import MOST_METRES

from .linear_programme import Programme, Row
from .programme_setting import cap_of, turning_frames
from .stand_limits import HEIGHT, SCALE, Limit, Setting
from .walk_frames import travel_of

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Layout:
    """Where the unknowns beyond those of the limits lie: ``travels`` maps each to what a metre of it costs.

    ``asides`` maps a level whose art may sit where it likes to how far it is from where it would best; ``movers`` maps
    a level to the unknown that is 1 where it moves, and is empty where no level could rest.
    """

    size: int
    travels: dict[int, float]
    asides: dict[int, int]
    movers: dict[int, int]


def can_rest(setting: Setting) -> list[int]:
    """Return the levels that could rest: none where the lens extends on its way, or the level goes by itself."""
    if np.ptp(setting.extension) > 0:
        return []
    return [level for level, element in enumerate(setting.brief.elements) if not element.across]


def layout_of(setting: Setting, *, choosing: bool) -> Layout:
    """Return where the travels lie, and, where ``choosing`` what rests, the unknowns that say what moves."""
    at = setting.base
    costs = _travel_costs(setting)
    travels = {at + index: cost for index, cost in enumerate(costs)}
    at += len(costs)
    free = [level for level in range(setting.count) if setting.is_free(level)]
    asides = {level: at + index for index, level in enumerate(free)}
    at += len(free)
    movers = {level: at + index for index, level in enumerate(can_rest(setting))} if choosing else {}
    return Layout(at + len(movers), travels, asides, movers)


def _pieces(setting: Setting) -> list[tuple[int, int, int]]:
    """Return from which frame to which a walk goes one way, and how often it goes between these two distances."""
    toward = setting.toward
    turns = np.flatnonzero(np.diff(np.sign(np.diff(toward)))) + 1
    ends = [0, *turns.tolist(), len(toward) - 1]
    pieces: dict[tuple[float, float], tuple[int, int, int]] = {}
    for first, last in pairwise(ends):
        if toward[first] != toward[last]:
            low, high = sorted((float(toward[first]), float(toward[last])))
            times = pieces[low, high][2] if (low, high) in pieces else 0
            pieces[low, high] = (first, last, times + 1)
    return list(pieces.values())


def _travel_costs(setting: Setting) -> list[float]:
    """Return what each travel costs: one a level, and where the lens extends one more a level and piece of the walk."""
    aside, along = travel_of(setting.across), travel_of(setting.toward)
    if np.ptp(setting.extension) == 0:
        return [along + aside] * setting.count
    times = [float(times) for _, _, times in _pieces(setting)]
    return [aside] * setting.count + times * setting.count


def travel_rows(setting: Setting, layout: Layout) -> list[Row]:
    """Return the rows that make every travel at least what its level goes, either way."""
    rows = []
    at = setting.base
    for level in range(setting.count):
        rows += _either_way({setting.gain(level): 1.0, SCALE: -1.0}, at + level, layout.size)
    if np.ptp(setting.extension) == 0:
        return rows
    at += setting.count
    toward, extension = setting.toward, setting.extension
    for level in range(setting.count):
        for first, last, _ in _pieces(setting):
            terms = {
                SCALE: -(toward[last] - toward[first]),
                setting.distance(level): -(extension[last] - extension[first]),
                setting.gain(level): toward[last] * extension[last] - toward[first] * extension[first],
            }
            rows += _either_way(terms, at, layout.size)
            at += 1
    return rows


def _either_way(terms: dict[int, float], least: int, size: int) -> list[Row]:
    """Return the rows that say |Σ terms| ≤ the unknown ``least``."""
    row = np.zeros(size)
    for index, value in terms.items():
        row[index] = value
    up, down = row.copy(), -row
    up[least] = down[least] = -1.0
    return [(up, 0.0), (down, 0.0)]


def aside_rows(setting: Setting, layout: Layout) -> list[Row]:
    """Return the rows that say how far art that may sit where it likes is from where it would best."""
    rows = []
    for level, index in layout.asides.items():
        terms = {setting.place(level): 1.0, setting.distance(level): -float(setting.middle[level])}
        rows += _either_way(terms, index, layout.size)
    return rows


def gain_rows(setting: Setting, size: int) -> list[Row]:
    """Return g = d/D for every level: what makes its growth and its drift those of the world."""
    rows = []
    for level in range(setting.count):
        row = np.zeros(size)
        row[setting.gain(level)] = 1.0
        row[setting.distance(level)] = -setting.unit * setting.world.nearness[level]
        rows.append((row, 0.0))
    return rows


def rest_row(setting: Setting, level: int, size: int) -> Row:
    """Return g = κ: the level rests."""
    row = np.zeros(size)
    row[setting.gain(level)], row[SCALE] = 1.0, -1.0
    return row, 0.0


def bounds_of(setting: Setting, size: int, *, cap: float) -> tuple[Floats, Floats]:
    """Return the least and the greatest values of the unknowns.

    No level is further from the lens than the lens from the bed, ``cap``; a scale at which the nearest level would
    belong at twice that height is none that a stand has.
    """
    lower, upper = np.zeros(size), np.full(size, np.inf)
    upper[: setting.base] = cap
    upper[SCALE] = 2.0 * cap
    for level in range(setting.count):
        reach = MOST_METRES if setting.is_free(level) else 0.0
        lower[setting.place(level)], upper[setting.place(level)] = -reach, reach
    return lower, upper


def vector(size: int, costs: dict[int, float]) -> Floats:
    """Return the coefficients of what is to be least."""
    row = np.zeros(size)
    for index, cost in costs.items():
        row[index] = cost
    return row


def room(setting: Setting, size: int) -> Floats:
    """Return the stage that spreads the levels as far as there is room: a slip of a counter then shows least."""
    return vector(size, {setting.distance(level): -1.0 for level in range(setting.count)})


def comforts(setting: Setting, layout: Layout) -> list[Floats]:
    """Return what is least after the travel: cramped levels, then art beside its best place, then the lens's height."""
    asides = vector(layout.size, dict.fromkeys(layout.asides.values(), 1.0))
    return [room(setting, layout.size), asides, vector(layout.size, {HEIGHT: 1.0})]


def programme_for(
    setting: Setting, limits: Sequence[Limit], layout: Layout, *, equalities: Sequence[Row], rows: Sequence[Row] = ()
) -> Programme:
    """Return the programme of a setting, with more equalities and rows beside those that always hold."""
    return Programme(
        tuple(limits),
        *bounds_of(setting, layout.size, cap=cap_of(setting.brief)),
        turning_frames(setting),
        (*travel_rows(setting, layout), *aside_rows(setting, layout), *rows),
        tuple(equalities),
    )
