# SPDX-License-Identifier: GPL-3.0-or-later
"""Reading a shot: shot.toml and the files that it names, checked and put into metres and radians.

Every fault of the files is a ShotError; whether the shot can be shot is the plan room's question.
"""

import os
from dataclasses import replace
from pathlib import Path

from ..errors import Place
from ..files_on_disk import inside
from ..finding_codes import CODES
from ..model import Drawings, FrameTable, Schedule, Shot
from ..quantity import FPS, MOST_FRAME
from ..units import METRES_PER_UNIT
from ..words import shown
from .camera_and_stand import CAMERA_KEYS, STAND_KEYS, read_camera, read_stand
from .drawings import read_drawings
from .expectations import EXPECT_KEYS, read_expectation
from .exposures import EXPOSURE_KEYS, read_exposures
from .findings_table import read_rulings
from .lamps import LAMP_KEYS, read_lamps
from .levels import LEVEL_KEYS, check_order, good_name, measure_art, read_level, require_names
from .schedule import read_chart, read_schedule
from .toml_table import Table, read_toml

SHOT_FILE = "shot.toml"
FORMAT = 1
MOST_FRAMES = 100_000
ROOT_KEYS = (
    *("format", "title", "units", "fps", "frames", "schedule", "chart", "drawings"),
    *("camera", "stand", "level", "expect", "exposure", "lamp", "findings"),
)


def shot_file_of(path: Path) -> Path:
    """Return the shot.toml that ``path`` is, or that lies in it where it is a folder."""
    # Unlike Path.is_dir, this is silent where the path may not be looked at; opening it then tells why.
    return path / SHOT_FILE if os.path.isdir(path) else path  # noqa: PTH112


def read_shot(path: Path) -> Shot:
    """Return the shot of a shot.toml, or of the folder it lies in; raises ShotError on any fault of its files."""
    file = shot_file_of(path)
    table = read_toml(file, keys=ROOT_KEYS)
    shot = _read_tables(table, folder=file.parent)
    shot = replace(shot, drawings=_drawings(table, shot))
    shot = measure_art(shot)
    shot = replace(shot, schedule=_schedule(table, shot))
    return replace(shot, chart=_chart(table, shot))


def _read_tables(table: Table, *, folder: Path) -> Shot:
    """Return the shot as its shot.toml tells it, without what the other files say."""
    _check_format(table)
    units = table.choice("units", among=[*METRES_PER_UNIT])
    frames = read_frames(table)
    level_tables = table.tables("level", keys=LEVEL_KEYS, named=good_name)
    if not level_tables:
        raise table.wrong("level", "is missing", "write a [[level]] table for each glass")
    require_names(level_tables)
    levels = [read_level(level, units=units) for level in level_tables]
    names = [level.name for level in levels]
    if not table.has("camera"):
        raise table.wrong("camera", "is missing", "write a [camera] table")
    camera = read_camera(table.table("camera", keys=CAMERA_KEYS), units=units, level_names=names)
    check_order(levels, camera=camera, units=units, tables=level_tables)
    expects = table.tables("expect", keys=EXPECT_KEYS)
    return Shot(
        title=table.text("title"),
        units=units,
        fps=table.number("fps", FPS),
        frames=frames,
        camera=camera,
        levels=tuple(levels),
        stand=read_stand(
            table.table("stand", keys=STAND_KEYS), units=units, level_names=names, projection=camera.projection
        ),
        expectations=tuple(read_expectation(expect, level_names=names, frames=frames) for expect in expects),
        exposures=tuple(read_exposures(table.tables("exposure", keys=EXPOSURE_KEYS), level_names=names, frames=frames)),
        lamps=read_lamps(table.tables("lamp", keys=LAMP_KEYS), units=units, level_names=names),
        rulings=read_rulings(table.table("findings", keys=CODES)),
        schedule_file=table.text("schedule", default=""),
        chart_file=table.text("chart", default=""),
        drawings_file=table.text("drawings", default=""),
        folder=folder,
        places=table.places,
    )


def _check_format(table: Table) -> None:
    number = table.integer("format", least=1, most=2**31, remedy=f"write format = {FORMAT}")
    if number != FORMAT:
        raise table.wrong("format", f"is {number}", f"this version reads format {FORMAT}; use a newer one")


def read_frames(table: Table) -> tuple[int, int]:
    """Return the first and last frame of a root table's `frames`."""
    first, last = table.integers("frames", least=0, most=MOST_FRAME)
    if first > last:
        raise table.wrong("frames", f"is [{first}, {last}], the last before the first", "write the first frame first")
    if last - first >= MOST_FRAMES:
        raise table.wrong("frames", f"is [{first}, {last}]", f"a shot may have {MOST_FRAMES} frames; split it")
    return first, last


def _named_file(table: Table, key: str, shot: Shot) -> tuple[Path, Place] | None:
    """Return the path of the file that ``key`` names, and where it is named; None where the key is not said."""
    if not table.has(key):
        return None
    place = table.place(key)
    return inside(shot.folder, relative=table.text(key), said=place), place


def _schedule(table: Table, shot: Shot) -> Schedule:
    named = _named_file(table, "schedule", shot)
    if named is None:
        return ()
    return read_schedule(named[0], shot=shot, said=named[1], places=table.places)


def _chart(table: Table, shot: Shot) -> FrameTable:
    named = _named_file(table, "chart", shot)
    if named is None:
        return FrameTable((), (), ())
    return read_chart(named[0], shot=shot, said=named[1], places=table.places)


def _drawings(table: Table, shot: Shot) -> Drawings:
    named = _named_file(table, "drawings", shot)
    if named is not None:
        return read_drawings(named[0], shot=shot, said=named[1])
    for level in shot.levels:
        if level.has_drawings:
            remedy = 'write drawings = "drawings.csv" above the tables'
            raise table.wrong("drawings", f"is missing, and {shown(level.art)} asks for it", remedy)
    return Drawings()
