# SPDX-License-Identifier: GPL-3.0-or-later
"""Moves too fast to be seen as movement: the eye sees the pictures apart.

Speed is the share of the frame's width that a point of the art crosses from one frame to the next. It is taken at the
frame's corners as far as there is art, since in a truck the edge of the frame moves more than its middle.
"""

from collections.abc import Iterator

import numpy as np

from ...shot.words import number_text
from ..plan_arrays import Floats, Plan
from .finding import NOTE, WARN, Finding
from .seen_art import Sight, positions_px
from .worst_stretch import frames_of, worst_row

# A picture's width should not go by in less: red.com/red-101/camera-panning-speed, for 24 frames a second and a shutter
# of 180°. The stand rule allows 0.1 in a frame and counts 0.25 in and more as a zip pan, too fast to be looked at
# (joshuanava.biz/drawn-animation/fc-utk.html, which names no field: that it means one of 12 inches is our reading); at
# 24 frames a second that is 5 s and 2 s a width.
PAN_SECONDS = 7.0
STAND_INCHES, ZIP_INCHES, FIELD_INCHES, STAND_FPS = 0.1, 0.25, 12.0, 24.0
STAND_SECONDS = FIELD_INCHES / (STAND_INCHES * STAND_FPS)
ZIP_SECONDS = FIELD_INCHES / (ZIP_INCHES * STAND_FPS)
_ROUNDING_SHARE = 1e-9
_BY_COUNT = {2: "twos", 3: "threes", 4: "fours"}


def find_strobing(plan: Plan, sight: Sight) -> Iterator[Finding]:
    """Yield levels whose picture moves faster than the pan rules allow; a zip pan is noted."""
    if len(plan.frames) < 2:
        return
    # a point must be in the frame on both pictures for the eye to follow it
    width, squeeze = plan.shot.camera.frame_px[0], plan.shot.camera.squeeze
    before, after = positions_px(plan, sight.points)[:-1], positions_px(plan, sight.points, later=1)
    step = (after - before) / [1.0, squeeze]
    share = np.where(sight.in_frame[:-1], np.hypot(step[..., 0], step[..., 1]), 0.0).max(axis=-1) / width
    limit = 1.0 / (PAN_SECONDS * plan.shot.fps)
    zip_share = 1.0 / (ZIP_SECONDS * plan.shot.fps)
    fast = share > limit * (1 + _ROUNDING_SHARE)
    for column in np.flatnonzero(fast.any(axis=0)):
        yield _strobing(plan, int(column), share[:, column], limit, zip_share)


def _strobing(plan: Plan, column: int, share: Floats, limit: float, zip_share: float) -> Finding:
    fast, zips = share > limit * (1 + _ROUNDING_SHARE), share >= zip_share * (1 - _ROUNDING_SHARE)
    is_zip = bool(2 * zips.sum() >= fast.sum())
    found = zips if is_zip else fast & ~zips
    row = worst_row(share, found)
    on = plan.shot.levels[column].on
    first, last = frames_of(plan.frames, fast, row=row, gap=on)
    seconds = 1.0 / (share[row] * plan.shot.fps)
    inches = share[row] * FIELD_INCHES
    name = plan.names[column]
    speed = (
        f"{number_text(inches, digits=3)} in a frame on a {FIELD_INCHES:.0f} field"
        f" (a width in {number_text(seconds, digits=2)} s)"
    )
    jumps = "" if on == 1 else f". On {_BY_COUNT.get(on, f'every {on} frames')} it jumps {share[row]:.2%} of the width"
    if is_zip:
        message = f"{name} makes a zip pan: {speed}{jumps}"
        remedy = "none is needed if nothing in it is meant to be seen"
    else:
        frames = int(np.ceil((last - first + 1) * share[row] / limit))
        message = (
            f"{name} is too fast: {speed}. Keep below {number_text(limit * FIELD_INCHES, digits=3)}"
            f" ({PAN_SECONDS:.0f} s); the stand rule allows {STAND_INCHES:g} ({STAND_SECONDS:.0f} s){jumps}"
        )
        remedy = f"slow it to about {frames} frames instead of {last - first + 1}, or shorten the move"
        if on > 1:
            remedy = f"move it on ones; or {remedy}"
    return Finding(
        "strobing",
        NOTE if is_zip else WARN,
        name,
        "",
        (first, last + 1),
        float(share[row] * 100),
        float(limit * 100),
        "% of the width a frame",
        message,
        remedy,
    )
