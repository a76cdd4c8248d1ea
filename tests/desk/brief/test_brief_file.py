# SPDX-License-Identifier: GPL-3.0-or-later
"""Reading a brief: what it may say, in which spellings, and what is said back where it is wrong."""

import math

import pytest

from desk.briefs import brief_in, brief_text, level
from underglass.shot import Law, ShotError
from underglass_headless.desk.brief.brief_file import read_brief

GATE = [level("gate", 4), level("star", "infinity")]
HEIGHT = {"height": 1000}


def test_a_short_walk_and_a_long_one_with_the_same_ends_are_the_same(tmp_path):
    short = brief_in(tmp_path / "a", levels=GATE, camera=HEIGHT, toward=[[1, 0], [25, 1], [49, 3]])
    legs = [{"first": 1, "last": 25, "to": 1}, {"first": 25, "last": 49, "from": 1, "to": 3, "law": "steady"}]
    assert brief_in(tmp_path / "b", levels=GATE, camera=HEIGHT, toward=legs).toward == short.toward


def test_feet_become_metres_and_infinity_stays(tmp_path):
    brief = brief_in(tmp_path, levels=GATE, camera=HEIGHT, toward=[[1, 0], [49, 10]], world_units="ft")
    assert brief.toward[0].end == pytest.approx(3.048)
    assert [element.distance for element in brief.elements] == [pytest.approx(4 * 0.3048), math.inf]


def test_a_leg_keeps_its_law_and_its_slows(tmp_path):
    legs = [
        {"first": 1, "last": 20, "to": 1, "slow_out": 4, "slow_in": 6},
        {"first": 20, "last": 30, "to": 2, "law": "sine"},
        {"first": 30, "last": 49, "to": 3, "law": "ratio", "about": "gate"},
    ]
    brief = brief_in(tmp_path, levels=GATE, camera=HEIGHT, toward=legs)
    assert [leg.law for leg in brief.toward] == [Law.STEADY, Law.SINE, Law.RATIO]
    assert (brief.toward[0].slow_out, brief.toward[0].slow_in, brief.toward[2].about) == (4, 6, "gate")


def test_lenses_may_be_several_and_the_height_open(tmp_path):
    camera = {"focal_mm": [35, 75, 50]}
    brief = brief_in(
        tmp_path, levels=GATE, camera=camera, stand={"camera_height": [300, 1000]}, across=[[1, 0], [9, 1]]
    )
    assert brief.lenses == (0.075, 0.05, 0.035)
    assert brief.camera_height is None


def test_without_a_word_of_the_painter_s_there_is_half_an_inch_of_bleed_and_no_field_below_50_mm(tmp_path):
    text = brief_text(levels=GATE, camera=HEIGHT, toward=[[1, 0], [49, 1]])
    (tmp_path / "brief.toml").write_text(text.replace("least_field = 0", ""), encoding="utf-8")
    paint = read_brief(tmp_path).paint
    assert (paint.bleed, paint.least_field) == (pytest.approx(0.0127), pytest.approx(0.050))


SLIPS = [
    ({"levels": [{"name": "gate", "distanse": 4}]}, "level.gate.distanse", "did you mean 'distance'?"),
    ({"levels": [level("gate", "far")]}, "level.gate.distance", 'write a number of m, or "infinity"'),
    ({"levels": [level("star", "infinity"), level("gate", 4)]}, "level.gate.distance", "nearest the lens first"),
    ({"levels": [level("gate", -4)]}, "level.gate.distance", "write a distance above 0"),
    ({"levels": [level("star", "infinity", across=[[1, 0], [9, 1]])]}, "level.star.across", "give it a distance"),
    ({"toward": [[1, 2], [49, 3]]}, "world.toward", "write [1, 0] first"),
    ({"toward": [[1, 0]]}, "world.toward", "begins and where it ends"),
    ({"toward": 3}, "world.toward", "a table for each leg"),
    ({"toward": [{"first": 1, "last": 9, "to": 1, "laws": "sine"}]}, "world.toward[1].laws", "did you mean 'law'?"),
    ({"toward": [{"first": 9, "last": 9, "to": 1}]}, "world.toward[1].last", "a later last frame"),
    ({"toward": [{"first": 1, "last": 9, "to": 1, "from": 2}]}, "world.toward[1].from", "a jump"),
    ({"toward": [{"first": 1, "last": 9, "to": 1, "slow_out": 9}]}, "world.toward[1].slow_out", "8 steps of the leg"),
    ({"toward": [{"first": 1, "last": 9, "to": 1, "law": "ratio"}]}, "world.toward[1].about", "equal ratios"),
    ({"across": [{"first": 1, "last": 9, "to": 1, "law": "ratio"}]}, "world.across[1].law", "steady or sine"),
    ({"toward": None}, "world.toward", "say how the viewer walks"),
    ({"camera": {}}, "camera.height", "or camera_height in [stand]"),
    ({"camera": {"height": 1000, "projection": "orthographic"}}, "camera.projection", '"perspective"'),
    ({"camera": {"height": 1000, "focal_mm": [50, 50]}}, "camera.focal_mm", "each once"),
    ({"camera": {"height": 1000, "focus": "gates"}}, "camera.focus", "did you mean 'gate'?"),
    ({"world_units": "yd"}, "world.units", "write one of 'm', 'ft'"),
    ({"paint": {"bled": 1}}, "paint.bled", "did you mean 'bleed'?"),
]


@pytest.mark.parametrize(("said", "key", "remedy"), SLIPS, ids=[key for _, key, _ in SLIPS])
def test_a_slip_is_one_line_with_its_place_and_what_would_be_right(said, key, remedy, tmp_path):
    whole = {"levels": GATE, "camera": HEIGHT, "toward": [[1, 0], [49, 1]]} | said
    with pytest.raises(ShotError) as caught:
        brief_in(tmp_path, **whole)
    assert caught.value.place.key == key
    assert remedy in str(caught.value)
    assert caught.value.place.line > 0
    assert "\n" not in str(caught.value)
