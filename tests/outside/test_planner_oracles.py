# SPDX-License-Identifier: GPL-3.0-or-later
"""The planner against other ways to the same answer: every choice tried, and other solvers."""

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import linprog

from desk.briefs import brief_in, level
from underglass_headless.desk.planner import Answer, Prefer, plan_brief
from underglass_headless.desk.planner.answer_brief import merits
from underglass_headless.desk.planner.solve_stack import solve_stack
from underglass_headless.desk.planner.walk_frames import world_of

LENS_HEIGHT, TOP, BED, GAP, CLEAR = 1.0, 0.8, 0.0, 0.03, 1.05 * 0.05
LIMITS = {
    "camera": {"height": 1000},
    "stand": {"camera_height": [200, 1200], "level_height": [0, 800], "least_gap": 30, "level_east": [-60, 60]},
}


def every_choice(distance, toward, across, *, method: str) -> list[tuple[int, float]]:
    """Return (levels that move, travel) of the best stack for every choice of levels that must rest, where one fits.

    A second formulation: the scale and the distances are the only unknowns, a row a frame and limit, nothing left out.
    """
    count = len(distance)
    near = 1.0 / np.array(distance)
    turns = np.abs(np.diff(toward)).sum() + np.abs(np.diff(across)).sum()
    rows, bounds = [], []

    def hold(scale, own, bound) -> None:
        """Σ ≤ bound, for all frames: ``scale`` (F,) and ``own`` {level: (F,)}."""
        for frame in range(len(toward)):
            row = np.zeros(1 + 2 * count)
            row[0] = scale[frame]
            for index, values in own.items():
                row[1 + index] = values[frame]
            rows.append(row)
            bounds.append(bound)

    still = np.zeros_like(toward)
    hold(toward, {}, LENS_HEIGHT - 0.2)
    for index in range(count):
        left = 1.0 - toward * near[index]
        hold(-toward, {index: -left}, TOP - LENS_HEIGHT)
        hold(toward, {index: left}, LENS_HEIGHT - BED)
        hold(across, {index: -across * near[index]}, 0.06)
        hold(-across, {index: across * near[index]}, 0.06)
        if index:
            hold(still, {index - 1: 1.0 - toward * near[index - 1], index: -left}, -GAP)
    hold(still, {0: -(1.0 - toward * near[0])}, -max(GAP, CLEAR))
    for index in range(count):
        for way in (1.0, -1.0):
            row = np.zeros(1 + 2 * count)
            row[0], row[1 + index], row[1 + count + index] = -way, way * near[index], -1.0
            rows.append(row)
            bounds.append(0.0)
    cost = np.r_[np.zeros(1 + count), np.full(count, turns)]
    found = []
    for many in range(count + 1):
        for resting in combinations(range(count), many):
            equal = np.zeros((many, 1 + 2 * count))
            for line, index in enumerate(resting):
                equal[line, 0], equal[line, 1 + index] = -1.0, near[index]
            result = linprog(
                cost, np.array(rows), np.array(bounds), equal if many else None, np.zeros(many) if many else None,
                method=method,
            )  # fmt: skip
            if result.status == 0:
                found.append((count - many, float(result.fun)))
    return found


CASES = [
    ([3.0, 4.0, 50.0, np.inf], [[1, 0], [13, 1.0]], [[1, 0], [13, 0.4]]),
    ([2.0, 2.2, 2.4, 30.0], [[1, 0], [7, 1.0], [13, 0.2]], [[1, 0], [13, 0.0]]),
    ([5.0, 9.0, np.inf, np.inf], [[1, 0], [13, -2.0]], [[1, 0], [5, 0.6], [13, -0.6]]),
    ([4.0, 5.0, 40.0, np.inf], [[1, 0], [13, 1.0]], [[1, 0], [13, 0.0]]),
]


def brief_of(folder: Path, distance, toward, across):
    levels = [
        level(f"l{index}", far if np.isfinite(far) else "infinity", art_width=9) for index, far in enumerate(distance)
    ]
    return brief_in(folder, levels=levels, toward=toward, across=across, frames=(1, 13), **LIMITS)


@pytest.mark.parametrize("method", ["highs-ds", "highs-ipm"])
@pytest.mark.parametrize(("distance", "toward", "across"), CASES)
def test_no_choice_of_levels_at_rest_beats_the_one_that_was_made(distance, toward, across, method, tmp_path):
    frames = np.arange(1, 14)
    walks = [np.interp(frames, *np.array(walk).T) for walk in (toward, across)]
    found = every_choice(distance, *walks, method=method)
    brief = brief_of(tmp_path, distance, toward, across)
    for prefer, order in ((Prefer.MOVERS, (0, 1)), (Prefer.TRAVEL, (1, 0))):
        answer = plan_brief(brief, prefer=prefer)
        assert isinstance(answer, Answer)
        mine = merits(answer.stack, answer.world)
        best = min(found, key=lambda one: tuple(round(one[index], 7) for index in order))
        assert mine[1] == pytest.approx(best[1], rel=1e-6, abs=1e-9)
        assert mine[0] <= best[0]  # what happens to rest where it need not counts as resting
        if prefer is Prefer.MOVERS:
            assert mine[0] == best[0]


@pytest.mark.parametrize(("distance", "toward", "across"), CASES)
def test_simplex_and_interior_point_agree_and_leave_no_gap(distance, toward, across, tmp_path):
    brief = brief_of(tmp_path, distance, toward, across)
    world = world_of(brief)
    stacks = [
        solve_stack(brief, world, focal=0.05, prefer=Prefer.MOVERS, method=method)
        for method in ("highs-ds", "highs-ipm")
    ]
    one, other = stacks
    assert one is not None
    assert other is not None
    assert merits(one, world) == pytest.approx(merits(other, world), rel=1e-9)
    np.testing.assert_allclose(one.distance, other.distance, rtol=1e-7)
    assert max(one.solved.gap, other.solved.gap) <= 1e-9


def test_a_fine_grid_of_scales_and_distances_holds_nothing_better(tmp_path):
    # one level and a star: the scale, and how far the gate is from the lens, tried one by one
    brief = brief_in(
        tmp_path,
        levels=[level("gate", 4), level("star", "infinity")],
        toward=[[1, 0], [13, 1]],
        frames=(1, 13),
        **LIMITS,
    )
    answer = plan_brief(brief, prefer=Prefer.TRAVEL)
    assert isinstance(answer, Answer)
    scale, gate = np.meshgrid(np.linspace(0.0, 0.12, 601), np.linspace(0.05, 0.95, 901), indexing="ij")
    start = LENS_HEIGHT - gate
    end = LENS_HEIGHT - scale - gate * (1 - 1 / 4)
    star = LENS_HEIGHT - scale  # the least room for the star is on the last frame, above the bed
    fits = (start <= TOP) & (end <= TOP) & (end >= BED) & (gate * 0.75 >= CLEAR) & (star >= BED) & (end - GAP >= BED)
    travel = np.where(fits, np.abs(gate / 4 - scale) + scale, np.inf)
    assert merits(answer.stack, answer.world)[1] <= travel.min() + 1e-9
    assert merits(answer.stack, answer.world)[1] >= travel.min() - 1e-3
