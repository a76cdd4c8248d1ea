# SPDX-License-Identifier: GPL-3.0-or-later
"""The moves of a shot as rows that are edited: the row is changed in the draft, and its axis is keyed for it."""

from dataclasses import replace
from typing import Any

import numpy as np

from ..plan.tracks import make_tracks
from ..revise import restacked_shot
from ..shot import CAMERA, FrameTable, Law, Move, Projection, Shot, UnderglassError
from ..shot.axes import metric, written
from ..shot.model import SLOWED_LAWS, bezier_handle
from ..stage import restack_scene
from . import draft_shot, live_stack

CAMERA_ROWS = ("height", "east", "north", "turn", "focal")
LEVEL_ROWS = ("height", "east", "north", "turn")


def rows_of(shot: Shot) -> tuple[Move, ...]:
    """Return the rows of a shot's schedule; none where it is a frame table."""
    return () if isinstance(shot.schedule, FrameTable) else shot.schedule


def axes_of(shot: Shot, part: str) -> tuple[str, ...]:
    """Return the axes of a part that a move can be of."""
    if part != CAMERA:
        return LEVEL_ROWS
    has_lens = shot.camera.projection is Projection.PERSPECTIVE
    return CAMERA_ROWS if has_lens else CAMERA_ROWS[:-1]


def is_first(shot: Shot, number: int) -> bool:
    """Return whether a row is the first of its axis: it says where that is set up."""
    row = rows_of(shot)[number]
    return not any(
        (other.part, other.axis) == (row.part, row.axis) and other.first < row.first for other in rows_of(shot)
    )


def reading(shot: Shot, axis: str, value: float) -> float:
    """Return m or radians in what the stand counts in on ``axis``."""
    return float(written(value, axis=axis, units=shot.units))


def made(shot: Shot, part: str, axis: str, *, start: float, end: float, like: Move | None = None, **said: Any) -> Move:
    """Return a move whose ``start`` and ``end`` are readings of the stand, as fields of single precision hold them.

    ``like`` is the row that it takes the place of: what the fields hold as it was there stays to the last digit.
    """
    begin, finish = (
        was
        if (was := like and getattr(like, key)) is not None and _is_same(value, reading(shot, axis, was))
        else metric(_typed(value), axis=axis, units=shot.units)
        for key, value in (("start", start), ("end", end))
    )
    eased = said["law"] in SLOWED_LAWS
    slows = {key: _slow(key, like, **said) if eased else 0.0 for key in ("slow_out", "slow_in")}
    about = said["about"] if said["law"] is Law.RATIO and (part, axis) == (CAMERA, "height") else ""
    row = Move(part, axis, said["first"], said["last"], begin, finish, said["law"], **slows, about=about)
    return row if like is None else replace(row, said_start=like.said_start)


def _typed(value: float) -> float:
    """Return the shortest decimal that a field of single precision holds as ``value``: what was typed."""
    return float(str(np.float32(value)))


def _is_same(value: float, was: float) -> bool:
    return bool(np.float32(value) == np.float32(was))


def _slow(key: str, like: Move | None, **said: Any) -> float:
    """Return the steps of an ease: as ``like`` has them, and handles that nobody has drawn out go with the move."""
    value, was = float(said[key]), like and getattr(like, key)
    if like is None or was is None or like.law is not said["law"] or not _is_same(value, was):
        return _typed(value)
    by_itself = like.law is Law.BEZIER and was == bezier_handle(like.last - like.first)
    return bezier_handle(said["last"] - said["first"]) if by_itself else float(was)


def change(scene: Any, number: int, move: Move) -> None:
    """Put ``move`` in the place of a row, which is of the same axis."""
    _edit(scene, move.part, move.axis, new=move, without=number)


def add(scene: Any, move: Move) -> None:
    """Add a row."""
    _edit(scene, move.part, move.axis, new=move)


def remove(scene: Any, number: int) -> Move:
    """Take a row away and return it; what came after it on its axis starts where it started."""
    row = rows_of(live_stack.shot_and_plan(scene)[0])[number]
    _edit(scene, row.part, row.axis, without=number)
    return row


def standing(shot: Shot, part: str, axis: str, frame: int) -> float:
    """Return where an axis stands on ``frame`` by the schedule, m or radians."""
    tracks = make_tracks(shot)
    track = tracks.camera[axis] if part == CAMERA else tracks.levels[axis][:, shot.names.index(part)]
    return float(track[min(max(frame, shot.frames[0]), shot.frames[1]) - shot.frames[0]])


def _edit(scene: Any, part: str, axis: str, *, new: Move | None = None, without: int | None = None) -> None:
    shot, before = live_stack.shot_and_plan(scene)
    now = live_stack.live(scene)
    if now is not None and f"{part} {axis}" in now.unsaved:
        raise UnderglassError(f"{part} {axis} was moved by hand: Save first, and its rows are what you made")
    rows = [
        move
        for number, move in enumerate(rows_of(shot))
        if (move.part, move.axis) == (part, axis) and number != without
    ]
    is_first = new is not None and all(new.first < row.first for row in rows)
    made_rows = rows if new is None else [*rows, new]
    begins = new.start if new is not None and is_first else None
    wanted = restacked_shot.with_moves(shot, part, axis, made_rows, begins=begins)
    after = draft_shot.keep(scene, wanted, like=live_stack.shot_on_disk(scene))
    live_stack.forget(scene)
    restack_scene.key_changes(scene, before, after)
