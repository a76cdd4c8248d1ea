"""Which faults are planted: so many of each kind, from barely above tolerance to huge, all from one seed."""

import numpy as np

from faults.kinds import KINDS, TOLERANCE_PX

# The first of each kind; the smallest says down to where faults are caught. Further ones are drawn.
LEAST_PX = (1.05, 1.2, 2.5)
MOST_PX = 2000.0
BELOW = (0.3, 0.8)
# Rendered ones also have the uncertainty of their measurement to overcome, and must stay in the frame.
RENDERED_PX = (1.2 * TOLERANCE_PX, 6.0)


def scene_cases(*, each: int, below: int, clean: int, pairs: int, rendered: int, seed: int) -> list[dict]:
    """Return cases: ``each`` of every kind, ``below`` of every one with a size within tolerance, and others beside."""
    rng = np.random.default_rng(seed)
    cases = []
    for name, kind in KINDS.items():
        cases += [_case(rng, [name], [_above(rng, number)]) for number in range(each)]
        within = range(below if kind.graded else 0)
        cases += [_case(rng, [name], [TOLERANCE_PX * rng.uniform(*BELOW)]) for _ in within]
    names = [name for name, kind in KINDS.items() if not kind.of_frames and not kind.harmless]
    on_scene = [name for name in names if not KINDS[name].in_files]
    for _ in range(pairs):
        # Two sets of files cannot both be built: one of two faults at least is done to the scene.
        one = rng.choice(names)
        two = rng.choice([name for name in on_scene if name != one])
        cases.append(_case(rng, [one, two], [_above(rng, 9), _above(rng, 9)]))
    cases += [_case(rng, [], []) for _ in range(clean)]
    for number in range(rendered):
        name = names[int(rng.integers(len(names)))]
        cases.append(_case(rng, [name], [float(np.exp(rng.uniform(*np.log(RENDERED_PX))))], rendered=True))
        if number % 4 == 0:
            cases.append(_case(rng, [], [], rendered=True))
    return cases


def _above(rng: np.random.Generator, number: int) -> float:
    if number < len(LEAST_PX):
        return TOLERANCE_PX * LEAST_PX[number]
    return float(np.exp(rng.uniform(np.log(TOLERANCE_PX * 1.2), np.log(MOST_PX))))


def _case(rng: np.random.Generator, kinds: list[str], aims: list[float], *, rendered: bool = False) -> dict:
    return {
        "seed": int(rng.integers(1_000_000)),
        "kinds": [str(name) for name in kinds],
        "aim_px": [float(aim) for aim in aims],
        "rendered": rendered,
    }


def case_of(recipe: str) -> dict:
    """Return the case that a recipe, as a failure prints it, makes again."""
    seed, kinds, aims, *rest = recipe.split(":")
    return {
        "seed": int(seed),
        "kinds": [] if kinds == "clean" else kinds.split("+"),
        "aim_px": [float(aim) for aim in aims.split("+") if aim],
        "rendered": rest == ["rendered"],
    }
