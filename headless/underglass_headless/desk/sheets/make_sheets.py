# SPDX-License-Identifier: GPL-3.0-or-later
"""Making sets of sheets of a plan: one for the camera operator and one for each level that has a glass."""

from collections.abc import Iterator

import numpy as np

from underglass.plan import Plan, Tracks, corners_px
from underglass.plan.counter import Counted, counted_focus, counted_parts, set_tracks
from underglass.plan.headings import WORDS, heading_word
from underglass.plan.plan_arrays import Floats
from underglass.shot import CAMERA

from .counter_rounding import out_of_place_px
from .film_length import footage, gauge_of
from .frame_remarks import is_in, remarks_of
from .sheet_facts import camera_facts, level_facts
from .sheet_set import LABELS, Cell, OperatorSet, Position, Row


def operator_sets(plan: Plan) -> tuple[OperatorSet, ...]:
    """Return the sets of all operators, the camera's first, then the levels' nearest the lens first."""
    parts = counted_parts(plan)
    stands = set_tracks(plan, parts=parts)
    camera_px = out_of_place_px(plan, tracks=Tracks(plan.frames, stands.camera, plan.tracks.levels)).max(axis=-1)
    level_px = out_of_place_px(plan, tracks=Tracks(plan.frames, plan.tracks.camera, stands.levels))
    outlines = _outlines(plan)
    focus = counted_focus(plan)
    if focus is not None:
        parts[CAMERA] += (focus,)
    camera = _set(plan, CAMERA, "above all levels", parts[CAMERA], camera_facts(plan, parts[CAMERA], off_px=camera_px))
    return camera, *(
        _set(
            plan,
            level.name,
            f"level {column + 1} of {len(plan.names)} from the lens",
            parts[level.name],
            level_facts(
                plan, parts[level.name], column=column, centre=outlines[column][-1], off_px=level_px[:, column]
            ),
            outline=outlines[column],
            has_drawings=level.has_drawings,
        )
        for column, level in enumerate(plan.shot.levels)
    )


def _set(
    plan: Plan,
    part: str,
    place: str,
    axes: tuple[Counted, ...],
    facts: tuple[tuple[str, str], ...],
    *,
    outline: tuple[tuple[float, float], ...] = (),
    has_drawings: bool = False,
) -> OperatorSet:
    moving = tuple(axis for axis in axes if axis.moves)
    changes = has_drawings and len(np.unique(plan.drawing[:, plan.names.index(part)])) > 1
    shown = {exposure.name: is_in(exposure, part) for exposure in plan.shot.exposures}
    # a glass that is in no pass has nothing to be set to
    is_shot = not shown or any(shown.values())
    return OperatorSet(
        part=part,
        place=place,
        axes=axes,
        moving=moving,
        line_up=tuple(_position(axis) for axis in axes),
        rows=tuple(_rows(plan, part, moving)) if (moving or changes) and is_shot else (),
        passes=tuple(name for name, mine in shown.items() if mine),
        outside=tuple(name for name, mine in shown.items() if not mine),
        facts=facts,
        has_drawings=has_drawings,
        outline=outline,
    )


def _position(axis: Counted) -> Position:
    counter = axis.counter
    reading = number_sign(counter.text(int(axis.counts[0])))
    words = ""
    if counter.reversed:
        grows, shrinks = WORDS[axis.axis]
        stands = number_sign(counter.text(-int(axis.counts[0])))
        words = (
            f"Wired in reverse: the counter reads {reading} where the axis stands at {stands}, and says {shrinks} as it"
            f" goes {grows}. Readings and headings here are the counter's."
        )
    return Position(LABELS[axis.axis], reading, counter.unit, axis.moves, words)


def number_sign(text: str) -> str:
    """Return the text of a number with a true minus sign."""
    return text.replace("-", "−")


def _rows(plan: Plan, part: str, moving: tuple[Counted, ...]) -> Iterator[Row]:
    remarks = remarks_of(plan, part=part, moving=moving)
    drawings = drawing_names(plan, part)
    gauge = gauge_of(plan.shot.camera.gate)
    columns = [_cells(axis) for axis in moving]
    cells = zip(*columns, strict=True) if columns else iter([()] * len(plan.frames))
    for row, (frame, mine) in enumerate(zip(plan.frames.tolist(), cells, strict=True)):
        changes = bool(drawings) and (row == 0 or drawings[row] != drawings[row - 1])
        drawing = drawings[row] if drawings else ""
        yield Row(frame, footage(row, gauge=gauge), drawing, changes, mine, tuple(remarks.get(row, ())))


def drawing_names(plan: Plan, part: str) -> list[str]:
    """Return the drawing on the glass on every frame, – for none; nothing for art without drawings."""
    if part == CAMERA or not plan.shot.levels[plan.names.index(part)].has_drawings:
        return []
    column = plan.names.index(part)
    names = plan.drawings[column]
    return [names[index] if index >= 0 else "–" for index in plan.drawing[:, column]]


def _cells(axis: Counted) -> list[Cell]:
    text = axis.counter.text
    return [
        Cell(number_sign(text(count)), text(abs(step)) if step else "", heading_word(axis.axis, step))
        for count, step in zip(axis.counts.tolist(), [0, *axis.steps.tolist()], strict=True)
    ]


def _outlines(plan: Plan) -> list[tuple[tuple[float, float], ...]]:
    """Return the corners of every level's art and its centre on the first frame, in widths and heights of the frame."""
    corners = corners_px(plan)[0] / np.array(plan.shot.camera.frame_px)
    return [(*((float(u), float(v)) for u, v in four), _mean(four)) for four in corners]


def _mean(points: Floats) -> tuple[float, float]:
    u, v = points.mean(axis=0)
    return float(u), float(v)
