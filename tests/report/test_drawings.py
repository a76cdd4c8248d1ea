# SPDX-License-Identifier: GPL-3.0-or-later
"""Plots and the side elevation: well formed, to scale, and nothing lies over anything else."""

import itertools
import json
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.lines import Line2D

from report import synthetic
from underglass.plan.plan_arrays import Plan, Tracks
from underglass.proof.proof_facts import Proof
from underglass.shot.model import Projection
from underglass_headless.report import drawing_style, elevation_strokes
from underglass_headless.report.palette import MARKS, level_colour
from underglass_headless.report.proof_plots import MOST_POINTS, draw_place, draw_size, measured, place_plot, size_plot
from underglass_headless.report.residual_plot import MOST_STRIPS, draw_residuals, residual_plot
from underglass_headless.report.stand_elevation import draw_elevation, elevation

SVG = "{http://www.w3.org/2000/svg}"
GLASS_LINE = 2.6
# Boxes of text include the room of accents and descenders, so neighbours in a column may touch by this much, points.
TOUCH = 3.0

PROOFS = {
    "pass": synthetic.passing(),
    "fail": synthetic.failing(),
    "hostile names": synthetic.failing(synthetic.HOSTILE),
    "formulas of a typesetter": synthetic.failing(("$x_1$", r"\frac{1}{2}$", "_", "^^", "$$")),
    "scripts": synthetic.passing(("前景の葉", "أعشاب", "קנים", "葦" * 80, "e\u0301\u200d")),
    "nothing rendered": replace(synthetic.passing(), measurements=(), rendered_frames=(), pictures={}),
    "nothing allowed": replace(synthetic.passing(), measurements=(), rendered_frames=(), tolerance_px=0.0),
}


def draw_stand(proof: Proof):
    return draw_elevation(proof.plan, frame=1)


def parallel(plan: Plan) -> Plan:
    """Return ``plan`` as an orthographic camera with a field of 12 in would see it."""
    camera = replace(plan.shot.camera, projection=Projection.ORTHOGRAPHIC, field_width=0.3048, gate=None, focal=0.0)
    nothing = np.full(len(plan.frames), np.nan)
    return replace(
        plan,
        shot=replace(plan.shot, camera=camera),
        scale=np.full_like(plan.scale, 1828 / 0.3048),
        image_distance=nothing,
        focus_distance=nothing,
    )


def crowded(levels: int = 64, frames: int = 300) -> Proof:
    """Return a proof of very many levels, some of them a hair's breadth apart."""
    base = synthetic.passing()
    plan = base.plan
    heights = np.sort(np.random.default_rng(1977).uniform(0.1, 0.7, levels) ** 2)[::-1] + np.arange(levels)[::-1] * 1e-4
    names = tuple(f"level number {number}" for number in range(levels))
    shot_levels = tuple(
        replace(plan.shot.levels[0], name=name, height=float(height))
        for name, height in zip(names, heights, strict=True)
    )
    zero = np.zeros((frames, levels))
    camera = {key: np.full(frames, track[0]) for key, track in plan.tracks.camera.items()}
    camera["height"] = np.linspace(1.3, 1.0, frames)
    distance = camera["height"][:, None] - heights
    scale = 1828 * synthetic.IMAGE_DISTANCE / (0.022 * distance)
    wide = Plan(
        shot=replace(plan.shot, levels=shot_levels, frames=(1, frames)),
        tracks=Tracks(
            np.arange(1, frames + 1), camera, {"height": zero + heights, "east": zero, "north": zero, "turn": zero}
        ),
        distance=distance,
        image_distance=np.full(frames, synthetic.IMAGE_DISTANCE),
        focus_distance=np.full(frames, np.inf),
        scale=scale,
        size_px=scale * 0.3,
        x=scale * 0.01,
        y=zero,
        turn=zero,
        drawing=zero.astype(np.int64),
        drawings=((),) * levels,
    )
    return synthetic.proof_of(wide, frames=range(1, frames + 1))


