# SPDX-License-Identifier: GPL-3.0-or-later
"""Which faults are planted: so many of each kind, from barely above tolerance to huge, all from one seed."""

import numpy as np

from faults.kinds import KINDS, TOLERANCE_PX

# The first of each kind; further ones are drawn.
LEAST_PX = (1.05, 1.2, 2.5)
MOST_PX = 2000.0
# Between these shares of the tolerance a fault begins to be called.
ABOUT_TOLERANCE = (0.3, 1.05)


def scene_cases(*, each: int, about: int, clean: int, pairs: int, seed: int) -> list[dict]:
    """Return cases: ``each`` of every kind, ``about`` of every one with a size about the tolerance, and others beside.

    Every one is rendered and measured.
    """
    rng = np.random.default_rng(seed)
    cases = []
    for name, kind in KINDS.items():
        cases += [_case(rng, [name], [_above(rng, number)]) for number in range(each)]
        count = about if kind.graded else 0
        cases += [_case(rng, [name], [TOLERANCE_PX * rng.uniform(*ABOUT_TOLERANCE)]) for _ in range(count)]
    names = [name for name, kind in KINDS.items() if not kind.of_frames and not kind.harmless]
    on_scene = [name for name in names if not KINDS[name].in_files]
    for _ in range(pairs):
        # Two sets of files cannot both be built: one of two faults at least is done to the scene.
        one = rng.choice(names)
        two = rng.choice([name for name in on_scene if name != one])
        cases.append(_case(rng, [one, two], [_above(rng, 9), _above(rng, 9)]))
    cases += [_case(rng, [], []) for _ in range(clean)]
    # Cases of one kind take as long as each other: mixed, processes that share them end at the same time.
    return [cases[index] for index in rng.permutation(len(cases))]


def _above(rng: np.random.Generator, number: int) -> float:
    if number < len(LEAST_PX):
        return TOLERANCE_PX * LEAST_PX[number]
    return float(np.exp(rng.uniform(np.log(TOLERANCE_PX * 1.2), np.log(MOST_PX))))


def _case(rng: np.random.Generator, kinds: list[str], aims: list[float]) -> dict:
    return {
        "seed": int(rng.integers(1_000_000)),
        "kinds": [str(name) for name in kinds],
        "aim_px": [float(aim) for aim in aims],
    }


def case_of(recipe: str) -> dict:
    """Return the case that a recipe, as a failure prints it, makes again."""
    seed, kinds, aims = recipe.split(":")
    return {
        "seed": int(seed),
        "kinds": [] if kinds == "clean" else kinds.split("+"),
        "aim_px": [float(aim) for aim in aims.split("+") if aim],
    }
