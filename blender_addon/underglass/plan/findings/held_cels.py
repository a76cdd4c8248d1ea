# SPDX-License-Identifier: GPL-3.0-or-later
"""Drawings that are held while their level moves on every frame: the picture slides under a pose that stands."""

from collections.abc import Iterator

import numpy as np

from ..plan_arrays import Plan
from .finding import NOTE, Finding
from .seen_art import Sight
from .seen_motion import REST_SHARE
from .worst_stretch import Flags, frames_of

# Held longer, a drawing is a pose that is carried about, and nobody takes it for animation.
LONGEST_HOLD = 4


def find_cels(plan: Plan, sight: Sight) -> Iterator[Finding]:
    """Yield levels whose drawings change on twos or threes while the level itself moves on ones.

    The mixture risks a jitter on the edges of what moves ("Timing for Animation", on art on twos under moves on ones).
    """
    moving = _moving(plan, sight)
    for column, level in enumerate(plan.shot.levels):
        if not level.has_drawings or level.on != 1 or level.name not in moving:
            continue
        shown = plan.drawing[:, column]
        changes = np.flatnonzero(np.diff(shown)) + 1
        holds = np.diff(changes)
        typical = float(np.median(holds)) if len(holds) else 0.0
        held = (np.diff(shown) == 0) & (shown[:-1] >= 0) & moving[level.name]
        if not 1 < typical <= LONGEST_HOLD or not held.any():
            continue
        first, last = frames_of(plan.frames, held, row=int(np.flatnonzero(held)[0]), gap=LONGEST_HOLD)
        yield Finding(
            "held-drawing",
            NOTE,
            level.name,
            "",
            (first, last + 1),
            typical,
            1.0,
            "frames a drawing",
            f"{level.name} moves on ones while each drawing is held for {typical:g} frames",
            f"write on = {typical:.0f} for the level, or draw it on ones",
        )


def _moving(plan: Plan, sight: Sight) -> dict[str, Flags]:
    """Return for each level on ones that moves, from which frames on it moves to the next, (F − 1,)."""
    rest = REST_SHARE * plan.shot.camera.frame_px[0]
    found: dict[str, Flags] = {}
    for motion in sight.motions:
        if motion.on != 1:
            continue
        goes = np.abs(motion.steps) * motion.px[:-1] > rest
        for column, (part, _) in enumerate(motion.axes):
            found[part] = found.get(part, False) | goes[:, column]
    return found
