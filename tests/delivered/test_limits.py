# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits of judging delivered frames, just inside and just outside, on fits and passes that are made by hand."""

from dataclasses import replace

import numpy as np
import pytest

from underglass.proof.measure.measured_corners import Fit
from underglass_headless.delivered.files.pass_fits import LevelPass
from underglass_headless.delivered.judging.delivered_verdict import _good_fits
from underglass_headless.delivered.whole.flattened_passes import flattened

SQUARE = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)])
FIT = Fit(SQUARE, 0.1, 0.001, 10_000, False, 10_000.0, SQUARE, 0.001)


@pytest.mark.parametrize(("uncertainty_px", "good"), [(0.299, True), (0.301, False)])
def test_a_fit_three_times_as_uncertain_as_most_of_its_level_says_nothing(uncertainty_px: float, good: bool) -> None:
    fits = {(frame, 0): FIT for frame in range(1, 10)} | {(10, 0): replace(FIT, uncertainty_px=uncertainty_px)}
    assert ((10, 0) in _good_fits(fits, 0.05)) == good
    # to a tolerance that it meets it is good enough all the same
    assert (10, 0) in _good_fits(fits, 0.5)


def cut_at(most: float, *, share: float = 0.3) -> LevelPass:
    """Return passes of a level in which no number is above ``most``, and a ``share`` of the coordinates is at it."""
    along = np.minimum(np.linspace(0.01, 1.0, 120) * most / (1 - share), most)
    u, v = np.meshgrid(along, along)
    return LevelPass(*(values.astype(np.float32) for values in (u, v, np.full_like(u, most))))


def is_told_as_cut(made: LevelPass) -> bool:
    found = flattened({0: made}, wrong={0}, names=["boat"], corners=SQUARE[None])
    return found is not None and "were cut off" in str(found)


@pytest.mark.parametrize(("most", "told"), [(0.969, True), (0.971, False)])
def test_what_is_cut_off_near_one_may_be_a_whole_mark(most: float, told: bool) -> None:
    assert is_told_as_cut(cut_at(most)) == told


@pytest.mark.parametrize(("share", "told"), [(0.22, True), (0.18, False)])
def test_numbers_are_cut_off_where_a_fifth_of_them_is_at_the_greatest(share: float, told: bool) -> None:
    assert is_told_as_cut(cut_at(0.5, share=share)) == told
