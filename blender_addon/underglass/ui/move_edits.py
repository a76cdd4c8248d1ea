"""The moves of a shot as rows that are edited: the row is changed in the draft, and its axis is keyed for it."""

from typing import Any

from ..plan.tracks import make_tracks
from ..revise import restacking
from ..shot import CAMERA, FrameTable, Law, Move, Projection, Shot, UnderglassError
from ..shot.axes import metric, written
from ..shot.model import SLOWED_LAWS
from ..stage import restack
from . import draft, live

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


def made(shot: Shot, part: str, axis: str, *, start: float, end: float, **said: Any) -> Move:
    """Return a move whose ``start`` and ``end`` are readings of the stand."""
    begin, finish = (metric(value, axis=axis, units=shot.units) for value in (start, end))
    eased = said["law"] in SLOWED_LAWS
    slows = {key: said[key] if eased else 0.0 for key in ("slow_out", "slow_in")}
    about = said["about"] if said["law"] is Law.RATIO and (part, axis) == (CAMERA, "height") else ""
    return Move(part, axis, said["first"], said["last"], begin, finish, said["law"], **slows, about=about)


def change(scene: Any, number: int, move: Move) -> None:
    """Put ``move`` in the place of a row, which is of the same axis."""
    _edit(scene, move.part, move.axis, new=move, without=number)


def add(scene: Any, move: Move) -> None:
    """Add a row."""
    _edit(scene, move.part, move.axis, new=move)


def remove(scene: Any, number: int) -> Move:
    """Take a row away and return it; what came after it on its axis starts where it started."""
    row = rows_of(live.shot_and_plan(scene)[0])[number]
    _edit(scene, row.part, row.axis, without=number)
    return row


def standing(shot: Shot, part: str, axis: str, frame: int) -> float:
    """Return where an axis stands on ``frame`` by the schedule, m or radians."""
    tracks = make_tracks(shot)
    track = tracks.camera[axis] if part == CAMERA else tracks.levels[axis][:, shot.names.index(part)]
    return float(track[min(max(frame, shot.frames[0]), shot.frames[1]) - shot.frames[0]])


def _edit(scene: Any, part: str, axis: str, *, new: Move | None = None, without: int | None = None) -> None:
    shot, before = live.shot_and_plan(scene)
    now = live.live(scene)
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
    wanted = restacking.with_moves(shot, part, axis, made_rows, begins=begins)
    after = draft.keep(scene, wanted, like=live.shot_on_disk(scene))
    live.forget(scene)
    restack.key_changes(scene, before, after)
