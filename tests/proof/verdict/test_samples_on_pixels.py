# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether the samples of a frame lie on its pixels, just inside and just outside of what the grid itself does."""

import pytest

from underglass.proof.measure.passes import Lattice, MeasuredFrame
from underglass.proof.verdict.samples_on_pixels import lattice_faults


@pytest.mark.parametrize(
    ("spacing", "farthest_px", "off"),
    [
        # a hundredth of what lies between two samples, and 0.005 px for single precision
        (1.0, 0.0149, False),
        (1.0, 0.0151, True),
        (64.0, 0.6449, False),
        (64.0, 0.6451, True),
    ],
)
def test_a_frame_that_does_not_lie_on_its_pixels(spacing: float, farthest_px: float, off: bool) -> None:
    lattice = Lattice(spacing, 457, 333, (0.0, 0.0), (1.0, 1.0), (0.0, 0.0), farthest_px, placed=True)
    codes = [fault.code for fault in lattice_faults({1: MeasuredFrame({}, lattice)})]
    assert codes == (["off-grid"] if off else [])
