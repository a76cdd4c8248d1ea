# SPDX-License-Identifier: GPL-3.0-or-later
"""Things that are in the way of a level, on readings that are made by hand; lengths in metres."""

from dataclasses import replace

import numpy as np
import pytest

from proof.readings import reading_of
from report import synthetic
from underglass.plan.plan_arrays import Plan
from underglass.proof.audit.obstacles import obstacles
from underglass.proof.proof_facts import Fault
from underglass.reading.scene_reading import Things

PLAN = synthetic.plan()
FRAME = 24
REAR = int(PLAN.distance[FRAME - 1].argmax())


def box_at(plan: Plan, *, depth: float) -> np.ndarray:
    """Return the corners (8, 3) of a box under the lens whose top is ``depth`` from it, 2 cm each way, on FRAME."""
    east, north, height = (float(plan.tracks.camera[axis][FRAME - 1]) for axis in ("east", "north", "height"))
    top = height - depth
    half = (-0.01, 0.01)
    return np.array([(east + x, north + y, z) for z in (top, top - 0.02) for x in half for y in half])


def found(*boxes: np.ndarray) -> dict[str, Fault]:
    names = tuple(f"box {number}" for number in range(len(boxes)))
    frame, which = np.full(len(boxes), FRAME), np.arange(len(boxes))
    return obstacles(PLAN, reading=replace(reading_of(PLAN), things=Things(names, frame, which, np.array(boxes))))


@pytest.mark.parametrize(("share", "in_the_way"), [(0.9e-6, False), (1.1e-6, True)])
def test_what_lies_on_the_rearmost_level_is_not_before_it(share: float, in_the_way: bool) -> None:
    depth = float(PLAN.distance[FRAME - 1, REAR]) * (1 - share)
    assert list(found(box_at(PLAN, depth=depth))) == (["box 0"] if in_the_way else [])


def test_a_thing_is_before_the_nearest_level_behind_it() -> None:
    for number, name in enumerate(PLAN.names):
        (fault,) = found(box_at(PLAN, depth=float(PLAN.distance[FRAME - 1, number]) - 0.001)).values()
        assert fault.message == f"box 0 stands before {name} on frame {FRAME} and is not in the shot"


@pytest.mark.parametrize(("count", "lines"), [(6, 6), (7, 1)])
def test_six_things_are_told_one_by_one_and_seven_in_one_line(count: int, lines: int) -> None:
    faults = found(*(box_at(PLAN, depth=0.3) for _ in range(count)))
    assert len(faults) == count
    assert len({fault.message for fault in faults.values()}) == lines
