# SPDX-License-Identifier: GPL-3.0-or-later
"""A sheet: a CSV file as a header and rows, each row with its line, cells asked for by column and by type.

What the columns mean is not known here.
"""

import csv
import re
from dataclasses import dataclass, field
from pathlib import Path

from ..errors import Place, ShotError
from ..files_on_disk import read_text
from ..quantity import Quantity
from ..words import has_control_characters, shown

_LINE_END = re.compile(r"\r\n|\n|\r")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,4})?")
_WHOLE = re.compile(r"[+-]?[0-9]{1,9}")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+")


@dataclass(frozen=True)
class Row:
    """One line of a sheet; ``cells`` are as many as the header has, without blanks around them."""

    file: Path
    line: int
    cells: tuple[str, ...]
    columns: dict[str, int] = field(repr=False)

    def place(self, column: str) -> Place:
        """Return where the cell of ``column`` stands."""
        return Place(self.file, self.line, column)

    def wrong(self, column: str, problem: str, remedy: str) -> ShotError:
        """Return the error that the cell of ``column`` is wrong, to be raised."""
        return ShotError(self.place(column), problem, remedy)

    def text(self, column: str) -> str:
        """Return the cell of ``column``; blank where it is blank or the sheet has no such column."""
        index = self.columns.get(column)
        return "" if index is None else self.cells[index]

    def integer(self, column: str, *, least: int, most: int) -> int:
        """Return a whole number within the limits."""
        text = self.text(column)
        remedy = f"write a whole number from {least} to {most}"
        if not _WHOLE.fullmatch(text):
            raise self.wrong(column, f"is {shown(text)}, not a whole number" if text else "is blank", remedy)
        if not least <= int(text) <= most:
            raise self.wrong(column, f"is {text}", remedy)
        return int(text)

    def number(self, column: str, quantity: Quantity) -> float:
        """Return a number in the core's unit, within the limits of ``quantity``."""
        text = self.text(column)
        if _DECIMAL_COMMA.fullmatch(text):
            right = text.replace(",", ".")
            raise self.wrong(column, f"{shown(text)} has a decimal comma", f"write a decimal point: {right}")
        if not _NUMBER.fullmatch(text):
            raise self.wrong(column, f"is {shown(text)}, not a number" if text else "is blank", quantity.remedy)
        return quantity.take(float(text), place=self.place(column))


@dataclass(frozen=True)
class Sheet:
    """The header of a CSV file, and its rows."""

    file: Path
    header_line: int
    header: tuple[str, ...]
    rows: tuple[Row, ...]

    def wrong(self, column: str, problem: str, remedy: str) -> ShotError:
        """Return the error that ``column`` of the header is wrong, to be raised."""
        return ShotError(Place(self.file, self.header_line, column), problem, remedy)


def read_sheet(path: Path, *, said: Place, may_be_empty: bool = False) -> Sheet:
    """Return the sheet in a file; blank lines and lines that begin with # are passed over.

    Where nothing is left the header has no columns if the sheet ``may_be_empty``, else ShotError is raised.
    """
    lines = enumerate(_LINE_END.split(read_text(path, said=said)), start=1)
    kept = [(number, line) for number, line in lines if line.strip() and not line.lstrip().startswith("#")]
    if not kept and may_be_empty:
        return Sheet(path, 1, (), ())
    if not kept:
        raise ShotError(Place(path, 1), "is empty", "write a header line, then one line for each row")
    header_line, header_text = kept[0]
    header = _header(path, header_line, header_text)
    columns = {name: index for index, name in enumerate(header)}
    rows = tuple(Row(path, number, _full(path, number, line, width=len(header)), columns) for number, line in kept[1:])
    return Sheet(path, header_line, header, rows)


def _cells(path: Path, number: int, line: str) -> tuple[str, ...]:
    try:
        cells = cells_of(line)
    except csv.Error as error:
        problem = f"is not CSV ({error})"
        raise ShotError(Place(path, number), problem, 'close every quote, and write a quote inside as ""') from error
    for cell in cells:
        if has_control_characters(cell):
            raise ShotError(Place(path, number), f"{shown(cell)} holds a control character", "take it out")
    return cells


def cells_of(line: str) -> tuple[str, ...]:
    """Return the cells of one line, without blanks around them; raises csv.Error where it is no CSV."""
    return tuple(cell.strip() for cell in next(csv.reader([line], strict=True, skipinitialspace=True)))


def _header(path: Path, number: int, text: str) -> tuple[str, ...]:
    for mark, name in ((";", "semicolons"), ("\t", "tabs")):
        if mark in text and "," not in text:
            remedy = "separate cells with commas and write decimals with a point"
            raise ShotError(Place(path, number), f"is separated by {name}", remedy)
    header = _cells(path, number, text)
    for index, name in enumerate(header):
        if not name:
            raise ShotError(Place(path, number), f"column {index + 1} has no name", "name it or take it out")
        if name in header[:index]:
            raise ShotError(Place(path, number, name), f"column {shown(name)} is there twice", "keep one of them")
    return header


def _full(path: Path, number: int, line: str, *, width: int) -> tuple[str, ...]:
    """Return the cells of a row, which must be as many as the header has."""
    cells = _cells(path, number, line)
    if len(cells) == width:
        return cells
    problem = f"has {len(cells)} cells where the header has {width}"
    if ";" in line:
        raise ShotError(Place(path, number), f"{problem}, and semicolons", "separate cells with commas")
    if len(cells) < width:
        raise ShotError(Place(path, number), problem, "write a comma for every cell, blank ones too")
    remedy = "write decimals with a point (0.5, not 0,5), one cell for each column"
    raise ShotError(Place(path, number), problem, remedy)
