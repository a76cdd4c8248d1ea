# SPDX-License-Identifier: GPL-3.0-or-later
"""Writing a shot: the text of its files, and the files themselves, each whole or not there.

What was read is written back to the same numbers; comments and the order of keys are not kept.
"""

from pathlib import Path

from ..axes import column_of, written
from ..model import (
    SLOWED_LAWS,
    Camera,
    Expectation,
    Exposure,
    Focus,
    FrameTable,
    Lamp,
    Law,
    Level,
    Move,
    Projection,
    Ruling,
    Shot,
    Stand,
    bezier_handle,
)
from ..units import in_degrees, in_units
from .camera_and_stand import INFINITY
from .drawings import FRAME
from .expectations import EXPECT_KEYS
from .moves import COLUMNS
from .read import FORMAT, SHOT_FILE
from .replace_files import replace_files
from .toml_text import Value, table_text

SCHEDULE_FILE = "schedule.csv"
CHART_FILE = "chart.csv"
DRAWINGS_FILE = "drawings.csv"

# The keys of one table as its file spells them; what is None is left out.
Keys = dict[str, Value | None]
_NEEDS_QUOTES = frozenset(',"\r\n')


def write_shot(shot: Shot, folder: Path) -> Path:
    """Write the files of a shot into ``folder``, all but its art, and return the path of its shot.toml.

    Each file appears whole by a rename, shot.toml last; where one cannot be written, ShotError is raised and the
    earlier files stay as they were.
    """
    texts = {}
    if schedule := schedule_file(shot):
        texts[folder / schedule] = schedule_csv(shot)
    if chart := chart_file(shot):
        texts[folder / chart] = chart_csv(shot)
    if drawings := drawings_file(shot):
        texts[folder / drawings] = drawings_csv(shot)
    texts[folder / SHOT_FILE] = shot_toml(shot)
    replace_files(texts)
    return folder / SHOT_FILE


def schedule_file(shot: Shot) -> str:
    """Return the name of the file that a shot's schedule is written to; empty where there is nothing to write."""
    return shot.schedule_file or (SCHEDULE_FILE if shot.schedule else "")


def chart_file(shot: Shot) -> str:
    """Return the name of the file that a shot's chart is written to; empty where there is none."""
    return shot.chart_file or (CHART_FILE if shot.chart.columns else "")


def drawings_file(shot: Shot) -> str:
    """Return the name of the file that a shot's drawings are written to; empty where there are none."""
    return shot.drawings_file or (DRAWINGS_FILE if shot.drawings.levels else "")


def shot_toml(shot: Shot) -> str:
    """Return the text of shot.toml."""
    tables = [table_text("", root_keys(shot)), table_text("[camera]", camera_keys(shot.camera, units=shot.units))]
    if shot.stand != Stand():
        tables.append(table_text("[stand]", stand_keys(shot.stand, units=shot.units)))
    tables += [table_text("[[level]]", level_keys(level, units=shot.units)) for level in shot.levels]
    tables += [table_text("[[expect]]", expectation_keys(expectation)) for expectation in shot.expectations]
    tables += [table_text("[[exposure]]", exposure_keys(exposure)) for exposure in shot.exposures]
    tables += [table_text("[[lamp]]", lamp_keys(lamp, units=shot.units)) for lamp in shot.lamps]
    tables += [table_text(f"[findings.{ruling.code}]", ruling_keys(ruling)) for ruling in shot.rulings]
    return "\n".join(tables)


def root_keys(shot: Shot) -> Keys:
    """Return the keys above the tables, by name and as the file spells them; None for what is left out."""
    return {
        "format": FORMAT,
        "title": shot.title,
        "units": shot.units,
        "fps": _plain(shot.fps),
        "frames": shot.frames,
        "schedule": schedule_file(shot) or None,
        "chart": chart_file(shot) or None,
        "drawings": drawings_file(shot) or None,
    }


def _plain(number: float) -> float | int:
    """Return a number without decimals as the whole number that people write."""
    number = float(number)  # a number that was worked out may be numpy's, which is spelt otherwise
    return int(number) if number.is_integer() and abs(number) < 1e15 else number


def _position_keys(part: Camera | Level, units: str) -> Keys:
    keys: Keys = {"height": in_units(part.height, units)}
    keys |= {axis: in_units(getattr(part, axis), units) for axis in ("east", "north") if getattr(part, axis)}
    return keys | ({"turn": in_degrees(part.turn)} if part.turn else {})


def camera_keys(camera: Camera, *, units: str) -> Keys:
    """Return the keys of `[camera]`, lengths in ``units``; what the camera does not need is left out."""
    keys: Keys = {"projection": camera.projection.value}
    if camera.gate:
        size_mm = [in_units(side, "mm") for side in (camera.gate.width, camera.gate.height)]
        keys |= {"gate": camera.gate.name} if camera.gate.name else {"gate_mm": size_mm}
    keys |= {"squeeze": camera.squeeze} if camera.squeeze != 1 else {}
    keys |= {"frame_px": camera.frame_px}
    if camera.projection is Projection.PERSPECTIVE:
        keys |= {"focal_mm": in_units(camera.focal, "mm"), "focus": _focus_value(camera.focus, units)}
    else:
        keys |= {"field_width": in_units(camera.field_width, units)}
    keys |= {"f_stop": camera.f_stop} if camera.f_stop else {}
    keys |= {"blur_mm": in_units(camera.blur, "mm")} if camera.blur else {}
    return keys | _position_keys(camera, units)


def _focus_value(focus: Focus, units: str) -> Value:
    if focus.level:
        return focus.level
    return INFINITY if focus.distance == float("inf") else in_units(focus.distance, units)


