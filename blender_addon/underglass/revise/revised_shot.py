# SPDX-License-Identifier: GPL-3.0-or-later
"""From what a stand reads in a scene to the shot that says so: set-up, focus, and what goes with a lost level.

Its schedule is `revised_schedule`; the text of the files is the shot room's.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..plan.plan_arrays import Plan, Tracks
from ..plan.stack_order import in_order
from ..shot.errors import ShotError
from ..shot.model import Drawings, Exposure, Focus, FrameTable, Lamp, Level, Projection, Schedule, Shot
from .revised_schedule import rescheduled
from .stand_readings import SAME, Standing
from .tidy_numbers import tidy
from .trimmed_frames import with_frames

# Focus that is keyed by hand to a level is so to this share of its distance.
SAME_FOCUS = 1e-4


@dataclass(frozen=True)
class Revised:
    """A shot as an edited scene has it, and what is worth saying about it. ``changed`` names what differs in
    words, ``moved`` the axes as (part, axis).
    """

    shot: Shot
    changed: tuple[str, ...]
    moved: tuple[tuple[str, str], ...]
    remarks: tuple[str, ...]


def revised_shot(old: Shot, *, plan: Plan, standing: Standing, to_counter: bool = False) -> Revised:
    """Return the shot that puts every level where ``standing`` has it, on every frame, to 1e-6 of the field.

    ``plan`` is the one ``standing`` was read beside. With ``to_counter`` a move may stray from the scene by half a
    counter step where a law does it: what an operator can set. Raises ShotError where levels would meet.
    """
    shot, remarks = _without_lost(replace(old, drawings=standing.drawings), standing)
    kept = [column for column, there in enumerate(standing.present) if there]
    tracks = Tracks(
        standing.tracks.frames,
        standing.tracks.camera,
        {axis: track[:, kept] for axis, track in standing.tracks.levels.items()},
    )
    shot, cut = with_frames(shot, (int(tracks.frames[0]), int(tracks.frames[-1])))
    shot = replace(
        shot,
        fps=standing.fps,
        camera=replace(
            shot.camera,
            frame_px=standing.frame_px,
            field_width=tidy(standing.field_width, unit=shot.units, tolerance=SAME * standing.field_width),
            f_stop=standing.f_stop if standing.f_stop is not None else shot.camera.f_stop,
        ),
        levels=tuple(
            _resized(level, width, shot.units)
            for level, width in zip(shot.levels, standing.art_width[kept], strict=True)
        ),
    )
    shot, focus_remarks = _refocused(shot, standing)
    shot, tracks = in_order(shot, tracks)
    shot, moved = rescheduled(shot, plan=plan, old=old, tracks=tracks, to_counter=to_counter)
    return Revised(shot, _changes(old, shot, moved), tuple(moved), (*standing.remarks, *remarks, *cut, *focus_remarks))


def _resized(level: Level, width: float, units: str) -> Level:
    if width == level.art_width:
        return level
    return replace(level, art_width=tidy(float(width), unit=units, tolerance=SAME * width))


def _without_lost(shot: Shot, standing: Standing) -> tuple[Shot, list[str]]:
    """Return the shot without the levels that are not in the scene, and all that was said of them."""
    lost = [name for name, there in zip(shot.names, standing.present, strict=True) if not there]
    if not lost:
        return shot, []
    if len(lost) == len(shot.levels):
        raise ShotError(shot.place("level"), "no level of the shot is in the scene", "build it first")
    if shot.camera.focus.level in lost:
        name = shot.camera.focus.level
        raise ShotError(
            shot.place("camera.focus"), f"the lens is focused on {name!r}, which was deleted", "focus elsewhere first"
        )
    return without_levels(shot, lost), [
        f"{name} is no longer in the scene and is taken out of the shot" for name in lost
    ]


def without_levels(shot: Shot, lost: list[str]) -> Shot:
    """Return ``shot`` without some levels and all that was said of them; ShotError where a move is about one."""
    drawings = _drawings_without(shot.drawings, lost)
    return replace(
        shot,
        levels=tuple(level for level in shot.levels if level.name not in lost),
        schedule=_schedule_without(shot, lost),
        chart=_table_without(shot.chart, lost),
        drawings=drawings,
        drawings_file=shot.drawings_file if drawings.levels else "",
        expectations=tuple(one for one in shot.expectations if one.level not in lost and one.against not in lost),
        exposures=tuple(_exposures_without(shot.exposures, lost)),
        lamps=tuple(_lamps_without(shot.lamps, lost)),
        stand=replace(shot.stand, reversed=tuple(axis for axis in shot.stand.reversed if axis[0] not in lost)),
    )


def _schedule_without(shot: Shot, lost: list[str]) -> Schedule:
    if not isinstance(shot.schedule, FrameTable):
        about = next((move.about for move in shot.schedule if move.about in lost), None)
        if about:
            raise ShotError(
                shot.place("schedule"), f"a move is about {about!r}, which was deleted", "let it be about another level"
            )
        return tuple(move for move in shot.schedule if move.part not in lost)
    table = _table_without(shot.schedule, lost)
    return table if table.columns else ()


def _table_without(table: FrameTable, lost: list[str]) -> FrameTable:
    """Return a table of frames without the columns of the lost levels; nothing is left where it had no other."""
    kept = [index for index, (part, _) in enumerate(table.columns) if part not in lost]
    if not kept:
        return FrameTable((), (), ())
    return FrameTable(
        tuple(table.columns[index] for index in kept),
        table.frames,
        tuple(tuple(row[index] for index in kept) for row in table.values),
    )


def _drawings_without(drawings: Drawings, lost: list[str]) -> Drawings:
    kept = [index for index, name in enumerate(drawings.levels) if name not in lost]
    if not kept:
        return Drawings()
    rows = tuple(tuple(row[index] for index in kept) for row in drawings.rows)
    return replace(drawings, levels=tuple(drawings.levels[index] for index in kept), rows=rows)


def _exposures_without(exposures: tuple[Exposure, ...], lost: list[str]) -> list[Exposure]:
    """Return the passes without the lost levels; one that showed nothing else goes with them."""
    found = []
    for exposure in exposures:
        names = exposure.levels
        if names is not None:
            names = tuple(name for name in names if name not in lost)
        if names != ():
            found.append(replace(exposure, levels=names))
    return found


def _lamps_without(lamps: tuple[Lamp, ...], lost: list[str]) -> list[Lamp]:
    """Return the lamps without the lost levels; one that lit nothing else goes with them."""
    found = []
    for lamp in lamps:
        names = None if lamp.levels is None else tuple(name for name in lamp.levels if name not in lost)
        if names != ():
            found.append(replace(lamp, levels=names))
    return found


def _refocused(shot: Shot, standing: Standing) -> tuple[Shot, list[str]]:
    """Return the shot focused where the scene is, if the artist set another distance."""
    if shot.camera.projection is Projection.ORTHOGRAPHIC:
        return shot, []
    if standing.said is not None:
        camera = replace(shot.camera, focus=standing.said.focus, gate=standing.said.gate or shot.camera.gate)
        return replace(shot, camera=camera), []
    if level := standing.focused_on or _followed(shot, standing):
        return replace(shot, camera=replace(shot.camera, focus=Focus(level=level))), []
    if standing.focus is None:
        return shot, []
    distance = float(standing.focus[0])
    spread = np.ptp(standing.focus) if np.isfinite(standing.focus).all() else 0.0
    if (not np.isfinite(standing.focus).all() and np.isfinite(standing.focus).any()) or spread > SAME * distance:
        raise ShotError(
            shot.place("camera.focus"),
            "the focus distance is keyed by hand",
            "let focus follow a level (name it in shot.toml), or let it hold one distance",
        )
    if np.isfinite(distance):
        distance = tidy(distance, unit=shot.units, tolerance=SAME * distance)
    camera = replace(shot.camera, focus=Focus(distance=distance))
    return replace(shot, camera=camera), ["focus holds the distance that the scene has; the lens was keyed for it"]


def _followed(shot: Shot, standing: Standing) -> str:
    """Return the level whose distance the keyed focus has on every frame; empty where it has no level's, or holds."""
    if standing.focus is None or not np.isfinite(standing.focus).all() or not np.ptp(standing.focus):
        return ""
    heights, lens = standing.tracks.levels["height"], standing.tracks.camera["height"]
    kept = [column for column, there in enumerate(standing.present) if there]
    for level, column in zip(shot.names, kept, strict=True):
        distance = lens - heights[:, column]
        if (np.abs(distance - standing.focus) <= SAME_FOCUS * distance).all():
            return level
    return ""


def _changes(old: Shot, new: Shot, moved: list[tuple[str, str]]) -> tuple[str, ...]:
    """Return what differs, in words for a panel."""
    found = [f"{part} {axis}" for part, axis in moved]
    found += [
        f"{level.name} art width"
        for level in new.levels
        if level.name in old.names and level.art_width != old.levels[old.names.index(level.name)].art_width
    ]
    found += [f"{name} removed" for name in old.names if name not in new.names]
    pairs = {
        "frames": (old.frames, new.frames),
        "fps": (old.fps, new.fps),
        "frame size": (old.camera.frame_px, new.camera.frame_px),
        "field width": (old.camera.field_width, new.camera.field_width),
        "focus": (old.camera.focus, new.camera.focus),
        "f-stop": (old.camera.f_stop, new.camera.f_stop),
    }
    return (*found, *(name for name, (before, after) in pairs.items() if before != after))
