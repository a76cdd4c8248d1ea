# SPDX-License-Identifier: GPL-3.0-or-later
"""The `[[exposure]]` tables: the passes shot over each other."""

from collections.abc import Sequence

from ..model import Exposure
from ..quantity import FRACTION, STOPS
from ..words import shown
from .toml_table import Table

EXPOSURE_KEYS = ("name", "levels", "stops", "fade")


def read_exposures(tables: Sequence[Table], *, level_names: Sequence[str], frames: tuple[int, int]) -> list[Exposure]:
    """Return the passes of a shot, each under a name of its own."""
    exposures: list[Exposure] = []
    for table in tables:
        exposure = _exposure(table, level_names, frames)
        if any(exposure.name == other.name for other in exposures):
            raise table.wrong(
                "name", f"{shown(exposure.name)} is the name of an earlier exposure", "give each its own name"
            )
        exposures.append(exposure)
    return exposures


def _exposure(table: Table, level_names: Sequence[str], frames: tuple[int, int]) -> Exposure:
    name = table.text("name")
    if not name.strip():
        raise table.wrong("name", f"is {shown(name)}", "give the exposure a name")
    levels = table.words("levels", among=level_names) if table.has("levels") else None
    if levels == ():
        raise table.wrong("levels", "is empty", "name a level, or leave it out to shoot all")
    return Exposure(
        name=name,
        levels=levels,
        stops=table.number("stops", STOPS, default=0.0),
        fade=table.points("fade", FRACTION, frames=frames),
    )