def one_frame() -> Proof:
    """Return a proof of a shot of a single frame."""
    plan = synthetic.plan()
    tracks = Tracks(
        plan.tracks.frames[:1],
        {key: track[:1] for key, track in plan.tracks.camera.items()},
        {key: track[:1] for key, track in plan.tracks.levels.items()},
    )
    names = ("distance", "image_distance", "focus_distance", "scale", "size_px", "x", "y", "turn", "drawing")
    short = replace(
        plan,
        shot=replace(plan.shot, frames=(1, 1)),
        tracks=tracks,
        **{name: getattr(plan, name)[:1] for name in names},
    )
    return synthetic.proof_of(short, frames=[1])


MORE = PROOFS | {"one frame": one_frame(), "crowded": crowded()}
FIGURES = {"size": draw_size, "place": draw_place, "residual": draw_residuals, "elevation": draw_stand}


@pytest.mark.parametrize("proof", MORE.values(), ids=MORE.keys())
@pytest.mark.parametrize("figure", FIGURES.values(), ids=FIGURES.keys())
def test_no_words_lie_over_others_or_leave_the_sheet(proof, figure, monkeypatch):
    drawn = figure(proof)
    boxes = written(drawn, monkeypatch)
    width, height = drawn.get_size_inches() * drawing_style.POINTS_PER_INCH
    assert len(boxes) > len(proof.plan.names[:MOST_STRIPS])
    for words, box in boxes:
        assert min(box.x0, box.y0, width - box.x1, height - box.y1) >= -1.0, f"{words!r} leaves the sheet"
    for (one, a), (two, b) in itertools.combinations(boxes, 2):
        across, down = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
        assert min(across, down) <= TOUCH, f"{one!r} lies over {two!r}"


