# SPDX-License-Identifier: GPL-3.0-or-later
"""What was expected of the picture and is not so, and what turns round without anyone having said that it should."""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from ...shot.model import CAMERA, Expectation, Heading
from ..expectations_held import unmet_expectations
from ..headings import WORDS
from ..plan_arrays import Floats, Plan
from .finding import BLOCK, NOTE, Finding
from .seen_art import Sight
from .seen_motion import REST_SHARE, Motion

# A size that changes by less is held; the proof's own tolerance by default.
HOLD_PX = 0.05
# A move that rests for longer before it comes back is two moves.
PAUSE_SECONDS = 0.5
_HEADINGS = {"east": (Heading.EAST, Heading.WEST), "north": (Heading.NORTH, Heading.SOUTH)}


def find_wishes(plan: Plan, sight: Sight) -> Iterator[Finding]:
    """Yield expectations that the plan does not meet, and headings that reverse where nothing is expected of them."""
    for unmet in unmet_expectations(plan, hold_px=HOLD_PX):
        yield Finding(
            "expectation",
            BLOCK,
            unmet.level,
            "",
            unmet.frames,
            unmet.value,
            unmet.limit,
            unmet.unit,
            unmet.message,
            "correct the schedule, or what is expected in [[expect]]",
        )
    for motion in sight.motions:
        yield from _turns_round(plan, motion)


def _turns_round(plan: Plan, motion: Motion) -> Iterator[Finding]:
    rest = REST_SHARE * plan.shot.camera.frame_px[0]
    ways = np.where(np.abs(motion.steps) * motion.px[:-1] > rest, np.sign(motion.steps), 0.0)
    both = (ways > 0).any(axis=0) & (ways < 0).any(axis=0)
    found: set[str] = set()
    for column in np.flatnonzero(both):
        part, axis = motion.axes[column]
        frames = [
            frame
            for frame in _reversals(plan, motion, int(column), ways)
            if not any(_says(expectation, part, axis, frame, plan) for expectation in plan.shot.expectations)
        ]
        # nothing can be expected of a turn, so nobody could answer for it
        if axis == "turn" or part in found or not frames:
            continue
        found.add(part)
        when = f"frame {frames[0]}" + (f" and {len(frames) - 1} more times" if len(frames) > 2 else "")
        when = f"frames {frames[0]} and {frames[1]}" if len(frames) == 2 else when
        yield Finding(
            "turns-round",
            NOTE,
            part,
            axis,
            (frames[0], frames[-1]),
            float(len(frames)),
            0.0,
            "times",
            f"{part} turns round between {' and '.join(WORDS[axis])} on {when}, and no expectation says so",
            "look at the signs of the moves; if it is meant, write an [[expect]] with between for each way",
        )


def _reversals(plan: Plan, motion: Motion, column: int, ways: Floats) -> list[int]:
    """Return the frames on which an axis goes back without having rested for long."""
    rows = np.flatnonzero(ways[:, column])
    pause = PAUSE_SECONDS * plan.shot.fps / motion.on
    return [
        int(motion.frames[later])
        for earlier, later in pairwise(rows.tolist())
        if ways[earlier, column] != ways[later, column] and later - earlier <= pause + 1
    ]


def _says(expectation: Expectation, part: str, axis: str, frame: int, plan: Plan) -> bool:
    """Return whether an expectation answers for the way that ``part`` goes along ``axis`` on ``frame``."""
    first, last = expectation.between or plan.shot.frames
    if not first <= frame <= last or part not in (CAMERA, expectation.level):
        return False
    if axis in _HEADINGS:
        return expectation.heads in _HEADINGS[axis] or expectation.drift_ratio is not None
    return expectation.holds or expectation.grows is not None
