# SPDX-License-Identifier: GPL-3.0-or-later
"""Moves too fast to be seen as movement. The frame is 1000 px wide at 2 px to the mm, 24 frames a second."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from plan.findings.small_stand import DRAWN, GROUND, LENS, NEAR, found, shot_of, the_one
from plan.plannable import plannable_shots
from underglass.plan import corners_px, make_plan
from underglass.plan.findings import find
from underglass.shot import Move, Shot

LONG = replace(GROUND, art_width=9.0)
# the field of 500 mm in 7 s of 24 frames
PAN_STEP = 0.5 / (7 * 24)


def panned(step: float, **changes) -> Shot:
    return shot_of(Move("ground", "east", 1, 49, 0.0, 48 * step), levels=(NEAR, LONG), **changes)


def test_a_width_in_seven_seconds_is_slow_enough() -> None:
    assert found(panned(PAN_STEP), "strobing") == []
    finding = the_one(panned(PAN_STEP * 1.001), "strobing")
    assert (finding.severity, finding.level, finding.frames) == ("warn", "ground", (1, 49))
    assert finding.value == pytest.approx(finding.limit * 1.001)
    assert finding.limit == pytest.approx(100 / (7 * 24))


def test_both_rules_are_printed_with_what_the_move_does() -> None:
    message = the_one(panned(0.5 / (4 * 24)), "strobing").message
    for words in (
        "is too fast: 0.125 in a frame on a 12 field (a width in 4 s)",
        "Keep below 0.0714 (7 s)",
        "allows 0.1 (5 s)",
    ):
        assert words in message


def test_the_rule_is_of_seconds_and_not_of_frames() -> None:
    assert found(panned(PAN_STEP * 1.5, fps=16.0), "strobing") == []
    assert found(panned(PAN_STEP / 1.999, fps=48.0), "strobing") != []
    assert found(panned(PAN_STEP / 2, fps=48.0), "strobing") == []


def test_a_zip_pan_is_noted_and_not_warned_of() -> None:
    # 0.25 in on a 12-inch field is a width in 48 frames: 10.42 mm of 500
    slower, zipped = panned(0.5 / 48 * 0.999), panned(0.5 / 48)
    assert the_one(slower, "strobing").severity == "warn"
    finding = the_one(zipped, "strobing")
    assert finding.severity == "note"
    assert "zip pan" in finding.message


def test_a_pan_that_is_in_the_bad_zone_longer_than_it_zips_is_warned_of() -> None:
    burst = (Move("ground", "east", 1, 41, 0.0, 0.2), Move("ground", "east", 41, 49, 0.2, 0.4))
    finding = the_one(shot_of(*burst, levels=(NEAR, LONG)), "strobing")
    assert finding.severity == "warn"
    assert finding.value == pytest.approx(1.0)
    assert finding.frames == (1, 49)


def test_in_a_truck_the_edge_of_the_frame_moves_and_not_its_middle() -> None:
    ground = replace(GROUND, art_width=0.6)
    truck = shot_of(Move("camera", "height", 1, 13, 1.0, 0.8), levels=(NEAR, ground), camera=LENS)
    # From frame 12 to 13 the ground goes from 616.7 to 600 mm off: the corner, 625 px out, goes by 17.36 px.
    finding = the_one(replace(truck, levels=(ground,)), "strobing")
    assert finding.value == pytest.approx(100 * 0.625 * (616.6667 / 600 - 1), rel=1e-5)
    # a picture that fills the middle only moves less, the more so the smaller it is
    small = replace(NEAR, name="dot", art_width=0.001, height=0.2)
    assert found(replace(truck, levels=(small,)), "strobing") == []


def test_a_level_on_twos_goes_twice_as_far_at_once() -> None:
    shot = panned(PAN_STEP * 0.75)
    assert found(shot, "strobing") == []
    finding = the_one(replace(shot, levels=(NEAR, replace(LONG, on=2))), "strobing")
    assert finding.value == pytest.approx(finding.limit * 1.5)
    # 1.5 times a 168th of the width
    assert finding.message.endswith("0.1 (5 s). On twos it jumps 0.89% of the width")
    assert "ones" in finding.remedy


def test_what_is_not_in_the_frame_strobes_for_nobody() -> None:
    off = replace(NEAR, east=2.0)
    assert found(shot_of(Move("near", "east", 1, 49, 2.0, 3.0), levels=(off, LONG)), "strobing") == []


def affine(plan, row: int, column: int) -> np.ndarray:  # type: ignore[no-untyped-def]
    """Return the 3 × 2 matrix that takes (u, v, 1) of the art to pixels on one frame, from its planned corners."""
    lower_left, lower_right, _, upper_left = corners_px(plan)[row, column]
    return np.stack([lower_right - lower_left, upper_left - lower_left, lower_left])


@settings(DRAWN, max_examples=40)
@given(shot=plannable_shots(most_levels=2, most_frames=6))
def test_the_worst_corner_is_what_the_planned_pictures_say(shot: Shot) -> None:
    """Every level is stretched to cover the frame; the frame's corners are followed through its affine pictures."""
    levels = tuple(replace(level, art_width=9e3, art_px=(40, 40), on=1) for level in shot.levels)
    plan = make_plan(replace(shot, levels=levels))
    width, height = shot.camera.frame_px
    frame = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * [width / 2, height / 2]
    said = {finding.level: finding for finding in find(plan) if finding.code == "strobing"}
    for column, name in enumerate(plan.names):
        worst = 0.0
        for row in np.flatnonzero(plan.drawing[:-1, column] >= 0):  # where no drawing is shown there is nothing to see
            here, then = affine(plan, row, column), affine(plan, row + 1, column)
            uv = np.linalg.solve(here[:2].T, (frame - here[2]).T).T
            gone = (uv @ then[:2] + then[2] - frame) / [1.0, shot.camera.squeeze]
            worst = max(worst, float(np.hypot(*gone.T).max()) / width)
        limit = 1 / (7 * shot.fps)
        if worst > limit * 1.001:
            # in the zip zone the worst of what is slower is told, if that is the greater part
            assert said[name].value <= worst * 100 * 1.001
            if worst < 1 / (2 * shot.fps):
                assert said[name].value == pytest.approx(worst * 100, rel=1e-3)
        elif worst < limit * 0.999:
            assert name not in said
