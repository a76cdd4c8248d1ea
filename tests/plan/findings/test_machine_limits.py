# SPDX-License-Identifier: GPL-3.0-or-later
"""What the machine cannot do; every limit is tried at the limit itself."""

from dataclasses import replace

import pytest

from plan.findings.small_stand import GROUND, NEAR, found, shot_of, the_one
from underglass.shot import Move, Stand

WIDE = replace(GROUND, art_width=2.0)


@pytest.mark.parametrize(
    ("key", "part", "axis", "start"),
    [
        ("camera_height", "camera", "height", 1.0),
        ("level_height", "near", "height", 0.6),
        ("level_east", "near", "east", 0.0),
        ("level_north", "near", "north", 0.0),
    ],
)
@pytest.mark.parametrize("way", [1, -1])
def test_a_reading_beyond_the_travel_of_the_stand_stops_the_shot(key, part, axis, start, way) -> None:
    end = start + way * 0.1
    stand = Stand(**{key: (min(start, end) - (way > 0) * 0.5, max(start, end) + (way < 0) * 0.5)})
    machine = {"levels": (NEAR,), "stand": stand}
    assert found(shot_of(Move(part, axis, 1, 49, start, end), **machine), "out-of-travel") == []
    too_far = shot_of(Move(part, axis, 1, 49, start, end + way * 0.01), **machine)
    finding = the_one(too_far, "out-of-travel")
    assert (finding.severity, finding.level, finding.axis, finding.unit) == ("block", part, axis, "mm")
    assert finding.value == pytest.approx((end + way * 0.01) * 1000)
    assert finding.limit == pytest.approx(end * 1000)
    assert key in finding.remedy


def test_the_frames_are_those_beyond_the_limit() -> None:
    stand = Stand(level_east=(-0.02, 0.02))
    there_and_back = (Move("near", "east", 1, 25, 0.0, 0.024), Move("near", "east", 25, 49, 0.024, 0.0))
    # a millimetre a frame: 21 mm on frame 22, 24 on 25, 21 again on 28
    assert the_one(shot_of(*there_and_back, stand=stand), "out-of-travel").frames == (22, 28)


def test_a_level_out_of_travel_two_ways_is_told_once_by_the_worse() -> None:
    stand = Stand(level_east=(-0.02, 0.02), level_north=(-0.02, 0.02))
    moves = (Move("near", "east", 1, 49, 0.0, 0.03), Move("near", "north", 1, 49, 0.0, -0.05))
    finding = the_one(shot_of(*moves, stand=stand), "out-of-travel")
    assert (finding.axis, finding.value) == ("north", pytest.approx(-50))


@pytest.mark.parametrize(("key", "part"), [("camera_speed", "camera"), ("level_speed", "near")])
@pytest.mark.parametrize("axis", ["height", "east", "north"])
def test_a_move_faster_than_the_stand_stops_the_shot(key, part, axis) -> None:
    start = {"height": 1.0 if part == "camera" else 0.6}.get(axis, 0.0)
    move = Move(part, axis, 11, 21, start, start + 0.01)
    assert found(shot_of(move, levels=(NEAR, WIDE), stand=Stand(**{key: 0.001})), "too-fast") == []
    finding = the_one(shot_of(move, levels=(NEAR, WIDE), stand=Stand(**{key: 0.00099})), "too-fast")
    assert (finding.severity, finding.level, finding.axis) == ("block", part, axis)
    assert (finding.value, finding.limit) == (pytest.approx(1.0), pytest.approx(0.99))
    assert (finding.frames, finding.unit) == ((11, 21), "mm a frame")


def test_the_camera_s_speed_is_not_the_levels() -> None:
    move = Move("near", "east", 1, 11, 0.0, 0.01)
    assert found(shot_of(move, stand=Stand(camera_speed=1e-6)), "too-fast") == []


def test_glasses_nearer_than_the_least_gap_stop_the_shot() -> None:
    dive = Move("near", "height", 1, 41, 0.6, 0.24)
    assert found(shot_of(dive, stand=Stand(least_gap=0.04)), "close-levels") == []
    finding = the_one(shot_of(dive, stand=Stand(least_gap=0.05)), "close-levels")
    assert (finding.severity, finding.level, finding.axis) == ("block", "ground", "height")
    assert (finding.value, finding.limit) == (pytest.approx(40), pytest.approx(50))
    # 9 mm a frame: 49 mm above the ground on frame 40, and 40 mm from frame 41 on
    assert finding.frames == (40, 49)
    assert "near above it" in finding.message


def test_without_a_stand_nothing_is_beyond_it() -> None:
    moves = (Move("camera", "height", 1, 49, 1.0, 9.0), Move("near", "east", 1, 2, 0.0, 9.0))
    assert {f.code for f in found(shot_of(*moves))}.isdisjoint({"out-of-travel", "too-fast", "close-levels"})
