# SPDX-License-Identifier: GPL-3.0-or-later
"""Expectations: what the picture must do, said apart from the schedule, held against the plan.

A schedule with a slip in it plans, builds and proves without a fault; only what was expected of the picture tells.
"""

from dataclasses import dataclass

import numpy as np

from ..optics import projection
from ..shot.model import Expectation, Heading
from ..shot.words import number_text
from .plan_arrays import Floats, Plan

# Growth and drift are written to two or three digits; closer than this they are what was written.
CLOSE_ENOUGH = 0.005

# What each heading is of the picture's axes, x right and y up.
WAY = {Heading.WEST: (-1, 0), Heading.EAST: (1, 0), Heading.NORTH: (0, 1), Heading.SOUTH: (0, -1)}


@dataclass(frozen=True)
class Unmet:
    """An expectation that the plan does not meet: ``value`` is what it does, ``limit`` what was expected.

    The ``message`` blames the schedule, since the plan goes by nothing else; no scene has part in it.
    """

    level: str
    kind: str
    frames: tuple[int, int]
    value: float
    limit: float
    unit: str
    message: str


def unmet_expectations(plan: Plan, *, hold_px: float) -> list[Unmet]:
    """Return the expectations of the shot that its plan does not meet; a size holds within ``hold_px`` pixels."""
    found = (check_expectation(plan, expectation, hold_px=hold_px) for expectation in plan.shot.expectations)
    return [unmet for unmet in found if unmet is not None]


def axis_drift(plan: Plan, level: str, *, rows: slice) -> Floats:
    """Return how far the point of ``level`` that was on the optical axis on the first of ``rows`` has gone.

    (N, 2) px, right and up. Art off the axis also moves outward as it grows; that is growth, not drift.
    """
    column = plan.names.index(level)
    camera, tracks = plan.tracks.camera, plan.tracks.levels
    glass = {axis: tracks[axis][rows, column] for axis in ("east", "north", "turn")}
    eye = {axis: camera[axis][rows] for axis in ("east", "north", "turn")}
    # The point rides on its glass, so it turns about the glass's centre as that turns.
    east, north = eye["east"][0] - glass["east"][0], eye["north"][0] - glass["north"][0]
    turned = glass["turn"] - glass["turn"][0]
    x, y = projection.px_from_stand(
        glass["east"] + np.cos(turned) * east - np.sin(turned) * north - eye["east"],
        north=glass["north"] + np.sin(turned) * east + np.cos(turned) * north - eye["north"],
        camera_turn=eye["turn"],
        scale=plan.scale[rows, column],
        squeeze=plan.shot.camera.squeeze,
    )
    return np.stack([x, y], axis=-1)


def check_expectation(plan: Plan, expectation: Expectation, *, hold_px: float) -> Unmet | None:
    """Return how the plan misses one expectation, None where it meets it; a size holds within ``hold_px`` pixels."""
    first, last = expectation.between or plan.shot.frames
    rows = slice(first - plan.shot.frames[0], last - plan.shot.frames[0] + 1)
    size = plan.size_px[rows, plan.names.index(expectation.level)]

    def unmet(kind: str, value: float, limit: float, unit: str, text: str) -> Unmet:
        message = f"{expectation.level} {text}, from frame {first} to {last}"
        return Unmet(expectation.level, kind, (first, last), value, limit, unit, message)

    if expectation.holds:
        change = float(np.abs(size - size[0]).max())
        text = f"should hold its size but, going by the schedule, changes it by {number_text(change, digits=3)} px"
        return unmet("holds", change, hold_px, "px", text) if change > hold_px else None
    if expectation.grows is not None:
        growth = float(size[-1] / size[0])
        grows = f"grows {number_text(growth, digits=4)} times"
        text = f"should grow {expectation.grows:g} times but, going by the schedule, {grows}"
        return unmet("grows", growth, expectation.grows, "times", text) if _differ(growth, expectation.grows) else None
    drift = axis_drift(plan, expectation.level, rows=rows)
    if expectation.heads is not None:
        along = drift @ np.array(WAY[expectation.heads])
        back = float(max(0.0, -np.diff(along).min(initial=0.0)))
        text = f"should head {expectation.heads.value} but, going by the schedule, {_course(along, back)}"
        met = along[-1] > 0 and back <= hold_px
        return None if met else unmet("heads", float(along[-1]), 0.0, "px", text)
    assert expectation.drift_ratio is not None
    other = axis_drift(plan, expectation.against, rows=rows)[-1]
    square = float(other @ other)
    ratio = float(drift[-1] @ other) / square if square > 0 else float("inf")
    text = (
        f"should drift {expectation.drift_ratio:g} times as far as {expectation.against}"
        f" but, going by the schedule, drifts {number_text(ratio, digits=4)} times"
    )
    met = not _differ(ratio, expectation.drift_ratio)
    return None if met else unmet("drift_ratio", ratio, expectation.drift_ratio, "times", text)


def _course(along: Floats, back: float) -> str:
    if not along.any():
        return "does not drift at all"
    if along[-1] <= 0:
        return f"ends {number_text(-along[-1], digits=3)} px the other way"
    return f"goes back by up to {number_text(back, digits=3)} px a frame on its way"


def _differ(value: float, wanted: float) -> bool:
    return not abs(value - wanted) <= CLOSE_ENOUGH * abs(wanted)
