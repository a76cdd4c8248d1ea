# SPDX-License-Identifier: GPL-3.0-or-later
"""Levels that are never in the frame: 2 px to the millimetre, a frame of 500 by 375 mm, art of 100 by 75 mm."""

from dataclasses import replace

import numpy as np
import pytest

from plan.findings.small_stand import GROUND, LENS, NEAR, found, shot_of, the_one
from underglass.plan import corners_px, make_plan
from underglass.plan.findings import look
from underglass.plan.findings.out_of_frame import overlaps
from underglass.proof.verdict.judge_levels import visible_area
from underglass.shot import Exposure, Focus, Level, Move

CODE = "out-of-frame"


def beside(**place: float) -> Level:
    return replace(NEAR, covers=(), **place)


@pytest.mark.parametrize(
    ("place", "words", "value", "axis"),
    [
        ({"east": 0.400}, "right of the frame", 100.0, "east"),
        ({"east": -0.400}, "left of the frame", 100.0, "east"),
        ({"north": 9.0}, "above the frame", 9000.0 - 187.5 - 37.5, "north"),
        ({"north": -0.300}, "below the frame", 75.0, "north"),
    ],
)
def test_a_level_beside_the_frame_is_named_with_how_far_and_which_way(place, words, value, axis) -> None:
    finding = the_one(shot_of(levels=(beside(**place), GROUND)), CODE)
    assert (finding.level, finding.severity, finding.axis, finding.frames) == ("near", "warn", axis, (1, 49))
    assert finding.value == pytest.approx(value)
    assert words in finding.message
    assert "near is never in the frame" in finding.message
    assert {"right": "west", "left": "east", "above": "south", "below": "north"}[words.split()[0]] in finding.remedy


def test_a_level_that_comes_into_the_frame_once_is_not_named() -> None:
    passing = Move("near", "east", 20, 30, 0.400, 0.290)
    assert found(shot_of(passing, levels=(beside(east=0.400), GROUND)), CODE) == []
    stays_out = replace(passing, end=0.301)
    finding = the_one(shot_of(stays_out, levels=(beside(east=0.400), GROUND)), CODE)
    # where it is nearest counts
    assert finding.value == pytest.approx(1.0)
    assert "on frame 30" in finding.message


def test_a_level_without_light_on_purpose_is_not_named() -> None:
    levels = (beside(east=0.400), GROUND)
    dark = Exposure("dark", levels=("near",), fade=((1, 0.0), (49, 0.0)))
    others = Exposure("others", levels=("ground",))
    assert found(shot_of(levels=levels, exposures=(others,)), CODE) == []
    assert found(shot_of(levels=levels, exposures=(others, dark)), CODE) == []
    lit = replace(dark, fade=((1, 0.0), (49, 1.0)))
    assert the_one(shot_of(levels=levels, exposures=(others, lit)), CODE).frames == (2, 49)


def test_a_level_that_must_cover_is_named_once() -> None:
    (finding,) = found(shot_of(levels=(NEAR, replace(GROUND, east=1.0))))
    assert finding.code == "off-art"
    assert "ground is never in the frame" in finding.message


@pytest.mark.parametrize("turn", [0.0, 30.0, 45.0, 77.0])
def test_art_overlaps_the_frame_where_a_point_of_it_is_in_it(turn: float) -> None:
    """Against a second way: what is left of the art where it is cut off at the frame's sides."""
    for east in np.linspace(-0.413, 0.391, 17):
        for north in (-0.24, -0.20, 0.0, 0.21, 0.245):
            level = beside(east=float(east), north=north, turn=np.radians(turn))
            plan = make_plan(shot_of(levels=(level, GROUND), frames=(1, 1)))
            inside = visible_area(corners_px(plan)[0, 0], (1000, 750)) > 0
            assert bool(overlaps(plan, look(plan))[0, 0]) == inside, (east, north)


def test_nothing_sharp_says_that_focus_follows_a_level_out_of_the_frame() -> None:
    camera = replace(LENS, f_stop=2.0, focus=Focus(level="near"))
    levels = (beside(north=9.0), GROUND)
    finding = the_one(shot_of(levels=levels, camera=camera), "nothing-sharp")
    assert "focus follows near, which is out of the frame" in finding.message
    assert "bring near into the frame" in finding.remedy


def test_nothing_sharp_says_what_the_lens_is_focused_on_by_distance_where_that_is_out_of_the_frame() -> None:
    at = 1.0 - NEAR.height
    camera = replace(LENS, f_stop=2.0, focus=Focus(distance=at))
    finding = the_one(shot_of(levels=(beside(north=9.0), GROUND), camera=camera), "nothing-sharp")
    assert "the lens is focused on near, which is out of the frame" in finding.message


def test_nothing_sharp_between_levels_says_to_focus_on_one() -> None:
    camera = replace(LENS, f_stop=2.0, focus=Focus(distance=0.6))
    finding = the_one(shot_of(levels=(beside(), GROUND), camera=camera), "nothing-sharp")
    assert finding.remedy == "focus on a level, or let focus follow one"
