# SPDX-License-Identifier: GPL-3.0-or-later
"""Whose picture it is that several frames hold: told by the art where the plan has it on those frames."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from underglass.plan import Plan, corners_px
from underglass.shot import UnderglassError

from ..exr.read_exr import read_exr
from .art.painted_levels import Painted
from .art.whose_picture import nearer_picture
from .files.channel_names import spelling_of
from .read_frame import whole_picture

# Of more frames with one picture it is not asked whose it is.
MOST_ASKED = 24


def owner_of_picture(plan: Plan, frames: Sequence[int], files: Mapping[int, Path]) -> int | None:
    """Return which of the ``frames``, whose ``files`` hold the very same picture, it is of; None where nothing tells.

    Each two frames are compared where the plan has them differ: the one that wins against all others is the owner.
    """
    if len(frames) > MOST_ASKED:
        return None
    try:
        exr = read_exr(files[frames[0]], threads=0)
        picture = whole_picture(exr, list(spelling_of(exr.channels).picture))
        if picture is None or exr.size != plan.shot.camera.frame_px:
            return None
        shown = picture[..., :3]
        painted, corners, first = Painted(plan), corners_px(plan), int(plan.frames[0])

        def nearer(one: int, other: int) -> int | None:
            found = nearer_picture(
                shown,
                corners=(corners[one - first], corners[other - first]),
                arts=(painted.arts(one, mattes=False), painted.arts(other, mattes=False)),
            )
            return None if found is None else (one, other)[found]

        best = frames[0]
        for frame in frames[1:]:
            best = nearer(best, frame) or best
        return best if all(nearer(best, frame) == best for frame in frames if frame != best) else None
    except UnderglassError:  # what is wrong with the file or the art is said elsewhere
        return None
