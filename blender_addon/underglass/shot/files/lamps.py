# SPDX-License-Identifier: GPL-3.0-or-later
"""The `[[lamp]]` tables: lamps that stand still while levels and camera move.

A lamp that rides with its level changes nothing on it and need not be written.
"""

from collections.abc import Sequence

from ..model import Lamp
from ..quantity import CANDELA, length
from ..words import shown
from .toml_table import Table

LAMP_KEYS = ("name", "candela", "height", "east", "north", "levels")


def read_lamps(tables: Sequence[Table], *, units: str, level_names: Sequence[str]) -> tuple[Lamp, ...]:
    """Return the lamps of a shot, each under a name of its own."""
    lamps: list[Lamp] = []
    for table in tables:
        lamp = _lamp(table, units, level_names)
        if any(lamp.name == other.name for other in lamps):
            raise table.wrong("name", f"{shown(lamp.name)} is the name of an earlier lamp", "give each its own name")
        lamps.append(lamp)
    return tuple(lamps)


def _lamp(table: Table, units: str, level_names: Sequence[str]) -> Lamp:
    name = table.text("name")
    if not name.strip():
        raise table.wrong("name", f"is {shown(name)}", "give the lamp a name")
    levels = table.words("levels", among=level_names) if table.has("levels") else None
    if levels == ():
        raise table.wrong("levels", "is empty", "name a level, or leave it out to light all")
    return Lamp(
        name=name,
        candela=table.number("candela", CANDELA),
        height=table.number("height", length(units)),
        east=table.number("east", length(units), default=0.0),
        north=table.number("north", length(units), default=0.0),
        levels=levels,
    )
