# SPDX-License-Identifier: GPL-3.0-or-later
"""The shot to start from: through the lens the picture is the painting, to a millionth of a pixel."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.layered import ArtLayer, LayeredArt
from underglass.layered.level_art import bounds_of
from underglass.layered.starting_shot import check_count, frame_of, gate_of, most_levels, spread, starting_shot
from underglass.optics.thin_lens import field_width
from underglass.plan import corners_px, make_plan
from underglass.shot import ShotError
from underglass.shot.files import shot_toml
from underglass.shot.units import METRES_PER_UNIT

EXACT_PX = 1e-6
INCH = METRES_PER_UNIT["in"]
UNITS = st.sampled_from(["in", "mm", "cm"])


def art_of(canvas_px, *boxes):
    """Return art with a layer for each (left, top, width, height)."""
    layers = (ArtLayer(f"level {number}", *box[:2], box[2:]) for number, box in enumerate(boxes))
    return LayeredArt(canvas_px, tuple(layers), Path("estuary.ora"))


def corners_on_canvas(art):
    """Return the corners (L, 4, 2) of the layers in pixels from the canvas' centre, x right, y up, lower left first."""
    centre = np.array(art.canvas_px) / 2
    corners = []
    for layer in art.layers:
        left, top, right, bottom = bounds_of(layer)
        corners.append([(left, bottom), (right, bottom), (right, top), (left, top)])
    return (np.array(corners) - centre) * (1, -1)


@st.composite
def paintings(draw):
    canvas = draw(st.tuples(st.integers(16, 6000), st.integers(16, 4000)))
    box = st.tuples(st.integers(-500, 6000), st.integers(-500, 4000), st.integers(1, 7000), st.integers(1, 5000))
    return art_of(canvas, *draw(st.lists(box, min_size=1, max_size=20)))


@given(paintings(), UNITS)
def test_every_layer_stands_in_the_frame_where_it_lies_on_the_canvas(art, units):
    shot = starting_shot(art, folder=Path(), units=units)
    planned = corners_px(make_plan(shot))
    px_of_canvas = shot.camera.frame_px[0] / art.canvas_px[0]
    assert np.abs(planned - corners_on_canvas(art) * px_of_canvas).max() < EXACT_PX


def test_on_a_canvas_of_the_frame_s_size_a_pixel_of_art_is_a_pixel_of_the_frame():
    art = art_of((1920, 1080), (100, 200, 301, 77), (0, 0, 1920, 1080))
    plan = make_plan(starting_shot(art, folder=Path()))
    assert plan.shot.camera.frame_px == (1920, 1080)
    # 100 px from the left is 860 left of the centre; 200 from the top, 340 above it
    np.testing.assert_allclose(corners_px(plan)[0, 0, 3], (-860, 340), atol=EXACT_PX)
    np.testing.assert_allclose(plan.size_px[:, 0], 301, atol=EXACT_PX)


def test_the_rearmost_level_fills_the_field_of_the_lens():
    shot = starting_shot(art_of((1828, 1332), (0, 0, 1828, 1332)), folder=Path())
    # worked by hand: 12 in above the bed, in focus at 48 in = 1219.2 mm, v = 50·1219.2/(1219.2 − 50) = 52.1382 mm
    image = 50 * 1219.2 / 1169.2 / 1000
    assert shot.camera.height == 60 * INCH
    assert shot.levels[0].height == pytest.approx(12 * INCH)
    assert shot.levels[0].art_width == pytest.approx(float(field_width(0.866 * INCH, image=image, distance=48 * INCH)))
    assert shot.levels[0].covers is None


def test_it_is_shot_as_most_shots_are():
    camera = starting_shot(art_of((640, 480), *[(0, 0, 640, 480)] * 5), folder=Path()).camera
    assert (camera.focal, camera.f_stop, camera.focus.level) == (0.05, 8.0, "level 2")


