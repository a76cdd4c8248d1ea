"""Shifting keys: the whole stack so many frames later, handles and all."""

from typing import Any

from .. import compat
from . import marks


def shift_keys(scene: Any, frames: int) -> None:
    """Move every key of the levels, of the stand's camera and of its lens by ``frames``; each curve once."""
    eye = marks.stand_camera(scene)
    owners = [glass for _, glass in marks.levels(scene)] + ([eye, eye.data] if eye is not None else [])
    seen = set()
    for owner in owners:
        for curve in compat.fcurves_of(owner):
            if curve.as_pointer() in seen:
                continue
            seen.add(curve.as_pointer())
            for key in curve.keyframe_points:
                key.co[0] += frames
                key.handle_left[0] += frames
                key.handle_right[0] += frames
            curve.update()
