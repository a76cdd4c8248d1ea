# SPDX-License-Identifier: GPL-3.0-or-later
"""Order: which level stands where another was planned, and which covers what should cover it."""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from ...plan.plan_arrays import Plan
from ...reading.scene_reading import SceneReading
from ...shot.model import PLACE_AXES
from ..proof_facts import BLOCK, Fault
from .fault_words import stretch


def order_faults(plan: Plan, *, reading: SceneReading, index: dict[str, int]) -> Iterator[Fault]:
    """Yield neighbours that stand the wrong way round: one covers what should cover it, whatever the projection.

    ``index`` gives the object of each level that is looked at.
    """
    heights = reading.corners.mean(axis=2)[..., 2]
    for above, below in pairwise(plan.names):
        if above not in index or below not in index:
            continue
        wrong = np.flatnonzero(heights[:, index[above]] <= heights[:, index[below]])
        if len(wrong):
            span = int(plan.frames[wrong[0]]), int(plan.frames[wrong[-1]])
            text = f"{below} stands above {above} {stretch(span)} and covers what should cover it"
            yield Fault("order-changed", BLOCK, below, "height", span, float(len(wrong)), "frames", 0.0, text)


def swapped(
    plan: Plan, *, reading: SceneReading, index: dict[str, int], tolerance: float, axes: tuple[str, ...] = PLACE_AXES
) -> Iterator[tuple[str, str]]:
    """Yield pairs of levels, both ways round, each of which stands on every frame where the other was planned.

    Where only the ``axes`` named have to be exchanged, on the others each may stand anywhere. ``tolerance`` in px.
    """
    parts = [PLACE_AXES.index(axis) for axis in axes]
    planned = np.stack([plan.tracks.levels[axis] for axis in axes], axis=-1)
    centre = reading.corners.mean(axis=2)[..., parts]
    room = float(tolerance / plan.scale.max())
    for one, first in enumerate(plan.names):
        for two, second in enumerate(plan.names):
            if one == two or first not in index or second not in index:
                continue
            apart = np.abs(planned[:, one] - planned[:, two]).max()
            first_there = np.abs(centre[:, index[first]] - planned[:, two]).max()
            second_there = np.abs(centre[:, index[second]] - planned[:, one]).max()
            if apart > room and first_there <= room and second_there <= room:
                yield first, second


def swap_fault(plan: Plan, pair: tuple[str, str], *, in_height: bool) -> Fault:
    """Return the fault of two levels that have changed places, or only the heights they stand at."""
    first, last = sorted(pair, key=plan.names.index)
    whole = int(plan.frames[0]), int(plan.frames[-1])
    text = f"{first} and {last} have changed places: each stands where the other was planned, on every frame"
    if in_height:
        text = f"{first} and {last} have changed places in height: each stands at the other's, on every frame"
    return Fault("swapped", BLOCK, first, "height", whole, 2.0, "levels", float("nan"), text)
