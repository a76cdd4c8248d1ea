# SPDX-License-Identifier: GPL-3.0-or-later
"""The painting guide: what the lens sees of the art, how large it has to be, and the sheets to paint into."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from underglass.plan import corners_px, make_plan
from underglass.shot import Camera, Focus, Gate, Level, Move, Projection, Shot
from underglass_headless import cli
from underglass_headless.desk.guide.guide_facts import guides_of
from underglass_headless.desk.guide.guide_page import Files, guide_page
from underglass_headless.desk.guide.paint_template import map_png, template_png, template_svg
from underglass_headless.desk.guide.size_to_paint import frame_corners, margins, needed_px, needed_size, seen_box

ESTUARY = Path(__file__).resolve().parents[3] / "scenes" / "estuary"
INCH = 0.0254
LENS = Camera(Projection.PERSPECTIVE, (1600, 1200), 1.0, Gate(0.020, 0.015), 0.05, focus=Focus())


def shot_of(*moves: Move, camera: Camera = LENS, **glass) -> Shot:
    level = Level("wall", "wall.png", 0.5, 0.5, (2000, 1500), **glass)
    return Shot("walk", "mm", 24.0, (1, 25), camera, (level,), schedule=moves)


def test_a_field_half_a_metre_from_a_fifty_is_gate_over_focal_length_times_that():
    # 20 × 15 mm gate, 50 mm lens at infinity, 500 mm away: 200 × 150 mm
    guide = guides_of(make_plan(shot_of()), bleed=0.010)[0]
    assert guide.outlines[0].field == pytest.approx(0.200)
    assert (guide.seen.width, guide.seen.height) == (pytest.approx(0.200), pytest.approx(0.150))
    assert guide.size == (pytest.approx(0.220), pytest.approx(0.170))
    # 1600 px on 200 mm are 8 px a mm
    assert guide.pixels == (1760, 1360)
    assert guide.density == pytest.approx(2000 / (500 * 8))


def test_a_pan_is_seen_as_far_as_it_goes_and_its_turning_point_is_drawn():
    moves = (Move("camera", "east", 1, 13, 0.0, 0.080), Move("camera", "east", 13, 25, 0.080, 0.020))
    guide = guides_of(make_plan(shot_of(*moves)), bleed=0.0)[0]
    assert (guide.seen.left, guide.seen.right) == (pytest.approx(-0.100), pytest.approx(0.180))
    assert [(one.frame, one.what) for one in guide.outlines] == [(1, "first"), (13, "farthest right"), (25, "last")]


def test_art_that_rides_with_the_lens_has_one_outline():
    moves = (Move("camera", "east", 1, 25, 0.0, 0.080), Move("wall", "east", 1, 25, 0.0, 0.080))
    guide = guides_of(make_plan(shot_of(*moves)), bleed=0.0)[0]
    assert [(one.frame, one.until) for one in guide.outlines] == [(1, 25)]


@given(
    turn=st.floats(-3.0, 3.0),
    camera_turn=st.floats(-3.0, 3.0),
    east=st.floats(-0.2, 0.2),
    north=st.floats(-0.2, 0.2),
    squeeze=st.sampled_from([1.0, 2.0]),
)
def test_corners_of_the_frame_on_the_art_come_back_to_the_corners_of_the_frame(turn, camera_turn, east, north, squeeze):
    camera = replace(LENS, turn=camera_turn, squeeze=squeeze, east=0.03)
    plan = make_plan(shot_of(camera=camera, turn=turn, east=east, north=north))
    level = plan.shot.levels[0]
    on_art = frame_corners(plan, "wall")[0]
    # An affine map of the art, fitted to its own corners, must take them back to the corners of the frame.
    own = (np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) - 0.5) * [level.art_width, level.art_height]
    plane, *_ = np.linalg.lstsq(np.c_[own, np.ones(4)], corners_px(plan)[0, 0], rcond=None)
    np.testing.assert_allclose(np.c_[on_art, np.ones(4)] @ plane, [(-800, -600), (800, -600), (800, 600), (-800, 600)])


@given(width=st.floats(0.01, 2.0), at=st.floats(-0.3, 0.3), bleed=st.floats(0.0, 0.05))
def test_the_size_that_is_asked_for_covers_with_the_bleed_and_is_no_larger_than_a_ruler_s_step(width, at, bleed):
    plan = make_plan(shot_of(east=at))
    seen = seen_box(frame_corners(plan, "wall"))
    size = needed_size(seen, bleed=bleed, units="mm")
    level = replace(plan.shot.levels[0], art_width=size[0], art_px=(100_000, round(100_000 * size[1] / size[0])))
    reach = margins(level, seen, ("left", "right"))
    assert bleed - 1e-9 <= min(reach.values()) <= bleed + 0.0001 + 1e-9


def test_so_many_pixels_give_one_for_each_of_the_frame():
    assert needed_px((0.22, 0.17), density=8000.0, squeeze=1.0) == (1760, 1360)
    assert needed_px((0.22, 0.17), density=8000.0, squeeze=2.0) == (3520, 2720)


def test_art_that_ends_within_the_frame_is_told_with_the_edge():
    guide = guides_of(make_plan(shot_of(Move("camera", "east", 1, 25, 0.0, 0.2))), bleed=0.0)[0]
    assert guide.uncovered == {"right": pytest.approx(0.3 - 0.25)}


def test_a_template_is_to_scale_and_as_fine_as_the_art_has_to_be():
    guide = guides_of(make_plan(shot_of()), bleed=0.010)[0]
    with Image.open(BytesIO(template_png(guide, units="mm", fps=24.0))) as image:
        assert image.size[0] == pytest.approx(500 * 8, abs=1)
        assert image.mode == "RGBA"
        alpha = np.asarray(image)[..., 3]
        assert alpha[0, 0] > 0  # the edge of the sheet
        assert alpha[300, 300] == 0  # clear where nothing is drawn
    svg = ET.fromstring(template_svg(guide, units="mm", fps=24.0))
    assert float(svg.attrib["width"].removesuffix("in")) == pytest.approx(0.5 / INCH, abs=1e-3)
    box = [float(word) for word in svg.attrib["viewBox"].split()]
    assert box[2] / 72 == pytest.approx(0.5 / INCH, abs=1e-3)


def test_the_frame_is_drawn_where_the_lens_sees_it():
    guide = guides_of(make_plan(shot_of()), bleed=0.010)[0]
    with Image.open(BytesIO(template_png(guide, units="mm", fps=24.0, width_px=2000))) as image:
        opaque = np.asarray(image)[..., 3] > 200
    # 4 px a mm: the frame's left and right sides lie 100 mm either side of the middle, well away from letters
    row = np.flatnonzero(opaque[750 + 130])
    sides = row[(row > 10) & (row < 1990)]
    assert abs(sides[sides < 1000].mean() - 600) < 1.5
    assert abs(sides[sides > 1000].mean() - 1400) < 1.5


def test_the_guide_command_writes_a_page_whose_files_are_all_there(tmp_path, capsys):
    assert cli.run(["guide", str(ESTUARY), "-o", str(tmp_path), "--bleed", "0.25in"]) == 0
    page = (tmp_path / "guide.html").read_text(encoding="utf-8")
    links = re.findall(r'(?:src|href)="([^"]+)"', page)
    assert len(links) == 3 * 8
    assert all((tmp_path / link).is_file() for link in links)
    assert "bleed 0.25 in" in page
    assert "covers what the lens sees" in capsys.readouterr().out


def test_a_bleed_without_a_unit_is_asked_back(tmp_path, capsys):
    assert cli.run(["guide", str(ESTUARY), "-o", str(tmp_path / "out"), "--bleed", "3"]) == cli.Status.BAD_INPUT
    assert "give one such as 0.5in or 12mm" in capsys.readouterr().err


def page_of(shot: Shot) -> str:
    plan = make_plan(shot)
    guides = guides_of(plan, bleed=0.010)
    files = {guide.level.name: Files("map.png", "art.png", "art.svg") for guide in guides}
    return guide_page(plan, guides, files=files, unpainted=())


# 200 × 150 mm are seen of art of 500 × 375 mm.
PLACES = [(0.0, 9.0), (0.0, -9.0), (40.0, 0.0), (-40.0, 0.0), (7.0, 9.0), (0.0, 0.3), (0.0, 0.0)]


@pytest.mark.parametrize(("east", "north"), PLACES)
@pytest.mark.parametrize("moves", [(), (Move("camera", "north", 1, 25, 0.0, 3.0),)], ids=["still", "tall way"])
def test_a_map_fits_a_page_wherever_the_art_is(east: float, north: float, moves: tuple[Move, ...]) -> None:
    guide = guides_of(make_plan(shot_of(*moves, east=east, north=north, covers=())), bleed=0.010)[0]
    with Image.open(BytesIO(map_png(guide, units="mm", fps=24.0, width_px=350))) as image:
        assert image.size[1] <= 1.31 * 350
        assert image.size[0] <= 351


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ({"north": 9.0}, "the art lies 8737.5 mm above it"),
        ({"north": -9.0}, "the art lies 8737.5 mm below it"),
        ({"east": 4.0}, "the art lies 3650.0 mm right of it"),
        ({"east": -4.0}, "the art lies 3650.0 mm left of it"),
    ],
)
@pytest.mark.parametrize("covers", [(), ("left", "right", "top", "bottom")])
def test_art_that_is_never_in_the_frame_is_told_with_where_it_lies(place, words, covers) -> None:
    page = page_of(shot_of(covers=covers, **place))
    assert f"never in the frame: {words}" in page
    assert "wall is never in the frame" in page.lower()
    assert "off this map" in page
    assert "covers what the lens sees" not in page
    assert '<body class="fails">' in page


def test_art_on_its_map_is_not_said_to_be_off_it() -> None:
    assert "off this map" not in page_of(shot_of(covers=()))


def test_a_field_is_told_with_its_unit_and_in_a_mm_shot_in_mm_too() -> None:
    page = page_of(shot_of())
    # 200 mm
    assert "7.9 in<small>200.0 mm</small>" in page
    assert "A 19.7 field (500.0 mm)." in page
    page = page_of(replace(shot_of(), units="in"))
    assert "7.9 in</td>" in page
    assert "A 19.7 field." in page


def test_edges_that_are_as_short_are_told_together() -> None:
    page = page_of(replace(shot_of(covers=("left", "right")), levels=(Level("wall", "w.png", 0.1, 0.5, (4000, 3000)),)))
    assert "short of the frame: left and right by 50.0 mm" in page
    assert "short of the frame: right" not in page


def test_a_warning_does_not_stand_beside_a_green_bar() -> None:
    fine = replace(shot_of(), levels=(replace(shot_of().levels[0], art_px=(4000, 3000)),))
    assert '<body class="holds">' in page_of(fine)
    coarse = replace(fine, levels=(replace(fine.levels[0], art_px=(400, 300)),))
    page = page_of(coarse)
    assert '<body class="warns">' in page
    assert "too few pixels: 0.10 px of art for each px of the frame" in page
