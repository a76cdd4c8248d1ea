# SPDX-License-Identifier: GPL-3.0-or-later
"""Counters: readings rounded each for itself, steps that add up, axes wired in reverse, and the picture then."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from plan.plannable import plannable_shots
from underglass.plan import corners_px, make_plan
from underglass.plan.counter import counted, counted_focus, counted_parts, counter_of, set_tracks
from underglass.plan.headings import WORDS, heading_word
from underglass.shot import CAMERA, Camera, Focus, Gate, Law, Level, Move, Projection, Shot, ShotError, Stand
from underglass.shot.units import METRES_PER_UNIT, metres_from
from underglass_headless.desk.sheets.counter_rounding import out_of_place_px

INCH = METRES_PER_UNIT["in"]
# Conversions of units leave less than this of a counter step.
CLOSE = 1e-6
HUNDREDTHS = Stand(counter=0.01 * INCH)


def planned(shot: Shot):
    try:
        return make_plan(shot)
    except ShotError:
        assume(False)


def small_shot(*moves: Move, stand: Stand = HUNDREDTHS, units: str = "in", **camera: object) -> Shot:
    lens = Camera(
        Projection.PERSPECTIVE, (1600, 1200), 40 * INCH, Gate(0.022, 0.0165), 0.05, focus=Focus(distance=30 * INCH)
    )
    levels = (
        Level("boat", "boat.png", 4 * INCH, 12 * INCH, (400, 300)),
        Level("hills", "hills.png", 30 * INCH, 2 * INCH, (400, 300)),
    )
    return Shot("", units, 24.0, (1, 25), replace(lens, **camera), levels, stand=stand, schedule=moves)


@given(plannable_shots(most_frames=30))
@settings(max_examples=40)
def test_steps_add_up_and_every_reading_is_within_half_a_step_of_the_plan(shot):
    plan = planned(shot)
    for axes in counted_parts(plan).values():
        for axis in axes:
            assert axis.steps.sum() == axis.counts[-1] - axis.counts[0]
            assert axis.off.max() <= 0.5 + CLOSE
            track = plan.tracks.camera[axis.axis] if axis.part == CAMERA else None
            if track is None:
                track = plan.tracks.levels[axis.axis][:, plan.names.index(axis.part)]
            assert np.abs(axis.place - track).max() <= (0.5 + CLOSE) * axis.counter.core_step


@given(plannable_shots(most_frames=10))
@settings(max_examples=25)
def test_the_text_of_readings_adds_up_in_decimals_too(shot):
    for axes in counted_parts(planned(shot)).values():
        for axis in axes:
            readings = [Decimal(axis.counter.text(count)) for count in axis.counts.tolist()]
            steps = [Decimal(axis.counter.text(step)) for step in axis.steps.tolist()]
            assert readings[0] + sum(steps) == readings[-1]


@given(st.lists(st.floats(-5, 5), min_size=1, max_size=30))
def test_wiring_in_reverse_turns_the_sign_and_twice_changes_nothing(readings):
    counter = counter_of(small_shot(), part="boat", axis="east")
    wired = replace(counter, reversed=True)
    straight, turned = (counted(np.array(readings), part="boat", axis="east", counter=one) for one in (counter, wired))
    assert (turned.counts == -straight.counts).all()
    assert (turned.place == straight.place).all()
    again = counted(turned.planned * counter.core_step, part="boat", axis="east", counter=wired)
    assert (again.counts == straight.counts).all()


@pytest.mark.parametrize("axis", WORDS)
def test_a_reversed_heading_is_the_other_word(axis):
    assert {heading_word(axis, 1), heading_word(axis, -1)} == set(WORDS[axis])


def test_a_slow_move_takes_a_step_now_and_then_and_arrives():
    move = Move("boat", "east", 1, 25, 0.0, 0.06 * INCH)
    east = counted_parts(make_plan(small_shot(move)))["boat"][1]
    assert set(east.steps.tolist()) == {0, 1}
    assert east.counter.text(int(east.counts[-1])) == "0.06"
    assert east.moves


def test_one_wired_axis_turns_round_and_the_others_stay():
    move = Move("boat", "east", 1, 25, 0.0, 2 * INCH)
    stand = Stand(counter=0.01 * INCH, reversed=(("boat", "east"),))
    parts = counted_parts(make_plan(small_shot(move, stand=stand)))
    _, east, _, _ = parts["boat"]
    assert east.counter.text(int(east.counts[-1])) == "-2.00"
    assert not any(axis.counter.reversed for axes in parts.values() for axis in axes if axis is not east)


@pytest.mark.parametrize(("units", "step"), [("in", "0.01"), ("mm", "0.1"), ("cm", "0.01")])
def test_without_a_counter_a_usual_step_is_assumed_and_said_to_be(units, step):
    shot = small_shot(stand=Stand(), units=units)
    counter = counter_of(shot, part="boat", axis="north")
    assert (counter.unit, counter.step, counter.assumed) == (units, Decimal(step), True)
    assert counter.core_step == pytest.approx(metres_from(float(step), units))
    turn, focal = (counter_of(shot, part=CAMERA, axis=axis) for axis in ("turn", "focal"))
    assert (turn.unit, str(turn.step), focal.unit, str(focal.step)) == ("°", "0.1", "mm", "0.1")


@pytest.mark.parametrize(
    ("step", "count", "text"), [(0.01, 9000, "90.00"), (0.015625, -3, "-0.046875"), (2.0, 7, "14"), (0.01, 0, "0.00")]
)
def test_a_reading_has_the_decimals_of_its_counter(step, count, text):
    counter = counter_of(small_shot(stand=Stand(counter=metres_from(step, "in"))), part="boat", axis="east")
    assert counter.text(count) == text


def test_focus_that_follows_a_level_is_read_too_and_infinity_is_not():
    truck = Move(CAMERA, "height", 1, 25, 40 * INCH, 35 * INCH)
    focus = counted_focus(make_plan(small_shot(truck, focus=Focus(level="boat"))))
    assert [focus.counter.text(count) for count in focus.counts[[0, -1]].tolist()] == ["28.00", "23.00"]
    assert counted_focus(make_plan(small_shot(focus=Focus()))) is None


def test_a_glass_a_half_step_east_of_its_plan_is_half_a_step_out_of_place():
    shot = small_shot(stand=Stand(counter=0.1 * INCH))
    shot = replace(shot, levels=(replace(shot.levels[0], east=0.25 * INCH), shot.levels[1]))
    plan = make_plan(shot)
    off = out_of_place_px(plan, tracks=set_tracks(plan, parts=counted_parts(plan)))
    assert off[:, 0] == pytest.approx(plan.scale[:, 0] * 0.05 * INCH)
    assert (off[:, 1] == 0).all()


@given(plannable_shots(most_frames=8, most_levels=3), st.sampled_from([0.01, 0.1, 1.0]))
@settings(max_examples=60)
def test_the_picture_moves_as_far_as_a_second_plan_says(shot, inches):
    """Where all of the art is in the frame and not turned in it, the box about it is the art: its corners tell."""
    plan = planned(replace(shot, stand=Stand(counter=inches * INCH)))
    tracks = set_tracks(plan, parts=counted_parts(plan))
    # the lens is pulled to the planned focus, which a second plan would work out anew
    assume(not shot.camera.focus.level)
    try:
        other = make_plan(plan.shot, tracks=tracks)
    except ShotError:
        assume(False)
    corners = corners_px(plan)
    inside = (np.abs(corners) <= np.array(shot.camera.frame_px) / 2).all(axis=(-1, -2))
    straight = np.abs(np.sin(2 * plan.turn)) < 1e-9
    expected = np.hypot(*np.moveaxis(corners_px(other) - corners, -1, 0)).max(axis=-1)
    there = inside & straight
    np.testing.assert_allclose(out_of_place_px(plan, tracks=tracks)[there], expected[there], rtol=1e-6, atol=1e-6)


@pytest.mark.parametrize("part", [CAMERA, "boat"])
@pytest.mark.parametrize("axis", ["height", "east", "north", "turn"])
def test_each_axis_alone_moves_the_picture_as_a_second_plan_says(part, axis):
    plan = make_plan(small_shot())
    tracks = plan.tracks
    if part == CAMERA:
        moved = replace(tracks, camera=tracks.camera | {axis: tracks.camera[axis] + 0.003})
    else:
        moved = replace(tracks, levels=tracks.levels | {axis: tracks.levels[axis] + [0.003, 0.0]})
    expected = np.hypot(*np.moveaxis(corners_px(make_plan(plan.shot, tracks=moved)) - corners_px(plan), -1, 0))[:, 0]
    assert expected.max() > 0.1
    assert out_of_place_px(plan, tracks=moved)[:, 0] == pytest.approx(expected.max(axis=-1))


def test_a_level_out_of_the_frame_shows_no_error():
    shot = small_shot(stand=Stand(counter=0.1 * INCH))
    shot = replace(shot, levels=(replace(shot.levels[0], east=100.05 * INCH), shot.levels[1]))
    plan = make_plan(shot)
    assert (out_of_place_px(plan, tracks=set_tracks(plan, parts=counted_parts(plan))) == 0).all()


def test_a_counter_coarser_than_the_stand_is_told_apart_from_a_good_one():
    plan = make_plan(small_shot(stand=Stand(counter=1000 * INCH)))
    assert np.isinf(out_of_place_px(plan, tracks=set_tracks(plan, parts=counted_parts(plan)))).all()


def test_a_ratio_move_is_rounded_frame_by_frame():
    """The way in equal ratios has steps of many lengths; rounding the steps instead of the places would drift away."""
    move = Move(CAMERA, "height", 1, 25, 40 * INCH, 20 * INCH, Law.RATIO, about="hills")
    plan = make_plan(small_shot(move, focus=Focus()))
    height = counted_parts(plan)[CAMERA][0]
    assert height.off.max() <= 0.5
    rounded_steps = np.rint(np.diff(height.planned)).sum()
    assert rounded_steps != height.steps.sum() == -2000
