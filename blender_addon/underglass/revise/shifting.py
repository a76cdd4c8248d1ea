"""Shifting: a whole shot so many frames later, and what a range of frames would leave out of it."""

from dataclasses import replace
from itertools import pairwise

from ..shot.model import FrameTable, Move, Schedule, Shot


def shifted(shot: Shot, frames: int) -> Shot:
    """Return ``shot`` with everything that it says of frames so many ``frames`` later: moves, drawings, fades, all."""
    if not frames:
        return shot
    return replace(
        shot,
        frames=(shot.frames[0] + frames, shot.frames[1] + frames),
        schedule=_schedule(shot.schedule, frames),
        chart=_table(shot.chart, frames),
        drawings=replace(shot.drawings, frames=tuple(frame + frames for frame in shot.drawings.frames)),
        expectations=tuple(
            replace(one, between=one.between and (one.between[0] + frames, one.between[1] + frames))
            for one in shot.expectations
        ),
        exposures=tuple(
            replace(one, fade=tuple((frame + frames, share) for frame, share in one.fade)) for one in shot.exposures
        ),
    )


def left_out(shot: Shot, frames: tuple[int, int]) -> tuple[str, ...]:
    """Return the moves of ``shot`` that lie outside of ``frames`` altogether, in words: part, axis and frames."""
    first, last = frames
    found = [
        f"{move.part} {move.axis} {move.first}–{move.last}"
        for move in (() if isinstance(shot.schedule, FrameTable) else shot.schedule)
        if move.last <= first or move.first >= last
    ]
    tables = [shot.chart, *([shot.schedule] if isinstance(shot.schedule, FrameTable) else [])]
    return (*found, *(line for table in tables for line in _rows_left_out(table, first, last)))


def cut_short(shot: Shot, now: Shot) -> tuple[str, ...]:
    """Return which moves of ``shot`` the frames of ``now`` cut so that they are columns of its chart, one line each."""
    if isinstance(shot.schedule, FrameTable):
        return ()
    first, last = now.frames
    sheet = now.chart_file or "chart.csv"
    return tuple(
        f"{move.part} {move.axis} is cut by the range: it goes frame by frame in {sheet}; to keep the move whole, let"
        f" the frames be {min(first, move.first)}–{max(last, move.last)}"
        for move in shot.schedule
        if (move.first < first < move.last or move.first < last < move.last)
        and (move.part, move.axis) in now.chart.columns
    )


def _rows_left_out(table: FrameTable, first: int, last: int) -> list[str]:
    """Return the axes of a table that change, and do so outside of the frames alone."""
    found = []
    for column, (part, axis) in enumerate(table.columns):
        cells = [
            (frame, row[column])
            for frame, row in zip(table.frames, table.values, strict=True)
            if row[column] is not None
        ]
        changes = [frame for (_, before), (frame, after) in pairwise(cells) if after != before]
        if changes and not any(first < frame <= last for frame in changes):
            found.append(f"{part} {axis} {changes[0]}–{changes[-1]}")
    return found


def _schedule(schedule: Schedule, frames: int) -> Schedule:
    if isinstance(schedule, FrameTable):
        return _table(schedule, frames)
    return tuple(_move(move, frames) for move in schedule)


def _move(move: Move, frames: int) -> Move:
    return replace(move, first=move.first + frames, last=move.last + frames)


def _table(table: FrameTable, frames: int) -> FrameTable:
    return replace(table, frames=tuple(frame + frames for frame in table.frames))
