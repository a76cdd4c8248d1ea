# SPDX-License-Identifier: GPL-3.0-or-later
"""The sheet of drawings: which drawing each level shows from a frame on."""

from pathlib import Path

from ..errors import Place
from ..model import NO_DRAWING, Drawings, Shot
from ..words import nearest, shown
from .csv_sheet import Sheet, read_sheet

FRAME = "frame"


def read_drawings(path: Path, *, shot: Shot, said: Place) -> Drawings:
    """Return the drawings in a file; ``shot`` needs its levels and frames, ``said`` is where shot.toml names it.

    The first row is the shot's first frame and names a drawing, or none, for every level: nothing is left open.
    """
    sheet = read_sheet(path, said=said)
    levels = _levels(sheet, shot)
    frames = read_frame_column(sheet, frames=shot.frames)
    if not frames or frames[0] != shot.frames[0]:
        found = f"begins at frame {frames[0]}" if frames else "has no rows"
        remedy = f"say what is shown at frame {shot.frames[0]}, the shot's first; {NO_DRAWING} is none"
        raise (sheet.rows[0] if frames else sheet).wrong(FRAME, found, remedy)
    rows = tuple(tuple(cell or None for cell in row.cells[1:]) for row in sheet.rows)
    for level, drawing in zip(levels, rows[0], strict=True):
        if drawing is None:
            remedy = f"name its first drawing, or {NO_DRAWING} for none"
            raise sheet.rows[0].wrong(level, "is blank, and no row comes before", remedy)
    return Drawings(levels, frames, rows)


def _levels(sheet: Sheet, shot: Shot) -> tuple[str, ...]:
    """Return the levels of the columns: all that have drawings, and no other."""
    if sheet.header[0] != FRAME:
        raise sheet.wrong(sheet.header[0], "is the first column", "make frame the first column, then the levels")
    wanted = [level.name for level in shot.levels if level.has_drawings]
    for name in sheet.header[1:]:
        if name in wanted:
            continue
        if name in shot.names:
            remedy = 'write {drawing} in its art, such as art = "cels/heron_{drawing}.png", or take the column out'
            raise sheet.wrong(name, "is a level without drawings", remedy)
        raise sheet.wrong(name, "is no level", nearest(name, among=wanted))
    for name in wanted:
        if name not in sheet.header[1:]:
            raise sheet.wrong(name, f"the level {shown(name)} has drawings but no column", f"add a column {name}")
    return sheet.header[1:]


def read_frame_column(sheet: Sheet, *, frames: tuple[int, int]) -> tuple[int, ...]:
    """Return the frames of a sheet whose first column is the frame: within the shot, each later than the last."""
    found: list[int] = []
    for row in sheet.rows:
        number = row.integer(FRAME, least=frames[0], most=frames[1])
        if found and number <= found[-1]:
            how = "there twice" if number == found[-1] else f"after frame {found[-1]}"
            raise row.wrong(FRAME, f"frame {number} is {how}", "write each frame once, in order")
        found.append(number)
    return tuple(found)
