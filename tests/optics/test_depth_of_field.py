# SPDX-License-Identifier: GPL-3.0-or-later
"""Blur and its limits: each formula against another way to the same number, and in the limit."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.optics.depth_of_field import blur_circle, close_up_depth, far_limit, hyperfocal, near_limit
from underglass.optics.thin_lens import image_distance, magnification

FOCAL = st.floats(0.015, 0.3)
TIMES = st.floats(1.05, 1000.0)
F_STOP = st.floats(1.0, 64.0)
CIRCLE = st.floats(5e-6, 1e-4)


@given(focal=FOCAL, focused=TIMES, other=TIMES, f_stop=F_STOP)
def test_the_circle_is_the_cone_of_light_cut_by_the_film(focal, focused, other, f_stop) -> None:
    """Rays from the opening meet at the image of the point; the film cuts their cone before or behind it."""
    film, image = (float(image_distance(focal, focus=focal * times)) for times in (focused, other))
    cone = focal / f_stop * abs(image - film) / image
    blur = blur_circle(focal * other, focal=focal, focus=focal * focused, f_stop=f_stop)
    assert blur == pytest.approx(cone, rel=1e-6, abs=1e-12)


@given(focal=FOCAL, times=TIMES, f_stop=F_STOP, circle=CIRCLE)
def test_at_the_limits_of_focus_the_circle_is_the_greatest_allowed(focal, times, f_stop, circle) -> None:
    lens = {"focal": focal, "f_stop": f_stop}
    near, far = (limit(focal * times, circle=circle, **lens) for limit in (near_limit, far_limit))
    assert blur_circle(near, focus=focal * times, **lens) == pytest.approx(circle, rel=1e-6)
    assert near < focal * times < far
    if np.isfinite(far):
        assert blur_circle(far, focus=focal * times, **lens) == pytest.approx(circle, rel=1e-6)
    else:
        assert blur_circle(np.inf, focus=focal * times, **lens) <= circle * (1 + 1e-9)


@given(focal=FOCAL, f_stop=F_STOP, circle=CIRCLE)
def test_focused_at_infinity_it_is_sharp_from_the_hyperfocal_distance_on(focal, f_stop, circle) -> None:
    lens = {"focal": focal, "f_stop": f_stop, "circle": circle}
    assert near_limit(np.inf, **lens) == pytest.approx(float(hyperfocal(focal, f_stop=f_stop, circle=circle)))
    assert far_limit(np.inf, **lens) == np.inf


@given(focal=FOCAL, f_stop=F_STOP, circle=CIRCLE)
def test_focused_at_the_hyperfocal_distance_it_is_sharp_from_half_of_it_to_infinity(focal, f_stop, circle) -> None:
    lens = {"focal": focal, "f_stop": f_stop, "circle": circle}
    # with the short form of H the far limit comes to infinity a focal length farther
    distance = hyperfocal(focal, f_stop=f_stop, circle=circle) + focal
    assert near_limit(distance, **lens) == pytest.approx(float(distance) / 2, rel=1e-9)
    assert far_limit(distance * (1 - 1e-9), **lens) > 1e6 * distance
    assert far_limit(distance * (1 + 1e-9), **lens) == np.inf


@pytest.mark.parametrize(("m", "close"), [(0.072, 0.004), (0.25, 5e-4), (0.5, 2e-4), (2.0, 2e-4)])
def test_close_up_the_sharp_zone_is_as_deep_as_the_handbooks_form_says(m: float, close: float) -> None:
    lens = {"focal": 0.05, "f_stop": 8.0, "circle": 25.4e-6}
    focus = 0.05 * (1 + 1 / m)
    assert magnification(0.05, focus=focus) == pytest.approx(m)
    depth = far_limit(focus, **lens) - near_limit(focus, **lens)
    assert close_up_depth(m, f_stop=8.0, circle=25.4e-6) == pytest.approx(float(depth), rel=close)


def test_blur_broadcasts_over_frames_and_levels() -> None:
    distance = np.full((3, 2), 0.5)
    blur = blur_circle(distance, focal=np.full((3, 1), 0.05), focus=np.full((3, 1), 0.5), f_stop=8.0)
    assert blur.shape == (3, 2)
    assert not blur.any()