def stand_keys(stand: Stand, *, units: str) -> Keys:
    """Return the keys of `[stand]`, lengths in ``units``."""
    keys: Keys = {}
    for key, value in vars(stand).items():
        if key == "reversed":
            keys[key] = [f"{part}.{column_of(axis)}" for part, axis in value] or None
        elif isinstance(value, tuple):
            keys[key] = [in_units(bound, units) for bound in value]
        elif value is not None:
            keys[key] = in_units(value, units)
    return keys


def level_keys(level: Level, *, units: str) -> Keys:
    """Return the keys of a `[[level]]`, lengths in ``units``."""
    keys: Keys = {"name": level.name, "art": level.art, "art_width": in_units(level.art_width, units)}
    keys |= _position_keys(level, units)
    return keys | {"covers": level.covers, "on": level.on if level.on != 1 else None}


def expectation_keys(expectation: Expectation) -> Keys:
    """Return the keys of an `[[expect]]`, None for what is left out."""
    values: Keys = {
        "level": expectation.level,
        "size": "holds" if expectation.holds else None,
        "grows": expectation.grows,
        "heads": expectation.heads.value if expectation.heads else None,
        "against": expectation.against or None,
        "drift_ratio": expectation.drift_ratio,
        "between": expectation.between,
    }
    return {key: values[key] for key in EXPECT_KEYS}


def exposure_keys(exposure: Exposure) -> Keys:
    """Return the keys of an `[[exposure]]`, None for what is left out."""
    return {
        "name": exposure.name,
        "levels": exposure.levels,
        "stops": exposure.stops or None,
        "fade": exposure.fade or None,
    }


def lamp_keys(lamp: Lamp, *, units: str) -> Keys:
    """Return the keys of a `[[lamp]]`, lengths in ``units``; None for what is left out."""
    keys: Keys = {"name": lamp.name, "candela": _plain(lamp.candela), "height": in_units(lamp.height, units)}
    keys |= {axis: in_units(getattr(lamp, axis), units) for axis in ("east", "north") if getattr(lamp, axis)}
    return keys | {"levels": lamp.levels}


def ruling_keys(ruling: Ruling) -> Keys:
    """Return the keys of one table below `[findings]`."""
    return {"severity": ruling.severity, "reason": ruling.reason}


def schedule_csv(shot: Shot) -> str:
    """Return the text of the schedule, in the form that the shot has it."""
    return csv_text(schedule_rows(shot))


def schedule_rows(shot: Shot) -> list[list[str]]:
    """Return the schedule as cells, the header first; every move has the same columns."""
    if isinstance(shot.schedule, FrameTable):
        return _frame_table_rows(shot.schedule, shot.units)
    columns = COLUMNS if any(move.about for move in shot.schedule) else COLUMNS[:-1]
    rows = [_move_cells(move, shot.units) for move in shot.schedule]
    return [list(columns), *([row[column] for column in columns] for row in rows)]


def _move_cells(move: Move, units: str) -> dict[str, str]:
    slows = _slow_cells(move)
    return {
        "part": move.part,
        "axis": column_of(move.axis),
        "first": str(move.first),
        "last": str(move.last),
        "from": _reading(move.start, move.axis, units) if move.said_start else "",
        "to": _reading(move.end, move.axis, units),
        "law": move.law.value,
        "slow_out": slows[0],
        "slow_in": slows[1],
        "about": move.about,
    }


def _slow_cells(move: Move) -> tuple[str, str]:
    """Return slow-out and slow-in as cells: blank for a law that has none, and for a handle that nobody drew out."""
    blank = bezier_handle(move.last - move.first) if move.law is Law.BEZIER else None
    slows = (move.slow_out, move.slow_in) if move.law in SLOWED_LAWS else (None, None)
    first, second = ("" if slow is None or slow == blank else repr(_plain(slow)) for slow in slows)
    return first, second


def _reading(value: float | None, axis: str, units: str) -> str:
    return "" if value is None else repr(written(value, axis=axis, units=units))


def _frame_table_rows(table: FrameTable, units: str) -> list[list[str]]:
    header = [FRAME, *(f"{part}.{column_of(axis)}" for part, axis in table.columns)]
    rows = [
        [str(frame), *(_reading(value, axis, units) for value, (_, axis) in zip(row, table.columns, strict=True))]
        for frame, row in zip(table.frames, table.values, strict=True)
    ]
    return [header, *rows]


def chart_csv(shot: Shot) -> str:
    """Return the text of the chart; empty where no axis is in it."""
    return csv_text(chart_rows(shot))


def chart_rows(shot: Shot) -> list[list[str]]:
    """Return the chart as cells, the header first; nothing where no axis is in it."""
    return _frame_table_rows(shot.chart, shot.units) if shot.chart.columns else []


def drawings_csv(shot: Shot) -> str:
    """Return the text of the sheet of drawings."""
    return csv_text(drawings_rows(shot))


def drawings_rows(shot: Shot) -> list[list[str]]:
    """Return the sheet of drawings as cells, the header first."""
    drawings = shot.drawings
    rows = zip(drawings.frames, drawings.rows, strict=True)
    return [[FRAME, *drawings.levels], *([str(frame), *(cell or "" for cell in row)] for frame, row in rows)]


def csv_text(rows: list[list[str]]) -> str:
    """Return rows as the lines of a CSV file."""
    return "".join(f"{','.join(cell_text(cell) for cell in row)}\n" for row in rows)


def cell_text(text: str) -> str:
    """Return a cell, quoted where it holds a separator, or would begin a comment line."""
    if _NEEDS_QUOTES.intersection(text) or text.startswith("#"):
        return '"' + text.replace('"', '""') + '"'
    return text
