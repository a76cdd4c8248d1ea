# SPDX-License-Identifier: GPL-3.0-or-later
"""The verdict on one level of one frame, just inside and just outside of each limit.

The limits are written out here and not taken from the module: a test that asks the module what its limit is would
follow it anywhere.
"""

from dataclasses import replace

import numpy as np
import pytest

from proof.readings import reading_of
from report import synthetic
from underglass.plan import corners_px
from underglass.proof.measure.measured_corners import Fit
from underglass.proof.proof_facts import FAIL, PASS, Measurement
from underglass.proof.verdict.judge_levels import TOO_LITTLE, judge_level, levels_in_place

PLAN = synthetic.plan()
LEVEL, FRAME = "boat", 24
COLUMN = PLAN.names.index(LEVEL)
RIGHT, TOP = (side / 2 for side in PLAN.shot.camera.frame_px)
TOLERANCE_PX = 0.05


def box(left: float, low: float, right: float, high: float) -> np.ndarray:
    return np.array([(left, low), (right, low), (right, high), (left, high)])


def judged(place: np.ndarray, fit: Fit | None, **said: object) -> Measurement:
    """Return the verdict on a level that is planned at ``place`` (4, 2) px and whose pixels come to ``fit``."""
    corners = corners_px(PLAN).copy()
    corners[FRAME - 1, COLUMN] = place
    return judge_level(PLAN, corners=corners, frame=FRAME, level=LEVEL, fit=fit, tolerance=TOLERANCE_PX, **said)


# -- where pixels are found --------------------------------------------------------------------------------------------

PLACE = box(-200.0, -150.0, 200.0, 150.0)
WELL = Fit(PLACE, 0.004, 0.001, 10_000, False, 120_000.0, PLACE, 0.001)


@pytest.mark.parametrize(("off", "verdict"), [(0.0459, PASS), (0.0461, FAIL)])
def test_an_error_and_its_uncertainty_are_held_to_the_tolerance_together(off: float, verdict: str) -> None:
    # 0.004 px of uncertainty leave 0.046 px of the tolerance
    assert judged(PLACE, replace(WELL, corners=PLACE + np.array([off, 0.0]))).verdict == verdict


@pytest.mark.parametrize(("missing", "verdict"), [(3, PASS), (4, FAIL)])
def test_three_samples_may_by_chance_show_nothing(missing: int, verdict: str) -> None:
    m = judged(PLACE, replace(WELL, missing=missing))
    assert (m.verdict, m.whole) == (verdict, verdict == PASS)


@pytest.mark.parametrize(
    ("strange", "by_px", "scene_tells", "why"),
    [
        (4, 0.051, True, "strange-pixels"),
        (3, 0.051, True, ""),
        (4, 0.049, True, ""),
        # Without a scene the pixels are those of a delivered frame: each the mean over its filter, 2 px.
        (4, 2.1, False, "strange-pixels"),
        (4, 1.9, False, ""),
    ],
)
def test_pixels_that_are_not_as_the_rest(strange: int, by_px: float, scene_tells: bool, why: str) -> None:
    fit = replace(WELL, strange=strange, strange_px=by_px)
    assert judged(PLACE, fit, scene_tells=scene_tells).why == why


@pytest.mark.parametrize(("worst_px", "scene_tells", "flat"), [
    (0.049, True, True), (0.051, True, False), (1.9, False, True), (2.1, False, False),
])  # fmt: skip
def test_a_level_whose_pixels_lie_off_one_plane_is_not_flat(worst_px: float, scene_tells: bool, flat: bool) -> None:
    m = judged(PLACE, replace(WELL, worst_px=worst_px), scene_tells=scene_tells)
    assert m.why == ("" if flat else "not-flat")


@pytest.mark.parametrize(("doubled", "why"), [(403, ""), (404, "two-surfaces")])
def test_a_seam_shows_twice_along_a_row_and_a_column_of_the_grid(doubled: int, why: str) -> None:
    # 10,000 pixels of 12 px²: 700 px of rows and columns are 202.07 samples, twice that 404.1, and three by chance
    fit = replace(WELL, doubled=doubled + 4)
    assert judged(PLACE, fit).why == why


# -- slivers: of a level of 1000 px a strip at the right edge of the frame ---------------------------------------------


