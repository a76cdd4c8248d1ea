# SPDX-License-Identifier: GPL-3.0-or-later
"""When a stand counts as moved together: by how many of its levels, and by how much."""

from dataclasses import replace

import numpy as np
import pytest

from proof.readings import pose, reading_of
from report import synthetic
from underglass.plan.plan_arrays import Plan
from underglass.proof.diagnose.moved_together import put_back
from underglass.proof.proof_facts import Fault
from underglass.reading.scene_reading import SceneReading

FIVE = synthetic.plan()
TOLERANCE_PX = 0.05
ELSEWHERE = pose(0.3, -0.2, 0.1, 0.4)


def of_first(count: int) -> Plan:
    """Return the plan with its first ``count`` levels alone."""
    shot = replace(FIVE.shot, levels=FIVE.shot.levels[:count])
    levels = {axis: track[:, :count] for axis, track in FIVE.tracks.levels.items()}
    tracks = replace(FIVE.tracks, levels=levels)
    return replace(FIVE, shot=shot, tracks=tracks, distance=FIVE.distance[:, :count], scale=FIVE.scale[:, :count])


def moved(plan: Plan, *, stay: int, by: np.ndarray = ELSEWHERE) -> SceneReading:
    """Return a reading of ``plan`` with the stand moved ``by``, all but its first levels, as many as ``stay``."""
    reading = reading_of(plan)
    corners = reading.corners.copy()
    corners[:, stay:] = corners[:, stay:] @ by[:3, :3].T + by[:3, 3]
    return replace(reading, corners=corners, camera=replace(reading.camera, matrix=by @ reading.camera.matrix))


def note_of(plan: Plan, reading: SceneReading) -> Fault | None:
    index = {name: number for number, name in enumerate(plan.names)}
    return put_back(plan, reading=reading, index=index, tolerance=TOLERANCE_PX)[1]


@pytest.mark.parametrize(
    ("levels", "stay", "together"),
    [(4, 1, True), (4, 2, False), (5, 2, True), (5, 3, False), (2, 1, False), (1, 0, True)],
)
def test_a_stand_is_moved_together_where_more_than_half_of_its_levels_went(levels: int, stay: int, together: bool):
    plan = of_first(levels)
    note = note_of(plan, moved(plan, stay=stay))
    assert (note is not None) == together
    if note is not None and stay:
        assert note.message == f"the stand is moved together, all but {', '.join(plan.names[:stay])}"


@pytest.mark.parametrize(("px", "together"), [(0.024, False), (0.026, True)])
def test_a_stand_that_moved_by_less_than_half_the_tolerance_is_where_it_was(px: float, together: bool) -> None:
    # the level where a metre is the most pixels shows the greatest part of it
    by = pose(px / float(FIVE.scale.max()), 0.0, 0.0, 0.0)
    assert (note_of(FIVE, moved(FIVE, stay=0, by=by)) is not None) == together
