# SPDX-License-Identifier: GPL-3.0-or-later
"""What is drawn in the viewport and in the sidebar's picture: the right lines, in the right place, and few of them."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from underglass.plan import make_plan
from underglass.plan.field_of_levels import field_corners
from underglass.plan.findings.seen_art import EDGE_CORNERS, edge_reach, look
from underglass.shot import Focus, Stand
from underglass.shot.files import read_shot
from underglass.ui import side_pixels, viewport_lines

SIZE = (256, 256)
PENS = side_pixels.pens_for(1.0)


@pytest.fixture(scope="module")
def estuary(request: pytest.FixtureRequest):
    return make_plan(read_shot(request.config.rootpath / "scenes" / "estuary" / "shot.toml"))


@pytest.fixture(scope="module")
def moment(estuary):
    return viewport_lines.outlines(estuary, corners=field_corners(estuary), reach=edge_reach(estuary, look(estuary)))


def lines_of(moment, row, **wanted):
    """Return the points and colours of the lines of one frame."""
    run = viewport_lines.run_lines(moment, range(row, row + 1), **wanted)
    return run.points, run.colours


def test_the_field_is_outlined_at_every_level_on_its_height(estuary, moment):
    row = 40
    points, colours = lines_of(moment, row, field=True, edges=False, focus=False)
    assert points.shape == (8 * len(estuary.names), 3)
    assert (colours == np.float32(viewport_lines.CALM)).all()
    by_level = points.reshape(len(estuary.names), 8, 3)
    assert np.allclose(by_level[..., 2], estuary.tracks.levels["height"][row][:, None])
    # width of the field: the frame's pixels over the pixels of a metre
    wide = np.ptp(by_level[..., 0], axis=1)
    assert np.allclose(wide, estuary.shot.camera.frame_px[0] / estuary.scale[row], rtol=1e-5)


def test_an_edge_is_bare_where_art_ends_within_it_and_soon_within_a_second_before(estuary):
    corners, every = field_corners(estuary), look(estuary)
    reach = {edge: np.ones_like(track) for edge, track in edge_reach(estuary, every).items()}
    reach["left"][60:70, 0] = -0.001
    assert "left" in estuary.shot.edges_to_cover(estuary.shot.levels[0])
    moment = viewport_lines.outlines(estuary, corners=corners, reach=reach)
    place = 2 * list(EDGE_CORNERS).index("left")
    second = round(estuary.shot.fps)
    inks = (
        (60 - second - 1, viewport_lines.CALM),
        (60 - second, viewport_lines.SOON),
        (59, viewport_lines.SOON),
        (60, viewport_lines.BARE),
    )
    for row, ink in (
        *inks,
        (69, viewport_lines.BARE),
        (70, viewport_lines.CALM),
        (len(estuary.frames) - 1, viewport_lines.CALM),
    ):
        _, colours = lines_of(moment, row, field=True, edges=True, focus=False)
        assert (colours[place] == np.float32(ink)).all(), row
        assert (np.delete(colours, [place, place + 1], axis=0) == np.float32(viewport_lines.CALM)).all()
        told, _ = lines_of(moment, row, field=False, edges=True, focus=False)
        assert len(told) == (0 if ink == viewport_lines.CALM else 2)


def test_an_edge_that_art_need_not_cover_is_never_told_of(estuary):
    level = next(level for level in estuary.shot.levels if len(estuary.shot.edges_to_cover(level)) < len(EDGE_CORNERS))
    reach = {edge: np.ones((len(estuary.frames), len(estuary.names))) for edge in EDGE_CORNERS}
    free = next(edge for edge in EDGE_CORNERS if edge not in estuary.shot.edges_to_cover(level))
    reach[free][:, estuary.names.index(level.name)] = -0.001
    moment = viewport_lines.outlines(estuary, corners=field_corners(estuary), reach=reach)
    run = viewport_lines.run_lines(moment, range(len(estuary.frames)), field=True, edges=True, focus=False)
    assert (run.colours == np.float32(viewport_lines.CALM)).all()


def test_limits_of_focus_lie_around_the_level_in_focus(estuary, moment):
    bare, _ = lines_of(moment, 0, field=False, edges=False, focus=False)
    rings, colours = lines_of(moment, 0, field=False, edges=False, focus=True)
    assert len(bare) == 0
    assert (colours == np.float32(viewport_lines.FOCUS)).all()
    heights = sorted(set(rings[:, 2].tolist()))
    sharp = float(estuary.tracks.camera["height"][0] - estuary.focus_distance[0])
    assert heights[0] < sharp < heights[-1]


@pytest.mark.parametrize("field", [True, False])
def test_the_lines_of_a_run_of_frames_are_those_of_each_frame(moment, field):
    wanted = {"field": field, "edges": True, "focus": True}
    run = viewport_lines.run_lines(moment, range(20, 80), **wanted)
    assert run.starts[0] == 0
    assert run.starts[-1] == len(run.points) == len(run.colours)
    for number in (0, 17, 59):
        part = slice(run.starts[number], run.starts[number + 1])
        points, colours = lines_of(moment, 20 + number, **wanted)
        assert np.array_equal(run.points[part], points)
        assert np.array_equal(run.colours[part], colours)


def test_a_straight_path_is_one_line_and_a_corner_in_it_is_kept():
    along = np.linspace(0.0, 1.0, 500) ** 2
    straight = np.stack([along, 0.3 * along, 2.0 * along], axis=-1)
    assert len(viewport_lines.bends(straight)) == 2
    bent = np.concatenate([straight, straight[-1] + straight * (1, -1, 1)])
    assert np.array_equal(viewport_lines.bends(bent)[1], straight[-1])


@given(arrays(np.float64, st.tuples(st.integers(2, 30), st.just(3)), elements=st.floats(-1, 1)))
def test_a_path_drawn_in_fewer_lines_passes_all_of_its_points(path):
    kept = viewport_lines.bends(path)
    assert np.array_equal(kept[0], path[0])
    assert np.array_equal(kept[-1], path[-1])
    reach = np.ptp(path, axis=0).max()
    for point in path:
        way = kept[1:] - kept[:-1]
        share = ((point - kept[:-1]) * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-300)
        nearest = kept[:-1] + np.clip(share, 0, 1)[:, None] * way
        assert np.linalg.norm(nearest - point, axis=1).min() <= viewport_lines.SHOWN * reach + 1e-12


def test_the_picture_of_the_stand_is_to_one_scale_over_the_whole_shot(estuary):
    side = side_pixels.side_of(estuary, size=SIZE, pens=PENS)
    scale = (side.lens - PENS.margin) / estuary.tracks.camera["height"]
    assert np.ptp(scale) < 1e-9
    assert np.allclose(side.heights, PENS.margin + scale[0] * estuary.tracks.levels["height"])
    assert np.allclose(
        side.rights - side.lefts, scale[0] * np.array([level.art_width for level in estuary.shot.levels])
    )


def picture_of(side, row, *, paper=None, **said):
    """Return the pixels (height, width) of the stand on a frame, on ``paper`` that may have another frame on it."""
    paper = paper or side_pixels.Paper(SIZE)
    paper.draw(side_pixels.elevation(side, row, **({"ink": (1.0, 1.0, 1.0), "chosen": ""} | said)))
    return paper.pixels.reshape(SIZE[::-1])


def test_the_chosen_level_is_a_line_of_its_own_colour_at_its_height(estuary):
    side = side_pixels.side_of(estuary, size=SIZE, pens=PENS)
    picture = picture_of(side, 30, chosen="village")
    column = estuary.names.index("village")
    y = round(float(side.heights[30, column]))
    left, right = round(float(side.lefts[30, column])), round(float(side.rights[30, column]))
    row = picture[y, left : right + 1]
    assert (row == side_pixels.pixel(side_pixels.CHOSEN)).all()
    assert (picture[y, : left - 1] != side_pixels.pixel(side_pixels.CHOSEN)).all()


def test_nothing_of_the_frames_before_stays_in_the_picture_of_the_stand(estuary):
    side, paper = side_pixels.side_of(estuary, size=SIZE, pens=PENS), side_pixels.Paper(SIZE)
    for row, chosen in ((0, ""), (1, ""), (60, "village"), (143, "village"), (7, "sky"), (0, "")):
        after_others = picture_of(side, row, paper=paper, chosen=chosen)
        assert np.array_equal(after_others, picture_of(side, row, chosen=chosen)), row


def test_the_edges_of_what_the_lens_takes_in_run_from_the_lens_to_the_rearmost_level(estuary):
    side = side_pixels.side_of(estuary, size=SIZE, pens=PENS)
    marks = side_pixels.elevation(side, 0, ink=(1.0, 1.0, 1.0), chosen="")
    only_edges = side_pixels.Paper(SIZE)
    only_edges.draw([marks[1]])
    y, x = np.nonzero(only_edges.pixels.reshape(SIZE[::-1]))
    lowest, lens = np.rint(side.cone[0, :, 3]).astype(int), round(float(side.lens[0]))
    assert (y.min(), y.max()) == (lowest.min(), lens)
    assert set(x[y == lens]) == {SIZE[0] // 2}
    assert sorted(x[y == lowest.min()]) == sorted(np.rint(side.cone[0, :, 2]).astype(int))
    # no row between them is left out
    assert set(y) == set(range(lowest.min(), lens + 1))


@pytest.mark.parametrize("scale", [1.0, 1.5, 2.0])
@given(arrays(np.float64, st.tuples(st.integers(1, 3), st.integers(1, 17)), elements=st.floats(0, 256)))
def test_numbers_beside_the_stand_are_never_written_over_each_other_or_outside(scale, heights):
    pens, high = side_pixels.pens_for(scale), round(256 * scale)
    highest_first = -np.sort(-heights * scale, axis=1)
    placed = side_pixels.apart(highest_first, pens, high=high)
    assert (placed[:, :-1] - placed[:, 1:] >= pens.apart - 1e-9).all()
    assert pens.apart > pens.digit_high
    assert placed.min() >= pens.margin
    assert placed.max() <= high - pens.digit_high


@pytest.mark.parametrize("points", [142, 242, 360])
@pytest.mark.parametrize("scale", [1.0, 1.5, 2.0])
def test_the_numbers_of_twenty_levels_share_no_pixel(estuary, points, scale):
    count, size = 20, (round(points * scale),) * 2
    level = estuary.shot.levels[0]
    top = 1.5
    levels = tuple(
        replace(level, name=f"level {number}", height=top - 0.07 * number, covers=()) for number in range(count)
    )
    camera = replace(estuary.shot.camera, focus=Focus(level="level 5"))
    shot = replace(
        estuary.shot, levels=levels, camera=camera, schedule=(), expectations=(), exposures=(), lamps=(), stand=Stand()
    )
    side = side_pixels.side_of(make_plan(shot), size=size, pens=side_pixels.pens_for(scale))
    marks = side_pixels.elevation(side, 0, ink=(1.0, 1.0, 1.0), chosen="")
    numbers = [mark[-1][0] for mark, its in zip(marks[2:-1], side.sides, strict=True) if its]
    assert len(numbers) >= 5
    pixels = np.concatenate(numbers)
    assert len(np.unique(pixels)) == len(pixels)
    assert pixels.min() >= 0
    assert pixels.max() < size[0] * size[1]
    # no number runs over an edge into the row above: its pixels lie on one side of the middle
    for number in numbers:
        x = number % size[0]
        assert np.ptp(x) < size[0] / 2


def test_a_line_of_the_stand_is_as_thick_as_the_interface_is_large(estuary):
    for scale, thick in ((1.0, 2), (1.5, 3), (2.0, 4)):
        pens = side_pixels.pens_for(scale)
        side = side_pixels.side_of(estuary, size=(500, 500), pens=pens)
        paper = side_pixels.Paper((500, 500))
        paper.draw(side_pixels.elevation(side, 0, ink=(1.0, 1.0, 1.0), chosen="sky"))
        column = paper.pixels.reshape(500, 500)[:, 250]
        assert (column == side_pixels.pixel(side_pixels.CHOSEN)).sum() == thick


def test_a_pixel_is_red_green_blue_alpha_lowest_byte_first():
    assert np.array([side_pixels.pixel((1.0, 0.5, 0.0, 1.0))], dtype="<i4").tobytes() == bytes([255, 128, 0, 255])


def luminance(number):
    """Return the relative luminance of a pixel, as WCAG 2.2 defines it for sRGB."""
    parts = np.array([(number >> shift & 255) / 255 for shift in (0, 8, 16)])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


# The ground of a box in Blender's own two themes, and its letters.
@pytest.mark.parametrize(("ground", "ink"), [(0.17, 0.90), (0.80, 0.10)])
def test_levels_and_their_numbers_stand_out_from_the_ground_of_a_dark_and_of_a_light_theme(estuary, ground, ink):
    side = side_pixels.side_of(estuary, size=SIZE, pens=PENS)
    marks = side_pixels.elevation(side, 30, ink=(ink,) * 3, chosen="village")
    behind = luminance(side_pixels.pixel((ground, ground, ground, 1.0)))
    colours = {mark[-1][1] for mark in marks[2:-1]}
    assert len(colours) == 2
    for colour in colours:
        darker, lighter = sorted((luminance(colour), behind))
        # WCAG 2.2, 1.4.3: what large letters need at least
        assert (lighter + 0.05) / (darker + 0.05) >= 3.0
