# SPDX-License-Identifier: GPL-3.0-or-later
"""Which way is which in the picture, and where corners and pixels are."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.optics.projection import (
    CORNERS_UV,
    art_from_px,
    corner_offsets,
    pixel_centres,
    px_from_art,
    px_from_stand,
    px_per_metre,
    px_per_metre_parallel,
)

metres = st.floats(-2.0, 2.0)
angles = st.floats(-7.0, 7.0)


def test_a_point_three_east_and_one_north_is_right_of_the_centre_and_a_little_above() -> None:
    x, y = px_from_stand(3.0, north=1.0, camera_turn=0.0, scale=10.0, squeeze=1)
    assert (x, y) == (30.0, 10.0)


def test_a_camera_that_turns_counter_clockwise_turns_the_picture_clockwise() -> None:
    # What was right of the centre is below it, what was above it is on the right.
    x, y = px_from_stand(3.0, north=1.0, camera_turn=math.pi / 2, scale=10.0, squeeze=1)
    np.testing.assert_allclose((x, y), (10.0, -30.0), atol=1e-12)


def test_a_squeeze_stretches_only_what_is_up_and_down_the_frame() -> None:
    # k counts squeezed pixels across, so they stand for twice as much; up the frame they do not.
    x, y = px_from_stand(3.0, north=1.0, camera_turn=0.0, scale=10.0, squeeze=2)
    assert (x, y) == (30.0, 20.0)
    across = px_per_metre(1.0, frame_width=1000, gate_width=0.02, squeeze=2, image=0.05)
    assert across == px_per_metre(1.0, frame_width=1000, gate_width=0.02, squeeze=1, image=0.05) / 2


@given(east=metres, north=metres, turn=angles, scale=st.floats(1.0, 1e4))
def test_a_turned_camera_keeps_every_distance_from_the_axis(
    east: float, north: float, turn: float, scale: float
) -> None:
    x, y = px_from_stand(east, north=north, camera_turn=turn, scale=scale, squeeze=1)
    assert math.hypot(x, y) == pytest.approx(scale * math.hypot(east, north), rel=1e-12, abs=1e-9)


@given(east=metres, north=metres, scale=st.floats(1.0, 1e4), squeeze=st.sampled_from([1.0, 2.0]))
def test_a_pan_and_its_mirror_image_mirror_the_picture(east: float, north: float, scale: float, squeeze: float) -> None:
    x, y = px_from_stand(east, north=north, camera_turn=0.0, scale=scale, squeeze=squeeze)
    assert px_from_stand(-east, north=north, camera_turn=0.0, scale=scale, squeeze=squeeze) == (-x, y)
    assert px_from_stand(east, north=-north, camera_turn=0.0, scale=scale, squeeze=squeeze) == (x, -y)


@given(d=st.floats(0.1, 10.0), v=st.floats(0.01, 0.3))
def test_a_level_twice_as_far_is_half_as_large_through_a_lens_and_as_large_by_parallel_rays(d: float, v: float) -> None:
    near, far = px_per_metre([d, 2 * d], frame_width=1828, gate_width=0.022, squeeze=1, image=v)
    assert near == pytest.approx(2 * far, rel=1e-12)
    assert px_per_metre_parallel([d, 2 * d], frame_width=1828, field_width=0.3) == pytest.approx(1828 / 0.3)


def test_art_as_wide_as_the_field_fills_the_frame_from_edge_to_edge() -> None:
    gate, v, d, frame_width = 0.022, 0.0536, 0.7444, 1828
    field = gate * d / v
    k = px_per_metre(d, frame_width=frame_width, gate_width=gate, squeeze=1, image=v)
    assert field * k == pytest.approx(frame_width, rel=1e-12)


def test_corners_go_round_from_the_lower_left_against_the_clock() -> None:
    east, north = corner_offsets(4.0, height=2.0, turn=0.0)
    np.testing.assert_array_equal(east, [-2, 2, 2, -2])
    np.testing.assert_array_equal(north, [-1, -1, 1, 1])
    np.testing.assert_array_equal(CORNERS_UV, [(0, 0), (1, 0), (1, 1), (0, 1)])


def test_art_turned_a_little_counter_clockwise_lifts_its_right_edge() -> None:
    east, north = corner_offsets(4.0, height=2.0, turn=math.radians(10))
    assert north[1] > -1 > north[0]
    assert east[2] < 2 < east[1]


@given(width=st.floats(0.01, 3.0), height=st.floats(0.01, 3.0), turn=angles)
def test_turned_art_keeps_its_centre_its_sides_and_its_area(width: float, height: float, turn: float) -> None:
    east, north = corner_offsets(width, height=height, turn=turn)
    corners = east + 1j * north
    assert abs(corners.mean()) == pytest.approx(0, abs=1e-12)
    np.testing.assert_allclose(np.abs(np.roll(corners, -1) - corners), [width, height, width, height], rtol=1e-9)
    area = (np.conj(corners) * np.roll(corners, -1)).imag.sum() / 2
    assert area == pytest.approx(width * height, rel=1e-9)


def test_a_place_a_quarter_in_and_half_up_on_turned_art_is_where_geometry_has_it() -> None:
    # art 4 wide and 2 high about (10, 20), turned a quarter to the left: its right is the picture's up, its up the left
    east, north = corner_offsets(4.0, height=2.0, turn=math.radians(90))
    corners = np.stack([10 + east, 20 + north], axis=-1)
    np.testing.assert_allclose(px_from_art(np.array([0.25, 0.5]), corners=corners), [10, 19], atol=1e-12)
    np.testing.assert_allclose(art_from_px(np.array([[10.0, 19.0]]), corners=corners), [[0.25, 0.5]], atol=1e-12)


@given(width=st.floats(0.01, 3.0), height=st.floats(0.01, 3.0), turn=angles, u=metres, v=metres)
def test_a_place_on_the_art_is_found_again_from_the_picture(
    width: float, height: float, turn: float, u: float, v: float
) -> None:
    corners = np.stack(corner_offsets(width, height=height, turn=turn), axis=-1) + np.array([u, v])
    np.testing.assert_allclose(px_from_art(CORNERS_UV, corners=corners), corners, atol=1e-9)
    places = px_from_art(np.array([u, v]), corners=corners)
    np.testing.assert_allclose(art_from_px(places, corners=corners), [u, v], atol=1e-9)


def test_corners_of_many_levels_on_many_frames_come_in_one_array() -> None:
    east, north = corner_offsets(np.ones((5, 3)), height=np.ones((5, 3)), turn=np.zeros((5, 3)))
    assert east.shape == north.shape == (5, 3, 4)


def test_the_first_pixel_is_half_a_pixel_in_from_the_upper_left_corner() -> None:
    x, y = pixel_centres((6, 4))
    np.testing.assert_array_equal(x, [-2.5, -1.5, -0.5, 0.5, 1.5, 2.5])
    np.testing.assert_array_equal(y, [1.5, 0.5, -0.5, -1.5])


def test_a_grid_of_every_third_pixel_still_looks_at_the_whole_frame() -> None:
    x, y = pixel_centres((2, 3), spacing=3)
    np.testing.assert_array_equal(x, [-1.5, 1.5])
    np.testing.assert_array_equal(y, [3, 0, -3])
