# SPDX-License-Identifier: GPL-3.0-or-later
"""Rescheduling: the set-up and schedule of a shot that give the tracks of an edited scene.

An axis that was not touched keeps its rows; the others become moves where laws fit, and columns of the chart where
none does. A schedule that is a frame table stays one.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..plan.fit_moves import fit_moves
from ..plan.plan_arrays import Floats, Plan, Tracks
from ..plan.tracks import make_tracks
from ..shot.errors import ShotError
from ..shot.model import CAMERA, CAMERA_AXES, LEVEL_AXES, FrameTable, Law, Move, Projection, Shot
from .tidy_numbers import tidy_read

AxisName = tuple[str, str]

# The finest difference that is kept, as a share of the field: half of what nobody could see in a picture of 2,000 px.
SHARE = 4e-7
NO_CHART = FrameTable((), (), ())
SINGLE = float(np.finfo(np.float32).eps)


@dataclass(frozen=True)
class _Seen:
    """One axis of an edited scene: what it reads (F,), what was planned, and how finely both are told apart."""

    part: str
    axis: str
    track: Floats
    planned: Floats | None
    fine: float
    allowed: float
    unit: str

    @property
    def touched(self) -> bool:
        # less than half of the finest difference is what rounding made of it, and no artist
        return self.planned is None or bool(np.abs(self.planned - self.track).max(initial=0.0) > self.fine / 2)

    def tidy(self, value: float) -> float:
        return tidy_read(value, unit=self.unit, tolerance=self.fine / 4)


def rescheduled(shot: Shot, *, old: Shot, plan: Plan, tracks: Tracks, to_counter: bool) -> tuple[Shot, list[AxisName]]:
    """Return ``shot`` with set-up and schedule that give ``tracks``, and which axes are not as ``plan`` has them.

    ``plan`` is that of ``old`` over the frames of ``tracks``. ``to_counter`` lets a law stray by half a counter step.
    """
    axes = [_seen(shot, plan, *axis, to_counter=to_counter) for axis in _all_axes(shot, tracks)]
    moved = [(seen.part, seen.axis) for seen in axes if seen.touched]
    if not moved and shot.frames == old.frames:
        return shot, moved
    loose = {seen.part for seen in axes if seen.part != CAMERA and not _on_its_frames(shot, seen)}
    standing = {(seen.part, seen.axis): _standing(seen, old) for seen in axes}
    if isinstance(old.schedule, FrameTable):
        columns = (*old.schedule.columns, *old.chart.columns)
        table = _table(_columned(axes, columns), columns, standing, tracks)
        return replace(_with_starts(shot, standing, loose), schedule=table or (), chart=NO_CHART), moved
    fits = {(seen.part, seen.axis): _fitted(seen, shot, tracks, _former(old), old) for seen in axes}

    def made_with(starts: dict[AxisName, float], rows: tuple[Move, ...], charted: list[_Seen]) -> Shot:
        chart = _table(charted, old.chart.columns, starts, tracks) or NO_CHART
        return replace(_with_starts(shot, starts, loose), schedule=rows, chart=chart)

    return _moves_and_chart(axes, fits, standing, _former(old), made_with), moved


def _moves_and_chart(
    axes: list[_Seen],
    fits: dict[AxisName, tuple[Move, ...] | None],
    standing: dict[AxisName, float],
    former: dict[AxisName, tuple[Move, ...]],
    made_with: Callable[[dict[AxisName, float], tuple[Move, ...], list[_Seen]], Shot],
) -> Shot:
    """Return the shot with the moves of every axis that a law ``fits``, and a chart of the others.

    ``made_with`` makes it of where the axes begin, the rows, and the axes of the chart.
    """
    while True:
        charted = [seen for seen in axes if fits[seen.part, seen.axis] is None]
        starts = {
            name: min(fit, key=lambda move: move.first).start if fit else standing[name] for name, fit in fits.items()
        }
        made = made_with(starts, _in_order([move for fit in fits.values() for move in fit or ()], former), charted)
        astray = _astray(made, axes)
        if astray is None:  # a ratio whose origin has no meaning any more: let every one of them be read off
            astray = {name for name, fit in fits.items() if fit and any(move.law is Law.RATIO for move in fit)}
        astray -= {(seen.part, seen.axis) for seen in charted}
        if not astray:
            return made
        fits = fits | dict.fromkeys(astray)


def _all_axes(shot: Shot, tracks: Tracks) -> list[tuple[str, str, Floats]]:
    """Return (part, axis, track) of every axis that the stand of ``shot`` has."""
    has_lens = shot.camera.projection is Projection.PERSPECTIVE
    camera = [(CAMERA, axis, tracks.camera[axis]) for axis in CAMERA_AXES if has_lens or axis != "focal"]
    return camera + [
        (name, axis, tracks.levels[axis][:, column]) for column, name in enumerate(shot.names) for axis in LEVEL_AXES
    ]


def _seen(shot: Shot, plan: Plan, part: str, axis: str, track: Floats, *, to_counter: bool) -> _Seen:
    fine = _finest(plan, part, axis)
    # A lens and a turn have counters of their own, which no file tells.
    half = (shot.stand.counter or 0.0) / 2 if to_counter and axis not in ("turn", "focal") else 0.0
    unit = "deg" if axis == "turn" else "mm" if axis == "focal" else shot.units
    # what single precision makes of a straight line must not keep it from being one
    allowed = max(fine + SINGLE * float(np.abs(track).max(initial=0.0)), half)
    return _Seen(part, axis, track, _planned(plan, part, axis), fine, allowed, unit)


def _planned(plan: Plan, part: str, axis: str) -> Floats | None:
    if part == CAMERA:
        return plan.tracks.camera[axis]
    return plan.tracks.levels[axis][:, plan.names.index(part)] if part in plan.names else None


def _finest(plan: Plan, part: str, axis: str) -> float:
    """Return the deviation of an axis that makes SHARE of the field, m or radians."""
    if axis == "turn":
        return SHARE
    if axis == "focal":
        return SHARE * float(plan.tracks.camera["focal"].min())
    columns = slice(None) if part == CAMERA else [plan.names.index(part)]
    if axis == "height":
        return SHARE * float(plan.distance[:, columns].min())
    return SHARE * plan.shot.camera.frame_px[0] / float(plan.scale[:, columns].max())


def _former(shot: Shot) -> dict[AxisName, tuple[Move, ...]]:
    rows: dict[AxisName, tuple[Move, ...]] = {}
    if not isinstance(shot.schedule, FrameTable):
        for move in shot.schedule:
            rows[move.part, move.axis] = (*rows.get((move.part, move.axis), ()), move)
    return rows


def _on_its_frames(shot: Shot, seen: _Seen) -> bool:
    """Return whether a level moves only on the frames that it is animated on."""
    on = shot.levels[shot.names.index(seen.part)].on
    held = seen.track[np.arange(len(seen.track)) // on * on]
    return bool((np.abs(seen.track - held) <= seen.fine).all())


def _fitted(
    seen: _Seen, shot: Shot, tracks: Tracks, former: dict[AxisName, tuple[Move, ...]], old: Shot
) -> tuple[Move, ...] | None:
    """Return the moves of one axis: its former rows where it was not touched, else laws that fit, else None."""
    before = former.get((seen.part, seen.axis), ())
    if not seen.touched and shot.frames == old.frames:
        return None if (seen.part, seen.axis) in old.chart.columns else before
    first, last = shot.frames
    before = before if all(first <= move.first and move.last <= last for move in before) else ()
    about = next((move.about for move in before if move.about), "")
    origin = None
    if seen.axis == "height" and seen.part != CAMERA:
        origin = tracks.camera["height"]
    elif seen.axis == "height" and about in shot.names:
        origin = tracks.levels["height"][:, shot.names.index(about)]
    tidy_value: Callable[[float], float] = seen.tidy
    return fit_moves(
        seen.track,
        part=seen.part,
        axis=seen.axis,
        first=first,
        tolerance=seen.allowed,
        origin=origin,
        about=about,
        before=before,
        tidy=tidy_value,
        on=1 if seen.part == CAMERA or not _on_its_frames(shot, seen) else shot.levels[shot.names.index(seen.part)].on,
    )


def _standing(seen: _Seen, old: Shot) -> float:
    """Return where an axis stands in the set-up: as the file says where that is where it begins."""
    owner = old.camera if seen.part == CAMERA else old.levels[old.names.index(seen.part)]
    said, first = float(getattr(owner, seen.axis)), float(seen.track[0])
    return said if abs(said - first) <= seen.fine / 4 else seen.tidy(first)


def _with_starts(shot: Shot, starts: dict[AxisName, float], loose: set[str]) -> Shot:
    """Return ``shot`` set up where its axes begin; the levels of ``loose`` move on every frame."""

    def begin(part: str, axes: tuple[str, ...]) -> dict[str, Any]:
        return {axis: starts[part, axis] for axis in axes if (part, axis) in starts}

    levels = tuple(
        replace(level, on=1 if level.name in loose else level.on, **begin(level.name, LEVEL_AXES))
        for level in shot.levels
    )
    return replace(shot, camera=replace(shot.camera, **begin(CAMERA, CAMERA_AXES)), levels=levels)


def _in_order(rows: list[Move], former: dict[AxisName, tuple[Move, ...]]) -> tuple[Move, ...]:
    """Return the rows in the order that their axes had, new axes last."""
    order = {axis: number for number, axis in enumerate(former)}
    return tuple(sorted(rows, key=lambda move: order.get((move.part, move.axis), len(order))))


def _astray(shot: Shot, axes: list[_Seen]) -> set[AxisName] | None:
    """Return the axes that the schedule of ``shot`` does not give; a ratio hangs on another axis, so all are asked.

    None where it gives none at all.
    """
    try:
        made = _all_axes(shot, make_tracks(shot))
    except ShotError:
        return None
    return {
        (seen.part, seen.axis)
        for seen, (_, _, track) in zip(axes, made, strict=True)
        if not (np.abs(seen.track - track) <= 1.01 * seen.allowed).all()
    }


def _columned(axes: list[_Seen], was: Sequence[AxisName]) -> list[_Seen]:
    """Return the axes that a table of frames has: those that move, and those that had a column."""
    return [seen for seen in axes if (seen.part, seen.axis) in was or np.ptp(seen.track) > seen.fine]


def _table(
    moving: list[_Seen], was: Sequence[AxisName], starts: dict[AxisName, float], tracks: Tracks
) -> FrameTable | None:
    """Return a frame table of axes, a row on each frame on which one changes; None where there are none.

    Those that had a column keep their order and, where nothing moved them, their very cells.
    """
    if not moving:
        return None
    order = {axis: number for number, axis in enumerate(was)}
    moving = sorted(moving, key=lambda seen: order.get((seen.part, seen.axis), len(order)))
    grid = np.array([_cells(seen, starts[seen.part, seen.axis], keep=bool(was)) for seen in moving]).T
    rows = [0, *(np.flatnonzero((np.diff(grid, axis=0) != 0).any(axis=1)) + 1).tolist()]
    values: list[tuple[float | None, ...]] = []
    for number, row in enumerate(rows):
        above = grid[rows[number - 1]] if number else np.full(len(moving), np.nan)
        values.append(
            tuple(None if cell == before else float(cell) for cell, before in zip(grid[row], above, strict=True))
        )
    return FrameTable(
        tuple((seen.part, seen.axis) for seen in moving), tuple(int(tracks.frames[row]) for row in rows), tuple(values)
    )


def _cells(seen: _Seen, start: float, *, keep: bool) -> list[float]:
    """Return an axis as cells: planned numbers as they were, others short, and held where it rests."""
    cells: list[float] = []
    for row, value in enumerate(seen.track.tolist()):
        planned = seen.planned is not None and keep and seen.planned[row] == value
        if planned:
            cells.append(value)
        elif row and abs(value - cells[-1]) <= seen.fine / 4:
            cells.append(cells[-1])
        else:
            cells.append(start if not row else seen.tidy(value))
    return cells
