# SPDX-License-Identifier: GPL-3.0-or-later
"""How fast the plan is worked out and how much memory it takes, side by side in one run."""

import time
import tracemalloc

import pytest

from underglass.plan import corners_px, make_plan
from underglass.shot import Camera, Focus, Gate, Law, Level, Move, Projection, Shot

pytestmark = pytest.mark.bench

FRAMES, LEVELS = 10_000, 64
MOST_SECONDS = 1.0
MOST_MB = 500.0
# Four times the work may take four times as long, and some more for what a machine does beside it.
LINEAR = 4 * 1.5
TIMES = 3


def tall_stack(frames: int, levels: int) -> Shot:
    """Return a shot with a move of every law; every level goes to and fro in moves that touch, half on twos."""
    camera = Camera(Projection.PERSPECTIVE, (1828, 1332), 3.0, Gate(0.022, 0.016), 0.05, 8.0, Focus("level 0"))
    moves = [
        Move("camera", "height", 1, frames, 3.0, 2.7, Law.RATIO, about=f"level {levels - 1}"),
        Move("camera", "turn", 1, frames, 0.0, 0.3, Law.SINE),
    ]
    stack = []
    for index in range(levels):
        name = f"level {index}"
        stack.append(Level(name, f"{name}.png", 0.4, 2.0 - 0.02 * index, (400, 300), on=1 + index % 2))
        moves.append(Move(name, "turn", 1, frames, 0.0, 1.0, slow_out=12, slow_in=24))
        quarter = (frames - 1) // 4
        moves += [
            Move(name, "east", 1 + part * quarter, 1 + (part + 1) * quarter, 0.1 * (part % 2), 0.1 * ((part + 1) % 2))
            for part in range(4)
        ]
    return Shot("tall stack", "mm", 24.0, (1, frames), camera, tuple(stack), schedule=tuple(moves))


def seconds(shot: Shot) -> float:
    """Return the best of some times for the plan and all of its corners."""
    best = float("inf")
    for _ in range(TIMES):
        begun = time.perf_counter()
        corners_px(make_plan(shot))
        best = min(best, time.perf_counter() - begun)
    return best


def test_a_plan_of_10_000_frames_and_64_levels_takes_a_second_and_half_a_gigabyte_at_most() -> None:
    shot = tall_stack(FRAMES, LEVELS)
    took = seconds(shot)
    tracemalloc.start()
    corners_px(make_plan(shot))
    peak = tracemalloc.get_traced_memory()[1] / 2**20
    tracemalloc.stop()
    print(f"\nplan and corners, {FRAMES} frames x {LEVELS} levels: {took:.3f} s (at most {MOST_SECONDS})")
    print(f"-> {FRAMES * LEVELS / took / 1e6:.1f} million looks/s, peak {peak:.0f} MB (at most {MOST_MB:.0f})")
    assert took <= MOST_SECONDS
    assert peak <= MOST_MB


@pytest.mark.parametrize("more", ["frames", "levels"])
def test_four_times_the_frames_or_levels_cost_four_times_as_much(more: str) -> None:
    few = seconds(tall_stack(FRAMES // 4 if more == "frames" else FRAMES, LEVELS // 4 if more == "levels" else LEVELS))
    many = seconds(tall_stack(FRAMES, LEVELS))
    print(f"\n4 x {more}: {few:.3f} s -> {many:.3f} s = {many / few:.2f} x (linear is 4, at most {LINEAR:g})")
    assert many / few <= LINEAR
