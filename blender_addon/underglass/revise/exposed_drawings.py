# SPDX-License-Identifier: GPL-3.0-or-later
"""The sheet of drawings as a scene has it: which drawing each level shows from which frame on."""

from dataclasses import replace

import numpy as np

from ..plan.plan_arrays import Plan
from ..reading.scene_reading import SceneReading
from ..shot.errors import ShotError
from ..shot.model import NO_DRAWING, Drawings, Shot


def exposed(plan: Plan, *, reading: SceneReading) -> Drawings:
    """Return the drawings of the shot of ``plan`` as ``reading`` has them, on the same frames.

    What was not touched is returned as it is. Raises ShotError where a level shows a drawing that it does not have.
    """
    shot, seen = plan.shot, {level.level: level.drawings for level in reading.levels}
    drawings = shot.drawings
    for column, level in enumerate(shot.levels):
        shown = seen.get(level.name)
        if not level.has_drawings or shown is None or np.array_equal(shown, plan.drawing[:, column]):
            continue
        drawings = _with_column(drawings, shot, level.name, _names(plan, column, shown))
    return drawings


def _names(plan: Plan, column: int, shown: tuple[int, ...]) -> list[str]:
    """Return the name of the drawing that is shown on every frame."""
    names = plan.drawings[column]
    for frame, number in zip(plan.frames.tolist(), shown, strict=True):
        if not -1 <= number < len(names):
            raise ShotError(
                plan.shot.place(f"level.{plan.names[column]}.art"),
                f"shows drawing {number} on frame {frame}",
                f"key a number from 0 to {len(names) - 1}, or -1 for none",
            )
    return [NO_DRAWING if number < 0 else names[number] for number in shown]


def _with_column(drawings: Drawings, shot: Shot, level: str, shown: list[str]) -> Drawings:
    """Return ``drawings`` with another column for ``level``: a cell where it changes, and rows where one is needed."""
    first, cell = shot.frames[0], drawings.levels.index(level)
    rows: dict[int, list[str | None]] = {
        frame: [None if number == cell else said for number, said in enumerate(row)]
        for frame, row in zip(drawings.frames, drawings.rows, strict=True)
    }
    empty: list[str | None] = [None] * len(drawings.levels)
    for number, name in enumerate(shown):
        if not number or name != shown[number - 1]:
            rows.setdefault(first + number, [*empty])[cell] = name
    kept = {frame: tuple(row) for frame, row in sorted(rows.items()) if frame == first or any(row)}
    return replace(drawings, frames=tuple(kept), rows=tuple(kept.values()))
