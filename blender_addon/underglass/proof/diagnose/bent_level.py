# SPDX-License-Identifier: GPL-3.0-or-later
"""A level whose plane was pulled out of shape: which corner of its art is elsewhere, when the others are in place."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ...plan.plan_arrays import Plan
from ...reading.scene_reading import SceneReading
from ...shot.units import in_units
from ...shot.words import number_text
from ..proof_facts import BLOCK, Fault
from .fault_words import stretch
from .moved_together import planned_corners

Floats = NDArray[np.float64]

# The corners of the art, in the order in which they are read.
CORNERS = ("lower left", "lower right", "upper right", "upper left")
# With more of them elsewhere it is the level that is: larger, turned, or in another place.
MOST_PULLED = 2


def corner_faults(plan: Plan, *, reading: SceneReading, column: int, found: int, least_px: float) -> Iterator[Fault]:
    """Yield a fault where the level in ``column``, object ``found``, has corners that moved while others are in place.

    ``least_px`` is what a corner may be out.
    """
    apart = reading.corners[:, found] - planned_corners(plan)[:, column]
    px = plan.scale[:, column, None] * np.linalg.norm(apart, axis=-1)
    if not np.isfinite(px).all() or px.max() <= least_px:
        return
    out = (px > least_px / 2).any(axis=0)
    if not 0 < out.sum() <= MOST_PULLED:
        return
    rows = np.flatnonzero((px > least_px / 2).any(axis=1))
    row, corner = divmod(int(px.argmax()), len(CORNERS))
    amount = in_units(float(np.linalg.norm(apart[row, corner])), plan.shot.units)
    when = int(plan.frames[rows[0]]), int(plan.frames[rows[-1]])
    names = " and ".join(name for name, is_out in zip(CORNERS, out, strict=True) if is_out)
    plural = "s" if out.sum() > 1 else ""
    name = plan.names[column]
    text = (
        f"{name} is out of shape: the {names} corner{plural} of its plane moved by"
        f" {number_text(amount, digits=4)} {plan.shot.units} {stretch(when)}"
    )
    yield Fault("corner-moved", BLOCK, name, "", when, amount, plan.shot.units, float(px.max()), text)
