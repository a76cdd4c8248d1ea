# SPDX-License-Identifier: GPL-3.0-or-later
"""Fringes tell finely where on the art a pixel lies, and the names of passes what is in them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.optics.pass_fringes import (
    MOST_PASSES,
    SHARED,
    fine_coordinate,
    fringe_counts,
    most_levels,
    parse_pass,
    pass_name,
)

counts = st.integers(1, 64)


@given(st.floats(0.0, 1.0), counts, st.floats(-0.4, 0.4), st.floats(0.01, 1.0))
def test_a_coordinate_comes_back_whatever_the_contrast_where_the_coarse_one_tells_the_fringe(
    place: float, count: int, off: float, contrast: float
) -> None:
    phase = 2 * np.pi * count * place
    fine = fine_coordinate(
        np.array([place + off / count]),
        cosine=np.array([contrast * np.cos(phase)]),
        sine=np.array([contrast * np.sin(phase)]),
        count=count,
    )
    assert fine[0] == pytest.approx(place, abs=1e-9)


@given(st.integers(0, 9999), st.none() | st.tuples(counts, counts))
def test_the_name_of_a_pass_tells_its_level_and_fringes(level: int, fringes: tuple[int, int] | None) -> None:
    assert parse_pass(pass_name(level, counts=fringes)) == (level, fringes)


@pytest.mark.parametrize(
    "name", ["", "proof", "proofs", "proof3u16", "proof3u16v12s", "my proof3", "Combined", *SHARED]
)
def test_a_pass_of_another_kind_is_of_no_level(name: str) -> None:
    assert parse_pass(name) is None


def test_a_fringe_is_about_24_px_wide_and_there_are_one_to_64() -> None:
    assert fringe_counts(480.0, shape=0.5) == (20, 10)
    assert fringe_counts(3.0, shape=900.0) == (1, 64)


def test_levels_with_shared_passes_fill_what_eevee_can_write() -> None:
    # Blender 4.5 to 5.2 write 16; of 17, 5.0 writes none and says "Too many AOVs", 5.2 leaves one out (tried out).
    assert most_levels() + len(SHARED) == MOST_PASSES == 16
    assert most_levels(5) == 9
    assert most_levels(40) == 0