@given(st.integers(1, 49), UNITS)
def test_levels_keep_the_least_gap_and_lie_further_apart_to_the_rear(count, units):
    camera, heights = spread(count, units=units)
    unit, step = METRES_PER_UNIT[units], {"in": 0.25, "mm": 5.0, "cm": 0.5}[units]
    gap = {"in": 1.5, "mm": 40.0, "cm": 4.0}[units] * unit
    gaps = -np.diff(heights)
    # a foot, or 300 mm, is free below: a level that holds its size rides down with the camera
    assert heights[-1] == pytest.approx({"in": 12, "mm": 300, "cm": 30}[units] * unit)
    assert heights[0] < camera <= {"in": 108, "mm": 2700, "cm": 270}[units] * unit * (1 + 1e-12)
    assert (gaps >= gap * (1 - 1e-9)).all()
    # rounding to a round reading may take one step from one gap and give it to the next
    assert (np.diff(gaps) >= -2 * step * unit).all()
    readings = np.array(heights) / (step * unit)
    np.testing.assert_allclose(readings, np.rint(readings), atol=1e-6)


@pytest.mark.parametrize("units", ["in", "mm", "cm"])
def test_more_levels_than_a_stand_takes_are_refused(units):
    most = most_levels(units)
    assert len(spread(most, units=units)[1]) == most
    check_count(art_of((8, 8)), most, units=units)
    with pytest.raises(ShotError, match=f"makes {most + 1} levels; a stand takes {most}: merge some"):
        check_count(art_of((8, 8)), most + 1, units=units)


def test_art_without_a_layer_is_refused():
    with pytest.raises(ShotError, match=r"estuary.ora: layers: has no layer that shows"):
        starting_shot(art_of((8, 8)), folder=Path())


@pytest.mark.parametrize(
    ("canvas", "frame"),
    [
        ((1920, 1080), (1920, 1080)),
        ((1001, 701), (1000, 700)),
        ((4096, 3072), (2048, 1536)),
        ((5000, 2001), (2048, 818)),
        ((3, 3), (4, 4)),
        ((2049, 2), (2048, 4)),
    ],
)
def test_the_frame_has_the_canvas_proportions_in_even_numbers(canvas, frame):
    assert frame_of(canvas) == frame


@given(st.tuples(st.integers(4, 9000), st.integers(10, 9000)))
def test_the_frame_shows_nothing_beyond_the_canvas(canvas):
    width, height = frame_of(canvas)
    assert width % 2 == height % 2 == 0
    assert height == 4 or height / width <= canvas[1] / canvas[0] * (1 + 1e-12)
    assert height * canvas[0] / width > canvas[1] - 2 * canvas[0] / width - 1e-9


def test_a_canvas_of_the_academy_proportions_gets_that_gate_by_name():
    assert gate_of((1828, 1332)).name == "academy-35"
    wide = gate_of((1920, 1080))
    assert wide.name == ""
    assert wide.width == pytest.approx(0.866 * INCH)
    assert wide.height == pytest.approx(wide.width * 9 / 16, rel=1e-5)


@pytest.mark.parametrize(
    ("box", "covers"),
    [
        ((0, 0, 640, 480), None),
        ((-10, -10, 700, 500), None),
        ((0, 0, 639, 480), ()),
        ((1, 0, 640, 480), ()),
        ((0, 0, 640, 470), ()),
    ],
)
def test_a_rearmost_layer_that_does_not_fill_the_canvas_need_cover_nothing(box, covers):
    assert starting_shot(art_of((640, 480), box), folder=Path()).levels[-1].covers == covers


def test_a_layer_far_larger_than_its_canvas_is_refused():
    with pytest.raises(ShotError, match="level 0: is far larger than its canvas"):
        starting_shot(art_of((4, 4), (0, 0, 32768, 8)), folder=Path())


@given(paintings(), UNITS)
def test_the_shot_file_says_the_same_to_a_millionth_of_a_pixel(art, units):
    shot = starting_shot(art, folder=Path(), units=units)
    written = tomllib.loads(shot_toml(shot))
    for level, said in zip(shot.levels, written["level"], strict=True):
        assert said["art_width"] * METRES_PER_UNIT[units] == pytest.approx(level.art_width, rel=1e-12)
        assert said.get("east", 0.0) * METRES_PER_UNIT[units] == pytest.approx(level.east, rel=1e-12)
