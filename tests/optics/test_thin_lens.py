# SPDX-License-Identifier: GPL-3.0-or-later
"""The thin lens by its inverse, by the lens equation written the other way, and at its limits. No outside numbers."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from underglass.optics import thin_lens

focals = st.floats(0.005, 0.5)
# From hardly beyond the focal length to a thousand of them away.
times = st.floats(1.01, 1000.0)


@given(f=focals, t=times)
def test_one_over_f_is_one_over_u_plus_one_over_v(f: float, t: float) -> None:
    v = float(thin_lens.image_distance(f, focus=f * t))
    assert 1 / f == pytest.approx(1 / (f * t) + 1 / v, rel=1e-12)


@given(f=focals, t=times)
def test_the_distance_that_is_sharp_at_an_image_distance_is_the_one_that_gave_it(f: float, t: float) -> None:
    v = thin_lens.image_distance(f, focus=f * t)
    # Far away, a hair's breadth of the film is metres of the scene.
    assert thin_lens.focus_of(f, image=v) == pytest.approx(f * t, rel=1e-14 * t + 1e-12)


@given(f=focals, t=times)
def test_film_and_art_may_change_places(f: float, t: float) -> None:
    v = float(thin_lens.image_distance(f, focus=f * t))
    assume(v > f * 1.001)
    assert thin_lens.image_distance(f, focus=v) == pytest.approx(f * t, rel=1e-9)
    m = thin_lens.magnification(f, focus=f * t)
    assert thin_lens.magnification(f, focus=v) == pytest.approx(1 / m, rel=1e-9)


@given(f=focals, t=times)
def test_magnification_is_v_over_u_and_the_draw_over_f(f: float, t: float) -> None:
    v = float(thin_lens.image_distance(f, focus=f * t))
    m = thin_lens.magnification(f, focus=f * t)
    assert m == pytest.approx(1 / (t - 1), rel=1e-9)
    assert m == pytest.approx((v - f) / f, rel=1e-9, abs=1e-12)


def test_focused_at_infinity_the_film_is_a_focal_length_behind_the_lens() -> None:
    assert thin_lens.image_distance(0.05, focus=math.inf) == 0.05
    assert thin_lens.magnification(0.05, focus=math.inf) == 0
    assert thin_lens.focus_of(0.05, image=0.05) == math.inf
    # and at the distance of the Moon it is as good as there
    assert thin_lens.image_distance(0.05, focus=3.844e8) == pytest.approx(0.05, rel=1e-9)


def test_at_twice_the_focal_length_art_is_photographed_at_its_own_size() -> None:
    assert thin_lens.image_distance(0.05, focus=0.10) == pytest.approx(0.10, rel=1e-15)
    assert thin_lens.magnification(0.05, focus=0.10) == pytest.approx(1, rel=1e-15)


@pytest.mark.parametrize("focus", [0.05, 0.049, 0.0, -1.0])
def test_nothing_at_or_within_the_focal_length_has_an_image(focus: float) -> None:
    assert np.isnan(thin_lens.image_distance(0.05, focus=focus))
    assert np.isnan(thin_lens.magnification(0.05, focus=focus))


def test_the_nearer_the_focus_the_longer_the_draw() -> None:
    v = thin_lens.image_distance(0.05, focus=np.linspace(0.06, 5.0, 500))
    assert (np.diff(v) < 0).all()
    assert (v > 0.05).all()


@given(gate=st.floats(0.005, 0.07), v=focals, d=st.floats(0.05, 20.0))
def test_the_field_is_what_the_lens_angle_takes_in_at_that_distance(gate: float, v: float, d: float) -> None:
    angle = thin_lens.lens_angle(gate, image=v)
    assert 2 * d * math.tan(angle / 2) == pytest.approx(
        float(thin_lens.field_width(gate, image=v, distance=d)), rel=1e-12
    )


@given(f=focals, t=times, n=st.floats(1.0, 64.0))
def test_the_marked_stop_keeps_the_opening_of_the_lens(f: float, t: float, n: float) -> None:
    v = float(thin_lens.image_distance(f, focus=f * t))
    stop = float(thin_lens.marked_stop(n, focal=f, image=v))
    assert v / stop == pytest.approx(f / n, rel=1e-12)


def test_a_row_of_lenses_and_a_column_of_distances_make_a_table() -> None:
    table = thin_lens.image_distance([0.035, 0.05, 0.075], focus=np.array([[0.5], [1.0]]))
    assert table.shape == (2, 3)
    assert table[1, 2] == thin_lens.image_distance(0.075, focus=1.0)
