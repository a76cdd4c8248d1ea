# SPDX-License-Identifier: GPL-3.0-or-later
"""Shifting: a whole shot so many frames later, and what a range of frames would leave out of it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from ..proof.wording import listed
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


def going(shot: Shot, frames: tuple[int, int]) -> tuple[str, ...]:
    """Return which frames of ``shot`` are not among ``frames`` though it says something of them, a line a side."""
    first, last = frames
    spans = [*_spans(shot)]
    before = [span.what for span in spans if span.first < first]
    after = [span.what for span in spans if span.last > last]
    return (
        *_side(shot.frames[0], min(first - 1, shot.frames[1]), before),
        *_side(max(last + 1, shot.frames[0]), shot.frames[1], after),
    )


def whole_frames(shot: Shot, frames: tuple[int, int]) -> tuple[int, int]:
    """Return the fewest frames that have all ``frames`` and all that changes in ``shot``.

    They are its own where it has none of ``frames``.
    """
    if frames[1] < shot.frames[0] or shot.frames[1] < frames[0]:
        return shot.frames
    spans = [*_spans(shot)]
    return min([frames[0], *(span.begins for span in spans)]), max([frames[1], *(span.last for span in spans)])


@dataclass(frozen=True)
class _Span:
    """Frames between which ``what`` changes; it ``begins`` to be shown there, which is earlier where it is held."""

    what: str
    first: int
    last: int
    begins: int


def _spans(shot: Shot) -> Iterator[_Span]:
    """Yield all that a shot says of frames."""
    tables = [shot.chart]
    if isinstance(shot.schedule, FrameTable):
        tables.append(shot.schedule)
    else:
        for move in shot.schedule:
            yield _Span(f"{move.part} {move.axis}", move.first, move.last, move.first)
    for table in tables:
        for column, (part, axis) in enumerate(table.columns):
            yield from _changes(f"{part} {axis}", table.frames, [row[column] for row in table.values])
    for column, level in enumerate(shot.drawings.levels):
        cells = [row[column] for row in shot.drawings.rows]
        yield from _changes(f"the drawings of {level}", shot.drawings.frames, cells)
    for one in shot.exposures:
        for (first, before), (last, after) in pairwise(one.fade):
            if before != after:
                yield _Span(f"the fade of {one.name}", first, last, first)


def _changes(what: str, frames: tuple[int, ...], cells: Sequence[object]) -> Iterator[_Span]:
    """Yield each change of a column of cells; an empty one holds what is above it."""
    said = [(frame, cell) for frame, cell in zip(frames, cells, strict=True) if cell is not None]
    for (begins, before), (frame, after) in pairwise(said):
        if after != before:
            yield _Span(what, frame - 1, frame, begins)


def _side(first: int, last: int, what: list[str]) -> tuple[str, ...]:
    if not what or first > last:
        return ()
    names = [*dict.fromkeys(what)]
    when = f"frame {first} goes" if first == last else f"frames {first}–{last} go"
    return (f"{when}, with what {listed(names)} {'do' if len(names) > 1 or 'drawings' in names[0] else 'does'} there",)


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
