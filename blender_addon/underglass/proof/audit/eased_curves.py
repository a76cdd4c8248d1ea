# SPDX-License-Identifier: GPL-3.0-or-later
"""Curves that are eased because the schedule says so: a `bezier` row is built as keys of Blender's own ease."""

from collections.abc import Iterable

from ...plan.plan_arrays import Plan
from ...shot.model import PLACE_AXES, FrameTable, Law

# What readback calls the ease, and the channels of a stand's axes, as the interface names them.
_EASE = " Bezier"
_CHANNELS = {f"Location {letter}": axis for letter, axis in zip("XYZ", PLACE_AXES, strict=True)}
_CHANNELS |= {"Euler Rotation Z": "turn", "Rotation Z": "turn"}


def not_asked_for(plan: Plan, part: str, curves: Iterable[str]) -> tuple[str, ...]:
    """Return those of ``curves``, as `readback` words them, that are not the ease of a row of the schedule."""
    schedule = plan.shot.schedule
    rows = () if isinstance(schedule, FrameTable) else schedule
    eased = {move.axis for move in rows if move.part == part and move.law is Law.BEZIER}
    return tuple(
        curve
        for curve in curves
        if not (curve.endswith(_EASE) and _CHANNELS.get(curve.removesuffix(_EASE), "") in eased)
    )
