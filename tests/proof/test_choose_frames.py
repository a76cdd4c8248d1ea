# SPDX-License-Identifier: GPL-3.0-or-later
"""Choosing test frames: what must be among them, whatever the shot."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given

import small_shots
from plan.plannable import plannable_shots
from underglass.plan import make_plan
from underglass.proof.choose_frames import (
    FEWEST,
    choose_frames,
    fastest_frame,
    frames_to_picture,
    parse_frames,
    reasons_for,
)
from underglass.shot import Camera, Focus, FrameTable, Gate, Law, Level, Move, Projection, Shot, ShotError
from underglass.shot.files import read_shot

LENS = Camera(Projection.PERSPECTIVE, (1000, 750), 2.0, Gate(0.02, 0.015), 0.05, 8.0, Focus(distance=1.0))
REEDS = Level("reeds", "reeds.png", 0.4, 1.0, (40, 30))
HILLS = Level("hills", "hills.png", 0.9, 0.2, (40, 30))
STILL = Shot("still", "mm", 24.0, (1, 97), LENS, (REEDS, HILLS))


@given(shot=plannable_shots(most_frames=60))
def test_the_ends_and_every_level_s_largest_and_smallest_are_among_the_test_frames(shot: Shot) -> None:
    plan = make_plan(shot)
    chosen = choose_frames(plan)
    assert list(chosen) == sorted(set(chosen))
    assert set(shot.frames) <= set(chosen) <= set(plan.frames.tolist())
    rows = [frame - shot.frames[0] for frame in chosen]
    np.testing.assert_array_equal(plan.size_px[rows].max(axis=0), plan.size_px.max(axis=0))
    np.testing.assert_array_equal(plan.size_px[rows].min(axis=0), plan.size_px.min(axis=0))


@given(shot=plannable_shots(most_frames=60))
def test_at_least_eight_frames_are_chosen_or_all_there_are(shot: Shot) -> None:
    assert len(choose_frames(make_plan(shot))) >= min(8, shot.frame_count)
    assert FEWEST == 8


@pytest.mark.parametrize("rise", [0.01, -0.01])
def test_a_level_s_largest_and_smallest_are_test_frames_even_close_beside_another(rise: float) -> None:
    # In a shot of 400 frames a turning point on frame 3 would be left out as too close to the first.
    moves = (
        Move("reeds", "height", 1, 3, 1.0, 1.0 + rise),
        Move("reeds", "height", 3, 400, 1.0 + rise, 1.0 - 20 * rise),
    )
    plan = make_plan(replace(STILL, frames=(1, 400), schedule=moves))
    assert {3, 400} <= set(choose_frames(plan))


def test_a_shot_of_one_frame_is_tested_on_it() -> None:
    assert choose_frames(make_plan(replace(STILL, frames=(7, 7)))) == (7,)


def test_the_test_frames_of_a_hold_are_spread_over_it() -> None:
    chosen = choose_frames(make_plan(STILL))
    assert max(np.diff(chosen)) <= 97 / (FEWEST - 1) * 2


def test_where_a_level_turns_round_is_a_test_frame() -> None:
    moves = Move("reeds", "east", 1, 38, 0.0, 0.2, Law.SINE), Move("reeds", "east", 38, 97, 0.2, -0.1, Law.SINE)
    chosen = choose_frames(make_plan(replace(STILL, schedule=moves)))
    # a frame beside it shows the same
    assert min(abs(frame - 38) for frame in chosen) <= 1


def test_a_level_on_twos_under_a_pan_on_ones_does_not_make_every_frame_a_test_frame() -> None:
    moves = Move("camera", "east", 1, 97, 0.0, 0.4), Move("reeds", "east", 1, 97, 0.0, 0.4)
    plan = make_plan(replace(STILL, schedule=moves, levels=(replace(REEDS, on=2), HILLS)))
    assert len(choose_frames(plan)) < 20


def test_a_counter_s_rounding_on_a_level_that_is_held_in_size_is_no_turning_point() -> None:
    # The camera rises, and the level follows by a counter of tenths of a millimetre.
    frames = tuple(range(1, 98))
    heights = 2.0 + 0.002 * np.arange(97)
    held = np.round(heights - 1.0, 4)
    table = FrameTable((("camera", "height"), ("reeds", "height")), frames, tuple(zip(heights, held, strict=True)))
    plan = make_plan(replace(STILL, schedule=table))
    assert 0 < np.ptp(plan.size_px[:, plan.names.index("reeds")]) < 0.05
    assert len(choose_frames(plan)) <= FEWEST + 1


def test_more_can_be_asked_for() -> None:
    assert len(choose_frames(make_plan(STILL), fewest=20)) == 20


def test_the_same_plan_gives_the_same_frames() -> None:
    plan = make_plan(replace(STILL, schedule=(Move("camera", "height", 5, 80, 2.0, 1.4),)))
    assert choose_frames(plan) == choose_frames(plan)


@pytest.mark.parametrize(
    ("text", "frames"),
    [("", ()), ("12", (12,)), ("1,48-50,144", (1, 48, 49, 50, 144)), (" 3 , 1, 3", (1, 3)), ("-2-1", (-2, -1, 0, 1))],
)
def test_a_list_of_frames_names_frames_and_ranges(text: str, frames: tuple[int, ...]) -> None:
    assert parse_frames(text) == frames


@pytest.mark.parametrize("text", ["a", "1-", "9-3", "1.5", "1;2", "99999999"])
def test_a_piece_that_is_no_frame_is_named(text: str) -> None:
    with pytest.raises(ShotError, match="no frame or range"):
        parse_frames(f"1,{text}")


def test_every_test_frame_has_its_reason() -> None:
    moves = (Move("reeds", "height", 1, 97, 1.0, 1.3), Move("hills", "height", 1, 97, 0.2, 0.1))
    reasons = reasons_for(make_plan(replace(STILL, schedule=moves)))
    assert tuple(reasons) == choose_frames(make_plan(replace(STILL, schedule=moves)))
    assert (reasons[1], reasons[97]) == ("the first frame", "the last frame")
    assert all(reasons.values())


def test_there_are_pictures_of_three_frames_or_of_those_that_are_asked_for() -> None:
    plan = make_plan(STILL)
    three = frames_to_picture(plan, asked=())
    assert list(three)[::2] == [1, 97]
    assert len(three) == 3
    assert frames_to_picture(plan, asked=(5, 3)) == {3: "asked for", 5: "asked for"}
    # a farm's job names the frames that are chosen anyway
    assert frames_to_picture(plan, asked=choose_frames(plan)) == three
    assert list(frames_to_picture(make_plan(replace(STILL, frames=(7, 7))), asked=())) == [7]


def test_the_frame_on_which_anything_is_fastest_counts_turns_too(tmp_path):
    shot = read_shot(small_shots.line_up(tmp_path))
    plan = make_plan(shot)
    # the picture of every level, centre and edge, moves most here
    speeds = {}
    for frame in range(1, len(plan.frames)):
        moved = [np.hypot(*(np.diff(track[frame - 1 : frame + 1], axis=0)[0] for track in (plan.x, plan.y)))]
        grown = np.abs(np.diff(plan.size_px[frame - 1 : frame + 1], axis=0)[0])
        turned = np.abs(np.diff(plan.turn[frame - 1 : frame + 1], axis=0)[0]) * plan.size_px[frame] / 2
        speeds[int(plan.frames[frame])] = float((moved[0] + grown + turned).max())
    assert speeds[fastest_frame(plan)] >= 0.999 * max(speeds.values())
    still = make_plan(replace(shot, schedule=()))
    assert fastest_frame(still) == 1
    turning = tuple(move for move in shot.schedule if move.axis == "turn")
    (move,) = turning
    late = replace(move, first=20)
    assert fastest_frame(make_plan(replace(shot, schedule=(late,)))) > 20
