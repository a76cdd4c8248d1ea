# SPDX-License-Identifier: GPL-3.0-or-later
"""The shapes of a deviation: each mistake of an operator is told by what it does to a track."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.plan import motion_laws
from underglass.proof.diagnose.deviation_shapes import Shape, shape_of

FRAMES = 97
FLOOR = 1e-5


def move(*, first: int = 20, last: int = 70, start: float = 0.2, end: float = 0.7, slow: float = 12) -> np.ndarray:
    """Return a track that holds, goes from ``start`` to ``end`` with fairing, and holds again."""
    steps = np.clip(np.arange(FRAMES) - first, 0, last - first)
    return motion_laws.steady(steps, span=last - first, start=start, end=end, slow_out=slow, slow_in=slow)


def shape(seen: np.ndarray, planned: np.ndarray | None = None) -> tuple[Shape, float]:
    found = shape_of(move() if planned is None else planned, seen=seen, floor=FLOOR)
    return found.shape, found.amount


@given(by=st.floats(0.001, 0.5), sign=st.sampled_from([1, -1]))
def test_an_axis_that_was_set_wrong_from_the_start_is_offset(by: float, sign: int) -> None:
    found, amount = shape(move() + sign * by)
    assert found is Shape.OFFSET
    assert amount == pytest.approx(sign * by)


def test_a_still_axis_that_stands_elsewhere_is_offset_too() -> None:
    assert shape(np.full(FRAMES, 0.31), np.full(FRAMES, 0.3)) == (Shape.OFFSET, pytest.approx(0.01))


FRAMES_OFF = [1, 2, 6, 12, 13, 19]


@pytest.mark.parametrize("by", FRAMES_OFF)
def test_a_move_that_begins_later_is_late_by_so_many_frames(by: int) -> None:
    assert shape(move(first=20 + by, last=70 + by)) == (Shape.LATE, by)


@pytest.mark.parametrize("by", FRAMES_OFF)
def test_a_move_that_begins_sooner_is_early_by_so_many_frames(by: int) -> None:
    assert shape(move(first=20 - by, last=70 - by)) == (Shape.EARLY, by)


def test_a_move_made_early_that_a_hold_shows_further_than_planned_is_early() -> None:
    rows = np.arange(24)
    steady = 0.2 + 0.1 * np.clip(rows - 6, 0, 17)
    held, sooner = steady[rows // 3 * 3], np.append(steady[3:], steady[-1:].repeat(3))[rows // 3 * 3]
    assert sooner[-1] > held[-1]
    assert shape(sooner, held) == (Shape.EARLY, 3)


def test_half_of_a_jump_there_and_back_is_half_and_not_early() -> None:
    planned = np.repeat([0.2, 0.4, 0.2], [9, 8, 9])
    assert shape(0.2 + (planned - 0.2) / 2, planned) == (Shape.TOO_FAR, pytest.approx(0.5))


def test_a_late_move_is_late_however_fast_it_goes() -> None:
    assert shape(move(first=33, last=43, slow=0), move(first=30, last=40, slow=0)) == (Shape.LATE, 3)


@given(start=st.floats(-1, 1), travel=st.floats(0.05, 1), sign=st.sampled_from([1, -1]))
def test_a_move_the_wrong_way_is_reversed(start: float, travel: float, sign: int) -> None:
    planned = move(start=start, end=start + sign * travel)
    assert shape(move(start=start, end=start - sign * travel), planned)[0] is Shape.REVERSED


def test_a_track_that_runs_from_its_end_to_its_start_is_reversed() -> None:
    assert shape(move(start=0.7, end=0.2))[0] is Shape.REVERSED


def test_an_axis_that_was_not_moved_is_still() -> None:
    found, amount = shape(np.full(FRAMES, 0.2))
    assert found is Shape.STILL
    assert amount == pytest.approx(-0.5)


@given(factor=st.one_of(st.floats(0.2, 0.9), st.floats(1.1, 3.0)))
def test_a_move_that_goes_too_far_or_not_far_enough_is_told_by_its_factor(factor: float) -> None:
    found, amount = shape(move(end=0.2 + 0.5 * factor))
    assert found is Shape.TOO_FAR
    assert amount == pytest.approx(factor)


def test_a_move_without_its_fairing_is_uneven_and_not_late() -> None:
    assert shape(move(slow=0))[0] is Shape.UNEVEN


def test_a_move_by_another_law_is_uneven() -> None:
    steps = np.clip(np.arange(FRAMES) - 20, 0, 50)
    assert shape(motion_laws.sine(steps, span=50, start=0.2, end=0.7), move(slow=0))[0] is Shape.UNEVEN


def test_an_axis_that_no_single_mistake_explains_strays() -> None:
    rng = np.random.default_rng(3)
    assert shape(move() + rng.normal(0, 0.05, FRAMES) + 0.2)[0] is Shape.STRAYS


def test_frames_on_which_it_is_off_run_from_the_first_to_the_last() -> None:
    seen = move()
    seen[40:45] += [0.01, 0.02, 0.05, 0.02, 0.01]
    found = shape_of(move(), seen=seen, floor=FLOOR)
    assert (found.first, found.last, found.worst) == (40, 44, 42)
    assert found.shape is Shape.UNEVEN
    assert found.amount == pytest.approx(0.05)


def test_what_lies_below_the_floor_is_there() -> None:
    seen = move()
    seen[:50] += FLOOR / 3
    seen[50] += 0.1
    found = shape_of(move(), seen=seen, floor=FLOOR)
    assert (found.first, found.last) == (50, 50)


@pytest.mark.parametrize("count", [1, 2])
def test_the_shortest_of_shots_have_a_shape_too(count: int) -> None:
    assert shape(np.full(count, 0.5), np.full(count, 0.2))[0] is Shape.OFFSET


def test_a_short_move_made_from_its_end_to_its_start_is_reversed_and_not_late() -> None:
    planned = np.linspace(0.2, 0.7, 8)
    assert shape(planned[::-1].copy(), planned)[0] is Shape.REVERSED


def test_a_slip_near_the_end_is_not_a_move_made_early() -> None:
    planned = np.concatenate([np.linspace(0.2, 0.7, 6), np.full(3, 0.7)])
    seen = planned.copy()
    seen[4] += 0.4
    assert shape(seen, planned)[0] is Shape.UNEVEN


def test_a_truck_by_ratio_the_wrong_way_is_reversed_though_its_way_is_longer() -> None:
    steps = np.arange(21.0)
    planned, seen = (motion_laws.ratio(steps, span=20, start=0.8, end=end) for end in (0.3, 1.3))
    assert np.abs(seen - 0.8 + planned - 0.8).max() > 0.08 * 0.5
    assert shape(seen, planned)[0] is Shape.REVERSED


def bezier(frames: np.ndarray, keys: tuple[float, float], handles: tuple[float, float]) -> np.ndarray:
    """Return a curve from 0 to 1 between two keys, eased by handles at these frames, as Blender draws it."""
    t = np.linspace(0.0, 1.0, 20001)
    weights = [(1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t**2, t**3]
    at = sum(weight * place for weight, place in zip(weights, (keys[0], *handles, keys[1]), strict=True))
    return np.interp(frames, at, weights[2] + weights[3])


@pytest.mark.parametrize("way", [1, -1])
def test_keys_that_were_moved_later_without_their_handles_are_late(way: int) -> None:
    frames = np.arange(1.0, 9.0)
    planned = 1.5 + 0.1 * bezier(frames, (1, 8), (3.73, 5.27))[::way]
    seen = 1.5 + 0.1 * bezier(frames, (3, 10), (3.73, 5.27))[::way]
    found = shape_of(planned, seen=seen, floor=1e-6)
    assert (found.shape, found.amount) == (Shape.LATE if way > 0 else Shape.EARLY, 2)


def test_a_move_that_leaves_late_and_goes_elsewhere_is_not_called_late() -> None:
    planned = np.linspace(0.0, 1.0, 25)
    seen = np.concatenate([np.zeros(3), np.linspace(0.0, 2.0, 22) ** 2])
    assert shape_of(planned, seen=seen, floor=1e-6).shape is Shape.STRAYS


# -- just inside and just outside of each limit; the limits are written out, or a test would follow them anywhere ------


@pytest.mark.parametrize(("by", "late"), [(48, True), (49, False)])
def test_a_move_is_late_by_two_seconds_at_the_most(by: int, late: bool) -> None:
    planned = 0.2 + 0.05 * np.clip(np.arange(60) - 2, 0, 6)
    seen = 0.2 + 0.05 * np.clip(np.arange(60) - 2 - by, 0, 6)
    assert (shape(seen, planned)[0] is Shape.LATE) == late


@pytest.mark.parametrize(("cosine", "is_reversed"), [(-0.91, True), (-0.89, False)])
def test_a_move_is_reversed_whose_steps_lie_against_the_planned_ones(cosine: float, is_reversed: bool) -> None:
    way = np.linspace(0.0, 1.0, FRAMES)
    aside = np.sin(3 * np.pi * way)
    aside -= way * (aside @ way) / (way @ way)
    did = cosine * way / np.linalg.norm(way) + np.sqrt(1 - cosine**2) * aside / np.linalg.norm(aside)
    assert (shape(0.2 + did, 0.2 + way)[0] is Shape.REVERSED) == is_reversed


@pytest.mark.parametrize(("left", "offset"), [(0.079, True), (0.081, False)])
def test_an_offset_may_leave_eight_hundredths_of_itself(left: float, offset: bool) -> None:
    uneven = np.where(np.arange(FRAMES) % 2, 0.0, 0.1 * left)
    assert (shape(move() + 0.1 - uneven)[0] is Shape.OFFSET) == offset


@pytest.mark.parametrize(("share", "still"), [(0.079, True), (0.081, False)])
def test_an_axis_that_goes_less_than_eight_hundredths_of_its_way_stands_still(share: float, still: bool) -> None:
    planned = move()
    assert (shape(planned[0] + share * (planned - planned[0]), planned)[0] is Shape.STILL) == still
