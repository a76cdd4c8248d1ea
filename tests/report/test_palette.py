# SPDX-License-Identifier: GPL-3.0-or-later
"""The colours of the levels stay apart for all eyes, on light paper and on dark."""

import itertools
import re

import numpy as np
import pytest

from underglass_headless.report import palette

# Full protanopia, deuteranopia and tritanopia in linear RGB: Machado, Oliveira and Fernandes, IEEE TVCG 15 (2009).
EYES = {
    "all colours": np.eye(3),
    "no red": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "no green": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "no blue": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
# Linear RGB to Oklab (B. Ottosson, 2020): a distance of 0.02 is about what one can just tell apart.
TO_CONES = np.array(
    [[0.41222147, 0.53633254, 0.05144599], [0.2119035, 0.68069955, 0.10739696], [0.08830246, 0.28171884, 0.6299787]]
)
TO_LAB = np.array(
    [[0.21045426, 0.79361779, -0.00407205], [1.9779985, -2.42859221, 0.45059371], [0.02590404, 0.78277177, -0.80867577]]
)
LEAST_APART = 0.09
# WCAG 2.1: 3 for lines and marks, 4.5 for text.
LEAST_CONTRAST_OF_LINES, LEAST_CONTRAST_OF_TEXT = 3.0, 4.5


def light_of(code: str) -> np.ndarray:
    value = np.array([int(code[place : place + 2], 16) for place in (1, 3, 5)]) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def contrast(one: str, two: str) -> float:
    bright, dark = sorted((light_of(code) @ [0.2126, 0.7152, 0.0722] for code in (one, two)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("paper", ["light", "dark"])
@pytest.mark.parametrize("eye", EYES)
def test_no_two_levels_look_alike(paper, eye):
    seen = [
        TO_LAB @ np.cbrt(TO_CONES @ np.clip(np.array(EYES[eye]) @ light_of(getattr(ink, paper)), 0, 1))
        for ink in palette.LEVEL_INKS
    ]
    apart = min(float(np.linalg.norm(one - two)) for one, two in itertools.combinations(seen, 2))
    assert apart >= LEAST_APART


@pytest.mark.parametrize("paper", ["light", "dark"])
def test_lines_and_words_stand_out_from_the_paper(paper):
    for ink in palette.LEVEL_INKS:
        assert contrast(getattr(ink, paper), getattr(palette.PAPER, paper)) >= LEAST_CONTRAST_OF_LINES
    for ink in (palette.TEXT, palette.MUTED, palette.HOLDS, palette.FAILS):
        assert contrast(getattr(ink, paper), getattr(palette.PAPER, paper)) >= LEAST_CONTRAST_OF_TEXT


def test_every_ink_has_a_code_of_its_own_so_that_it_can_follow_the_page():
    codes = [ink.light for ink in palette.INKS.values()]
    assert len(set(codes)) == len(codes)
    assert all(re.fullmatch("#[0-9a-f]{6}", code) for ink in palette.INKS.values() for code in ink)


def test_inks_in_a_drawing_follow_the_page_and_other_colours_stay():
    svg = f'<path style="fill: {palette.TEXT.light}; stroke: #123456"/>'
    assert palette.follow_page(svg) == '<path style="fill: var(--text); stroke: #123456"/>'


def test_levels_of_one_colour_have_different_marks():
    looks = {(palette.level_colour(column), palette.level_mark(column)) for column in range(72)}
    assert len(looks) == 72
