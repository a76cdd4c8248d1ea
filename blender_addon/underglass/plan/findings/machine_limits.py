# SPDX-License-Identifier: GPL-3.0-or-later
"""What the machine cannot do: readings beyond its travel, moves beyond its speed, glasses nearer than their frames."""

from collections.abc import Iterator

import numpy as np

from ...shot.model import CAMERA
from ..headings import heading_word
from ..plan_arrays import Floats, Plan
from .finding import BLOCK, Finding
from .seen_art import Sight
from .worst_stretch import Flags, frames_of, in_unit, length_text, worst_row

# A reading that is worked out (a half of 24 in) may miss the limit that a file says by the last bits.
_ROUNDING = 1e-9


def find_limits(plan: Plan, _sight: Sight) -> Iterator[Finding]:
    """Yield what goes beyond what `[stand]` says that the machine can do."""
    stand, tracks = plan.shot.stand, plan.tracks
    ranges = {"height": stand.level_height, "east": stand.level_east, "north": stand.level_north}
    lengths = ("height", "east", "north")
    camera_axes = {axis: tracks.camera[axis] for axis in lengths}
    yield from _first(_beyond(plan, CAMERA, "height", tracks.camera["height"], stand.camera_height))
    yield from _first(*(_too_fast(plan, CAMERA, axis, camera_axes[axis], stand.camera_speed) for axis in lengths))
    out = _columns_beyond(plan, ranges)
    fast = _columns_too_fast(plan, stand.level_speed)
    for column, name in enumerate(plan.names):
        level_axes = {axis: tracks.levels[axis][:, column] for axis in lengths}
        if out[column]:
            yield from _first(*(_beyond(plan, name, axis, level_axes[axis], ranges[axis]) for axis in lengths))
        if fast[column]:
            yield from _first(*(_too_fast(plan, name, axis, level_axes[axis], stand.level_speed) for axis in lengths))
    yield from _close(plan)


def _first(*found: Finding | None) -> Iterator[Finding]:
    """Yield the finding that is farthest over its limit, if there is one."""
    there = [finding for finding in found if finding is not None]
    if there:
        yield max(there, key=lambda finding: abs(finding.value - finding.limit))


def _columns_beyond(plan: Plan, ranges: dict[str, tuple[float, float] | None]) -> Flags:
    out = np.zeros(len(plan.names), dtype=bool)
    for axis, bounds in ranges.items():
        if bounds is not None:
            readings = plan.tracks.levels[axis]
            out |= (readings.min(axis=0) < bounds[0]) | (readings.max(axis=0) > bounds[1])
    return out


def _columns_too_fast(plan: Plan, speed: float | None) -> Flags:
    fast = np.zeros(len(plan.names), dtype=bool)
    if speed is not None and len(plan.frames) > 1:
        for axis in ("height", "east", "north"):
            fast |= np.abs(np.diff(plan.tracks.levels[axis], axis=0)).max(axis=0) > speed
    return fast


def _beyond(plan: Plan, part: str, axis: str, readings: Floats, bounds: tuple[float, float] | None) -> Finding | None:
    if bounds is None:
        return None
    low, high = bounds
    over = np.maximum(low - readings, readings - high)
    out = over > _ROUNDING * max(1.0, abs(low), abs(high))
    if not out.any():
        return None
    row = worst_row(over, out)
    reading, limit = float(readings[row]), high if readings[row] > high else low
    unit = plan.shot.units
    key = f"{'camera' if part == CAMERA else 'level'}_{axis}"
    return Finding(
        "out-of-travel",
        BLOCK,
        part,
        axis,
        frames_of(plan.frames, out, row=row),
        in_unit(plan, reading),
        in_unit(plan, limit),
        unit,
        f"{part}'s {axis} goes to {length_text(plan, reading)}, where the stand ends at {length_text(plan, limit)}",
        f"shorten the move by {length_text(plan, over[row])}, or set {key} to what the stand can do",
    )


def _too_fast(plan: Plan, part: str, axis: str, readings: Floats, speed: float | None) -> Finding | None:
    if speed is None or len(readings) < 2:
        return None
    steps = np.abs(np.diff(readings))
    fast = steps > speed * (1 + _ROUNDING)
    if not fast.any():
        return None
    row = worst_row(steps, fast)
    first, last = frames_of(plan.frames, fast, row=row, gap=8)
    heading = heading_word(axis, float(readings[row + 1] - readings[row]))
    key = "camera_speed" if part == CAMERA else "level_speed"
    return Finding(
        "too-fast",
        BLOCK,
        part,
        axis,
        (first, last + 1),
        in_unit(plan, steps[row]),
        in_unit(plan, speed),
        f"{plan.shot.units} a frame",
        f"{part} goes {heading} by {length_text(plan, steps[row])} in a frame, and {key} is {length_text(plan, speed)}",
        "give the move more frames, or a law that is less uneven",
    )


def _close(plan: Plan) -> Iterator[Finding]:
    least = plan.shot.stand.least_gap
    if least is None or len(plan.names) < 2:
        return
    gaps = np.diff(plan.distance, axis=1)
    close = gaps < least - _ROUNDING * max(1.0, least)
    for column in np.flatnonzero(close.any(axis=0)):
        row = worst_row(-gaps[:, column], close[:, column])
        above, below, gap = plan.names[column], plan.names[column + 1], gaps[row, column]
        yield Finding(
            "close-levels",
            BLOCK,
            below,
            "height",
            frames_of(plan.frames, close[:, column], row=row),
            in_unit(plan, gap),
            in_unit(plan, least),
            plan.shot.units,
            f"{below} comes within {length_text(plan, gap)} of {above} above it, and least_gap is"
            f" {length_text(plan, least)}",
            f"set one of them {length_text(plan, least - gap)} farther away",
        )