def written(figure, monkeypatch) -> list[tuple[str, Any]]:
    """Return all words that ``figure`` really draws, each with its box in points."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.text import Text

    boxes, draw = [], Text.draw

    def recorded(text, renderer):
        if text.get_text().strip():
            boxes.append((text.get_text(), text.get_window_extent(renderer)))
        draw(text, renderer)

    with monkeypatch.context() as patch, drawing_style.style():
        patch.setattr(Text, "draw", recorded)
        FigureCanvasAgg(figure).draw()
    return boxes


@pytest.mark.parametrize("proof", PROOFS.values(), ids=PROOFS.keys())
def test_drawings_are_well_formed_and_say_the_names(proof):
    drawn = (size_plot(proof), place_plot(proof), residual_plot(proof), elevation(proof.plan, frame=1))
    for svg in drawn:
        root = ET.fromstring(svg)
        assert root.tag == f"{SVG}svg"
        assert "script" not in {element.tag.removeprefix(SVG) for element in root.iter()}
        words = "".join(root.itertext())
        for name in proof.plan.names:
            assert name[:8].strip() in words


def test_the_same_facts_make_the_same_drawing():
    assert size_plot(synthetic.failing()) == size_plot(synthetic.failing())


def test_marks_of_several_drawings_on_one_page_keep_apart():
    proof = synthetic.passing()
    ids = [
        {element.get("id") for element in ET.fromstring(svg).iter() if element.get("id")}
        for svg in (size_plot(proof), place_plot(proof), residual_plot(proof), elevation(proof.plan, frame=1))
    ]
    assert not [one & two for one, two in itertools.combinations(ids, 2) if one & two]


def test_a_user_s_own_settings_of_matplotlib_change_nothing():
    import matplotlib

    expected = size_plot(synthetic.passing())
    with matplotlib.rc_context({"font.size": 30.0, "axes.facecolor": "black", "svg.fonttype": "path"}):
        assert size_plot(synthetic.passing()) == expected
        assert matplotlib.rcParams["font.size"] == 30.0


def test_a_drawing_can_be_had_as_png():
    png = drawing_style.png_from_figure(draw_size(synthetic.passing()))
    assert png.startswith(b"\x89PNG")


def test_the_command_line_does_not_wait_for_matplotlib():
    modules = (
        "csv_tables drawing_style elevation_strokes palette proof_page proof_plots rendered_pictures residual_plot"
        " schemas stand_elevation"
    )
    lines = [f"import underglass_headless.report.{module}" for module in modules.split()]
    script = "\n".join([*lines, "import json, sys", "print(json.dumps(sorted(sys.modules)))"])
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, env=_environment()
    )
    assert not {"matplotlib", "jinja2", "PIL"} & set(json.loads(done.stdout))


def _environment() -> dict[str, str]:
    import os

    return os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}


def test_every_measured_point_is_drawn_where_it_was_measured():
    proof = synthetic.failing()
    axes = draw_size(proof).axes[0]
    seen = [m for m in proof.measurements if m.measured is not None]
    # what names a line beside its end is no point
    drawn = [line for line in axes.lines if line.get_transform() == axes.transData]
    marks = [line for line in drawn if line.get_marker() in MARKS]
    assert points_of(marks) == {(float(m.frame), m.measured.size_px) for m in seen}
    # a bar is drawn without a mark, up and down from its point
    bars = points_of(line for line in drawn if line.get_marker() not in MARKS)
    for m in seen:
        for end in (m.measured.size_px - m.uncertainty_px, m.measured.size_px + m.uncertainty_px):
            assert (float(m.frame), end) in bars


def points_of(lines: Iterable[Line2D]) -> set[tuple[float, float]]:
    """Return every point of ``lines``; those of no number are gaps."""
    points = {(float(x), float(y)) for line in lines for x, y in zip(*line.get_data(), strict=True)}
    return {point for point in points if not np.isnan(point).any()}


def test_of_very_many_points_the_worst_is_kept():
    proof = crowded(levels=5)
    worst = max((m for m in proof.measurements if m.level == proof.plan.names[2]), key=lambda m: m.error_px)
    shown = measured([m for m in proof.measurements if m.level == worst.level])
    assert worst in shown
    assert MOST_POINTS <= len(shown) <= MOST_POINTS + 1


def test_of_very_many_levels_the_worst_have_a_strip():
    strips = draw_residuals(crowded()).axes
    assert len(strips) == MOST_STRIPS + 1


def residual_words(proof: Proof) -> list[str]:
    """Return the title and the marks of the scale of the residuals."""
    *strips, head = draw_residuals(proof).axes
    return [head.texts[0].get_text(), *(label.get_text() for label in strips[0].get_yticklabels())]


def test_what_is_left_is_in_pixels_only_where_something_is_out_by_more_than_one():
    assert residual_words(synthetic.passing()) == ["Measured − planned, thousandths of a pixel", "−10", "0", "+10"]
    assert residual_words(synthetic.failing()) == ["Measured − planned, pixels", "−10", "0", "+10"]


def test_all_plots_over_the_frames_span_the_same_frames():
    proof = synthetic.failing()
    panels = [*draw_size(proof).axes, *draw_place(proof).axes, *draw_residuals(proof).axes[:-1]]
    assert len(panels) == 3 + len(proof.plan.names)
    assert len({(axes.get_xlim(), tuple(axes.get_xticks())) for axes in panels}) == 1


def test_y_is_drawn_only_where_something_goes_that_way():
    plan = synthetic.plan()
    still = replace(plan, y=np.zeros_like(plan.y))
    assert len(draw_place(synthetic.proof_of(plan, frames=[1, 48])).axes) == 2
    assert len(draw_place(synthetic.proof_of(still, frames=[1, 48])).axes) == 1


# -- the side elevation ------------------------------------------------------------------------------------------------


def glasses(plan: Plan, frame: int) -> dict[str, tuple[float, float, float]]:
    """Return west end, east end and y, in points, of the line of each level."""
    found = {}
    for line in draw_elevation(plan, frame=frame).axes[0].lines:
        if line.get_linewidth() == GLASS_LINE:
            (west, east), (y, _) = line.get_data()
            found[line.get_color()] = (west, east, y)
    return {name: found[level_colour(column)] for column, name in enumerate(plan.names)}


@pytest.mark.parametrize("frame", [1, 30, 48])
def test_widths_heights_and_places_are_to_one_scale(frame):
    plan = synthetic.plan()
    drawn = glasses(plan, frame)
    west, east, y = (np.array([drawn[name][part] for name in plan.names]) for part in range(3))
    scale = (east - west) / np.array([level.art_width for level in plan.shot.levels])
    assert scale == pytest.approx(scale[0])
    row = frame - 1
    assert np.diff(y) == pytest.approx(scale[0] * np.diff(plan.tracks.levels["height"][row]))
    assert np.diff((west + east) / 2) == pytest.approx(scale[0] * np.diff(plan.tracks.levels["east"][row]))


def test_east_is_right_and_the_lens_is_on_top():
    drawn = glasses(synthetic.plan(), 1)
    assert drawn["boat"][0] + drawn["boat"][1] > drawn["near branches"][0] + drawn["near branches"][1]
    assert drawn["near branches"][2] > drawn["sky"][2]


def test_the_field_drawn_on_a_level_is_the_one_that_is_written_beside_it():
    plan = synthetic.plan()
    axes = draw_elevation(plan, frame=1).axes[0]
    words = [text.get_text() for text in axes.texts]
    # 18 in from the lens: 18 × gate / v = 18 × 22 / 54.1
    assert f"{18.0 * 22.0 / 54.1:.2f}" in words
    assert words[words.index("near branches") + 1 :][:2] == ["30.00", "18.00"]


def test_parallel_rays_take_in_the_same_field_at_every_height():
    axes = draw_elevation(parallel(synthetic.plan()), frame=1).axes[0]
    words = [text.get_text() for text in axes.texts]
    assert words.count("12.00") == 5
    assert "in focus" not in words
    assert "lens, rays in parallel" in words


@pytest.mark.parametrize(("units", "bar"), [("in", "10 in"), ("mm", "200 mm"), ("cm", "20 cm")])
def test_lengths_are_in_the_units_of_the_stand(units, bar):
    axes = draw_elevation(synthetic.plan(units=units), frame=1).axes[0]
    assert bar in [text.get_text() for text in axes.texts]


@pytest.mark.parametrize(("whole", "parts", "length"), [(100.0, 3, 20.0), (10.0, 2, 5.0), (0.7, 3, 0.2), (9.9, 1, 5.0)])
def test_a_scale_bar_has_a_round_length(whole, parts, length):
    assert elevation_strokes.round_length(whole, parts=parts) == pytest.approx(length)


# -- labels ------------------------------------------------------------------------------------------------------------

PLACES = st.lists(st.floats(-50.0, 350.0), max_size=20)


@given(PLACES)
def test_labels_keep_their_distance_their_order_and_their_bounds(wanted):
    places = drawing_style.spread(wanted, gap=15.0, low=0.0, high=300.0)
    gap = min(15.0, 300.0 / max(1, len(wanted) - 1))
    ordered = [places[index] for index in sorted(range(len(wanted)), key=lambda index: wanted[index])]
    assert all(two - one >= gap - 1e-6 for one, two in itertools.pairwise(ordered))
    assert all(-1e-6 <= place <= 300.0 + 1e-6 for place in places)


def test_labels_that_have_room_stay_where_they_want_to_be():
    assert drawing_style.spread([200.0, 10.0, 100.0], gap=15.0, low=0.0, high=300.0) == pytest.approx(
        [200.0, 10.0, 100.0]
    )


def test_labels_that_want_one_place_spread_evenly_about_it():
    assert drawing_style.spread([100.0, 100.0, 100.0], gap=10.0, low=0.0, high=300.0) == pytest.approx(
        [90.0, 100.0, 110.0]
    )
