# SPDX-License-Identifier: GPL-3.0-or-later
"""How fast a brief is planned: many levels, many frames, every frame kept within the limits."""

import time

import pytest

from desk.briefs import brief_in, level
from underglass_headless.desk.planner import Answer, plan_brief

pytestmark = pytest.mark.bench

FRAMES, LEVELS = 2000, 12
MOST_SECONDS = 2.0


@pytest.mark.parametrize("focus", [700, "level 3"])
def test_a_brief_of_2_000_frames_and_12_levels_is_planned_in_two_seconds_at_most(focus, tmp_path):
    levels = [level(f"level {index}", 3.0 * 1.5**index, art_width=300) for index in range(LEVELS - 2)]
    levels += [level("star", "infinity"), level("sky", "infinity")]
    brief = brief_in(
        tmp_path,
        levels=levels,
        toward=[{"first": 1, "last": 900, "to": 1.4, "law": "sine"}, {"first": 900, "last": FRAMES, "to": 0.6}],
        across=[[1, 0], [FRAMES, 0.8]],
        camera={"focus": focus},
        stand={"camera_height": [300, 2000], "level_height": [0, 1500], "least_gap": 20},
        frames=(1, FRAMES),
    )
    begun = time.perf_counter()
    answer = plan_brief(brief)
    took = time.perf_counter() - begun
    assert isinstance(answer, Answer)
    solved = answer.stack.solved
    print(f"\n{FRAMES} frames x {LEVELS} levels, focus {focus}: {took:.2f} s (at most {MOST_SECONDS})")
    print(f"-> {solved.programmes} programmes, {solved.iterations} rounds, gap {solved.gap:.0e}")
    assert took <= MOST_SECONDS
    assert answer.error_px.max() < 1e-6
