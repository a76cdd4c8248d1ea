# SPDX-License-Identifier: GPL-3.0-or-later
"""A schedule that names positions frame by frame, as a legacy chart gives it."""

from ..axes import Axis, axes_by_column, quantity_of
from ..errors import Place
from ..model import FrameTable, Shot
from ..quantity import Quantity
from ..words import nearest
from .csv_sheet import Row, Sheet
from .drawings import FRAME, read_frame_column


def read_frame_table(sheet: Sheet, *, shot: Shot, places: dict[str, Place]) -> FrameTable:
    """Return the table of a sheet, blank cells as None; adds the places of columns and rows to ``places``."""
    columns = _columns(sheet, shot)
    frames = read_frame_column(sheet, frames=shot.frames)
    quantities = [quantity_of(part, axis=axis, units=shot.units) for part, axis in columns]
    values = tuple(_values(row, sheet.header[1:], quantities) for row in sheet.rows)
    for (part, axis), name in zip(columns, sheet.header[1:], strict=True):
        places[f"schedule:{part}.{axis}"] = Place(sheet.file, sheet.header_line, name)
    for frame, row in zip(frames, sheet.rows, strict=True):
        places[f"schedule@{frame}"] = row.place(FRAME)
    return FrameTable(columns, frames, values)


def _columns(sheet: Sheet, shot: Shot) -> tuple[Axis, ...]:
    if sheet.header[0] != FRAME:
        raise sheet.wrong(FRAME, "is not the first column", "make frame the first column, then the axes")
    known = axes_by_column(shot.names, projection=shot.camera.projection)
    for name in sheet.header[1:]:
        if name not in known:
            raise sheet.wrong(name, "is no axis of the shot", nearest(name, among=known))
    return tuple(known[name] for name in sheet.header[1:])


def _values(row: Row, names: tuple[str, ...], quantities: list[Quantity]) -> tuple[float | None, ...]:
    cells = zip(names, row.cells[1:], quantities, strict=True)
    return tuple(row.number(name, quantity) if cell else None for name, cell, quantity in cells)
