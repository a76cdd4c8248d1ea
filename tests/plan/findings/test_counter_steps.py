# SPDX-License-Identifier: GPL-3.0-or-later
"""What a counter makes of a move; a millimetre is 2 px."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from plan.findings.small_stand import DRAWN, GROUND, LENS, NEAR, found, shot_of, the_one
from plan.plannable import plannable_shots
from underglass.plan import corners_px, make_plan
from underglass.plan.findings import find
from underglass.shot import Law, Move, Shot, Stand

HALVES = Stand(counter=5e-4)
LONG = replace(GROUND, art_width=2.0)


def creeping(step: float, **changes) -> Shot:
    return shot_of(Move("near", "east", 1, 41, 0.0, 40 * step), levels=(NEAR, LONG), **changes)


def test_a_move_below_a_counter_step_a_frame_creeps() -> None:
    assert found(creeping(5e-4, stand=HALVES), "creep") == []
    finding = the_one(creeping(4.99e-4, stand=HALVES), "creep")
    assert (finding.severity, finding.level, finding.axis, finding.frames) == ("note", "near", "east", (1, 41))
    assert (finding.value, finding.limit) == (pytest.approx(0.499), pytest.approx(0.5))
    assert "creeps east" in finding.message


def test_a_move_that_only_begins_and_ends_slowly_does_not_creep() -> None:
    move = Move("near", "east", 1, 41, 0.0, 0.05, Law.SINE)
    assert found(shot_of(move, levels=(NEAR, LONG), stand=HALVES), "creep") == []


def test_the_slow_one_of_two_moves_is_found() -> None:
    moves = (Move("near", "east", 1, 11, 0.0, 0.02), Move("near", "east", 21, 41, 0.02, 0.025))
    assert the_one(shot_of(*moves, levels=(NEAR, LONG), stand=HALVES), "creep").frames == (21, 41)


def test_a_counter_step_too_small_to_see_is_no_matter() -> None:
    # an eighth of a thousandth of 1000 px is 0.125 px, or 0.0625 mm
    assert found(creeping(0.5e-4, stand=Stand(counter=0.6e-4)), "creep") == []
    assert len(found(creeping(0.5e-4, stand=Stand(counter=0.63e-4)), "creep")) == 1


def test_without_a_counter_nothing_is_said_of_one() -> None:
    codes = {finding.code for finding in found(creeping(1e-4))}
    assert codes.isdisjoint({"creep", "counter-rounding"})


def test_a_turn_is_not_read_on_the_counter() -> None:
    assert found(shot_of(Move("near", "turn", 1, 41, 0.0, 1e-3), stand=HALVES), "creep") == []


def test_readings_on_the_marks_are_set_as_they_are() -> None:
    assert found(creeping(5e-4, stand=HALVES), "counter-rounding") == []


def test_rounding_to_the_counter_puts_a_level_out_by_half_a_step_at_most() -> None:
    # three quarters of a millimetre a frame, rounded to whole ones, are out by up to half of one, which is a pixel
    uneven = Move("near", "east", 1, 49, 0.0, 0.048 * 0.7499)
    finding = the_one(shot_of(uneven, stand=Stand(counter=1e-3)), "counter-rounding")
    assert (finding.severity, finding.level, finding.unit) == ("note", "near", "px")
    assert 0.9 < finding.value <= 1.0
    assert finding.limit == 0.5
    # rounded to half millimetres, they are out by half a pixel at most
    assert found(shot_of(uneven, stand=HALVES), "counter-rounding") == []


def test_levels_that_ride_with_the_camera_round_as_it_does() -> None:
    moves = tuple(Move(part, "east", 1, 49, 0.0, 0.0361) for part in ("camera", "near", "ground"))
    assert found(shot_of(*moves, stand=Stand(counter=1e-3)), "counter-rounding") == []
    assert len(found(shot_of(*moves[:2], stand=Stand(counter=1e-3)), "counter-rounding")) == 1


@settings(DRAWN, max_examples=40)
@given(shot=plannable_shots(most_levels=3, most_frames=6))
def test_the_picture_of_rounded_readings_is_as_far_out_as_was_said(shot: Shot) -> None:
    """The oracle plans the rounded readings themselves. Focus stays where it is, as a lens is not set by a counter."""
    counter = 1e-4
    levels = tuple(replace(level, on=1) for level in shot.levels)
    camera = shot.camera if not shot.camera.focus.level else replace(shot.camera, focus=LENS.focus, focal=0.03)
    shot = replace(shot, levels=levels, stand=Stand(counter=counter), camera=camera)
    plan = make_plan(shot)
    tracks = plan.tracks
    for axis in ("height", "east", "north"):
        tracks.camera[axis][:] = np.rint(tracks.camera[axis] / counter) * counter
        tracks.levels[axis][:] = np.rint(tracks.levels[axis] / counter) * counter
    said = [finding for finding in find(make_plan(shot)) if finding.code == "counter-rounding"]
    rounded = corners_px(make_plan(shot, tracks=tracks))
    exact = corners_px(make_plan(shot))
    half = np.array(shot.camera.frame_px) / 2
    # corners of the art that are in the frame are among the points that are looked at
    inside = (np.abs(exact) <= half).all(axis=-1)
    worst = float(np.where(inside, np.hypot(*np.moveaxis(rounded - exact, -1, 0)), 0.0).max())
    limit = shot.camera.frame_px[0] / 2000
    if worst > limit * 1.01:
        assert said
        assert said[0].value >= worst * 0.99
