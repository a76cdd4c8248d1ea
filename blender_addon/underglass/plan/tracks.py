# SPDX-License-Identifier: GPL-3.0-or-later
"""Tracks: what every axis of the stand reads on every frame, from the shot's set-up and schedule.

Only readings live here; what they look like on screen is `planning`.
"""

import numpy as np

from ..shot.errors import Place, ShotError
from ..shot.model import CAMERA, CAMERA_AXES, LEVEL_AXES, FrameTable, Law, Move, Shot
from . import motion_laws
from .plan_arrays import Floats, Tracks


def make_tracks(shot: Shot) -> Tracks:
    """Return the reading of every axis on every frame; raises ShotError where a ratio has no meaning."""
    camera = {axis: np.full(shot.frame_count, getattr(shot.camera, axis)) for axis in CAMERA_AXES}
    levels = {
        axis: np.tile([float(getattr(level, axis)) for level in shot.levels], (shot.frame_count, 1))
        for axis in LEVEL_AXES
    }
    tracks = Tracks(np.arange(shot.frames[0], shot.frames[1] + 1), camera, levels)
    # a ratio may be counted from an axis of the chart
    _follow_table(tracks, shot, shot.chart)
    if isinstance(shot.schedule, FrameTable):
        _follow_table(tracks, shot, shot.schedule)
    else:
        _follow_moves(tracks, shot, shot.schedule)
    _put_on_twos(tracks, shot)
    return tracks


def _axis(tracks: Tracks, shot: Shot, part: str, axis: str) -> Floats:
    """Return the (F,) track of one axis, a view that can be written to."""
    if part == CAMERA:
        return tracks.camera[axis]
    return tracks.levels[axis][:, shot.names.index(part)]


def _follow_table(tracks: Tracks, shot: Shot, table: FrameTable) -> None:
    first = shot.frames[0]
    for column, (part, axis) in enumerate(table.columns):
        track = _axis(tracks, shot, part, axis)
        for frame, row in zip(table.frames, table.values, strict=True):
            value = row[column]
            if value is not None:
                track[frame - first :] = value


def _follow_moves(tracks: Tracks, shot: Shot, moves: tuple[Move, ...]) -> None:
    """Apply the moves axis by axis, in an order in which every distance that a ratio needs is known."""
    by_axis: dict[tuple[str, str], list[Move]] = {}
    for move in sorted(moves, key=lambda move: move.first):
        by_axis.setdefault((move.part, move.axis), []).append(move)
    waits_for_camera = {part for (part, axis), group in by_axis.items() if part != CAMERA and _has_ratio(axis, group)}
    for (part, axis), group in sorted(by_axis.items(), key=lambda item: _turn(item[0], waits_for_camera)):
        for move in group:
            if move.about in waits_for_camera:
                raise ShotError(
                    _place(shot, move),
                    f"the camera's ratio is about {move.about}, whose own height moves by ratio from the camera",
                    "let one of the two move by law steady or sine",
                )
            track = _axis(tracks, shot, part, axis)
            begin, stop = move.first - shot.frames[0], move.last - shot.frames[0]
            track[begin : stop + 1] = _positions(tracks, shot, move)
            track[stop + 1 :] = move.end


def _has_ratio(axis: str, group: list[Move]) -> bool:
    return axis == "height" and any(move.law is Law.RATIO for move in group)


def _turn(axis: tuple[str, str], waits_for_camera: set[str]) -> int:
    """Return when an axis is worked out: most at once, then the camera's height, then what is measured from it."""
    part, name = axis
    if name != "height":
        return 0
    return 1 if part == CAMERA else 2 if part in waits_for_camera else 0


def _place(shot: Shot, move: Move) -> Place:
    return shot.place(f"schedule:{move.part}.{move.axis}@{move.first}")


def _positions(tracks: Tracks, shot: Shot, move: Move) -> Floats:
    if move.law is not Law.RATIO:
        return motion_laws.along(move)
    window = slice(move.first - shot.frames[0], move.last - shot.frames[0] + 1)
    origin, sign = _ratio_origin(tracks, shot, move, window)
    if sign * (move.start - origin[0]) <= 0 or sign * (move.end - origin[-1]) <= 0:
        raise ShotError(
            _place(shot, move),
            "a ratio needs the lens in front of the glass at both ends of the move",
            "keep the camera above the level it is about",
        )
    return motion_laws.along(move, origin=origin, sign=sign)


def _ratio_origin(tracks: Tracks, shot: Shot, move: Move, window: slice) -> tuple[Floats, float]:
    """Return where the distance that a ratio scales is counted from, per frame, and which way it is counted."""
    if move.part != CAMERA:
        return tracks.camera["height"][window], -1.0
    if move.axis == "height":
        return _axis(tracks, shot, move.about, "height")[window], 1.0
    return np.zeros(move.last - move.first + 1), 1.0


def _put_on_twos(tracks: Tracks, shot: Shot) -> None:
    """Let a level on twos stand still on every second frame, counted from the first of the shot."""
    count = np.arange(shot.frame_count)
    for column, level in enumerate(shot.levels):
        if level.on > 1:
            held = count // level.on * level.on
            for axis in LEVEL_AXES:
                tracks.levels[axis][:, column] = tracks.levels[axis][held, column]
