# SPDX-License-Identifier: GPL-3.0-or-later
"""The schedule of a shot: what moves, from where to where, and how, in either of its two forms; and its chart."""

from pathlib import Path

from ..errors import Place
from ..model import FrameTable, Schedule, Shot, scheduled_axes
from .csv_sheet import read_sheet
from .drawings import FRAME
from .frame_table import read_frame_table
from .moves import COLUMNS, NEEDED_COLUMNS, read_moves


def read_schedule(path: Path, *, shot: Shot, said: Place, places: dict[str, Place]) -> Schedule:
    """Return the schedule in a file: moves, or a table of frames, told apart by the header.

    ``shot`` needs all but its schedule, ``said`` is where shot.toml names the file. The place of each move goes into
    ``places`` as `schedule:<part>.<axis>@<first>`; of a frame table, of each column as `schedule:<part>.<axis>` and of
    each row as `schedule@<frame>`.
    """
    sheet = read_sheet(path, said=said, may_be_empty=True)
    if not sheet.header:
        # As with a header and no row below it: nothing moves.
        return ()
    if FRAME in sheet.header:
        return read_frame_table(sheet, shot=shot, places=places)
    if not any(column in sheet.header for column in NEEDED_COLUMNS):
        remedy = f"begin with {','.join(COLUMNS[:-1])}, or with frame and then the axes, such as camera.height"
        raise sheet.wrong(sheet.header[0], "the header is of no schedule", remedy)
    return read_moves(sheet, shot=shot, places=places)


def read_chart(path: Path, *, shot: Shot, said: Place, places: dict[str, Place]) -> FrameTable:
    """Return the chart in a file: a table of frames for axes that the schedule of ``shot`` does not move.

    ``said`` is where shot.toml names the file; places go into ``places`` as those of a schedule's frame table do.
    """
    sheet = read_sheet(path, said=said, may_be_empty=True)
    if not sheet.header:
        return FrameTable((), (), ())
    if FRAME not in sheet.header:
        remedy = "begin with frame and then the axes, such as camera.height"
        raise sheet.wrong(sheet.header[0], "the header is of no chart", remedy)
    chart = read_frame_table(sheet, shot=shot, places=places)
    for axis, name in zip(chart.columns, sheet.header[1:], strict=True):
        if axis in scheduled_axes(shot.schedule):
            raise sheet.wrong(name, f"is in {shot.schedule_file} too", "let one of the two have it")
    return chart
