# SPDX-License-Identifier: GPL-3.0-or-later
"""A plan in words: what moves and what rests, what binds, what would set a level at rest, and what clashes.

`facts` has them for a machine.
"""

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from underglass.plan import make_tracks
from underglass.proof.wording import counted, length, listed, number, shortened
from underglass.shot import FrameTable
from underglass.shot.units import METRES_PER_MM, METRES_PER_UNIT

from ..brief.walk_legs import WORLD_UNITS
from .answer import Answer, Binding, Clash, Prefer, Way
from .moves_of_stack import STILL
from .walk_frames import travel_of

_PREFERS = {
    Prefer.MOVERS: "fewest levels that move, then least travel",
    Prefer.TRAVEL: "least travel, then fewest levels that move",
}
# How the keys of limits end that hold from above; all others hold from below.
_UPPER = ":most"
# A relative difference between a programme and its dual that is rounding alone.
_AS_GOOD_AS_NONE = 1e-6
# Binding limits that are named in the summary; the machine's facts have all.
_MOST_BINDING = 6


def plan_lines(answer: Answer) -> Iterator[str]:
    """Yield the summary of a plan, line by line."""
    shot, stack = answer.shot, answer.stack
    units, unit = shot.units, METRES_PER_UNIT[shot.units]
    rows = level_facts(answer)
    moving = [row for row in rows if not row["rests"]]
    scale = stack.scale * WORLD_UNITS[answer.brief.world_units] / unit
    yield f"{shot.title}: {counted(len(rows), 'level')}, {len(moving)} of them move"
    yield (
        f"lens {stack.focal / METRES_PER_MM:g} mm at {length(stack.height, units)} {units};"
        f" {_plain(scale)} {units} of truck for each {answer.brief.world_units} of the walk"
    )
    yield ""
    yield from _table(rows, units, answer.brief.world_units)
    yield ""
    yield f"worst parallax error {_error(float(answer.error_px.max()))} px; chosen for the {_PREFERS[answer.prefer]}"
    yield _proof(answer)
    for binding in stack.binding[:_MOST_BINDING]:
        yield f"  {_binding(binding, units)}"
    if np.ptp(stack.extension) > 0:
        yield "  as focus follows a level the lens extends, and every level makes up for it; focused at a distance"
        yield "  from the lens it would not, and levels could rest"
        return
    for row in moving:
        yield f"  {_why(row, answer)}"


def _table(rows: list[dict[str, Any]], units: str, world: str) -> Iterator[str]:
    head = ("level", "away", "height", "from lens", "up, down", "sideways", "", "art")
    cells = [head]
    for row in rows:
        moves = "rests" if row["rests"] else "moves"
        art = f"{number(row['art_width'], 2)} × {number(row['art_height'], 2)}"
        away = "infinity" if row["distance"] is None else _plain(row["distance"])
        travels = (number(row["travel_height"], 2), number(row["travel_east"], 2))
        name = shortened(row["level"], columns=28)
        cells.append((name, away, number(row["height"], 2), number(row["from_lens"], 2), *travels, moves, art))
    widths = [max(len(row[column]) for row in cells) for column in range(len(head))]
    for line in cells:
        left, *others = (
            cell.ljust(width) if column in {0, 6} else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(line, widths, strict=True))
        )
        yield f"{left}  {'  '.join(others)}".rstrip()
    yield f"(away: in {world}; all else: in {units})"


def _plain(value: float) -> str:
    return f"{value:.6g}".replace("-", "−")


def _error(value: float) -> str:
    return f"{value:.1e}" if value < 1e-3 else number(value, 3)


def _proof(answer: Answer) -> str:
    solved = answer.stack.solved
    gap = max(solved.gap, solved.mip_gap or 0.0)
    sure = "" if gap <= _AS_GOOD_AS_NONE else f" to a relative difference of {gap:.0e}"
    focus = f"; focus settled after {counted(solved.iterations, 'round')}" if solved.iterations > 1 else ""
    return f"proved best within the limits{sure} (figures: --json){focus}"


def _binding(binding: Binding, units: str) -> str:
    price = number(binding.price, 2)
    way = "more" if binding.key.endswith(_UPPER) else "less"
    worth = f"; 1 {units} {way} would save {price} {units} of travel" if binding.price else ""
    what = binding.words if binding.subject in binding.words else f"{binding.subject}: {binding.words}"
    return f"{what}, on frame {binding.frame}{worth}"


def _why(row: dict[str, Any], answer: Answer) -> str:
    """Return why a level moves, and what would set it at rest."""
    name, units, world = row["level"], answer.shot.units, answer.brief.world_units
    free = row["to_rest"]
    if row["own"]:
        return f"{name} moves across the world by itself"
    if free is None:
        return f"{name} is at infinity and rides with the lens"
    way = "lower" if free["lower"] > 0 else "higher"
    return (
        f"{name} would not have to move if it stood {number(abs(free['lower']), 2)} {units} {way}, "
        f"or were {_plain(free['distance'])} {world} away"
    )


