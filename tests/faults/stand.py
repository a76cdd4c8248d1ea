# SPDX-License-Identifier: GPL-3.0-or-later
"""The truth of a stand: where every corner of every level's art is in the picture, worked out by the generator itself.

Its own few lines of geometry, from the numbers of a shot's files, that share nothing with what is tested: laws as areas
under a speed, a lens as a pinhole of its image distance, corners as points in space that a camera's axes look at.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from underglass.shot import CAMERA, FrameTable, Law, Move, Projection, Shot

AXES = ("height", "east", "north", "turn")
Reading = dict[tuple[str, str], np.ndarray]


@dataclass(frozen=True)
class Stand:
    """A stand on every frame, metres.

    ``corners`` (F, L, 4, 3) of the art, from its bottom left counter-clockwise; ``eye`` (F, 3); ``axes`` (F, 3, 3) the
    camera's right, up and back as columns; ``reach`` (F,) the image distance, of an orthographic camera nothing;
    ``film`` (F,) what the frame's width takes in at that distance, the squeeze in it, of an orthographic camera at
    every distance; ``shift`` (F, 2) of the lens, in frame widths.
    """

    corners: np.ndarray
    eye: np.ndarray
    axes: np.ndarray
    reach: np.ndarray
    film: np.ndarray
    shift: np.ndarray
    parallel: bool
    frame_px: tuple[int, int]
    squeeze: float

    def seen(self) -> np.ndarray:
        """Return where the corners are in the picture, (F, L, 4, 2) px from its centre, x right and y up."""
        local = np.einsum("fij,flci->flcj", self.axes, self.corners - self.eye[:, None, None])
        depth = np.ones_like(local[..., 2]) if self.parallel else -local[..., 2] / self.reach[:, None, None]
        flat = local[..., :2] / depth[..., None] / self.film[:, None, None, None] - self.shift[:, None, None]
        return flat * self.frame_px[0] * np.array([1.0, self.squeeze])

    def away_from(self, planned: "Stand") -> np.ndarray:
        """Return how far the worst corner of each level is out of place, (F, L) px."""
        return np.linalg.norm(self.seen() - planned.seen(), axis=-1).max(axis=-1)


def stand_of(shot: Shot) -> Stand:
    """Return the stand that the files of a shot ask for."""
    read = readings(shot)
    count = shot.frame_count
    eye = np.stack([read[CAMERA, axis] for axis in ("east", "north", "height")], axis=-1)
    corners = np.stack([_corners(read, level.name, level.art_width, level.art_height) for level in shot.levels], axis=1)
    camera = shot.camera
    if camera.projection is Projection.ORTHOGRAPHIC or camera.gate is None:
        reach, film = np.full(count, np.nan), np.full(count, camera.field_width)
    else:
        focal = read[CAMERA, "focal"]
        away = np.full(count, camera.focus.distance)
        if camera.focus.level:
            away = read[CAMERA, "height"] - read[camera.focus.level, "height"]
        # 1/f = 1/u + 1/v
        reach = 1.0 / (1.0 / focal - 1.0 / away)
        film = np.full(count, camera.gate.width * camera.squeeze)
    return Stand(
        corners=corners,
        eye=eye,
        axes=turned(read[CAMERA, "turn"]),
        reach=reach,
        film=film,
        shift=np.zeros((count, 2)),
        parallel=camera.projection is Projection.ORTHOGRAPHIC,
        frame_px=camera.frame_px,
        squeeze=camera.squeeze,
    )


def turned(angle: np.ndarray) -> np.ndarray:
    """Return rotations about the vertical, (F, 3, 3), counter-clockwise from above."""
    cosine, sine, none, one = np.cos(angle), np.sin(angle), np.zeros_like(angle), np.ones_like(angle)
    return np.stack([cosine, -sine, none, sine, cosine, none, none, none, one], axis=-1).reshape(-1, 3, 3)


def _corners(read: Reading, name: str, width: float, height: float) -> np.ndarray:
    flat = np.array([(-width, -height, 0), (width, -height, 0), (width, height, 0), (-width, height, 0)]) / 2
    centre = np.stack([read[name, axis] for axis in ("east", "north", "height")], axis=-1)
    return np.einsum("fij,cj->fci", turned(read[name, "turn"]), flat) + centre[:, None]


def readings(shot: Shot) -> Reading:
    """Return what every axis reads on every frame, (F,) each, metres and radians."""
    owners = {CAMERA: shot.camera, **{level.name: level for level in shot.levels}}
    read = {
        (part, axis): np.full(shot.frame_count, float(getattr(owner, axis)))
        for part, owner in owners.items()
        for axis in AXES
    }
    read[CAMERA, "focal"] = np.full(shot.frame_count, shot.camera.focal)
    if isinstance(shot.schedule, FrameTable):
        for frame, row in zip(shot.schedule.frames, shot.schedule.values, strict=True):
            for key, value in zip(shot.schedule.columns, row, strict=True):
                if value is not None:
                    read[key][frame - shot.frames[0] :] = value
    else:
        # A ratio of the camera's height needs the level that it is about.
        for move in sorted(shot.schedule, key=lambda move: (move.part == CAMERA and move.axis == "height", move.first)):
            _follow(read, shot, move)
    for level in shot.levels:
        held = np.arange(shot.frame_count) // level.on * level.on
        for axis in AXES:
            read[level.name, axis] = read[level.name, axis][held]
    return read


def _follow(read: Reading, shot: Shot, move: Move) -> None:
    track = read[move.part, move.axis]
    rows = np.arange(move.first, move.last + 1) - shot.frames[0]
    share = shares(move)
    if move.law is Law.RATIO:
        base = read[move.about, "height"][rows] if move.about else np.zeros(len(rows))
        near, far = np.log(move.start - base[0]), np.log(move.end - base[-1])
        track[rows] = base + np.exp(near + (far - near) * share)
    else:
        track[rows] = move.start + (move.end - move.start) * share
    track[rows[-1] :] = move.end


def shares(move: Move) -> np.ndarray:
    """Return how much of its way a move has made on each of its frames, (N,): the area under its speed."""
    span = move.last - move.first
    steps = np.arange(span + 1.0)
    if move.law is Law.SINE:
        return np.sin(np.pi * steps / span / 2) ** 2
    grid = np.union1d(steps, [move.slow_out, span - move.slow_in])
    speed = np.ones_like(grid)
    if move.slow_out:
        speed = np.minimum(speed, grid / move.slow_out)
    if move.slow_in:
        speed = np.minimum(speed, (span - grid) / move.slow_in)
    area = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2 * np.diff(grid))])
    return area[np.searchsorted(grid, steps)] / area[-1]


def with_corners(stand: Stand, column: int, change: Callable[[np.ndarray], np.ndarray]) -> Stand:
    """Return a stand whose level in ``column`` has its corners (F, 4, 3) changed."""
    corners = stand.corners.copy()
    corners[:, column] = change(corners[:, column])
    return replace(stand, corners=corners)
