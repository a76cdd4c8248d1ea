# SPDX-License-Identifier: GPL-3.0-or-later
"""Reading a brief: brief.toml and the drawings that it names, checked and put into metres.

It is read by the parser of shot.toml, with its errors; whether the stand can do it is the planner's question.
"""

import math
import os
import re
from dataclasses import replace
from pathlib import Path

from underglass.image.art_size import read_art
from underglass.shot.axes import quantity_of
from underglass.shot.errors import ShotError
from underglass.shot.files.camera_and_stand import CAMERA_KEYS, STAND_KEYS, read_camera, read_stand
from underglass.shot.files.drawings import read_drawings
from underglass.shot.files.expectations import EXPECT_KEYS, read_expectation
from underglass.shot.files.exposures import EXPOSURE_KEYS, read_exposures
from underglass.shot.files.levels import MOST_ON, good_name, require_names
from underglass.shot.files.read import FORMAT, read_frames
from underglass.shot.files.toml_table import Table, read_toml
from underglass.shot.files_on_disk import inside
from underglass.shot.model import EDGES, LEVEL_AXES, Drawings, Level, Projection, Shot
from underglass.shot.quantity import FOCAL_MM, FPS, length
from underglass.shot.units import METRES_PER_MM, METRES_PER_UNIT
from underglass.shot.words import number_text, shown

from .brief import Brief, Element, Paint
from .walk_legs import WORLD_KEYS, WORLD_UNITS, read_distance, read_walk

BRIEF_FILE = "brief.toml"
ROOT_KEYS = (
    *("format", "title", "units", "fps", "frames", "drawings", "world"),
    *("camera", "stand", "paint", "level", "expect", "exposure"),
)
LEVEL_KEYS = ("name", "art", "art_width", "distance", "across", "height", "east", "north", "turn", "covers", "on")
PAINT_KEYS = ("bleed", "least_field")
# Half an inch beyond what the lens sees: room for a slip of the glass and for the hand that clamps it.
DEFAULT_BLEED = 0.0127
# Two inches or so: into less nobody paints a picture. Without it least travel would make every stand a toy.
DEFAULT_LEAST_FIELD = 0.05
_NO_FILE_NAME = re.compile(r"[^a-z0-9]+")


def read_brief(path: Path) -> Brief:
    """Return the brief of a brief.toml, or of the folder it lies in; raises ShotError on any fault of its files."""
    # Unlike Path.is_dir, this is silent where the path may not be looked at; opening it then tells why.
    file = path / BRIEF_FILE if os.path.isdir(path) else path  # noqa: PTH112
    table = read_toml(file, keys=ROOT_KEYS)
    number = table.integer("format", least=1, most=2**31, remedy=f"write format = {FORMAT}")
    if number != FORMAT:
        raise table.wrong("format", f"is {number}", f"this version reads format {FORMAT}; use a newer one")
    for key, remedy in (("world", "units, toward and across"), ("camera", "its keys")):
        if not table.has(key):
            raise table.wrong(key, "is missing", f"write a [{key}] table with {remedy}")
    brief = _read_tables(table, folder=file.parent)
    draft = replace(brief.draft, drawings=_drawings(table, brief.draft))
    return replace(brief, draft=replace(draft, levels=tuple(_measured(level, draft) for level in draft.levels)))


def _read_tables(table: Table, *, folder: Path) -> Brief:
    units = table.choice("units", among=[*METRES_PER_UNIT])
    frames = read_frames(table)
    world = table.table("world", keys=WORLD_KEYS)
    world_units = world.choice("units", among=[*WORLD_UNITS])
    level_tables = table.tables("level", keys=LEVEL_KEYS, named=good_name)
    if not level_tables:
        raise table.wrong("level", "is missing", "write a [[level]] table for each glass")
    require_names(level_tables)
    levels = tuple(_level(level, units) for level in level_tables)
    names = [level.name for level in levels]
    elements = tuple(_element(level, units, world_units, frames) for level in level_tables)
    _check_distances(elements, names, level_tables)
    near = [name for name, element in zip(names, elements, strict=True) if math.isfinite(element.distance)]
    toward = read_walk(world, "toward", unit=world_units, frames=frames, abouts=near)
    across = read_walk(world, "across", unit=world_units, frames=frames)
    if not toward and not across:
        raise world.wrong("toward", "is missing, and across too", "say how the viewer walks")
    camera_table = table.table("camera", keys=CAMERA_KEYS)
    lenses = _lenses(camera_table)
    height = camera_table.number("height", length(units, least=0.0, above=True)) if camera_table.has("height") else None
    camera = read_camera(
        camera_table, units=units, level_names=names, focal=max(lenses), height=math.nan if height is None else height
    )
    stand = read_stand(
        table.table("stand", keys=STAND_KEYS), units=units, level_names=names, projection=camera.projection
    )
    if height is None and stand.camera_height is None:
        raise camera_table.wrong("height", "is missing", "write it, or camera_height in [stand] to choose from")
    expects = table.tables("expect", keys=EXPECT_KEYS)
    draft = Shot(
        title=table.text("title"),
        units=units,
        fps=table.number("fps", FPS),
        frames=frames,
        camera=camera,
        levels=levels,
        stand=stand,
        expectations=tuple(read_expectation(expect, level_names=names, frames=frames) for expect in expects),
        exposures=tuple(read_exposures(table.tables("exposure", keys=EXPOSURE_KEYS), level_names=names, frames=frames)),
        drawings_file=table.text("drawings", default=""),
        folder=folder,
        places=table.places,
    )
    paint = _paint(table.table("paint", keys=PAINT_KEYS), units)
    return Brief(draft, elements, toward, across, world_units, lenses, height, paint)


