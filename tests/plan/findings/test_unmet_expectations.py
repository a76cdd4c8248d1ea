# SPDX-License-Identifier: GPL-3.0-or-later
"""What was expected of the picture, and what turns round without anyone having said so."""

from dataclasses import replace

import pytest

from plan.findings.small_stand import GROUND, LENS, NEAR, found, shot_of, the_one
from underglass.shot import Expectation, Heading, Law, Move, Shot

LONG = replace(GROUND, art_width=2.0)
EAST = Move("near", "east", 1, 25, 0.0, 0.04, Law.SINE)
BACK = Move("near", "east", 25, 49, 0.04, 0.0, Law.SINE)


def there_and_back(*expectations: Expectation) -> Shot:
    return shot_of(EAST, BACK, expectations=expectations)


def test_a_level_that_heads_the_wrong_way_stops_the_shot() -> None:
    shot = shot_of(EAST, expectations=(Expectation("near", heads=Heading.WEST),))
    finding = the_one(shot, "expectation")
    assert (finding.severity, finding.level, finding.frames) == ("block", "near", (1, 49))
    assert finding.value == pytest.approx(-80)
    assert "should head west" in finding.message
    assert found(replace(shot, expectations=(Expectation("near", heads=Heading.EAST),))) == []


def test_a_size_that_should_hold_and_grows_stops_the_shot() -> None:
    truck = Move("camera", "height", 1, 49, 1.0, 0.9, Law.SINE)
    shot = shot_of(truck, camera=LENS, levels=(NEAR, LONG), expectations=(Expectation("near", holds=True),))
    assert the_one(shot, "expectation").unit == "px"
    ridden = replace(shot, schedule=(truck, Move("near", "height", 1, 49, 0.6, 0.5, Law.SINE)))
    assert found(ridden, "expectation") == []


def test_every_expectation_that_is_not_met_is_told() -> None:
    wrong = (Expectation("near", heads=Heading.WEST), Expectation("near", grows=2.0))
    assert len(found(shot_of(EAST, expectations=wrong), "expectation")) == 2


def test_a_level_that_turns_round_is_noted() -> None:
    finding = the_one(there_and_back(), "turns-round")
    assert (finding.severity, finding.level, finding.axis, finding.frames) == ("note", "near", "east", (25, 25))
    assert finding.message.startswith("near turns round between east and west on frame 25")


@pytest.mark.parametrize(
    "expectation",
    [
        Expectation("near", heads=Heading.EAST, between=(1, 25)),
        Expectation("near", heads=Heading.WEST, between=(25, 49)),
        Expectation("near", against="ground", drift_ratio=2.0),
    ],
)
def test_an_expectation_about_that_frame_answers_for_it(expectation: Expectation) -> None:
    assert found(there_and_back(expectation), "turns-round") == []


@pytest.mark.parametrize(
    "expectation",
    [
        Expectation("near", heads=Heading.EAST, between=(1, 24)),
        Expectation("near", heads=Heading.NORTH),
        Expectation("ground", heads=Heading.EAST),
        Expectation("near", holds=True),
    ],
)
def test_an_expectation_about_something_else_does_not(expectation: Expectation) -> None:
    assert len(found(there_and_back(expectation), "turns-round")) == 1


def test_a_level_that_rests_for_longer_than_half_a_second_makes_two_moves_of_it() -> None:
    # from frame 25 on it rests; twelve frames are half a second
    assert len(found(shot_of(EAST, replace(BACK, first=37)), "turns-round")) == 1
    assert found(shot_of(EAST, replace(BACK, first=38)), "turns-round") == []


def test_a_level_that_goes_on_does_not_turn_round() -> None:
    on = Move("near", "east", 25, 49, 0.04, 0.08, Law.SINE)
    assert found(shot_of(EAST, on)) == []


def test_a_level_on_twos_turns_round_on_a_frame_that_it_is_moved_on() -> None:
    shot = there_and_back()
    twos = replace(shot, levels=(replace(NEAR, on=2), GROUND))
    assert the_one(twos, "turns-round").frames == (25, 25)


def test_a_swing_is_not_asked_about_since_nothing_can_be_expected_of_a_turn() -> None:
    swing = (Move("near", "turn", 1, 25, 0.0, 0.4, Law.SINE), Move("near", "turn", 25, 49, 0.4, 0.0, Law.SINE))
    assert found(shot_of(*swing)) == []


def test_a_level_whose_picture_goes_west_while_it_goes_east_is_no_matter() -> None:
    """The camera goes east faster; that is parallax."""
    camera = Move("camera", "east", 1, 49, 0.0, 0.04, Law.SINE)
    near = Move("near", "east", 1, 49, 0.0, 0.01, Law.SINE)
    assert found(shot_of(camera, near)) == []
