# SPDX-License-Identifier: GPL-3.0-or-later
"""Where every axis stands on every frame: moves, holds, touching moves, frame tables, twos, and ratios."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plan.plannable import plannable_shots
from underglass.plan import make_plan, make_tracks
from underglass.shot import (
    CAMERA,
    CAMERA_AXES,
    LEVEL_AXES,
    Camera,
    Focus,
    FrameTable,
    Gate,
    Law,
    Level,
    Move,
    Place,
    Projection,
    Shot,
    ShotError,
)

LENS = Camera(Projection.PERSPECTIVE, (1000, 750), 2.0, Gate(0.02, 0.015), 0.05, 8.0, Focus(distance=1.0), east=0.1)
REEDS = Level("reeds", "reeds.png", 0.4, 1.0, (40, 30), east=0.3, turn=0.2)
HILLS = Level("hills", "hills.png", 0.9, 0.2, (40, 30), north=-0.1)
STILL = Shot("still", "mm", 24.0, (11, 22), LENS, (REEDS, HILLS))


def with_moves(*moves: Move, **changes: object) -> Shot:
    return replace(STILL, schedule=moves, **changes)


@given(shot=plannable_shots(most_frames=20))
def test_n_frames_have_n_positions_on_every_axis(shot: Shot) -> None:
    tracks = make_tracks(shot)
    assert tracks.frames.tolist() == list(range(shot.frames[0], shot.frames[1] + 1))
    assert {axis: track.shape for axis, track in tracks.camera.items()} == dict.fromkeys(
        CAMERA_AXES, (shot.frame_count,)
    )
    assert {axis: track.shape for axis, track in tracks.levels.items()} == dict.fromkeys(
        LEVEL_AXES, (shot.frame_count, len(shot.levels))
    )


def test_without_a_schedule_everything_stands_as_it_was_set_up() -> None:
    tracks = make_tracks(STILL)
    for axis in CAMERA_AXES:
        assert (tracks.camera[axis] == getattr(LENS, axis)).all()
    for axis in LEVEL_AXES:
        assert (tracks.levels[axis] == [getattr(REEDS, axis), getattr(HILLS, axis)]).all()


def test_an_axis_holds_before_its_move_and_after_it() -> None:
    east = make_tracks(with_moves(Move("reeds", "east", 14, 18, 0.3, 0.7))).levels["east"][:, 0]
    np.testing.assert_allclose(east, [0.3, 0.3, 0.3, 0.3, 0.4, 0.5, 0.6, 0.7, 0.7, 0.7, 0.7, 0.7])


def test_moves_that_touch_share_the_frame_where_one_ends_and_the_next_begins() -> None:
    moves = Move("camera", "north", 11, 14, 0.0, 0.3), Move("camera", "north", 14, 16, 0.3, -0.1)
    north = make_tracks(with_moves(*moves)).camera["north"]
    np.testing.assert_allclose(north, [0, 0.1, 0.2, 0.3, 0.1, -0.1, -0.1, -0.1, -0.1, -0.1, -0.1, -0.1], atol=1e-12)


def test_the_order_of_the_rows_of_a_schedule_does_not_matter() -> None:
    moves = [
        Move("camera", "height", 12, 20, 2.0, 1.5, Law.RATIO, about="reeds"),
        Move("reeds", "height", 11, 15, 1.0, 0.9),
        Move("reeds", "height", 15, 22, 0.9, 1.1),
        Move("hills", "height", 11, 22, 0.2, 0.1, Law.RATIO),
    ]
    one, other = make_tracks(with_moves(*moves)), make_tracks(with_moves(*reversed(moves)))
    for axis in LEVEL_AXES:
        np.testing.assert_array_equal(one.levels[axis], other.levels[axis])
    np.testing.assert_array_equal(one.camera["height"], other.camera["height"])


def test_a_move_of_one_axis_leaves_every_other_axis_alone() -> None:
    tracks, still = make_tracks(with_moves(Move("hills", "turn", 12, 20, 0.0, 1.0))), make_tracks(STILL)
    for axis in ("height", "east", "north"):
        np.testing.assert_array_equal(tracks.levels[axis], still.levels[axis])
    np.testing.assert_array_equal(tracks.levels["turn"][:, 0], still.levels["turn"][:, 0])


@given(shot=plannable_shots(most_frames=30))
def test_every_move_of_a_level_on_ones_and_of_the_camera_reads_what_its_row_says(shot: Shot) -> None:
    if isinstance(shot.schedule, FrameTable):
        return
    tracks = make_tracks(shot)
    for move in shot.schedule:
        track = tracks.camera.get(move.axis)
        if move.part != CAMERA:
            column = shot.names.index(move.part)
            if shot.levels[column].on > 1:
                continue
            track = tracks.levels[move.axis][:, column]
        assert track is not None
        ends = track[[move.first - shot.frames[0], move.last - shot.frames[0]]]
        np.testing.assert_allclose(ends, [move.start, move.end], rtol=1e-12, atol=1e-12)


def test_a_frame_table_holds_a_value_until_its_next_row_and_a_blank_cell_changes_nothing() -> None:
    columns = (("camera", "east"), ("hills", "turn"))
    table = FrameTable(columns, (13, 15, 20), ((0.5, None), (None, 0.25), (0.0, -0.25)))
    tracks = make_tracks(replace(STILL, schedule=table))
    np.testing.assert_array_equal(tracks.camera["east"], [0.1] * 2 + [0.5] * 7 + [0.0] * 3)
    np.testing.assert_array_equal(tracks.levels["turn"][:, 1], [0.0] * 4 + [0.25] * 5 + [-0.25] * 3)
    np.testing.assert_array_equal(tracks.levels["turn"][:, 0], 0.2)


def test_a_level_on_twos_moves_on_every_second_frame_counted_from_the_first() -> None:
    shot = with_moves(Move("reeds", "east", 11, 22, 0.0, 1.1), levels=(replace(REEDS, east=0.0, on=2), HILLS))
    east = make_tracks(shot).levels["east"][:, 0]
    np.testing.assert_allclose(east, [0, 0, 0.2, 0.2, 0.4, 0.4, 0.6, 0.6, 0.8, 0.8, 1.0, 1.0], atol=1e-12)


def test_twos_hold_a_level_but_not_the_camera_over_it() -> None:
    moves = Move("reeds", "east", 11, 22, 0.0, 1.1), Move("camera", "east", 11, 22, 0.1, 1.2)
    shot = with_moves(*moves, levels=(replace(REEDS, east=0.0, on=2), HILLS))
    assert (np.diff(make_tracks(shot).camera["east"]) > 0).all()
    # and so the picture of the level shakes, which is what twos under a pan do
    assert set(np.sign(np.diff(make_plan(shot).x[:, 0]).round(9))) == {-1.0, 1.0}


@given(shot=plannable_shots(most_frames=20), on=st.integers(2, 5))
def test_a_level_on_twos_stands_where_it_would_on_ones_on_every_frame_that_it_moves(shot: Shot, on: int) -> None:
    ones = make_tracks(replace(shot, levels=tuple(replace(level, on=1) for level in shot.levels)))
    held = make_tracks(replace(shot, levels=tuple(replace(level, on=on) for level in shot.levels)))
    for axis in LEVEL_AXES:
        np.testing.assert_array_equal(held.levels[axis][::on], ones.levels[axis][::on])
        for first in range(0, shot.frame_count, on):
            assert (held.levels[axis][first : first + on] == held.levels[axis][first]).all()


def test_a_focal_length_by_ratio_passes_the_geometric_mean_half_way() -> None:
    focal = make_tracks(with_moves(Move("camera", "focal", 12, 20, 0.05, 0.08, Law.RATIO))).camera["focal"]
    assert focal[1 + 4] == pytest.approx(math.sqrt(0.05 * 0.08), rel=1e-12)


def test_a_camera_by_ratio_about_a_level_keeps_equal_ratios_of_its_distance_from_it() -> None:
    moves = (
        Move("camera", "height", 12, 20, 2.0, 1.5, Law.RATIO, about="reeds"),
        Move("reeds", "height", 11, 22, 1.0, 0.8),
    )
    tracks = make_tracks(with_moves(*moves))
    distance = (tracks.camera["height"] - tracks.levels["height"][:, 0])[1:10]
    ratios = [later / earlier for earlier, later in pairwise(distance)]
    np.testing.assert_allclose(ratios, ratios[0], rtol=1e-12)


def test_a_level_by_ratio_under_a_moving_camera_keeps_equal_ratios_of_its_distance_from_the_lens() -> None:
    moves = Move("hills", "height", 12, 20, 0.2, 0.6, Law.RATIO), Move("camera", "height", 11, 22, 2.0, 1.6, Law.SINE)
    tracks = make_tracks(with_moves(*moves))
    distance = (tracks.camera["height"] - tracks.levels["height"][:, 1])[1:10]
    ratios = [later / earlier for earlier, later in pairwise(distance)]
    np.testing.assert_allclose(ratios, ratios[0], rtol=1e-12)
    assert tracks.levels["height"][9, 1] == pytest.approx(0.6)


def error_of(shot: Shot) -> ShotError:
    with pytest.raises(ShotError) as caught:
        make_tracks(shot)
    return caught.value


def test_a_ratio_about_a_level_that_is_above_the_camera_has_no_meaning() -> None:
    place = Place(STILL.folder / "schedule.csv", 4, "camera.height")
    shot = with_moves(
        Move("camera", "height", 12, 20, 2.0, 0.9, Law.RATIO, about="reeds"),
        places={"schedule:camera.height@12": place},
    )
    assert error_of(shot).place == place
    assert "ratio" in str(error_of(shot))


def test_a_camera_by_ratio_about_a_level_that_moves_by_ratio_from_the_camera_has_no_meaning() -> None:
    shot = with_moves(
        Move("camera", "height", 12, 20, 2.0, 1.5, Law.RATIO, about="reeds"),
        Move("reeds", "height", 12, 20, 1.0, 0.9, Law.RATIO),
    )
    assert "reeds" in str(error_of(shot))


def test_a_focal_length_cannot_grow_by_ratio_from_nothing() -> None:
    shot = with_moves(Move("camera", "focal", 12, 20, 0.0, 0.05, Law.RATIO), camera=replace(LENS, focal=0.0))
    assert "ratio" in str(error_of(shot))
