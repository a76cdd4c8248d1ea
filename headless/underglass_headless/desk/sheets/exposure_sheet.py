# SPDX-License-Identifier: GPL-3.0-or-later
"""The exposure sheet: every frame with the drawing and the moves of all levels, the camera, and the passes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from underglass.plan import Plan
from underglass.plan.pass_light import fractions

from .film_length import footage, gauge_of
from .frame_remarks import percent
from .sheet_set import OperatorSet

# More columns than these do not fit on a page beside each other; the rest follows on pages of its own.
MOST_COLUMNS = 12


@dataclass(frozen=True)
class Share:
    """One column on one frame: the drawing, whether it is a new one, and the headings of the axes that move."""

    drawing: str
    changes: bool
    headings: tuple[str, ...]


@dataclass(frozen=True)
class Line:
    """One frame of the exposure sheet: a share for each part of the table, and how much of each pass is exposed."""

    frame: int
    footage: str
    shares: tuple[Share, ...]
    light: tuple[str, ...]


@dataclass(frozen=True)
class ExposureTable:
    """One table as wide as a page: its parts, its passes, and a line for every frame."""

    parts: tuple[str, ...]
    passes: tuple[str, ...]
    lines: tuple[Line, ...]


def exposure_tables(plan: Plan, *, sets: Sequence[OperatorSet]) -> tuple[ExposureTable, ...]:
    """Return the exposure sheet as tables: levels nearest the lens first, then the camera, then the passes.

    ``sets`` are those of `operator_sets`, the camera's first.
    """
    camera, *levels = sets
    exposures = plan.shot.exposures
    columns: list[OperatorSet | int] = [*levels, camera, *range(len(exposures))]
    light = [[percent(share) for share in fractions(exposure, frames=plan.frames).tolist()] for exposure in exposures]
    gauge = gauge_of(plan.shot.camera.gate)
    feet = [footage(row, gauge=gauge) for row in range(len(plan.frames))]
    frames = plan.frames.tolist()
    tables = []
    for group in _groups(columns):
        parts = [one for one in group if isinstance(one, OperatorSet)]
        passes = [one for one in group if isinstance(one, int)]
        shares = [list(_shares(plan, one)) for one in parts]
        lines = tuple(
            Line(frame, feet[row], tuple(one[row] for one in shares), tuple(light[one][row] for one in passes))
            for row, frame in enumerate(frames)
        )
        names = tuple(exposures[one].name for one in passes)
        tables.append(ExposureTable(tuple(one.part for one in parts), names, lines))
    return tuple(tables)


def _groups(columns: list[OperatorSet | int]) -> Iterator[list[OperatorSet | int]]:
    """Yield as many columns as fit on a page, shared out evenly."""
    pages = -(-len(columns) // MOST_COLUMNS)
    for page in range(pages):
        yield columns[len(columns) * page // pages : len(columns) * (page + 1) // pages]


def _shares(plan: Plan, one: OperatorSet) -> Iterator[Share]:
    if one.rows:
        for row in one.rows:
            yield Share(row.drawing, row.changes, tuple(cell.heading for cell in row.cells if cell.step))
        return
    for _ in plan.frames:
        yield Share("", False, ())
