# SPDX-License-Identifier: GPL-3.0-or-later
"""Which object of a scene stands for a level: of several that bear its name the one that is nearest to its place."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ...plan.plan_arrays import Plan
from ...plan.planning import corners_px
from ...reading.scene_reading import SceneReading
from ..measure.evaluated_scene import scene_corners_px

Floats = NDArray[np.float64]


def objects_of(plan: Plan, *, reading: SceneReading) -> dict[str, int]:
    """Return the number of the object of every level that is in the scene, those that the shot does not have too.

    A copy is one fault, and where it was put none of the level.
    """
    found: dict[str, list[int]] = {}
    for number, level in enumerate(reading.levels):
        found.setdefault(level.level, []).append(number)
    several = {name: numbers for name, numbers in found.items() if len(numbers) > 1 and name in plan.names}
    nearest = _nearest(plan, reading, several) if several and reading.camera_facts["name"] else {}
    return {name: nearest.get(name, numbers[0]) for name, numbers in found.items()}


def _nearest(plan: Plan, reading: SceneReading, several: Mapping[str, list[int]]) -> dict[str, int]:
    planned, seen = corners_px(plan), scene_corners_px(reading)
    chosen = {}
    for name, numbers in several.items():
        column = plan.names.index(name)
        away = [_worst(seen[:, number] - planned[:, column]) for number in numbers]
        chosen[name] = numbers[int(np.argmin(away))]
    return chosen


def _worst(apart: Floats) -> float:
    worst = float(np.linalg.norm(apart, axis=-1).max())
    return worst if np.isfinite(worst) else float("inf")
