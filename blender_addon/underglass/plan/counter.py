# SPDX-License-Identifier: GPL-3.0-or-later
"""Counters: what an operator sets and reads on every frame, in whole steps of the counter of each axis.

A reading is the planned place rounded to the nearest step, and a step from frame to frame the difference of two
readings; so errors do not accumulate, however long the move.
"""

from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from ..shot.axes import axis_columns
from ..shot.model import CAMERA, Shot
from ..shot.units import METRES_PER_MM, METRES_PER_UNIT, RADIANS_PER_DEGREE, in_units
from ..shot.words import number_text
from .plan_arrays import Floats, Ints, Plan, Tracks

# The distance that the lens is focused at: no axis of the stand, but something to be set where focus follows a level.
FOCUS = "focus"
# What is taken where the shot names no counter; turns and lenses have none in the format. Our own choice.
ASSUMED_STEPS = {"in": "0.01", "mm": "0.1", "cm": "0.01"}
TURN_STEP = Decimal("0.1")
FOCAL_STEP = Decimal("0.1")


@dataclass(frozen=True)
class Counter:
    """The counter of one axis: its ``unit`` (in, mm, cm or °) and one ``step`` of it in that unit.

    ``assumed`` where the shot names no counter; ``reversed`` where it is wired in reverse. ``core_step`` is the step
    in metres or radians.
    """

    unit: str
    step: Decimal
    core_step: float
    assumed: bool = False
    reversed: bool = False

    def text(self, count: int) -> str:
        """Return ``count`` steps as the counter shows them, all of its decimals, with a plain minus."""
        return f"{count * self.step:f}"


@dataclass(frozen=True)
class Counted:
    """One axis as its counter shows it: ``counts`` (F,) in whole steps, ``planned`` (F,) in steps and parts of them.

    Both have the sign of the counter: where it is wired in reverse it is turned.
    """

    part: str
    axis: str
    counter: Counter
    counts: Ints
    planned: Floats

    @property
    def steps(self) -> Ints:
        """Steps from each frame to the next, (F − 1,); together they are the last reading less the first."""
        return np.diff(self.counts)

    @property
    def moves(self) -> bool:
        """Whether the counter ever shows anything else."""
        return bool(self.counts.min() != self.counts.max())

    @property
    def off(self) -> Floats:
        """How far each reading is from the plan, (F,) in steps: at most half of one."""
        return np.asarray(np.abs(self.counts - self.planned))

    @property
    def place(self) -> Floats:
        """Where the axis stands when the counter is set, (F,) m or rad, in the directions of the stand."""
        return np.asarray(_sign(self.counter) * self.counts * self.counter.core_step)


def counter_of(shot: Shot, *, part: str, axis: str) -> Counter:
    """Return the counter of an axis: that of the shot, or else a usual one; FOCUS is counted as a length."""
    wired = (part, axis) in shot.stand.reversed
    if axis == "turn":
        return Counter("°", TURN_STEP, float(TURN_STEP) * RADIANS_PER_DEGREE, True, wired)
    if axis == "focal":
        return Counter("mm", FOCAL_STEP, float(FOCAL_STEP) * METRES_PER_MM, True, wired)
    said = shot.stand.counter
    if said is None:
        step = Decimal(ASSUMED_STEPS[shot.units])
        return Counter(shot.units, step, float(step) * METRES_PER_UNIT[shot.units], True, wired)
    return Counter(shot.units, Decimal(number_text(in_units(said, shot.units), digits=15)), said, False, wired)


def counted(track: Floats, *, part: str, axis: str, counter: Counter) -> Counted:
    """Return what ``counter`` shows as an axis goes along ``track``, (F,) m or rad."""
    # zero is added so that no -0.0 is left
    planned = np.asarray(_sign(counter) * track / counter.core_step) + 0.0
    return Counted(part, axis, counter, np.rint(planned).astype(np.int64), planned)


def counted_parts(plan: Plan) -> dict[str, tuple[Counted, ...]]:
    """Return every axis that the camera and each level have, by part, the camera first, then nearest the lens first."""
    shot = plan.shot
    return {
        part: tuple(
            counted(
                plan.tracks.camera[axis] if part == CAMERA else plan.tracks.levels[axis][:, plan.names.index(part)],
                part=part,
                axis=axis,
                counter=counter_of(shot, part=part, axis=axis),
            )
            for axis in axis_columns(part, projection=shot.camera.projection).values()
        )
        for part in (CAMERA, *plan.names)
    }


def counted_focus(plan: Plan) -> Counted | None:
    """Return the distance that is focused on as it is set; None where it is infinite, or there is no lens."""
    if not np.isfinite(plan.focus_distance).all():
        return None
    return counted(plan.focus_distance, part=CAMERA, axis=FOCUS, counter=counter_of(plan.shot, part=CAMERA, axis=FOCUS))


def set_tracks(plan: Plan, *, parts: dict[str, tuple[Counted, ...]]) -> Tracks:
    """Return where every axis stands when all counters are set as ``parts`` (`counted_parts`) say."""
    camera = plan.tracks.camera | {one.axis: one.place for one in parts[CAMERA]}
    axes = [one.axis for one in parts[plan.names[0]]]
    levels = {
        axis: np.stack([parts[name][position].place for name in plan.names], axis=-1)
        for position, axis in enumerate(axes)
    }
    return Tracks(plan.frames, camera, levels)


def _sign(counter: Counter) -> int:
    return -1 if counter.reversed else 1
