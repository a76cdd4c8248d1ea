# SPDX-License-Identifier: GPL-3.0-or-later
"""The lines on which large frames are looked at hold what the file holds there, however it is windowed."""

import numpy as np
import pytest

from underglass_headless.delivered.art.lines_of_pixels import Lines

LARGE, SMALL = (640, 480), (64, 48)


@pytest.mark.parametrize("size", [LARGE, SMALL])
@pytest.mark.parametrize(
    ("left", "top", "more"),
    [(0, 0, (0, 0)), (-5, -3, (9, 8)), (-5, 0, (5, 0)), (4, 0, (0, 0)), (0, 2, (0, -6)), (-4, 3, (2, 1))],
)
def test_values_are_those_of_the_pixels_and_none_where_the_file_holds_none(
    size: tuple[int, int], left: int, top: int, more: tuple[int, int]
) -> None:
    lines = Lines.of(size)
    # every pixel tells where in the frame it lies, from 1 on
    columns, rows = np.meshgrid(np.arange(size[0] + more[0]) + left, np.arange(size[1] + more[1]) + top)
    values, known = lines.values((columns + 10_000 * rows + 100_000).astype(np.float64), left, top)
    held = (lines.columns >= left) & (lines.columns < left + size[0] + more[0])
    held &= (lines.rows >= top) & (lines.rows < top + size[1] + more[1])
    np.testing.assert_array_equal(known, held)
    np.testing.assert_array_equal(values, np.where(held, lines.columns + 10_000 * lines.rows + 100_000, 0))
