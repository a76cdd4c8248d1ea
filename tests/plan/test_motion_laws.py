# SPDX-License-Identifier: GPL-3.0-or-later
"""The laws of motion: what they do at their ends, in between, and backwards. No outside numbers."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import BPoly
from scipy.optimize import brentq

from underglass.plan import motion_laws

readings = st.floats(-100.0, 100.0)
positive = st.floats(0.01, 100.0)
spans = st.integers(1, 200)


@st.composite
def fairings(draw: st.DrawFn) -> tuple[int, float, float]:
    """Draw a span with the steps over which it leaves rest and comes to rest, in sixths of a step."""
    span = draw(spans)
    slow_out = draw(st.integers(0, 6 * span)) / 6
    return span, slow_out, draw(st.integers(0, int(6 * (span - slow_out)))) / 6


@given(fairing=fairings(), start=positive, end=positive)
def test_every_law_reads_from_and_to_at_its_ends_to_the_last_bit(
    fairing: tuple[int, float, float], start: float, end: float
) -> None:
    span, slow_out, slow_in = fairing
    steps = np.arange(span + 1)
    for track in (
        motion_laws.steady(steps, span=span, start=start, end=end, slow_out=slow_out, slow_in=slow_in),
        motion_laws.sine(steps, span=span, start=start, end=end),
        motion_laws.bezier(steps, span=span, start=start, end=end, slow_out=slow_out, slow_in=slow_in),
        motion_laws.ratio(steps, span=span, start=start, end=end),
    ):
        assert len(track) == span + 1
        assert (track[0], track[-1]) == (start, end)


@given(fairing=fairings(), start=readings, travel=positive)
def test_no_law_turns_back_or_goes_past_its_end(fairing: tuple[int, float, float], start: float, travel: float) -> None:
    span, slow_out, slow_in = fairing
    steps = np.arange(span + 1)
    for track in (
        motion_laws.steady(steps, span=span, start=start, end=start + travel, slow_out=slow_out, slow_in=slow_in),
        motion_laws.sine(steps, span=span, start=start, end=start + travel),
        motion_laws.bezier(steps, span=span, start=start, end=start + travel, slow_out=slow_out, slow_in=slow_in),
        motion_laws.ratio(steps, span=span, start=1.0, end=1.0 + travel),
    ):
        assert (np.diff(track) >= -1e-9 * travel).all()


@given(fairing=fairings(), start=readings, end=readings)
def test_a_move_shot_backwards_is_the_mirror_image(fairing: tuple[int, float, float], start: float, end: float) -> None:
    span, slow_out, slow_in = fairing
    steps = np.arange(span + 1)
    there = motion_laws.steady(steps, span=span, start=start, end=end, slow_out=slow_out, slow_in=slow_in)
    back = motion_laws.steady(steps, span=span, start=end, end=start, slow_out=slow_in, slow_in=slow_out)
    np.testing.assert_allclose(back, there[::-1], atol=1e-9)
    np.testing.assert_allclose(
        motion_laws.sine(steps, span=span, start=end, end=start),
        motion_laws.sine(steps, span=span, start=start, end=end)[::-1],
        atol=1e-9,
    )


@given(span=spans, start=positive, end=positive)
def test_a_ratio_shot_backwards_is_the_same_ratio(span: int, start: float, end: float) -> None:
    steps = np.arange(span + 1)
    there = motion_laws.ratio(steps, span=span, start=start, end=end)
    np.testing.assert_allclose(motion_laws.ratio(steps, span=span, start=end, end=start), there[::-1], rtol=1e-9)
    np.testing.assert_allclose(there[1:] / there[:-1], (end / start) ** (1 / span), rtol=1e-9)


@given(span=spans, start=positive, end=positive)
def test_a_ratio_of_distances_behind_the_origin_keeps_its_sign(span: int, start: float, end: float) -> None:
    steps = np.arange(span + 1)
    np.testing.assert_allclose(
        motion_laws.ratio(steps, span=span, start=-start, end=-end),
        -motion_laws.ratio(steps, span=span, start=start, end=end),
    )


@given(fairing=fairings(), start=readings, end=readings)
def test_fairing_is_uniform_acceleration_then_a_steady_run(
    fairing: tuple[int, float, float], start: float, end: float
) -> None:
    # A second formula: speed goes up in a straight line, stays, goes down; the way is the area under it.
    span, slow_out, slow_in = fairing
    fine = np.linspace(0, span, 4001)
    corners = [0.0, slow_out, span - slow_in, span]
    speed = np.interp(fine, corners, [float(slow_out == 0), 1.0, 1.0, float(slow_in == 0)])
    way = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2 * np.diff(fine))])
    track = motion_laws.steady(fine, span=span, start=start, end=end, slow_out=slow_out, slow_in=slow_in)
    np.testing.assert_allclose(track, start + (end - start) * way / way[-1], atol=1e-3 * abs(end - start) + 1e-9)


@given(fairing=fairings(), start=readings, end=readings)
def test_a_bezier_move_is_what_scipy_makes_of_its_four_points(
    fairing: tuple[int, float, float], start: float, end: float
) -> None:
    span, slow_out, slow_in = fairing
    curve = BPoly(np.array([(0, start), (slow_out, start), (span - slow_in, end), (span, end)])[:, None], [0.0, 1.0])
    track = motion_laws.bezier(np.arange(span + 1), span=span, start=start, end=end, slow_out=slow_out, slow_in=slow_in)
    for step in range(1, span):
        t = brentq(lambda t, step=step: float(curve(t)[0]) - step, 0.0, 1.0, xtol=1e-15)
        assert track[step] == pytest.approx(float(curve(t)[1]), abs=1e-7 * (abs(end - start) + 1e-6))


def test_a_bezier_move_with_handles_of_a_third_is_smoothstep() -> None:
    s = np.arange(25) / 24
    track = motion_laws.bezier(np.arange(25), span=24, start=1.0, end=5.0, slow_out=8.0, slow_in=8.0)
    np.testing.assert_allclose(track, 1.0 + 4.0 * (3 * s**2 - 2 * s**3), rtol=1e-15)


def test_without_fairing_a_steady_move_goes_the_same_way_every_frame() -> None:
    track = motion_laws.steady(np.arange(25), span=24, start=1.0, end=4.0)
    np.testing.assert_allclose(np.diff(track), 0.125, rtol=1e-12)


def test_a_longer_slow_out_makes_a_faster_run() -> None:
    speeds = [
        np.diff(motion_laws.steady(np.arange(25), span=24, start=0.0, end=1.0, slow_out=s, slow_in=s)).max()
        for s in (0, 4, 8, 12)
    ]
    assert speeds == sorted(speeds)
    assert len(set(speeds)) == 4


def test_a_sine_move_is_half_way_at_half_time_and_fastest_there() -> None:
    track = motion_laws.sine(np.arange(25), span=24, start=2.0, end=6.0)
    assert track[12] == pytest.approx(4.0)
    assert np.diff(track).argmax() in (11, 12)
