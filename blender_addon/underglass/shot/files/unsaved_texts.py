# SPDX-License-Identifier: GPL-3.0-or-later
"""Rereading: the texts of a shot that is not in its files yet, and the shot that a reader will make of them."""

from collections.abc import Mapping
from dataclasses import replace

from ..files_on_disk import reading_instead
from ..model import Shot
from .read import SHOT_FILE, read_shot
from .write import chart_csv, drawings_csv, drawings_file, schedule_csv, schedule_file, shot_toml

# Whatever a shot calls its sheets: these texts lie in no folder of anybody's.
_SCHEDULE, _CHART, _DRAWINGS = "schedule.csv", "chart.csv", "drawings.csv"


def texts_as_written(shot: Shot) -> dict[str, str]:
    """Return the texts that ``shot`` would be written as: shot.toml, and its sheets by usual names."""
    plain = replace(
        shot,
        schedule_file=_SCHEDULE if schedule_file(shot) else "",
        chart_file=_CHART if shot.chart.columns else "",
        drawings_file=_DRAWINGS if drawings_file(shot) else "",
    )
    texts = {SHOT_FILE: shot_toml(plain)}
    if plain.schedule_file:
        texts[_SCHEDULE] = schedule_csv(plain)
    if plain.chart_file:
        texts[_CHART] = chart_csv(plain)
    if plain.drawings_file:
        texts[_DRAWINGS] = drawings_csv(plain)
    return texts


def shot_of_texts(texts: Mapping[str, str], *, like: Shot) -> Shot:
    """Return the shot of ``texts`` in the folder of ``like``, with the names of its files.

    Raises ShotError where a reader would refuse them; its lines are those of the texts.
    """
    with reading_instead({like.folder / name: text for name, text in texts.items()}):
        shot = read_shot(like.folder / SHOT_FILE)
    return replace(
        shot,
        places=like.places,
        schedule_file=like.schedule_file or shot.schedule_file,
        chart_file=like.chart_file or shot.chart_file,
        drawings_file=(like.drawings_file or shot.drawings_file) if shot.drawings_file else "",
    )
