# SPDX-License-Identifier: GPL-3.0-or-later
"""Names and numbers as people read them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.proof import wording


@given(st.text(max_size=60))
def test_no_text_breaks_its_line(text):
    assert all(c.isprintable() or c in "\u200c\u200d" or c.isspace() for c in wording.plain(text))
    assert "\n" not in wording.plain(text)


@given(st.text(max_size=60), st.integers(2, 30))
def test_a_cut_name_is_no_wider_than_asked(text, columns):
    assert len(wording.shortened(text, columns=columns).replace("\u200d", "")) <= max(columns, len(text))
    assert wording.shortened("x" * 99, columns=columns) == "x" * (columns - 1) + "…"
    assert wording.shortened("葉" * 99, columns=columns) == "葉" * ((columns - 1) // 2) + "…"


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (-1.26, 1, "−1.3"),
        (-0.0004, 3, "0.000"),
        (0.0, 0, "0"),
        (2.5, 3, "2.500"),
        (float("nan"), 2, "–"),
        (None, 2, "–"),
    ],
)
def test_numbers(value, digits, text):
    assert wording.number(value, digits) == text


@pytest.mark.parametrize(
    ("value", "text"), [(0.00234, "0.002 px"), (4.3149, "4.315 px"), (43.149, "43.15 px"), (1234.56, "1234.6 px")]
)
def test_displacements_have_as_many_decimals_as_they_need(value, text):
    assert wording.px(value) == text


def test_a_measured_error_comes_with_its_doubt():
    assert wording.give_or_take(0.0104, 0.0021) == "0.010 ± 0.002 px"
    assert wording.give_or_take(0.0104, None) == "0.010 px"


def test_growth_holds_only_where_nothing_stirs():
    assert wording.growth(1000.0, 1500.0) == "× 1.500"
    assert wording.growth(1000.0, 1000.02) == "holds"
    assert wording.growth(1000.0, 1000.0, range_px=30.0) == "× 1.000"


def test_lengths_are_in_the_units_of_the_stand():
    assert wording.length(0.0254 * 13.5, "in") == "13.50"
    assert wording.length(0.3429, "mm") == "342.9"


def test_lists_say_how_many_more():
    assert wording.listed(["reeds"]) == "reeds"
    assert wording.listed(["reeds", "boat", "sky"]) == "reeds, boat and sky"
    assert wording.listed(["a", "b", "c", "d", "e"]) == "a, b, c and 2 more"