def level_facts(answer: Answer) -> list[dict[str, Any]]:
    """Return what is to be said of each level, nearest first: lengths in the shot's units, the world's in its own."""
    shot, stack, brief = answer.shot, answer.stack, answer.brief
    unit, world = METRES_PER_UNIT[shot.units], WORLD_UNITS[brief.world_units]
    tracks = make_tracks(shot)
    rows = []
    for column, (level, element) in enumerate(zip(shot.levels, brief.elements, strict=True)):
        up, aside = (travel_of(tracks.levels[axis][:, column]) for axis in ("height", "east"))
        distance = float(stack.distance[column])
        rows.append(
            {
                "level": level.name,
                "distance": element.distance / world if math.isfinite(element.distance) else None,
                "height": level.height / unit,
                "from_lens": distance / unit,
                "travel_height": up / unit,
                "travel_east": aside / unit,
                "rests": up <= STILL and aside <= STILL,
                "own": bool(element.across),
                "art_width": level.art_width / unit,
                "art_height": level.art_height / unit,
                "art_px": list(level.art_px),
                "error_px": float(answer.error_px[column]),
                "to_rest": _to_rest(answer, column),
            }
        )
    return rows


def _to_rest(answer: Answer, column: int) -> dict[str, float] | None:
    """Return how much lower a level would have to stand to rest, or how far away it would have to be in the world."""
    stack, brief = answer.stack, answer.brief
    distance, away = float(stack.distance[column]), brief.elements[column].distance
    if not math.isfinite(away) or stack.scale <= 0 or stack.rests[column]:
        return None
    lower = (stack.scale * away - distance) / METRES_PER_UNIT[answer.shot.units]
    return {"lower": lower, "distance": distance / stack.scale / WORLD_UNITS[brief.world_units]}


def facts(answer: Answer) -> dict[str, Any]:
    """Return a plan for a machine; lengths in the shot's units, those of the world in its own."""
    shot, stack, solved = answer.shot, answer.stack, answer.stack.solved
    unit = METRES_PER_UNIT[shot.units]
    rows = level_facts(answer)
    return {
        "format": 1,
        "title": shot.title,
        "fits": True,
        "units": shot.units,
        "world_units": answer.brief.world_units,
        "prefer": answer.prefer.value,
        "focal_mm": stack.focal / METRES_PER_MM,
        "camera_height": stack.height / unit,
        "scale": stack.scale * WORLD_UNITS[answer.brief.world_units] / unit,
        "movers": sum(not row["rests"] for row in rows),
        "travel": sum(row["travel_height"] + row["travel_east"] for row in rows),
        "schedule": "frame table" if isinstance(shot.schedule, FrameTable) else "moves",
        "moving_axes": sorted({f"{part}.{axis}" for part, axis in _moving(answer)}),
        "worst_error_px": float(answer.error_px.max()),
        "duality_gap": solved.gap,
        "mip_gap": solved.mip_gap,
        "iterations": solved.iterations,
        "programmes": solved.programmes,
        "binding": [
            {"limit": one.key, "at": one.subject, "words": one.words, "frame": one.frame, "saves": one.price}
            for one in stack.binding
        ],
        "levels": rows,
    }


def _moving(answer: Answer) -> Iterator[tuple[str, str]]:
    schedule = answer.shot.schedule
    if isinstance(schedule, FrameTable):
        yield from schedule.columns
    else:
        yield from ((move.part, move.axis) for move in schedule)


def clash_lines(clash: Clash) -> Iterator[str]:
    """Yield what clashes, what would be enough, and what the best plan inside the limits would cost."""
    units = clash.brief.draft.units
    parties = listed([way.words for way in clash.ways], most=6)
    yield f"{clash.brief.draft.title}: no stack fits within {parties}"
    if clash.least:
        yield f"  the smallest change that fits: {listed([_gives(way, units) for way in clash.least], most=6)}"
    for way in clash.ways:
        if way.by is not None:
            yield f"  or alone: {_gives(way, units)}"
    if clash.nearest is None:
        yield "  not even a stand at rest fits within them, so nothing can be written"
        return
    yield from _nearest_lines(clash.nearest)


def _gives(way: Way, units: str) -> str:
    verb = "raise" if way.key.endswith(_UPPER) else "lower"
    return f"{verb} {way.words} by {length(way.by or 0.0, units)} {units}"


def _nearest_lines(answer: Answer) -> Iterator[str]:
    worst = int(answer.error_px.argmax())
    name, world = answer.shot.names[worst], answer.brief.world_units
    yield (
        f"  the best plan inside them is off by up to {_error(float(answer.error_px[worst]))} px ({name});"
        " --compromise writes it"
    )
    for level, element, shown, error in zip(
        answer.shot.levels, answer.brief.elements, answer.stack.shown_distance, answer.error_px, strict=True
    ):
        if error > 0.01:
            away = "infinity" if math.isinf(element.distance) else f"{_plain(element.distance / WORLD_UNITS[world])}"
            as_if = f"{_plain(float(shown) / WORLD_UNITS[world])} {world}" if math.isfinite(shown) else "at infinity"
            # a distance that is right to six figures is still a little off on screen
            shown_as = "at its distance" if as_if == f"{away} {world}" else f"as if {as_if} away instead of {away}"
            yield f"    {level.name}: {shown_as}, off by up to {_error(float(error))} px"
    yield "  the shot that it writes has no expectations of a level that is not shown at its own distance"


def clash_facts(clash: Clash) -> dict[str, Any]:
    """Return a clash for a machine; lengths in the shot's units."""
    unit = METRES_PER_UNIT[clash.brief.draft.units]

    def said(way: Way) -> dict[str, Any]:
        return {"limit": way.key, "words": way.words, "by": None if way.by is None else way.by / unit}

    return {
        "format": 1,
        "title": clash.brief.draft.title,
        "fits": False,
        "units": clash.brief.draft.units,
        "least": [said(way) for way in clash.least],
        "clash": [said(way) for way in clash.ways],
        "nearest": None if clash.nearest is None else facts(clash.nearest) | {"fits": False},
    }
