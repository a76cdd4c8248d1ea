# SPDX-License-Identifier: GPL-3.0-or-later
"""The `[[level]]` tables: the glasses of a shot, nearest the lens first, and the size of the art that lies on them."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from ...image.art_size import read_art
from ...image.image_bytes import ArtFile
from ..axes import quantity_of
from ..errors import Place, ShotError
from ..files_on_disk import inside
from ..model import CAMERA, EDGES, LEVEL_AXES, Camera, Level, Shot
from ..quantity import length
from ..units import in_units
from ..words import has_control_characters, number_text, shown
from .toml_table import Table

LEVEL_KEYS = ("name", "art", "art_width", "height", "east", "north", "turn", "covers", "on")
# `camera` is a part of the schedule of its own, `focus = "infinity"` is no level, and `frame` is a column.
RESERVED_NAMES = (CAMERA, "infinity", "frame")
# Blender cuts longer names, so two levels could come to share one.
MOST_NAME_BYTES = 63
MOST_ON = 8


def require_names(tables: Sequence[Table]) -> None:
    """Raise ShotError unless every level has a name that is usable and said once."""
    named: dict[str, Table] = {}
    for table in tables:
        name = table.text("name", remedy="write the level's name in double quotes")
        if fault := name_fault(name):
            raise table.wrong("name", *fault)
        if name in named:
            line = named[name].place("name").line
            raise table.wrong(
                "name", f"{shown(name)} is the name of the level at line {line} too", "give each its own name"
            )
        named[name] = table


def good_name(data: Mapping[str, object]) -> str:
    """Return the name in the table of a level, by which errors can call it; nothing where it has no usable one."""
    name = data.get("name")
    return name if isinstance(name, str) and not has_control_characters(name) and not name_fault(name) else ""


def name_fault(name: str) -> tuple[str, str] | None:
    """Return what is wrong with the name of a level and what would be right, None for a usable one."""
    if not name or name != name.strip():
        return f"is {shown(name)}", "write a name without blanks at its ends"
    if name in RESERVED_NAMES:
        return f"{shown(name)} is a word of the format", "choose another name"
    if len(name.encode()) > MOST_NAME_BYTES:
        return f"{shown(name)} has {len(name.encode())} bytes", f"a name may have {MOST_NAME_BYTES}"
    return None


def read_level(table: Table, *, units: str) -> Level:
    """Return the level of one table; the size of its art in pixels is not known yet."""
    height, east, north, turn = (quantity_of("", axis=axis, units=units) for axis in LEVEL_AXES)
    return Level(
        name=table.text("name"),
        art=table.text("art"),
        art_width=table.number("art_width", length(units, least=0.0, above=True)),
        height=table.number("height", height),
        art_px=(0, 0),
        east=table.number("east", east, default=0.0),
        north=table.number("north", north, default=0.0),
        turn=table.number("turn", turn, default=0.0),
        covers=table.words("covers", among=EDGES) if table.has("covers") else None,
        on=table.integer("on", least=1, most=MOST_ON, default=1),
    )


def check_order(levels: Sequence[Level], *, camera: Camera, units: str, tables: Sequence[Table]) -> None:
    """Raise ShotError unless the lens is above all levels, and each level above the next, at set-up."""
    above, name = camera.height, "the camera"
    for level, table in zip(levels, tables, strict=True):
        if level.height >= above:
            this, other = (f"{number_text(in_units(height, units))} {units}" for height in (level.height, above))
            problem = f"puts {shown(level.name)} at {this}, not below {name} at {other}"
            remedy = "list the levels nearest the lens first, each lower than the last"
            if level.height >= camera.height:
                remedy = f"set the level lower, or the camera's height above {this}"
            raise table.wrong("height", problem, remedy)
        above, name = level.height, shown(level.name)


def measure_art(shot: Shot) -> Shot:
    """Return the shot with the pixel size of every level's art, read from the headers of its files."""
    levels = []
    for level in shot.levels:
        art = _level_art(shot, level)
        if level is not shot.levels[-1] and not art.has_alpha:
            problem = f"{shown(level.art)} has no alpha channel, and would hide every level below it"
            raise ShotError(_said(shot, level), problem, "save it with transparency (RGBA)")
        levels.append(replace(level, art_px=(art.width, art.height)))
    return replace(shot, levels=tuple(levels))


def _said(shot: Shot, level: Level) -> Place:
    return shot.place(f"level.{level.name}.art")


def _level_art(shot: Shot, level: Level) -> ArtFile:
    """Return the art of a level; where it is a run of drawings, the one size that they share."""
    said = _said(shot, level)
    if not level.has_drawings:
        return read_art(inside(shot.folder, relative=level.art, said=said), said=said)
    drawings = shot.drawings.of(level.name)
    if not drawings:
        raise ShotError(said, f"no drawing of {shown(level.name)} is ever shown", "name one in the drawings file")
    files = {name: level.art.replace("{drawing}", name) for name in drawings}
    arts = {name: read_art(inside(shot.folder, relative=file, said=said), said=said) for name, file in files.items()}
    first = arts[drawings[0]]
    for name, art in arts.items():
        if (art.width, art.height) != (first.width, first.height):
            sizes = f"{art.width}×{art.height} px, and {files[drawings[0]]} is {first.width}×{first.height} px"
            raise ShotError(said, f"{files[name]} is {sizes}", "make all drawings of a level one size")
    return ArtFile(first.width, first.height, all(art.has_alpha for art in arts.values()))