def _lenses(table: Table) -> tuple[float, ...]:
    """Return the focal lengths to choose from, the longest first."""
    projection = Projection(table.choice("projection", among=[*Projection], default=Projection.PERSPECTIVE))
    if projection is Projection.ORTHOGRAPHIC:
        problem = "is orthographic, which shows nothing of how far things are"
        raise table.wrong("projection", problem, 'write projection = "perspective", or plan the moves in a shot.toml')
    return tuple(sorted(table.numbers("focal_mm", FOCAL_MM), reverse=True))


def _paint(table: Table, units: str) -> Paint:
    quantity = length(units, least=0.0)
    bleed = table.number("bleed", quantity, default=DEFAULT_BLEED)
    return Paint(bleed, table.number("least_field", quantity, default=DEFAULT_LEAST_FIELD))


def _level(table: Table, units: str) -> Level:
    east, north, turn = (quantity_of("", axis=axis, units=units) for axis in LEVEL_AXES[1:])
    width = length(units, least=0.0, above=True)
    name = table.text("name")
    return Level(
        name=name,
        art=table.text("art", default=f"art/{_NO_FILE_NAME.sub('_', name.lower()).strip('_') or 'level'}.png"),
        art_width=table.number("art_width", width, default=math.nan),
        height=math.nan,
        art_px=(0, 0),
        east=table.number("east", east, default=0.0),
        north=table.number("north", north, default=0.0),
        turn=table.number("turn", turn, default=0.0),
        covers=table.words("covers", among=EDGES) if table.has("covers") else None,
        on=table.integer("on", least=1, most=MOST_ON, default=1),
    )


def _element(table: Table, units: str, world_units: str, frames: tuple[int, int]) -> Element:
    distance = read_distance(table, unit=world_units)
    across = read_walk(table, "across", unit=world_units, frames=frames)
    if across and math.isinf(distance):
        raise table.wrong("across", "moves a thing at infinity", "give it a distance, or leave its walk out")
    height = table.number("height", quantity_of("", axis="height", units=units)) if table.has("height") else None
    return Element(distance, across, height, table.has("art_width"), table.has("east"))


def _check_distances(elements: tuple[Element, ...], names: list[str], tables: list[Table]) -> None:
    """Raise ShotError unless the levels are listed by distance, the nearest first."""
    for index in range(1, len(elements)):
        near, far = elements[index - 1].distance, elements[index].distance
        if far < near:
            problem = f"puts {shown(names[index])} nearer than {shown(names[index - 1])}, which is listed before it"
            raise tables[index].wrong("distance", problem, "list the levels nearest the lens first")


def _drawings(table: Table, draft: Shot) -> Drawings:
    if draft.drawings_file:
        said = table.place("drawings")
        return read_drawings(inside(draft.folder, relative=draft.drawings_file, said=said), shot=draft, said=said)
    for level in draft.levels:
        if level.has_drawings:
            remedy = 'write drawings = "drawings.csv" above the tables'
            raise table.wrong("drawings", f"is missing, and {shown(level.art)} asks for it", remedy)
    return Drawings()


def _measured(level: Level, draft: Shot) -> Level:
    """Return the level with the size of its art in pixels, (0, 0) where none is painted yet."""
    said = draft.place(f"level.{level.name}.art")
    files = draft.art_files(level)
    if not files:
        raise ShotError(said, f"no drawing of {shown(level.name)} is ever shown", "name one in the drawings file")
    paths = {file: inside(draft.folder, relative=file, said=said) for file in files}
    there = [path for path in paths.values() if path.exists()]
    if not there:
        return level
    if len(there) < len(files):
        missing = next(file for file, path in paths.items() if not path.exists())
        raise ShotError(said, f"{shown(missing)} is not there, and others of its run are", "paint all or none of a run")
    sizes = {(art.width, art.height) for art in (read_art(path, said=said) for path in there)}
    if len(sizes) > 1:
        raise ShotError(said, "has drawings of different sizes", "make all drawings of a level one size")
    return replace(level, art_px=sizes.pop())


def said_lenses(brief: Brief) -> str:
    """Return the lenses of a brief as people say them."""
    return ", ".join(f"{number_text(lens / METRES_PER_MM)} mm" for lens in brief.lenses)
