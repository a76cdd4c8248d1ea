# SPDX-License-Identifier: GPL-3.0-or-later
"""Jumps and jerks: a step far larger than those around it, a speed that changes from one frame to the next.

Told from the readings alone, so that a slip is found in moves, in a frame table and in keys set by hand.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from ..headings import heading_word
from ..plan_arrays import Floats, Plan
from .finding import NOTE, WARN, Finding
from .seen_art import Sight
from .seen_motion import SEEN_SHARE, Motion, axis_unit, reading_text
from .worst_stretch import Flags

# A step this many times the greatest within four frames either way is none of the move's own; four frames, since a
# chart may move on twos, threes or fours.
JUMP_TIMES, JUMP_FRAMES = 4.0, 4
# A speed that changes by more than this share on one frame, and more than so many times what it changes by on the
# frames beside it, is a jerk; by less than a tenth of the other speed it is as good as at rest.
JERK_SHARE, JERK_TIMES, AT_REST = 0.25, 2.5, 0.1
_ROUNDING = 1e-9
_Say = Callable[[Plan, Motion, int, int], Finding]


def find_smoothness(plan: Plan, sight: Sight) -> Iterator[Finding]:
    """Yield jumps of position, jerks in mid-move, and moves that start or stop at full speed."""
    seen = SEEN_SHARE * plan.shot.camera.frame_px[0] * (1 + _ROUNDING)
    for motion in sight.motions:
        steps = motion.steps
        if len(steps) < 3:
            continue
        px = np.abs(steps) * motion.px[:-1] * motion.on
        jumps = (np.abs(steps) > JUMP_TIMES * (1 + _ROUNDING) * _beside_a_jump(steps)) & (px > seen)
        yield from _each_part(plan, motion, jumps, px, _jump)
        change = np.diff(steps, axis=0)
        before, after = np.abs(steps[:-1]), np.abs(steps[1:])
        seen_change = np.abs(change) * motion.px[1:-1]
        abrupt = (np.abs(change) > JERK_TIMES * _greatest_beside(np.abs(change), reach=1)) & (seen_change > seen)
        abrupt &= ~(jumps[:-1] | jumps[1:])
        from_rest, to_rest = before <= AT_REST * after, after <= AT_REST * before
        jerks = abrupt & ~from_rest & ~to_rest & (np.abs(change) > JERK_SHARE * np.maximum(before, after))
        yield from _each_part(plan, motion, jerks, seen_change, _jerk)
        yield from _each_part(plan, motion, abrupt & from_rest, seen_change, _hard_start)
        yield from _each_part(plan, motion, abrupt & to_rest, seen_change, _hard_stop)


def _beside_a_jump(steps: Floats) -> Floats:
    """Return the greatest step near each, leaving out the step back after a slip of one frame."""
    sizes = np.abs(steps)
    around = _greatest_beside(sizes, reach=JUMP_FRAMES)
    # there and back: two steps the other way to each other, of which neither counts for the other
    two = np.minimum(sizes[:-1], sizes[1:])
    outside = np.zeros_like(two)
    for shift in range(1, min(JUMP_FRAMES, len(two) - 1) + 1):
        np.maximum(outside[shift:], sizes[: len(two) - shift], out=outside[shift:])
        np.maximum(outside[:-shift], sizes[shift + 1 :], out=outside[:-shift])
    slips = (steps[:-1] * steps[1:] < 0) & (two > JUMP_TIMES * outside)
    around[:-1] = np.where(slips, outside, around[:-1])
    return around


def _greatest_beside(values: Floats, *, reach: int) -> Floats:
    """Return the greatest of the values up to ``reach`` rows before and after each row, itself left out."""
    greatest = np.zeros_like(values)
    for shift in range(1, min(reach, len(values) - 1) + 1):
        np.maximum(greatest[shift:], values[:-shift], out=greatest[shift:])
        np.maximum(greatest[:-shift], values[shift:], out=greatest[:-shift])
    return greatest


def _each_part(plan: Plan, motion: Motion, found: Flags, weight: Floats, say: _Say) -> Iterator[Finding]:
    """Yield the worst of each part, with how many more there are."""
    columns = np.flatnonzero(found.any(axis=0))
    for part in dict.fromkeys(motion.axes[column][0] for column in columns):
        mine = [column for column in columns if motion.axes[column][0] == part]
        weights = np.where(found[:, mine], weight[:, mine], -1.0)
        row, place = np.unravel_index(int(weights.argmax()), weights.shape)
        more = int(found[:, mine].any(axis=1).sum()) - 1
        finding = say(plan, motion, int(row), mine[int(place)])
        yield replace(finding, message=f"{finding.message}, and {_times(more)} more") if more else finding


def _jump(plan: Plan, motion: Motion, row: int, column: int) -> Finding:
    (part, axis), steps = motion.axes[column], motion.steps[:, column]
    unit, factor = axis_unit(plan, axis)
    beside, step = float(_beside_a_jump(motion.steps)[row, column]), float(steps[row])
    back = row + 1 < len(steps) and JUMP_TIMES * beside < abs(steps[row + 1]) and step * steps[row + 1] < 0
    beside_text = f"at most {reading_text(plan, axis, beside)} a frame" if beside else "not at all"
    return Finding(
        "jump",
        WARN,
        part,
        axis,
        (int(motion.frames[row]), int(motion.frames[row + 1])),
        abs(step) / factor,
        JUMP_TIMES * beside / factor,
        f"{unit} a frame",
        f"{_mover(part, axis)} jumps {heading_word(axis, step)} by {reading_text(plan, axis, abs(step))} from frame"
        f" {motion.frames[row]} to {motion.frames[row + 1]}{' and back' if back else ''}; otherwise it goes"
        f" {beside_text}",
        "look for a slip in the reading; if the move is wanted, spread it over more frames",
    )


def _jerk(plan: Plan, motion: Motion, row: int, column: int) -> Finding:
    (part, axis), steps = motion.axes[column], motion.steps[:, column]
    unit, factor = axis_unit(plan, axis)
    before, after = float(steps[row]), float(steps[row + 1])
    limit = JERK_SHARE * max(abs(before), abs(after))
    frame = int(motion.frames[row + 1])
    turns = f", the other way, {heading_word(axis, after)}" if before * after < 0 else f" {heading_word(axis, after)}"
    return Finding(
        "jerk",
        WARN,
        part,
        axis,
        (frame, frame),
        abs(after - before) / factor,
        limit / factor,
        f"{unit} a frame",
        f"{_mover(part, axis)} changes speed at once on frame {frame}, from {reading_text(plan, axis, abs(before))}"
        f" a frame to {reading_text(plan, axis, abs(after))}{turns}",
        "let the first move slow in and the next slow out, or give both one speed",
    )


def _hard_start(plan: Plan, motion: Motion, row: int, column: int) -> Finding:
    return _hard(plan, motion, row, column, code="hard-start")


def _hard_stop(plan: Plan, motion: Motion, row: int, column: int) -> Finding:
    return _hard(plan, motion, row, column, code="hard-stop")


def _hard(plan: Plan, motion: Motion, row: int, column: int, *, code: str) -> Finding:
    starts = code == "hard-start"
    (part, axis), steps = motion.axes[column], motion.steps[:, column]
    unit, factor = axis_unit(plan, axis)
    speed = float(steps[row + 1] if starts else steps[row])
    seen = SEEN_SHARE * plan.shot.camera.frame_px[0] / float(motion.px[row + 1, column])
    frame = int(motion.frames[row + 1])
    does = "starts" if starts else "stops"
    return Finding(
        code,
        NOTE,
        part,
        axis,
        (frame, frame),
        abs(speed) / factor,
        seen / factor,
        f"{unit} a frame",
        f"{_mover(part, axis)} {does} {heading_word(axis, speed)} on frame {frame} at full speed,"
        f" {reading_text(plan, axis, abs(speed))} a frame",
        f"give the move a {'slow_out' if starts else 'slow_in'}, or law sine, unless this is meant",
    )


def _mover(part: str, axis: str) -> str:
    return "the camera's lens" if axis == "focal" else part


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
