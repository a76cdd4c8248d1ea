# SPDX-License-Identifier: GPL-3.0-or-later
"""A schedule of moves: one row for each move of one axis."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from ..axes import Axis, axis_columns, column_of, quantity_of, set_up, written
from ..errors import Place
from ..model import CAMERA, SLOWED_LAWS, Law, Move, Shot, bezier_handle
from ..quantity import STEPS
from ..words import nearest, number_text, shown
from .csv_sheet import Row, Sheet

NEEDED_COLUMNS = ("part", "axis", "first", "last", "to")
COLUMNS = ("part", "axis", "first", "last", "from", "to", "law", "slow_out", "slow_in", "about")
# How far the start of a move may lie from where the axis stood: less than any counter shows (metres, or radians).
JUMP = 1e-9
# Readings that have a ratio: a distance from the lens, and a focal length.
_RATIO_AXES = ("height", "focal")

_Told = tuple[Row, Move]


def read_moves(sheet: Sheet, *, shot: Shot, places: dict[str, Place]) -> tuple[Move, ...]:
    """Return the moves of a sheet in its order, blank starts filled; adds the place of each move to ``places``."""
    for column in sheet.header:
        if column not in COLUMNS:
            raise sheet.wrong(column, "is not a column of a schedule", nearest(column, among=COLUMNS))
    for column in NEEDED_COLUMNS:
        if column not in sheet.header:
            raise sheet.wrong(column, "the column is missing", f"begin with the line {','.join(COLUMNS[:-1])}")
    told = [(row, _move(row, shot)) for row in sheet.rows]
    filled = _fill_starts(told, shot)
    for row, move in told:
        key = f"{move.part}.{column_of(move.axis)}"
        places[f"schedule:{move.part}.{move.axis}@{move.first}"] = Place(row.file, row.line, key)
    return tuple(filled[row.line] for row, _ in told)


def _move(row: Row, shot: Shot) -> Move:
    """Return the move of one row; where its start is blank, the start is still 0."""
    part = _choice(row, "part", [CAMERA, *shot.names])
    axes = axis_columns(part, projection=shot.camera.projection)
    axis = axes[_choice(row, "axis", list(axes))]
    first = row.integer("first", least=shot.frames[0], most=shot.frames[1])
    last = row.integer("last", least=shot.frames[0], most=shot.frames[1])
    if last <= first:
        raise row.wrong("last", f"is {last}, and first is {first}", "a move needs a later last frame")
    quantity = quantity_of(part, axis=axis, units=shot.units)
    said_start = bool(row.text("from"))
    law = Law(_choice(row, "law", [*Law])) if row.text("law") else Law.STEADY
    slow_out, slow_in = _slows(row, law, last - first)
    return Move(
        part=part,
        axis=axis,
        first=first,
        last=last,
        start=row.number("from", quantity) if said_start else 0.0,
        end=row.number("to", quantity),
        law=law,
        slow_out=slow_out,
        slow_in=slow_in,
        about=_about(row, (part, axis), law, shot.names),
        said_start=said_start,
    )


def _choice(row: Row, column: str, among: Sequence[str]) -> str:
    text = row.text(column)
    if text not in among:
        raise row.wrong(column, f"is {shown(text)}" if text else "is blank", nearest(text, among=among))
    return text


def _slows(row: Row, law: Law, span: int) -> tuple[float, float]:
    """Return the steps over which a steady move leaves rest and comes to rest, or the handles of a bezier one."""
    blank = bezier_handle(span) if law is Law.BEZIER else 0.0
    slow_out, slow_in = (row.number(key, STEPS) if row.text(key) else blank for key in ("slow_out", "slow_in"))
    said = "slow_out" if row.text("slow_out") else "slow_in"
    if law not in SLOWED_LAWS and (slow_out or slow_in):
        raise row.wrong(
            said, f"is {row.text(said)} with the law {law}", "leave it blank: only steady and bezier moves have it"
        )
    if slow_out + slow_in > span:
        said_steps = f"slow_out {number_text(slow_out)} and slow_in {number_text(slow_in)}"
        problem = f"{said_steps} make more than the {span} steps of the move"
        raise row.wrong(said, problem, "shorten them, or lengthen the move")
    return slow_out, slow_in


def _about(row: Row, axis: Axis, law: Law, names: Sequence[str]) -> str:
    """Return the level that a truck by equal ratios is measured from; checks that the axis can move by ratios."""
    if law is Law.RATIO and axis[1] not in _RATIO_AXES:
        remedy = "only height and the camera's focal_mm move by ratios; write steady or sine"
        raise row.wrong("law", f"is ratio on the axis {axis[1]}", remedy)
    if axis == (CAMERA, "height") and law is Law.RATIO:
        return _choice(row, "about", names)
    if about := row.text("about"):
        remedy = "leave it blank: only a ratio law of the camera's height is about a level"
        raise row.wrong("about", f"is {shown(about)}", remedy)
    return ""


def _fill_starts(told: Iterable[_Told], shot: Shot) -> dict[int, Move]:
    """Return the moves by line, each start known; raises ShotError where moves overlap or an axis would jump."""
    stood = set_up(shot.camera, levels=shot.levels)
    before: dict[Axis, _Told] = {}
    filled: dict[int, Move] = {}
    for row, move in sorted(told, key=lambda item: (item[1].first, item[1].last)):
        axis = (move.part, move.axis)
        if axis in before and move.first < before[axis][1].last:
            other_row, other = before[axis]
            problem = f"overlaps the move at line {other_row.line}, which goes on to frame {other.last}"
            raise row.wrong("first", f"{move.first} {problem}", f"begin at {other.last} or later")
        filled[row.line] = _started(row, move, stood[axis], shot.units)
        stood[axis] = move.end
        before[axis] = (row, move)
    return filled


def _started(row: Row, move: Move, stood: float, units: str) -> Move:
    if not move.said_start:
        return replace(move, start=stood)
    if abs(move.start - stood) > JUMP:
        # As many digits as keep the remedy within a jump of where the axis stood.
        where = number_text(written(stood, axis=move.axis, units=units), digits=12)
        problem = f"is {row.text('from')}, but {move.part} {column_of(move.axis)} stood at {where}: a jump"
        raise row.wrong("from", problem, f"write {where} or leave it blank")
    return move
