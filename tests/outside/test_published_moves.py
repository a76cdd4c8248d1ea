# SPDX-License-Identifier: GPL-3.0-or-later
"""Printed and worked numbers of moves: eases, zooms at constant ratio, fenceposts, and a Sun that keeps its size.

Everything goes through a schedule to tracks, so that the laws are tested as a shot uses them.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from underglass.plan import Plan, make_plan, make_tracks
from underglass.shot import Camera, Focus, Gate, Law, Level, Move, Projection, Shot

# All round numbers: a 20 mm gate and a lens of 50 mm focused 1 m away.
CAMERA = Camera(Projection.PERSPECTIVE, (1000, 750), 2.0, Gate(0.020, 0.015), 0.05, 8.0, Focus(distance=1.0))
GLASS = Level("glass", "glass.png", 0.4, 1.0, (400, 300))
BED = Level("bed", "bed.png", 0.4, 0.0, (400, 300))


def planned(*moves: Move, frames: tuple[int, int], camera: Camera = CAMERA, levels: tuple[Level, ...] = (BED,)) -> Plan:
    return make_plan(Shot("move", "mm", 24.0, frames, camera, levels, schedule=moves))


def positions(move: Move) -> np.ndarray:
    """Return where a move of the bed east puts it on every frame of the move."""
    shot = Shot("move", "mm", 24.0, (move.first, move.last), CAMERA, (replace(BED, east=move.start),), schedule=(move,))
    return make_tracks(shot).levels["east"][:, 0]


# (1 − cos πt)/2 in 12 steps and 1 − cos(πt/2) in 12 steps: worked out from the formulas, five digits; no source.
EASE = [0, 0.01704, 0.06699, 0.14645, 0.25, 0.37059, 0.5, 0.62941, 0.75, 0.85355, 0.93301, 0.98296, 1]
EASE_STEPS = [0.01704, 0.04995, 0.07946, 0.10355, 0.12059, 0.12941]
EASE_IN = [0, 0.00856, 0.03407, 0.07612, 0.13397, 0.20665, 0.29289, 0.39124, 0.5, 0.61732, 0.74118, 0.86947, 1]
FIVE_DIGITS = 6e-6


def test_a_sine_move_of_twelve_steps_reads_like_the_table() -> None:
    move = positions(Move("bed", "east", 1, 13, 0.0, 1.0, Law.SINE))
    np.testing.assert_allclose(move, EASE, atol=FIVE_DIGITS)
    np.testing.assert_allclose(np.diff(move), EASE_STEPS + EASE_STEPS[::-1], atol=2 * FIVE_DIGITS)
    assert np.diff(move).max() * 12 == pytest.approx(1.553, abs=5e-4)


def test_the_first_half_of_a_sine_move_is_the_table_of_the_ease_in() -> None:
    move = positions(Move("bed", "east", 1, 25, 0.0, 2.0, Law.SINE))
    np.testing.assert_allclose(move[:13], EASE_IN, atol=FIVE_DIGITS)


def test_the_second_half_of_a_sine_move_is_the_published_ease_out() -> None:
    # news.povray.org 434e2500$1: x = sin((n − 1)·90°/149)·1195 − 100 on frames n = 1 … 150; values worked out from it
    move = positions(Move("bed", "east", 1, 299, -1295.0, 1095.0, Law.SINE))[149:]
    frame = np.arange(1, 151)
    np.testing.assert_allclose(move, np.sin(np.radians((frame - 1) * 90 / 149)) * 1195 - 100, atol=1e-9)
    np.testing.assert_allclose(move[[0, 1, 74, 149]], [-100, -87.402, 740.527, 1095], atol=5e-4)


def test_fairing_goes_up_by_the_odd_numbers() -> None:
    # the n² law: Basic Animation Stand Techniques (Pergamon 1977) has fairing speed up uniformly and mirror at the end
    move = np.diff(positions(Move("bed", "east", 1, 25, 0.0, 1.0, Law.STEADY, slow_out=6, slow_in=6)))
    np.testing.assert_allclose(move[:6] / move[0], [1, 3, 5, 7, 9, 11], rtol=1e-9)
    np.testing.assert_allclose(move[-6:] / move[-1], [11, 9, 7, 5, 3, 1], rtol=1e-9)
    np.testing.assert_allclose(move[6:-6] / move[0], 12, rtol=1e-9)


def test_twenty_inches_in_six_twelve_and_six_steps_go_at_a_tenth_more_than_an_inch_a_frame() -> None:
    # worked out: 20/(3 + 12 + 3) = 1.1111 in a frame
    move = np.diff(positions(Move("bed", "east", 1, 25, 0.0, 20.0, Law.STEADY, slow_out=6, slow_in=6)))
    assert move[6:18] == pytest.approx(1.1111, abs=5e-5)


@pytest.mark.parametrize(
    "move",
    [
        Move("bed", "east", 1, 5, 0.0, 1.0, Law.SINE),
        Move("bed", "east", 1, 5, 0.0, 1.0, Law.STEADY),
        Move("bed", "east", 1, 5, 0.0, 1.0, Law.STEADY, slow_out=2, slow_in=2),
    ],
)
def test_no_law_of_a_stand_is_the_smoothstep_of_a_computer(move: Move) -> None:
    # 3t² − 2t³ at a quarter, a half and three quarters: 0.15625, 0.5, 0.84375
    assert np.abs(positions(move)[1:4] - [0.15625, 0.5, 0.84375]).max() > 0.005


# Two rules of counting are in print, and they differ by one step. Ours is the second: the first frame of a move
# stands at "from", so N frames are N positions with N − 1 steps between them.


def test_150_positions_have_149_steps_between_them() -> None:
    # news.povray.org 434e2500$1 prints 7.96 a frame, which is 1195/150; from frame 1 to frame 150 it is 1195/149
    move = positions(Move("bed", "east", 1, 150, -100.0, 1095.0))
    assert len(move) == 150
    assert (move[0], move[-1]) == (-100.0, 1095.0)
    assert np.diff(move) == pytest.approx(8.0201, abs=5e-5)
    assert np.abs(np.diff(move) - 7.96).min() > 0.05


def test_the_handbook_s_n_steps_in_n_frames_need_a_move_that_begins_on_the_frame_before() -> None:
    # Basic Animation Stand Techniques (Pergamon 1977): step = (final − position before the move)/(frames in the move),
    # so the first exposed frame is one step along. The move of 16 inches in two seconds is animationpost.co.uk's; that
    # page prints no rate of frames and no step. Worked out for 24 a second: 0.3333 in.
    move = positions(Move("bed", "east", 0, 48, 0.0, 16.0))[1:]
    assert len(move) == 48
    assert move[0] == pytest.approx(0.3333, abs=5e-5)
    assert np.diff(move) == pytest.approx(16 / 48, rel=1e-9)
    assert positions(Move("bed", "east", 1, 48, 0.0, 16.0))[0] == 0.0


def test_twelve_feet_in_two_seconds_are_48_steps_of_three_inches() -> None:
    # jamesarnett.com guidebook 1-4-2
    move = np.diff(positions(Move("bed", "east", 0, 48, 0.0, 12 * 12.0)))
    assert len(move) == 48
    assert move == pytest.approx(3.0, rel=1e-9)


# A zoom that grows by equal ratios, on every axis that can.

# going-postal.com/2020/02/animation prints the law and its numbers: a size of 400, an area that is less by p = 0.0234 a
# frame, 20 frames, so √(400²·(1 − p)ⁿ) after n of them. It prints no size that comes of it.
SIZE_PX, LESS_AREA, STEPS = 400.0, 0.0234, 20
SHRINK = math.sqrt(1 - LESS_AREA)

TRUCK_BACK = Move("camera", "height", 1, 21, 2.0, 2.0 / SHRINK**STEPS, Law.RATIO, about="bed")
LENS_SHORTENS = Move("camera", "focal", 1, 21, 0.05, 0.05 * SHRINK**STEPS, Law.RATIO)
GLASS_GOES_DOWN = Move("bed", "height", 1, 21, 0.0, 2.0 - 2.0 / SHRINK**STEPS, Law.RATIO)


@pytest.mark.parametrize(
    "move", [TRUCK_BACK, LENS_SHORTENS, GLASS_GOES_DOWN], ids=lambda move: f"{move.part} {move.axis}"
)
def test_a_zoom_by_equal_ratios_shrinks_by_the_published_law(move: Move) -> None:
    # Focused at infinity, size goes with the focal length.
    camera = replace(CAMERA, focus=Focus())
    plan = planned(move, frames=(1, 21), camera=camera)
    size = plan.size_px[:, 0] * SIZE_PX / plan.size_px[0, 0]
    np.testing.assert_allclose(size, np.sqrt(SIZE_PX**2 * (1 - LESS_AREA) ** np.arange(STEPS + 1)), rtol=1e-12)


# A field from 12 to 6 in 24 steps: ratio 0.971532 a step; worked out, no source.
FIELDS = {0: 12.0, 6: 10.0908, 12: 8.4853, 18: 7.1352, 24: 6.0}
LINEAR_FIELDS = {0: 12.0, 6: 10.5, 12: 9.0, 18: 7.5, 24: 6.0}


@pytest.mark.parametrize(
    ("move", "fields"),
    [
        (Move("camera", "height", 1, 25, 2.0, 1.0, Law.RATIO, about="bed"), FIELDS),
        (Move("camera", "focal", 1, 25, 0.05, 0.10, Law.RATIO), FIELDS),
        (Move("bed", "height", 1, 25, 0.0, 1.0, Law.RATIO), FIELDS),
        (Move("camera", "height", 1, 25, 2.0, 1.0), LINEAR_FIELDS),
    ],
    ids=["camera", "lens", "glass", "camera, steady"],
)
def test_a_field_of_twelve_becomes_one_of_six(move: Move, fields: dict[int, float]) -> None:
    plan = planned(move, frames=(1, 25), camera=replace(CAMERA, focus=Focus()))
    field = 12.0 * plan.scale[0, 0] / plan.scale[:, 0]
    np.testing.assert_allclose(field[list(fields)], list(fields.values()), atol=5e-5)
    if fields is FIELDS:
        assert field[1:] / field[:-1] == pytest.approx(0.971532, abs=5e-7)


def test_a_camera_that_trucks_by_ratio_about_a_moving_glass_sees_it_grow_steadily() -> None:
    glass = Move("glass", "height", 1, 25, 1.0, 0.8, Law.SINE)
    truck = Move("camera", "height", 1, 25, 2.0, 1.3, Law.RATIO, about="glass")
    plan = planned(glass, truck, frames=(1, 25), levels=(GLASS, BED))
    growth = plan.size_px[1:] / plan.size_px[:-1]
    np.testing.assert_allclose(growth[:, 0], 2.0 ** (1 / 24), rtol=1e-12)
    assert np.ptp(growth[:, 1]) > 0.001


# The nearest star, the Sun: 149 597 870.7 km away (IAU 2012 resolution B2). Someone who walks 1 km straight at it sees
# it grow by 6.7e-9 (worked out), and up to 3 km by less than 1e-5; a glass that is meant to be a hill does not.
SUN_KM, HILL_KM = 149_597_870.7, 12.0
LIMIT = 1e-5


def change_of_size(plan: Plan) -> np.ndarray:
    return np.abs(plan.size_px / plan.size_px[0] - 1).max(axis=0)


@pytest.mark.parametrize("walk_km", [1.0, 3.0])
def test_the_sun_keeps_its_size_over_a_walk_and_a_hill_fails_the_same_check(walk_km: float) -> None:
    trucked = 0.4
    # The real distance is held with the glasses at hand: h(t) = H(t) − d(0)·(1 − Z/D).
    start = {"hill": 1.0, "sun": 0.2, "star": 0.1}
    world = {"hill": HILL_KM, "sun": SUN_KM, "star": math.inf}
    levels = tuple(Level(name, f"{name}.png", 0.3, height, (300, 300)) for name, height in start.items())
    moves = [Move("camera", "height", 1, 25, 2.0, 2.0 - trucked)]
    for name, height in start.items():
        end = 2.0 - trucked - (2.0 - height) * (1 - walk_km / world[name])
        moves.append(Move(name, "height", 1, 25, height, end))
    hill, sun, star = change_of_size(planned(*moves, frames=(1, 25), levels=levels))
    assert star < 1e-12
    assert sun == pytest.approx(walk_km * 6.68e-9, rel=0.01)
    assert sun < LIMIT
    assert hill == pytest.approx(1 / (1 - walk_km / HILL_KM) - 1, rel=1e-9)
    assert hill > LIMIT


def test_a_level_that_rides_with_the_camera_changes_by_less_than_a_near_level_that_does_not() -> None:
    moves = (
        Move("camera", "height", 1, 97, 2.0, 1.4, Law.SINE),
        Move("bed", "height", 1, 97, 0.0, -0.6, Law.SINE),
    )
    near, star = change_of_size(planned(*moves, frames=(1, 97), levels=(GLASS, BED)))
    assert star < LIMIT
    assert near > LIMIT
