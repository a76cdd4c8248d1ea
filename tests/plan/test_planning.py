# SPDX-License-Identifier: GPL-3.0-or-later
"""What every level must look like: which way it goes, what fills the frame, what a stand cannot do."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plan.plannable import plannable_shots
from underglass.optics import thin_lens
from underglass.plan import corners_px, make_plan
from underglass.shot import Camera, Drawings, Focus, FrameTable, Gate, Law, Level, Move, Projection, Shot, ShotError

LENS = Camera(Projection.PERSPECTIVE, (1000, 750), 2.0, Gate(0.02, 0.015), 0.05, 8.0, Focus(distance=1.0))
REEDS = Level("reeds", "reeds.png", 0.4, 1.0, (40, 30))
HILLS = Level("far hills", "hills.png", 0.9, 0.2, (40, 30))
NO_CHART = FrameTable((), (), ())
STILL = Shot("still", "in", 24.0, (1, 25), LENS, (REEDS, HILLS))
CLOSE_PX = 1e-9


def with_moves(*moves: Move, **changes: object) -> Shot:
    return replace(STILL, schedule=moves, **changes)


def test_a_level_moved_east_goes_right_and_a_little_north_goes_a_little_up() -> None:
    plan = make_plan(with_moves(Move("reeds", "east", 1, 25, 0, 0.3), Move("reeds", "north", 1, 25, 0, 0.1)))
    assert (np.diff(plan.x[:, 0]) > 0).all()
    assert (np.diff(plan.y[:, 0]) > 0).all()
    np.testing.assert_allclose(plan.x[1:, 0], 3 * plan.y[1:, 0], rtol=1e-9)
    assert (plan.x[:, 1] == 0).all()


@given(shot=plannable_shots(most_frames=8), by=st.floats(0.01, 0.5))
def test_a_camera_moved_east_moves_every_picture_left(shot: Shot, by: float) -> None:
    straight = replace(shot, camera=replace(shot.camera, turn=0.0), schedule=(), chart=NO_CHART)
    before = make_plan(straight)
    after = make_plan(replace(straight, camera=replace(straight.camera, east=straight.camera.east + by)))
    assert (after.x < before.x).all()
    np.testing.assert_allclose(before.x - after.x, before.scale * by, rtol=1e-9, atol=1e-6)
    np.testing.assert_array_equal(after.y, before.y)
    np.testing.assert_array_equal(after.size_px, before.size_px)


@given(shot=plannable_shots(most_frames=8))
def test_a_stand_seen_in_a_mirror_makes_a_mirrored_picture(shot: Shot) -> None:
    mirrored = make_plan(mirror(shot))
    plan = make_plan(shot)
    np.testing.assert_allclose(mirrored.x, -plan.x, rtol=1e-9, atol=1e-6)
    np.testing.assert_allclose(mirrored.y, plan.y, rtol=1e-9, atol=1e-6)
    np.testing.assert_array_equal(mirrored.size_px, plan.size_px)
    np.testing.assert_allclose(mirrored.turn, -plan.turn)


def mirror(shot: Shot) -> Shot:
    """Return the shot with east and west changed over: places, turns and pans."""

    def flip(part: Camera | Level) -> Camera | Level:
        return replace(part, east=-part.east, turn=-part.turn)

    def over(table: FrameTable) -> FrameTable:
        signs = [-1 if axis in ("east", "turn") else 1 for _, axis in table.columns]
        rows = tuple(
            tuple(None if value is None else sign * value for sign, value in zip(signs, row, strict=True))
            for row in table.values
        )
        return replace(table, values=rows)

    if isinstance(shot.schedule, FrameTable):
        schedule = over(shot.schedule)
    else:
        schedule = tuple(
            replace(move, start=-move.start, end=-move.end) if move.axis in ("east", "turn") else move
            for move in shot.schedule
        )
    levels = tuple(flip(level) for level in shot.levels)
    return replace(shot, camera=flip(shot.camera), levels=levels, schedule=schedule, chart=over(shot.chart))


@given(shot=plannable_shots(most_frames=8), turn=st.floats(-3, 3))
@settings(max_examples=30)
def test_a_camera_turned_with_all_its_glasses_about_its_axis_sees_what_it_saw(shot: Shot, turn: float) -> None:
    still = replace(shot, schedule=(), chart=NO_CHART, camera=replace(shot.camera, east=0.0, north=0.0))
    whirl = complex(math.cos(turn), math.sin(turn))
    levels = []
    for level in still.levels:
        at = complex(level.east, level.north) * whirl
        levels.append(replace(level, east=at.real, north=at.imag, turn=level.turn + turn))
    turned = replace(still, levels=tuple(levels), camera=replace(still.camera, turn=still.camera.turn + turn))
    one, other = corners_px(make_plan(still)), corners_px(make_plan(turned))
    np.testing.assert_allclose(one, other, rtol=1e-8, atol=1e-6)


@given(shot=plannable_shots(most_frames=8))
def test_the_corners_of_the_art_have_its_size_its_place_and_its_turn(shot: Shot) -> None:
    plan = make_plan(shot)
    corners = corners_px(plan)
    assert corners.shape == (shot.frame_count, len(shot.levels), 4, 2)
    far = np.abs(corners).max()
    np.testing.assert_allclose(corners.mean(axis=2), np.stack([plan.x, plan.y], axis=-1), atol=1e-12 * far + 1e-9)
    # With the squeeze taken out, a pixel is as wide as it is high.
    lower = (corners[:, :, 1] - corners[:, :, 0]) / [1.0, shot.camera.squeeze]
    np.testing.assert_allclose(np.hypot(*np.moveaxis(lower, -1, 0)), plan.size_px, rtol=1e-9, atol=1e-12 * far)
    seen = np.exp(1j * plan.turn) * plan.size_px
    np.testing.assert_allclose(lower[..., 0] + 1j * lower[..., 1], seen, rtol=1e-9, atol=1e-9 * far)


def test_art_of_twelve_inches_fills_the_frame_when_a_50_mm_lens_is_focused_on_it_from_where_its_field_is_twelve() -> (
    None
):
    # u = f·(1 + field/gate): the thin lens, with an Academy camera of 0.864 in; worked out, no source.
    inch = 0.0254
    camera = replace(LENS, gate=Gate(0.864 * inch, 0.63 * inch), height=0.05 * (1 + 12 / 0.864), focus=Focus("art"))
    art = Level("art", "art.png", 12 * inch, 0.0, (1200, 875))
    plan = make_plan(replace(STILL, camera=camera, levels=(art,)))
    assert plan.size_px == pytest.approx(1000, rel=1e-12)
    assert plan.image_distance == pytest.approx(0.0536, abs=1e-6)
    # the same picture, with the lens left at infinity, would be 7.2 % smaller
    far = make_plan(replace(STILL, camera=replace(camera, focus=Focus()), levels=(art,)))
    assert plan.size_px / far.size_px == pytest.approx(1.072, abs=5e-6)


def test_focused_at_infinity_the_film_is_a_focal_length_off_through_the_whole_zoom() -> None:
    zoom = Move("camera", "focal", 1, 25, 0.05, 0.1, Law.RATIO)
    plan = make_plan(with_moves(zoom, camera=replace(LENS, focus=Focus())))
    np.testing.assert_array_equal(plan.image_distance, plan.tracks.camera["focal"])
    assert np.isinf(plan.focus_distance).all()


def test_focus_that_follows_a_level_breathes_and_focus_at_a_distance_does_not() -> None:
    truck = Move("camera", "height", 1, 25, 2.0, 1.5)
    follows = make_plan(with_moves(truck, camera=replace(LENS, focus=Focus("reeds"))))
    np.testing.assert_array_equal(follows.focus_distance, follows.distance[:, 0])
    np.testing.assert_allclose(
        follows.image_distance, thin_lens.image_distance(0.05, focus=follows.distance[:, 0]), rtol=1e-15
    )
    assert (np.diff(follows.image_distance) > 0).all()
    assert np.ptp(make_plan(with_moves(truck)).image_distance) == 0


def test_by_parallel_rays_every_distance_has_one_scale_and_no_focus() -> None:
    camera = Camera(Projection.ORTHOGRAPHIC, (1000, 750), 2.0, field_width=0.5)
    plan = make_plan(with_moves(Move("camera", "height", 1, 25, 2.0, 1.5), camera=camera))
    assert (plan.scale == 2000).all()
    assert np.isnan(plan.image_distance).all()
    assert np.isnan(plan.focus_distance).all()


@given(shot=plannable_shots(most_frames=8), times=st.sampled_from([2, 3]))
def test_a_frame_of_more_pixels_is_the_same_picture_larger(shot: Shot, times: int) -> None:
    width, height = shot.camera.frame_px
    larger = replace(shot, camera=replace(shot.camera, frame_px=(times * width, times * height)))
    np.testing.assert_allclose(corners_px(make_plan(larger)), times * corners_px(make_plan(shot)), rtol=1e-9, atol=1e-6)


@given(shot=plannable_shots(most_frames=8))
def test_growth_is_the_ratio_of_the_distances_while_focus_and_lens_hold(shot: Shot) -> None:
    plan = make_plan(shot)
    if shot.camera.projection is Projection.ORTHOGRAPHIC:
        assert np.ptp(plan.size_px, axis=0).max() == 0
        return
    breathing = (plan.image_distance / plan.image_distance[0])[:, None]
    np.testing.assert_allclose(plan.size_px / plan.size_px[0], plan.distance[0] / plan.distance * breathing, rtol=1e-9)


def test_a_run_of_drawings_shows_nothing_before_its_first_row_and_holds_each_until_the_next() -> None:
    heron = replace(REEDS, name="heron", art="heron_{drawing}.png")
    drawings = Drawings(("heron",), (3, 6, 9, 12), (("a",), ("b",), (None,), ("-",)))
    plan = make_plan(replace(STILL, frames=(1, 14), levels=(heron, HILLS), drawings=drawings))
    assert plan.drawings == (("a", "b"), ())
    assert plan.drawing[:, 0].tolist() == [-1] * 2 + [0] * 3 + [1] * 6 + [-1] * 3
    assert (plan.drawing[:, 1] == 0).all()


# What a stand cannot do.


def error_of(shot: Shot) -> ShotError:
    with pytest.raises(ShotError) as caught:
        make_plan(shot)
    return caught.value


def test_a_level_that_rises_to_the_lens_is_an_error_that_names_the_first_such_frame() -> None:
    # 1.0 → 3.4 in 24 steps of 0.1: at the lens (2.0) on frame 11, and 2.1 on frame 12
    message = str(error_of(with_moves(Move("reeds", "height", 1, 25, 1.0, 3.4))))
    assert "on frame 11 " in message or "on frame 12 " in message
    assert "reeds" in message
    assert "lens" in message


def test_a_level_above_the_lens_from_the_start_is_an_error() -> None:
    message = str(error_of(replace(STILL, levels=(replace(REEDS, height=2.5), HILLS))))
    assert "on frame 1 " in message
    assert "level.reeds.height" in message


def test_a_camera_that_trucks_into_a_level_is_an_error_in_the_shot_s_own_units() -> None:
    message = str(error_of(with_moves(Move("camera", "height", 1, 25, 2.0, 0.8))))
    assert "reeds" in message
    assert f"{1.0 / 0.0254:.6g} in" in message


def test_levels_that_cross_are_an_error_that_names_both_and_the_frame() -> None:
    # 0.2 → 1.4 in 24 steps of 0.05: past 1.0 on frame 18, and on frame 17 at it but for rounding
    message = str(error_of(with_moves(Move("far hills", "height", 1, 25, 0.2, 1.4))))
    assert "on frame 17 " in message or "on frame 18 " in message
    assert "far hills" in message
    assert "reeds" in message


def test_levels_listed_in_the_wrong_order_are_an_error() -> None:
    message = str(error_of(replace(STILL, levels=(HILLS, REEDS))))
    assert "reeds" in message
    assert "far hills" in message
    assert "nearest the lens first" in message


def test_two_levels_on_one_height_are_an_error() -> None:
    assert "meets" in str(error_of(replace(STILL, levels=(REEDS, replace(HILLS, height=1.0)))))


def test_a_lens_that_is_asked_to_focus_within_its_focal_length_amid_a_move_is_an_error() -> None:
    # The reeds come to 40 mm from the lens, within the focal length of 50, and go away again.
    rise = Move("reeds", "height", 1, 13, 1.0, 1.96), Move("reeds", "height", 13, 25, 1.96, 1.0)
    error = error_of(with_moves(*rise, camera=replace(LENS, focus=Focus("reeds"))))
    assert "on frame 13 " in str(error)
    assert "50 mm" in str(error)
    assert "camera.focus" in str(error)


def test_a_zoom_that_outgrows_a_fixed_focus_is_an_error() -> None:
    zoom = Move("camera", "focal", 1, 25, 0.05, 0.29)
    assert "on frame 16 " in str(error_of(with_moves(zoom, camera=replace(LENS, focus=Focus(distance=0.195)))))
