# SPDX-License-Identifier: GPL-3.0-or-later
"""The walk of a brief: `toward` and `across` as legs, in either of their two spellings, in metres of the world."""

import math
from collections.abc import Sequence
from itertools import pairwise

from underglass.shot.files.toml_table import Table
from underglass.shot.model import SLOWED_LAWS, Law, bezier_handle
from underglass.shot.quantity import STEPS, Quantity
from underglass.shot.words import nearest, number_text, shown

from .brief import Leg, Walk

WORLD_UNITS = {"m": 1.0, "ft": 0.3048}
WORLD_KEYS = ("units", "toward", "across")
LEG_KEYS = ("first", "last", "from", "to", "law", "slow_out", "slow_in", "about")
INFINITY = "infinity"
# Sun and planets are things at a distance too; beyond them write "infinity".
MOST_WORLD_METRES = 1e13
_PAIRS = "write [[frame, distance], …], or a table for each leg: [{first = 1, last = 144, to = 30}]"


def world_length(unit: str, *, above: float | None = None) -> Quantity:
    """Return a length of the world written in ``unit``; above ``above`` metres where that is given."""
    low = -MOST_WORLD_METRES if above is None else above
    return Quantity("a distance", low, MOST_WORLD_METRES, above is not None, unit, WORLD_UNITS[unit])


def read_distance(table: Table, *, unit: str) -> float:
    """Return how far a level is in the world, metres; inf for "infinity"."""
    if table.is_text("distance"):
        word = table.text("distance")
        if word != INFINITY:
            raise table.wrong("distance", f"is {shown(word)}", f'write a number of {unit}, or "{INFINITY}"')
        return math.inf
    return table.number("distance", world_length(unit, above=0.0))


def read_walk(table: Table, key: str, *, unit: str, frames: tuple[int, int], abouts: Sequence[str] = ()) -> Walk:
    """Return the legs of a walk, none where the table does not say ``key``.

    ``abouts`` are the levels that a walk by ratio can be measured from; without any it cannot go by ratio.
    """
    if not table.has(key):
        return ()
    if table.is_tables(key):
        return _legs(table, key, unit, frames, abouts)
    if not table.is_list(key):
        raise table.wrong(key, "is no list", _PAIRS)
    points = table.points(key, world_length(unit), frames=frames)
    if len(points) < 2:
        raise table.wrong(key, "names fewer than two frames", "write where the walk begins and where it ends")
    if points[0][1] != 0:
        raise table.wrong(
            key, f"begins at {number_text(points[0][1] / WORLD_UNITS[unit])} {unit}", _begin(points[0][0])
        )
    return tuple(Leg(*ends, *sides) for ends, sides in _between(points))


def _begin(frame: int) -> str:
    return f"write [{frame}, 0] first: distances count from where the walk begins"


def _between(points: tuple[tuple[int, float], ...]) -> list[tuple[tuple[int, int], tuple[float, float]]]:
    return [((first, last), (start, end)) for (first, start), (last, end) in pairwise(points)]


def _legs(table: Table, key: str, unit: str, frames: tuple[int, int], abouts: Sequence[str]) -> Walk:
    legs: list[Leg] = []
    for row in table.tables(key, keys=LEG_KEYS):
        stood = legs[-1].end if legs else 0.0
        leg = _leg(row, unit, frames, abouts, stood)
        if legs and leg.first < legs[-1].last:
            problem = f"is {leg.first}, and the leg before goes on to frame {legs[-1].last}"
            raise row.wrong("first", problem, f"begin at {legs[-1].last} or later")
        legs.append(leg)
    return tuple(legs)


def _leg(row: Table, unit: str, frames: tuple[int, int], abouts: Sequence[str], stood: float) -> Leg:
    first = row.integer("first", least=frames[0], most=frames[1])
    last = row.integer("last", least=frames[0], most=frames[1])
    if last <= first:
        raise row.wrong("last", f"is {last}, and first is {first}", "a leg needs a later last frame")
    if row.has("from") and row.number("from", world_length(unit)) != stood:
        where = number_text(stood / WORLD_UNITS[unit], digits=12)
        raise row.wrong("from", "is not where the walk had got to: a jump", f"write {where} or leave it out")
    law = Law(row.choice("law", among=[*Law], default=Law.STEADY))
    slow_out, slow_in = _slows(row, law, last - first)
    end = row.number("to", world_length(unit))
    return Leg(first, last, stood, end, law, slow_out, slow_in, _about(row, law, abouts))


def _slows(row: Table, law: Law, span: int) -> tuple[float, float]:
    """Return the steps over which a steady leg leaves rest and comes to rest."""
    blank = bezier_handle(span) if law is Law.BEZIER else 0.0
    slow_out, slow_in = row.number("slow_out", STEPS, default=blank), row.number("slow_in", STEPS, default=blank)
    said = "slow_out" if row.has("slow_out") else "slow_in"
    if law not in SLOWED_LAWS and (slow_out or slow_in):
        raise row.wrong(said, f"goes with the law {law}", "leave it out: only steady and bezier legs have it")
    if slow_out + slow_in > span:
        slows = f"slow_out {number_text(slow_out)} and slow_in {number_text(slow_in)}"
        problem = f"{slows} make more than the {span} steps of the leg"
        raise row.wrong(said, problem, "shorten them, or lengthen the leg")
    return slow_out, slow_in


def _about(row: Table, law: Law, abouts: Sequence[str]) -> str:
    if law is not Law.RATIO:
        if row.has("about"):
            raise row.wrong("about", f"goes with the law {law}", "leave it out: only a leg by ratio is about a level")
        return ""
    if not abouts:
        raise row.wrong("law", "is ratio", "only a walk toward a level goes by ratio; write steady or sine")
    name = row.text("about", remedy="name the level whose distance shrinks by equal ratios")
    if name not in abouts:
        raise row.wrong("about", f"is {shown(name)}", nearest(name, among=abouts))
    return name
