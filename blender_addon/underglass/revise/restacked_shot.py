# SPDX-License-Identifier: GPL-3.0-or-later
"""Restacking: a shot with a level more or fewer, another name, other art, two exchanged, other moves.

Each is a shot in and a shot out; nothing is written here, and what no stand could do is told when the shot is planned.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any, TypeVar

import numpy as np

from ..plan.plan_arrays import Plan
from ..shot.errors import UnderglassError
from ..shot.model import CAMERA, Drawings, FrameTable, Level, Move, Schedule, Shot
from .revised_shot import without_levels
from .tidy_numbers import tidy

# A width that was worked out is written to this, m: far below what single precision tells apart on a stand.
SAME_M = 1e-10
# A length that nobody asked for is written to this, m.
TIDY_M = 2e-6
# A glass and what holds it need some room, m.
LEAST_ROOM_M = 0.002
LENGTH_AXES = ("height", "east", "north")

Number = TypeVar("Number", float, "float | None")


def with_level(shot: Shot, level: Level) -> Shot:
    """Return ``shot`` with one more level, at its place by height."""
    if level.name in shot.names:
        raise UnderglassError(f"there is a level {level.name!r} already: choose another name")
    rear = shot.levels[-1]
    if rear.height > level.height and rear.covers is None:
        # the rearmost level covers every edge; one that is no longer the rearmost keeps to it
        shot = replace(shot, levels=(*shot.levels[:-1], replace(rear, covers=shot.edges_to_cover(rear))))
        level = replace(level, covers=() if level.covers is None else level.covers)
    return replace(shot, levels=_by_height((*shot.levels, level)))


def tidied(level: Level, units: str) -> Level:
    """Return ``level`` with lengths as people write them, to a thousandth of a millimetre or as near as that."""
    lengths: dict[str, Any] = {
        axis: tidy(getattr(level, axis), unit=units, tolerance=TIDY_M) for axis in ("art_width", *LENGTH_AXES)
    }
    return replace(level, turn=tidy(level.turn, unit="deg", tolerance=TIDY_M), **lengths)


def with_copy(shot: Shot, name: str, *, copy: str, lower: float) -> Shot:
    """Return ``shot`` with a copy of the level ``name``, called ``copy``, ``lower`` m below it, moves and all."""
    level = _level(shot, name)
    shot = with_level(shot, replace(level, name=copy, height=level.height - lower))
    return replace(
        shot,
        schedule=_schedule_with_copy(shot.schedule, name, copy, lower),
        chart=_table_with_copy(shot.chart, name, copy, lower),
        drawings=_drawings_with_copy(shot.drawings, name, copy),
        exposures=tuple(replace(one, levels=_with(one.levels, name, copy)) for one in shot.exposures),
        lamps=tuple(replace(one, levels=_with(one.levels, name, copy)) for one in shot.lamps),
    )


def without_level(shot: Shot, name: str) -> Shot:
    """Return ``shot`` without a level and all that was said of it; UnderglassError where something hangs on it."""
    if shot.camera.focus.level == name:
        raise UnderglassError(f"the lens is focused on {name}: focus on another level first")
    if len(shot.levels) == 1:
        raise UnderglassError(f"{name} is the only level: a shot needs one")
    about = () if isinstance(shot.schedule, FrameTable) else shot.schedule
    if any(move.about == name for move in about):
        raise UnderglassError(f"a move of the camera is about {name}: let it be about another level first")
    return without_levels(shot, [name])


def renamed(shot: Shot, name: str, *, new: str) -> Shot:
    """Return ``shot`` with a level by another name, wherever it is named."""
    if new in shot.names:
        raise UnderglassError(f"there is a level {new!r} already: choose another name")

    def other(said: str) -> str:
        return new if said == name else said

    def others(said: tuple[str, ...] | None) -> tuple[str, ...] | None:
        return None if said is None else tuple(map(other, said))

    focus = shot.camera.focus
    return replace(
        shot,
        levels=tuple(replace(level, name=other(level.name)) for level in shot.levels),
        camera=replace(shot.camera, focus=replace(focus, level=other(focus.level))),
        stand=replace(shot.stand, reversed=tuple((other(part), axis) for part, axis in shot.stand.reversed)),
        schedule=with_parts(shot.schedule, lambda part, _: other(part)),
        chart=_with_columns(shot.chart, lambda part, _: other(part)),
        drawings=replace(shot.drawings, levels=tuple(map(other, shot.drawings.levels))),
        expectations=tuple(
            replace(one, level=other(one.level), against=other(one.against)) for one in shot.expectations
        ),
        exposures=tuple(replace(one, levels=others(one.levels)) for one in shot.exposures),
        lamps=tuple(replace(one, levels=others(one.levels)) for one in shot.lamps),
    )


def with_art(shot: Shot, name: str, *, art: str, art_px: tuple[int, int], art_width: float) -> Shot:
    """Return ``shot`` with other art on a level, ``art_width`` m wide; its centre stays where it is."""
    if _level(shot, name).has_drawings:
        raise UnderglassError(f"{name} shows a run of drawings: replace their files, or name another run in shot.toml")
    width = tidy(art_width, unit=shot.units, tolerance=SAME_M)
    return _with_level_changed(shot, name, lambda one: replace(one, art=art, art_px=art_px, art_width=width))


def exchanged(shot: Shot, first: str, second: str) -> Shot:
    """Return ``shot`` with the heights of two levels exchanged, moves and all; their art keeps its width."""
    one, two = _level(shot, first), _level(shot, second)
    other = {first: second, second: first}

    def part(said: str, axis: str) -> str:
        return other.get(said, said) if axis == "height" else said

    edges = {level.name: shot.edges_to_cover(level) for level in (one, two)}
    moved = {
        first: replace(one, height=two.height),
        second: replace(two, height=one.height),
    }
    rear = shot.levels[-1]
    if rear.name in moved and rear.covers is None:
        # what the rearmost glass has to cover stays with the place, not with the painting
        before = other[rear.name]
        moved[rear.name] = replace(moved[rear.name], covers=edges[before])
        moved[before] = replace(moved[before], covers=None)
    levels = _by_height(moved.get(level.name, level) for level in shot.levels)
    chart = _with_columns(shot.chart, part)
    return replace(shot, levels=levels, schedule=with_parts(shot.schedule, part), chart=chart)


def with_moves(shot: Shot, part: str, axis: str, moves: Iterable[Move], *, begins: float | None = None) -> Shot:
    """Return ``shot`` with these moves of one axis in place of those it has: each starts where the one before ends.

    ``begins`` is where the axis is set up, m or radians, where that changes.
    """
    schedule = shot.schedule
    if isinstance(schedule, FrameTable):
        raise UnderglassError("the schedule is a frame table: it has no rows of moves")
    if (part, axis) in shot.chart.columns:
        raise UnderglassError(f"{part} {axis} goes frame by frame, in the chart: it has no rows of moves")
    if begins is not None:
        shot = _set_up(shot, part, axis, begins)
    stood = getattr(shot.camera if part == CAMERA else _level(shot, part), axis)
    rows = []
    for move in sorted(moves, key=lambda move: (move.first, move.last)):
        rows.append(replace(move, start=stood))
        stood = move.end
    here = [number for number, move in enumerate(schedule) if (move.part, move.axis) == (part, axis)]
    begin = here[0] if here else len(schedule)
    kept = [(number, move) for number, move in enumerate(schedule) if number not in here]
    before, after = ([m for n, m in kept if n < begin], [m for n, m in kept if n > begin])
    return replace(shot, schedule=(*before, *rows, *after))


def room_below(plan: Plan, name: str) -> float:
    """Return how far below a level, m, there is room for one that moves with it: half of the least gap to the next."""
    column = plan.names.index(name)
    heights = plan.tracks.levels["height"]
    below = heights[:, column + 1] if column + 1 < len(plan.names) else np.zeros(len(heights))
    room = float(np.min(heights[:, column] - below))
    if room <= 0:
        raise UnderglassError(f"there is no room below {name}: raise it first")
    return float(room) / 2


def free_height(plan: Plan, near: str = "") -> float:
    """Return a height, m, at which a glass that holds still meets no other: below ``near``, else above it, else where
    there is most room. Raises UnderglassError where there is none.
    """
    heights = plan.tracks.levels["height"]
    ceilings: list[float] = [float(plan.tracks.camera["height"].min()), *heights.min(axis=0).tolist()]
    floors: list[float] = [*heights.max(axis=0).tolist(), 0.0]
    rooms = [ceiling - floor for ceiling, floor in zip(ceilings, floors, strict=True)]
    column = plan.names.index(near) if near in plan.names else None
    wanted = [] if column is None else [column + 1, column]
    best = next((gap for gap in wanted if rooms[gap] > LEAST_ROOM_M), int(np.argmax(rooms[1:-1] or rooms)) + 1)
    best = min(best, len(rooms) - 1)
    if rooms[best] <= LEAST_ROOM_M:
        raise UnderglassError("no height is free on every frame: move two levels apart first")
    return (ceilings[best] + floors[best]) / 2


def with_parts(schedule: Schedule, part_of: Callable[[str, str], str]) -> Schedule:
    """Return ``schedule`` with each row or column of the part that ``part_of`` gives for its part and axis.

    What a move is about is named by the same, as no axis.
    """
    if isinstance(schedule, FrameTable):
        return _with_columns(schedule, part_of)
    return tuple(
        replace(move, part=part_of(move.part, move.axis), about=part_of(move.about, "") if move.about else "")
        for move in schedule
    )


def _with_columns(table: FrameTable, part_of: Callable[[str, str], str]) -> FrameTable:
    return replace(table, columns=tuple((part_of(part, axis), axis) for part, axis in table.columns))


def _level(shot: Shot, name: str) -> Level:
    if name not in shot.names:
        raise UnderglassError(f"the shot has no level {name!r}")
    return shot.levels[shot.names.index(name)]


def _with_level_changed(shot: Shot, name: str, change: Callable[[Level], Level]) -> Shot:
    return replace(shot, levels=tuple(change(one) if one.name == name else one for one in shot.levels))


def _by_height(levels: Iterable[Level]) -> tuple[Level, ...]:
    return tuple(sorted(levels, key=lambda level: -level.height))


def _with(names: tuple[str, ...] | None, name: str, copy: str) -> tuple[str, ...] | None:
    return (*names, copy) if names is not None and name in names else names


def _schedule_with_copy(schedule: Schedule, name: str, copy: str, lower: float) -> Schedule:
    if isinstance(schedule, FrameTable):
        return _table_with_copy(schedule, name, copy, lower)
    made = [
        replace(move, part=copy, start=_down(move.start, move.axis, lower), end=_down(move.end, move.axis, lower))
        for move in schedule
        if move.part == name
    ]
    return (*schedule, *made)


def _table_with_copy(table: FrameTable, name: str, copy: str, lower: float) -> FrameTable:
    taken = [number for number, (part, _) in enumerate(table.columns) if part == name]
    columns = tuple((copy, table.columns[number][1]) for number in taken)
    values = tuple(
        (*row, *(_down(row[number], table.columns[number][1], lower) for number in taken)) for row in table.values
    )
    return replace(table, columns=(*table.columns, *columns), values=values)


def _down(value: Number, axis: str, lower: float) -> Number:
    return value if value is None or axis != "height" else value - lower


def _drawings_with_copy(drawings: Drawings, name: str, copy: str) -> Drawings:
    if name not in drawings.levels:
        return drawings
    column = drawings.levels.index(name)
    rows = tuple((*row, row[column]) for row in drawings.rows)
    return replace(drawings, levels=(*drawings.levels, copy), rows=rows)


def _set_up(shot: Shot, part: str, axis: str, value: float) -> Shot:
    place: dict[str, Any] = {axis: value}
    if part == CAMERA:
        return replace(shot, camera=replace(shot.camera, **place))
    return _with_level_changed(shot, part, lambda level: replace(level, **place))
