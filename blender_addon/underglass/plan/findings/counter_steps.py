# SPDX-License-Identifier: GPL-3.0-or-later
"""What a counter makes of a move: steps too small to be set, and where rounded readings put the picture."""

from collections.abc import Iterator

import numpy as np

from ...shot.model import Projection
from ..headings import heading_word
from ..plan_arrays import Floats, Plan
from .finding import NOTE, Finding
from .seen_art import Sight, positions_px
from .seen_motion import SEEN_SHARE, Motion
from .worst_stretch import Flags, frames_of, in_unit, length_text, px_text, worst_row, worst_stretch

_LENGTHS = ("height", "east", "north")
# A step of the counter that moves the picture by less than an eighth of a thousandth of its width is not seen.
_UNSEEN_SHARE = SEEN_SHARE / 4
# Less than this of a counter step is rest: keys in single precision are no better.
_REST = 0.01
_ROUNDING = 1e-9


def find_counter(plan: Plan, sight: Sight) -> Iterator[Finding]:
    """Yield moves finer than the counter, and the level that rounding to the counter puts out of place most."""
    counter = plan.shot.stand.counter
    if counter is None:
        return
    for motion in sight.motions:
        yield from _creeps(plan, motion, counter)
    yield from _rounding(plan, sight, counter)


def _creeps(plan: Plan, motion: Motion, counter: float) -> Iterator[Finding]:
    width = plan.shot.camera.frame_px[0]
    steps: Floats = np.abs(motion.steps * motion.on)
    found: dict[str, Finding] = {}
    for column, (part, axis) in enumerate(motion.axes):
        if axis not in _LENGTHS or part in found:
            continue
        moving = steps[:, column] > _REST * counter
        row = _slow_run(steps[:, column], moving, counter)
        if row is None or counter * motion.px[row, column] <= _UNSEEN_SHARE * width:
            continue
        first, last = worst_stretch(moving, row=row)
        peak, heading = float(steps[row, column]), heading_word(axis, float(motion.steps[row, column]))
        found[part] = Finding(
            "creep",
            NOTE,
            part,
            axis,
            (int(motion.frames[first]), int(motion.frames[last + 1])),
            in_unit(plan, peak),
            in_unit(plan, counter),
            f"{plan.shot.units} a frame",
            f"{part} creeps {heading} by {length_text(plan, peak)} a frame at most, less than a step of the counter"
            f" ({length_text(plan, counter)}): it will stand still on some frames and move on others",
            "read between the marks, or give the move fewer frames or more distance",
        )
    yield from found.values()


def _slow_run(steps: Floats, moving: Flags, counter: float) -> int | None:
    """Return the row of the greatest step of the first run of ``moving`` that never makes a whole counter step."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], moving.view(np.int8), [0]])))
    for begin, stop in zip(edges[::2], edges[1::2], strict=True):
        peak = int(begin + steps[begin:stop].argmax())
        if steps[peak] < counter * (1 - _ROUNDING):
            return peak
    return None


def _rounding(plan: Plan, sight: Sight, counter: float) -> Iterator[Finding]:
    """Yield the worst displacement that comes of setting every reading to the nearest step."""
    error = {
        axis: _off(plan.tracks.levels[axis], counter) - _off(plan.tracks.camera[axis], counter)[:, None]
        for axis in _LENGTHS
    }
    if not any(values.any() for values in error.values()):
        return
    camera = plan.shot.camera
    cos, sin = np.cos(plan.tracks.camera["turn"])[:, None], np.sin(plan.tracks.camera["turn"])[:, None]
    slide = np.stack(
        [
            plan.scale * (cos * error["east"] + sin * error["north"]),
            plan.scale * camera.squeeze * (cos * error["north"] - sin * error["east"]),
        ],
        axis=-1,
    )
    # a level set too high is nearer, so its picture grows about the optical axis
    growth = error["height"] / plan.distance * (camera.projection is Projection.PERSPECTIVE)
    moved = slide[..., None, :] + positions_px(plan, sight.points) * growth[..., None, None]
    off_px = np.where(sight.in_frame, np.hypot(moved[..., 0], moved[..., 1]), 0.0).max(axis=-1)
    limit = SEEN_SHARE * camera.frame_px[0] * (1 + _ROUNDING)
    if off_px.max() <= limit:
        return
    column = int(off_px.max(axis=0).argmax())
    over = off_px[:, column] > limit
    row = worst_row(off_px[:, column], over)
    many = int((off_px.max(axis=0) > limit).sum()) - 1
    also = f"; {many} more {'is' if many == 1 else 'are'} off by more than {px_text(limit)}" if many else ""
    yield Finding(
        "counter-rounding",
        NOTE,
        plan.names[column],
        "",
        frames_of(plan.frames, over, row=row, gap=len(plan.frames)),
        float(off_px[row, column]),
        SEEN_SHARE * camera.frame_px[0],
        "px",
        f"{plan.names[column]} is {px_text(off_px[row, column])} out of place on frame {plan.frames[row]} when every"
        f" reading is set to the nearest {length_text(plan, counter)}{also}",
        "read between the marks, or choose readings that fall on them; round levels that move together in the same way",
    )


def _off(readings: Floats, counter: float) -> Floats:
    """Return how far the nearest step of the counter lies from each reading, m."""
    return np.asarray(np.rint(readings / counter) * counter - readings)
