# SPDX-License-Identifier: GPL-3.0-or-later
"""Amending the files of a shot: their texts with what has changed, and all else as it stands there.

Comments, the order of keys, how numbers are spelled and blank lines stay; see `amend_toml` and `amend_sheet`.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ..model import Expectation, FrameTable, Level, Shot
from .amend_sheet import amended_sheet, header_of, leading_comments
from .amend_text import BOM_CHARACTER, line_end_of, matched
from .amend_toml import Content, amended_toml
from .drawings import FRAME
from .moves import COLUMNS
from .stamp import shot_file_of
from .toml_text import Value
from .write import (
    CHART_FILE,
    DRAWINGS_FILE,
    SCHEDULE_FILE,
    camera_keys,
    chart_rows,
    csv_text,
    drawings_rows,
    expectation_keys,
    exposure_keys,
    lamp_keys,
    level_keys,
    root_keys,
    ruling_keys,
    schedule_rows,
    stand_keys,
)

# What a key says where the writer leaves it out; other keys are taken out of the file then.
_DEFAULTS: dict[str, Value] = {
    "east": 0.0,
    "north": 0.0,
    "turn": 0.0,
    "squeeze": 1.0,
    "on": 1,
    "stops": 0.0,
    "fade": [],
    "reversed": [],
}
# What the cells of a move say where a schedule does not have their column.
_UNSAID = {"from": ("",), "law": ("", "steady"), "slow_out": ("", "0"), "slow_in": ("", "0"), "about": ("",)}

Row = dict[str, str]


def amend_shot(old: Shot, new: Shot, *, texts: Mapping[Path, str]) -> dict[Path, str]:
    """Return the new texts of the files that change, so that they read back as ``new`` (`with_files`); shot.toml last.

    ``texts`` are the present texts of the files of ``old``, by the path in its folder. A file that is not among them
    is new.
    """
    new = with_files(old, new)
    amended = {}
    for name, former, amend in (
        (new.schedule_file, old.schedule_file, _schedule_text),
        (new.chart_file, old.chart_file, _chart_text),
        (new.drawings_file, old.drawings_file, _drawings_text),
    ):
        if name:
            amended[old.folder / name] = _amended(texts.get(old.folder / former, "") if former else "", amend, old, new)
    file = shot_file_of(old)
    amended[file] = _amended(texts[file], _shot_text, old, new)
    return {path: text for path, text in amended.items() if text != texts.get(path)}


def with_files(old: Shot, new: Shot) -> Shot:
    """Return ``new`` with names for the files that it needs: those of ``old``, or else the usual ones."""
    schedule = new.schedule_file or ((old.schedule_file or SCHEDULE_FILE) if new.schedule else "")
    # a chart that has become empty stays: it may be needed again, and nobody's file is in its way then
    chart = new.chart_file or old.chart_file or (CHART_FILE if new.chart.columns else "")
    drawings = new.drawings_file or old.drawings_file or DRAWINGS_FILE
    return replace(
        new,
        schedule_file=schedule,
        chart_file=chart,
        drawings_file=drawings if new.drawings.frames else "",
    )


def _amended(text: str, amend: Callable[[str, Shot, Shot], str], old: Shot, new: Shot) -> str:
    """Return the amended text of one file, with a byte-order mark where it had one."""
    bare = text.removeprefix(BOM_CHARACTER)
    return text[: len(text) - len(bare)] + amend(bare, old, new)


# -- shot.toml ---------------------------------------------------------------------------------------------------------


def _shot_text(text: str, old: Shot, new: Shot) -> str:
    matches = {
        "level": _matched_levels(old.levels, new.levels),
        "expect": _matched_expectations(old.expectations, new.expectations),
        "exposure": matched(old.exposures, new.exposures, alike=[lambda exposure: exposure.name]),
        "lamp": matched(old.lamps, new.lamps, alike=[lambda lamp: lamp.name]),
    }
    return amended_toml(text, old=_content(old), new=_content(new), matches=matches, defaults=_DEFAULTS)


def _content(shot: Shot) -> Content:
    units = shot.units
    return Content(
        root=root_keys(shot),
        tables={
            "camera": camera_keys(shot.camera, units=units),
            "stand": stand_keys(shot.stand, units=units),
            **{f"findings.{ruling.code}": ruling_keys(ruling) for ruling in shot.rulings},
        },
        arrays={
            "level": [level_keys(level, units=units) for level in shot.levels],
            "expect": [expectation_keys(expectation) for expectation in shot.expectations],
            "exposure": [exposure_keys(exposure) for exposure in shot.exposures],
            "lamp": [lamp_keys(lamp, units=units) for lamp in shot.lamps],
        },
    )


def _matched_levels(old: Sequence[Level], new: Sequence[Level]) -> list[int | None]:
    return matched(old, new, alike=[lambda level: level.name, lambda level: level.art])


def _matched_expectations(old: Sequence[Expectation], new: Sequence[Expectation]) -> list[int | None]:
    return matched(old, new, alike=[lambda one: one, lambda one: replace(one, between=None), lambda one: one.level])


# -- the sheets --------------------------------------------------------------------------------------------------------


def _schedule_text(text: str, old: Shot, new: Shot) -> str:
    """Return the text of the schedule of ``new``; where it has another form, the comments above the header stay."""
    header = header_of(text)
    is_table = isinstance(new.schedule, FrameTable)
    if not header or (FRAME in header) != is_table:
        return _fresh(text, schedule_rows(new)) if header or new.schedule else text
    before, after = _rows(schedule_rows(old)), _rows(schedule_rows(new))
    if is_table:
        return _table_text(text, schedule_rows(new)[0], before, after)
    missing = [column for column in COLUMNS if column not in header]
    needed = [column for column in missing if any(row.get(column, "") not in _UNSAID[column] for row in after)]
    matches = matched(
        before,
        after,
        alike=[
            lambda row: tuple(row.get(column, "") for column in COLUMNS),
            lambda row: (row["part"], row["axis"], row["first"]),
            lambda row: (row["part"], row["axis"]),
        ],
    )
    if before == after:
        return text
    return amended_sheet(text, header=(*header, *needed), old=before, new=after, matches=matches)


def _chart_text(text: str, old: Shot, new: Shot) -> str:
    rows = chart_rows(new)
    if not rows:
        return leading_comments(text)
    if not header_of(text):
        return _fresh(text, rows)
    return _table_text(text, rows[0], _rows(chart_rows(old)), _rows(rows))


def _drawings_text(text: str, old: Shot, new: Shot) -> str:
    rows = drawings_rows(new)
    if not header_of(text):
        return _fresh(text, rows)
    return _table_text(text, rows[0], _rows(drawings_rows(old)), _rows(rows))


def _table_text(text: str, header: Sequence[str], before: list[Row], after: list[Row]) -> str:
    """Return the text of a sheet that has a row for a frame."""
    matches = matched(before, after, alike=[lambda row: row[FRAME]])
    return amended_sheet(text, header=header, old=before, new=after, matches=matches)


def _fresh(text: str, rows: list[list[str]]) -> str:
    return leading_comments(text) + csv_text(rows).replace("\n", line_end_of(text))


def _rows(rows: list[list[str]]) -> list[Row]:
    """Return rows by column, of which the first is the header."""
    header, *cells = rows
    return [dict(zip(header, row, strict=True)) for row in cells]
