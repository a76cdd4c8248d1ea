# SPDX-License-Identifier: GPL-3.0-or-later
"""Other frames: what a shot says of single frames, when its first or last frame is another."""

from dataclasses import replace

import numpy as np

from ..shot.model import Drawings, Expectation, Exposure, Shot


def with_frames(shot: Shot, frames: tuple[int, int]) -> tuple[Shot, list[str]]:
    """Return ``shot`` from the first to the last of ``frames``, its schedule apart, and what that does away with.

    Drawings begin with those that were shown; a fade begins and ends where it would be on those frames; an expectation
    is kept as far as the frames go.
    """
    if frames == shot.frames:
        return shot, []
    kept = [(one, _within(one, frames)) for one in shot.expectations]
    gone = [one.level for one, left in kept if left is None]
    revised = replace(
        shot,
        frames=frames,
        drawings=_drawings(shot.drawings, frames),
        expectations=tuple(left for _, left in kept if left is not None),
        exposures=tuple(_faded(exposure, frames) for exposure in shot.exposures),
    )
    return revised, [f"what was expected of {name} lies outside the frames, and is removed" for name in gone]


def _drawings(drawings: Drawings, frames: tuple[int, int]) -> Drawings:
    if not drawings.frames:
        return drawings
    first, last = frames
    shown: list[str | None] = [None] * len(drawings.levels)
    rows: dict[int, tuple[str | None, ...]] = {}
    for frame, row in zip(drawings.frames, drawings.rows, strict=True):
        if frame <= first or not rows:
            shown = [cell if cell is not None else before for cell, before in zip(row, shown, strict=True)]
            rows = {first: tuple(shown)}
        elif frame <= last:
            rows[frame] = row
    return replace(drawings, frames=tuple(rows), rows=tuple(rows.values()))


def _within(expectation: Expectation, frames: tuple[int, int]) -> Expectation | None:
    """Return the expectation as far as ``frames`` go, None where they leave it fewer than two."""
    if expectation.between is None:
        return expectation
    first, last = max(expectation.between[0], frames[0]), min(expectation.between[1], frames[1])
    return replace(expectation, between=(first, last)) if first < last else None


def _faded(exposure: Exposure, frames: tuple[int, int]) -> Exposure:
    if not exposure.fade or all(frames[0] <= frame <= frames[1] for frame, _ in exposure.fade):
        return exposure
    at, share = zip(*exposure.fade, strict=True)
    ends = {frame: float(np.interp(frame, at, share)) for frame in frames if at[0] <= frame <= at[-1]}
    inside = {frame: value for frame, value in exposure.fade if frames[0] <= frame <= frames[1]}
    return replace(exposure, fade=tuple(sorted((ends | inside).items())))
