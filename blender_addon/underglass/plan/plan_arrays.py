# SPDX-License-Identifier: GPL-3.0-or-later
"""The plan: what every axis reads and what every level must look like, on every frame.

One frozen value of arrays that the stage, the proof and the reports are all given; how it is worked out is `planning`.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..shot.model import CAMERA_AXES, LEVEL_AXES, Shot

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Tracks:
    """Where every axis stands on every frame: metres and radians.

    ``frames`` (F,); ``camera`` maps each of CAMERA_AXES to (F,); ``levels`` maps each of LEVEL_AXES to (F, L), levels
    nearest the lens first.
    """

    frames: Ints
    camera: dict[str, Floats]
    levels: dict[str, Floats]

    def __post_init__(self) -> None:
        assert set(self.camera) == set(CAMERA_AXES)
        assert set(self.levels) == set(LEVEL_AXES)


@dataclass(frozen=True)
class Plan:
    """What the shot must look like. Pixels are at the delivered resolution, from the frame's centre, x right, y up.

    ``distance`` (F, L) from the lens to each level, m. ``image_distance`` (F,) is v, m, and ``focus_distance`` (F,) is
    u, m (both NaN for an orthographic camera, u inf when focused at infinity). ``scale`` (F, L) is k, pixels across
    the frame per metre on the level. ``size_px`` (F, L) is the width of the art on screen, across the frame; ``x``,
    ``y`` (F, L) where its centre is; ``turn`` (F, L) radians counter-clockwise. ``drawing`` (F, L) is an index into
    ``drawings[level]``, -1 where nothing is shown, 0 for a level without drawings.
    """

    shot: Shot
    tracks: Tracks
    distance: Floats
    image_distance: Floats
    focus_distance: Floats
    scale: Floats
    size_px: Floats
    x: Floats
    y: Floats
    turn: Floats
    drawing: Ints
    drawings: tuple[tuple[str, ...], ...]

    @property
    def frames(self) -> Ints:
        """Frame numbers, (F,)."""
        return self.tracks.frames

    def between(self, first: int, last: int) -> "Plan":
        """Return what the plan has on the frames from ``first`` to ``last`` alone."""
        rows = slice(first - int(self.frames[0]), last - int(self.frames[0]) + 1)
        tracks = Tracks(
            self.frames[rows],
            {axis: track[rows] for axis, track in self.tracks.camera.items()},
            {axis: track[rows] for axis, track in self.tracks.levels.items()},
        )
        by_frame = ("distance", "image_distance", "focus_distance", "scale", "size_px", "x", "y", "turn", "drawing")
        return replace(self, tracks=tracks, **{name: getattr(self, name)[rows] for name in by_frame})

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the levels, nearest the lens first."""
        return self.shot.names
