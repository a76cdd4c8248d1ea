# SPDX-License-Identifier: GPL-3.0-or-later
"""Other units: a shot whose files count in inches, centimetres or millimetres instead; nothing of it moves."""

from dataclasses import replace
from typing import Any

import numpy as np

from ..shot.model import Camera, FrameTable, Lamp, Level, Schedule, Shot
from ..shot.units import in_units, metres_from
from .restacked_shot import LENGTH_AXES, SAME_M
from .tidy_numbers import tidy


def in_other_units(shot: Shot, units: str) -> Shot:
    """Return ``shot`` with its lengths in other units, each spelled in few figures, to SAME_M."""

    def length(value: float) -> float:
        if not np.isfinite(value):
            return value
        there = tidy(value, unit=units, tolerance=SAME_M)
        return metres_from(in_units(there, units), units)

    def maybe(value: float | None) -> float | None:
        return None if value is None else length(value)

    def pair(value: tuple[float, float] | None) -> tuple[float, float] | None:
        return None if value is None else (length(value[0]), length(value[1]))

    def places(part: Camera | Level | Lamp) -> dict[str, Any]:
        return {axis: length(getattr(part, axis)) for axis in LENGTH_AXES}

    def table(there: FrameTable) -> FrameTable:
        of_length = [axis in LENGTH_AXES for _, axis in there.columns]
        rows = (zip(row, of_length, strict=True) for row in there.values)
        return replace(there, values=tuple(tuple(maybe(c) if far else c for c, far in row) for row in rows))

    def sheet(schedule: Schedule) -> Schedule:
        if isinstance(schedule, FrameTable):
            return table(schedule)
        return tuple(
            replace(move, start=length(move.start), end=length(move.end)) if move.axis in LENGTH_AXES else move
            for move in schedule
        )

    camera, stand = shot.camera, shot.stand
    return replace(
        shot,
        units=units,
        camera=replace(
            camera,
            field_width=length(camera.field_width),
            focus=replace(camera.focus, distance=length(camera.focus.distance)),
            **places(camera),
        ),
        stand=replace(
            stand,
            camera_height=pair(stand.camera_height),
            level_height=pair(stand.level_height),
            level_east=pair(stand.level_east),
            level_north=pair(stand.level_north),
            least_gap=maybe(stand.least_gap),
            counter=maybe(stand.counter),
            camera_speed=maybe(stand.camera_speed),
            level_speed=maybe(stand.level_speed),
        ),
        levels=tuple(replace(level, art_width=length(level.art_width), **places(level)) for level in shot.levels),
        lamps=tuple(replace(lamp, **places(lamp)) for lamp in shot.lamps),
        schedule=sheet(shot.schedule),
        chart=table(shot.chart),
    )
