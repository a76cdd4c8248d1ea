# SPDX-License-Identifier: GPL-3.0-or-later
"""Art that has fewer pixels than the frame shows of it."""

from collections.abc import Iterator

import numpy as np

from ..plan_arrays import Plan
from .finding import NOTE, WARN, Finding
from .seen_art import Sight
from .soft_focus import blur_of, film_px, has_blur
from .worst_stretch import frames_of, px_text, worst_row

LEAST_RATIO = 1.0
_ROUNDING = 1e-9


def find_resolution(plan: Plan, sight: Sight) -> Iterator[Finding]:
    """Yield levels whose art has less than a pixel for a pixel of the frame, where they are seen.

    It is a note where the lens blurs the level by more than a pixel of its art, so that nobody could see more.
    """
    levels = plan.shot.levels
    per_metre = np.array([level.art_px[0] / level.art_width for level in levels])
    # with a squeeze there are more pixels of the frame up a metre of art than across it
    ratio = per_metre / (plan.scale * max(1.0, plan.shot.camera.squeeze))
    coarse = sight.seen & (ratio < LEAST_RATIO * (1 - _ROUNDING))
    blur_px = blur_of(plan) * film_px(plan) if has_blur(plan) else np.zeros_like(ratio)
    shows = coarse & (blur_px * ratio < 1.0)
    for column in np.flatnonzero(coarse.any(axis=0)):
        level, is_seen = levels[column], bool(shows[:, column].any())
        found = (shows if is_seen else coarse)[:, column]
        row = worst_row(-ratio[:, column], found)
        wanted = int(np.ceil(level.art_px[0] * LEAST_RATIO / ratio[row, column]))
        blurred = "" if is_seen else f", and the lens blurs it by {px_text(blur_px[row, column])}"
        size = f"{wanted} px wide, not {level.art_px[0]}"
        yield Finding(
            "coarse-art",
            WARN if is_seen else NOTE,
            level.name,
            "",
            frames_of(plan.frames, found, row=row),
            float(ratio[row, column]),
            LEAST_RATIO,
            "px of art for each px of the frame",
            f"{level.name} has {ratio[row, column]:.2f} pixels of art for each pixel of the frame on frame"
            f" {plan.frames[row]}{blurred}",
            f"scan or paint it {size}" if is_seen else f"none while it is this soft; if it should be sharp: {size}",
        )
