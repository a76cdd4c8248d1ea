# SPDX-License-Identifier: GPL-3.0-or-later
"""The same readings for spreadsheets: a CSV for each operator, one of everything, and the exposure sheet.

UTF-8, comma separated, lines end with a line feed. Numbers are numbers, with the decimals of their counter; texts are
written so that no spreadsheet takes them for a formula (`report.csv_tables`).
"""

from collections.abc import Iterable, Sequence

from underglass.layered.names_from_art import file_names
from underglass.plan import Plan
from underglass.plan.counter import Counted
from underglass.plan.headings import heading_word
from underglass.shot.axes import column_of

from ...report.csv_formulas import cell_from_text
from .exposure_sheet import exposure_tables
from .film_length import counts_a_second, drops, footage, gauge_of, timecode
from .frame_remarks import remarks_of
from .make_sheets import drawing_names
from .sheet_set import OperatorSet

EVERYTHING = "all readings"
EXPOSURE = "exposure sheet"
ALL_COLUMNS = ("frame", "feet_frames", "timecode", "part", "axis", "reading", "unit", "step", "heading", "drawing")
_UNITS = {"°": "deg"}


def csv_files(plan: Plan, *, sets: Sequence[OperatorSet]) -> dict[str, str]:
    """Return the texts of all files by name: safe names, and different ones on every system."""
    names = [EVERYTHING, EXPOSURE, *(one.part for one in sets)]
    texts = [all_readings(plan, sets=sets), exposure_csv(plan, sets=sets), *(operator_csv(plan, one) for one in sets)]
    return dict(zip(file_names(names, suffixes=[".csv"] * len(names)), texts, strict=True))


def operator_csv(plan: Plan, one: OperatorSet) -> str:
    """Return one operator's readings: a row for each frame; reading, step and heading of every axis, and remarks."""
    drawings = drawing_names(plan, one.part)
    remarks = remarks_of(plan, part=one.part, moving=one.moving)
    header = ["frame", "feet_frames", *(["drawing"] if drawings else [])]
    columns = [_frames(plan), _feet(plan), *([[cell_from_text(name) for name in drawings]] if drawings else [])]
    for axis in one.axes:
        column, unit = column_of(axis.axis).removesuffix("_mm"), _unit(axis)
        header += [f"{column}_{unit}", f"{column}_step_{unit}", f"{column}_heading"]
        columns += _axis_columns(axis)
    header.append("remarks")
    columns.append([cell_from_text("; ".join(remarks.get(row, ()))) for row in range(len(plan.frames))])
    return _csv(header, zip(*columns, strict=True))


def all_readings(plan: Plan, *, sets: Sequence[OperatorSet]) -> str:
    """Return every reading, a row each: frames in order, in each the camera and then the levels."""
    frames, feet, codes = _frames(plan), _feet(plan), _timecodes(plan)
    blocks = []
    for one in sets:
        names = [cell_from_text(name) for name in drawing_names(plan, one.part)] or [""] * len(frames)
        part = cell_from_text(one.part)
        blocks += [
            (part, column_of(axis.axis).removesuffix("_mm"), _unit(axis), names, *_axis_columns(axis))
            for axis in one.axes
        ]
    rows = (
        (frames[row], feet[row], codes[row], part, axis, reading[row], unit, step[row], heading[row], names[row])
        for row in range(len(frames))
        for part, axis, unit, names, reading, step, heading in blocks
    )
    return _csv(ALL_COLUMNS, rows)


def exposure_csv(plan: Plan, *, sets: Sequence[OperatorSet]) -> str:
    """Return the exposure sheet: each part's drawing and the headings of what moves, and the light of each pass."""
    tables = exposure_tables(plan, sets=sets)
    header = ["frame", "feet_frames"]
    for table in tables:
        header += [cell_from_text(part) for part in table.parts]
        header += [cell_from_text(f"pass {name}") for name in table.passes]
    rows = (
        [
            str(lines[0].frame),
            lines[0].footage,
            *(
                cell
                for line in lines
                for cell in (
                    *(cell_from_text(" ".join((share.drawing, *share.headings)).strip()) for share in line.shares),
                    *(light.removesuffix(" %") for light in line.light),
                )
            ),
        ]
        for lines in zip(*(table.lines for table in tables), strict=True)
    )
    return _csv(header, rows)


def _axis_columns(axis: Counted) -> tuple[list[str], list[str], list[str]]:
    """Return readings, steps and headings of one axis; the first frame has no step."""
    steps = axis.steps.tolist()
    return (
        [axis.counter.text(count) for count in axis.counts.tolist()],
        ["", *(axis.counter.text(step) for step in steps)],
        ["", *(heading_word(axis.axis, step) for step in steps)],
    )


def _unit(axis: Counted) -> str:
    return _UNITS.get(axis.counter.unit, axis.counter.unit)


def _frames(plan: Plan) -> list[str]:
    return [str(frame) for frame in plan.frames.tolist()]


def _feet(plan: Plan) -> list[str]:
    gauge = gauge_of(plan.shot.camera.gate)
    return [footage(row, gauge=gauge) for row in range(len(plan.frames))]


def _timecodes(plan: Plan) -> list[str]:
    """Return the timecode of every frame from the first of the shot, drop-frame where there is one; or blanks."""
    fps = plan.shot.fps
    if not counts_a_second(fps):
        return [""] * len(plan.frames)
    return [timecode(row, fps=fps, drop=drops(fps)) for row in range(len(plan.frames))]


def _csv(header: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    return "".join(f"{','.join(cells)}\n" for cells in (header, *rows))