def sliver(share: float, *, uncertainty_px: float = 0.04, strays_px: float = 0.006) -> Measurement:
    """Return the verdict on a level that shows by a ``share``: its far corners seem 0.06 px off, what shows less."""
    place = box(RIGHT - 1000 * share, -500.0, RIGHT + 1000 * (1 - share), 500.0)
    shown = box(RIGHT - 1000 * share, -500.0, RIGHT, 500.0)
    far_off = np.array([(0.0, 0.0), (0.06, 0.0), (0.06, 0.0), (0.0, 0.0)])
    return judged(place, Fit(place + far_off, uncertainty_px, 0.001, 500, False, 1e6 * share, shown, strays_px))


@pytest.mark.parametrize(("share", "verdict"), [(0.099, PASS), (0.101, FAIL)])
def test_a_tenth_of_a_level_is_enough_to_tell_its_far_corners(share: float, verdict: str) -> None:
    assert sliver(share).verdict == verdict


@pytest.mark.parametrize(("uncertainty_px", "verdict"), [(0.0301, PASS), (0.0299, FAIL)])
def test_the_corners_of_a_sliver_may_be_out_by_their_uncertainty_twice(uncertainty_px: float, verdict: str) -> None:
    m = sliver(0.05, uncertainty_px=uncertainty_px)
    assert (m.verdict, m.remark == TOO_LITTLE) == (verdict, verdict == PASS)


@pytest.mark.parametrize(("strays_px", "verdict"), [(0.046, PASS), (0.048, FAIL)])
def test_what_shows_of_a_sliver_is_held_to_the_tolerance(strays_px: float, verdict: str) -> None:
    # what shows is off by 0.06 px · 0.05 = 0.003 px
    assert sliver(0.05, strays_px=strays_px).verdict == verdict


# -- where no pixels are found -----------------------------------------------------------------------------------------


def unseen(width: float, height: float, **said: object) -> str:
    """Return the verdict on a level of which no pixels were found, ``width`` × ``height`` px of it in the frame."""
    return judged(box(0.0, 0.0, width, height), None, **said).verdict


@pytest.mark.parametrize(("area", "verdict"), [(399.0, PASS), (401.0, FAIL)])
def test_a_level_of_more_than_400_square_pixels_is_missed(area: float, verdict: str) -> None:
    assert unseen(20.0, area / 20.0, scene_tells=False) == verdict
    # half of it beyond the edge of the frame
    place = box(RIGHT - 20.0, TOP - area / 20.0, RIGHT + 20.0, TOP)
    assert judged(place, None, scene_tells=False).verdict == verdict


@pytest.mark.parametrize(
    ("width", "height", "spacing", "hits", "verdict"),
    [
        # It can be fitted from 24 samples on, if 3 lie across it: 5 px apart these are 600 px² and 15 px.
        (24.0, 599 / 24, 5.0, 20, PASS),
        (24.0, 601 / 24, 5.0, 20, FAIL),
        (100.0, 14.9, 5.0, 20, PASS),
        (100.0, 15.1, 5.0, 20, FAIL),
        # It is gone where none of 12 samples shows it, if 2 lie across it: 6 px apart these are 432 px² and 12 px.
        (34.0, 431 / 34, 6.0, 0, PASS),
        (34.0, 433 / 34, 6.0, 0, FAIL),
        (100.0, 11.9, 6.0, 0, PASS),
        (100.0, 12.1, 6.0, 0, FAIL),
        # It is not gone where a quarter of its samples show it: 28 of 112.
        (200.0, 14.0, 5.0, 27, FAIL),
        (200.0, 14.0, 5.0, 28, PASS),
    ],
)
def test_on_a_grid_a_level_is_missed_where_enough_samples_should_show_it(
    width: float, height: float, spacing: float, hits: int, verdict: str
) -> None:
    assert unseen(width, height, spacing=spacing, hits=hits) == verdict


# -- the scene's own numbers -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("off_px", "in_place"), [(1.9e-4, True), (2.1e-4, False)])
def test_a_level_is_in_its_place_where_only_roundings_are_left(off_px: float, in_place: bool) -> None:
    reading = reading_of(PLAN)
    corners = reading.corners.copy()
    corners[FRAME - 1, COLUMN, :, 0] += off_px / PLAN.scale[FRAME - 1, COLUMN]
    found = levels_in_place(PLAN, reading=replace(reading, corners=corners))
    assert found == set(PLAN.names) - (set() if in_place else {LEVEL})
