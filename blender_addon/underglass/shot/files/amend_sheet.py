# SPDX-License-Identifier: GPL-3.0-or-later
"""Amending the text of a sheet: cells that are the same keep their very text, comments and blank lines their place.

What the columns mean is not known here; rows come as cells by column, spelled as the writer does.
"""

import re
from collections.abc import Mapping, Sequence

from .amend_text import arranged, line_end_of, whole_lines, with_end_of
from .csv_sheet import cells_of
from .write import cell_text

_LINE = re.compile(r"[^\r\n]*(?:\r\n|\n|\r|\Z)")
_CELL = re.compile(r' *"(?:[^"]|"")*"|[^,]*')

Cells = Mapping[str, str]


def header_of(text: str) -> tuple[str, ...]:
    """Return the columns of a sheet; none where nothing but comments and blank lines stands in it."""
    kept = _kept(_lines(text))
    return cells_of(_bare(_lines(text)[kept[0]])) if kept else ()


def leading_comments(text: str) -> str:
    """Return the lines above the header of a sheet, or all of it where it has none."""
    lines = _lines(whole_lines(text))
    kept = _kept(lines)
    return "".join(lines[: kept[0]] if kept else lines)


def amended_sheet(
    text: str, *, header: Sequence[str], old: Sequence[Cells], new: Sequence[Cells], matches: Sequence[int | None]
) -> str:
    """Return the text of a sheet with the columns of ``header`` and the rows ``new``.

    ``old`` are the rows that stand there; ``matches`` tells for each new one which of them it goes on from.
    """
    end = line_end_of(text)
    lines = _lines(whole_lines(text))
    top, *rows = _kept(lines)
    was = cells_of(_bare(lines[top]))
    places = arranged(matches)

    def row(number: int) -> str:
        match = matches[number]
        if match is None:
            return ",".join(cell_text(new[number].get(column, "")) for column in header) + end
        line = lines[rows[match]]
        return _row(_bare(line), was, header, old[match], new[number]) + line[len(_bare(line)) :]

    out = list(lines)
    if tuple(header) != was:
        names = {column: column for column in {*was, *header}}
        out[top] = _row(_bare(lines[top]), was, header, names, names) + lines[top][len(_bare(lines[top])) :]
    for place, line in enumerate(rows):
        out[line] = row(places.at[place]) if place in places.at else ""
    for behind, numbers in places.after.items():
        below = rows[behind] if behind is not None else _above_first(rows, top, places.at)
        out[below] += "".join(row(number) for number in numbers)
    return with_end_of("".join(out), text)


def _above_first(rows: Sequence[int], top: int, at: Mapping[int, int]) -> int:
    """Return the line behind which a row goes that comes before all that stay: the first that was taken out."""
    gone = [line for place, line in enumerate(rows) if place not in at and place < min(at, default=len(rows))]
    return gone[0] if gone else top


def _row(line: str, was: Sequence[str], header: Sequence[str], old: Cells, new: Cells) -> str:
    """Return a line with the columns of ``header``, in which every cell that stays the same is as it was."""
    texts = _texts(line)
    raw = dict(zip(was, texts, strict=True)) if len(texts) == len(was) else {}
    cells = []
    for column in header:
        before, after = old.get(column, ""), new.get(column, "")
        if column not in raw:
            cells.append(cell_text(after))
        else:
            cells.append(raw[column] if before == after else _replaced(raw[column], cell_text(after)))
    return ",".join(cells)


def _replaced(raw: str, cell: str) -> str:
    """Return ``cell`` in the place of a cell's text, in its width where that had blanks around it."""
    inner = raw.strip()
    lead, tail = raw[: len(raw) - len(raw.lstrip())], raw[len(raw.rstrip()) :]
    if not inner:
        lead, tail = "", raw
    if cell.startswith('"'):
        return lead + cell  # blanks behind a quote are no CSV
    if tail:
        return lead + cell.ljust(len(raw) - len(lead))
    return lead[: max(1, len(raw) - len(cell))] + cell if lead else cell


def _texts(line: str) -> list[str]:
    """Return the cells of a line as they are spelled, quotes and blanks and all."""
    texts = []
    at = 0
    while match := _CELL.match(line, at):
        texts.append(match.group())
        at = match.end() + 1
        if at > len(line):
            break
    return texts


def _lines(text: str) -> list[str]:
    """Return the lines of a text with their ends."""
    return [line for line in _LINE.findall(text) if line]


def _bare(line: str) -> str:
    return line.rstrip("\r\n")


def _kept(lines: Sequence[str]) -> list[int]:
    """Return which lines are header and rows."""
    return [number for number, line in enumerate(lines) if line.strip() and not line.lstrip().startswith("#")]
