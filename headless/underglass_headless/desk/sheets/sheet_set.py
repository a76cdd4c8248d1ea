# SPDX-License-Identifier: GPL-3.0-or-later
"""What a set of sheets is: one operator's readings frame by frame, and how everything stands before the first.

Words and numbers as they are printed; how they look is `sheets_page`, how they go into a spreadsheet `sheet_tables`.
"""

from dataclasses import dataclass, field

from underglass.plan.counter import Counted

LABELS = {"height": "Height", "east": "East", "north": "North", "turn": "Turn", "focal": "Lens", "focus": "Focus"}


@dataclass(frozen=True)
class Position:
    """One line of the line-up: what an axis reads on the first frame; ``reversed`` says so in words, else empty."""

    label: str
    reading: str
    unit: str
    moves: bool
    reversed: str = ""


@dataclass(frozen=True)
class Cell:
    """One axis on one frame. ``step`` is without its sign and empty where it holds, as it does on the first frame.

    ``heading`` is the word for the way of the step, or that it holds; an arrow goes by the same word.
    """

    reading: str
    step: str
    heading: str


@dataclass(frozen=True)
class Row:
    """One frame of an operator. ``drawing`` is empty for art that has none; ``changes`` where another one is put on."""

    frame: int
    footage: str
    drawing: str
    changes: bool
    cells: tuple[Cell, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class OperatorSet:
    """Everything that one operator is handed.

    ``part`` is a level's name, or camera; ``axes`` are all axes that the part has, ``moving`` those with a column.
    ``rows`` are all frames, none where nothing is set after the line-up. ``passes`` names a tick box for each pass in
    which the part is shot, and ``outside`` the passes in which it is not. ``facts`` are lines of a word and a text.
    """

    part: str
    place: str
    axes: tuple[Counted, ...]
    moving: tuple[Counted, ...]
    line_up: tuple[Position, ...]
    rows: tuple[Row, ...]
    passes: tuple[str, ...]
    outside: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    has_drawings: bool = False
    # (u, v) of the art's corners and its centre, in frames from the middle of the frame; empty for the camera
    outline: tuple[tuple[float, float], ...] = field(default=())
