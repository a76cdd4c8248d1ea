# SPDX-License-Identifier: GPL-3.0-or-later
"""What a reader of a whole shot finds in it: metres, radians, and the line of everything that was said."""

import math
from pathlib import Path

import pytest

from underglass.shot import (
    Drawings,
    Expectation,
    Exposure,
    Focus,
    FrameTable,
    Heading,
    Law,
    Move,
    Projection,
    ShotError,
)
from underglass.shot.files import read_shot

INCH = 0.0254


def test_a_shot_is_read_by_its_file_or_by_its_folder(lay_out):
    folder = lay_out()
    assert read_shot(folder) == read_shot(folder / "shot.toml")
    assert read_shot(folder).folder == folder


def test_lengths_become_metres_and_degrees_become_radians(lay_out):
    shot = read_shot(lay_out())
    assert (shot.title, shot.units, shot.fps, shot.frames) == ("Estuary at first light", "in", 24.0, (1, 48))
    assert shot.camera.projection is Projection.PERSPECTIVE
    assert shot.camera.focal == pytest.approx(0.050)
    assert shot.camera.height == pytest.approx(48 * INCH)
    assert (shot.camera.east, shot.camera.turn) == pytest.approx((0.5 * INCH, math.pi / 2))
    assert shot.camera.focus == Focus(level="reeds")
    assert shot.camera.gate.name == "academy-35"
    assert (shot.camera.gate.width, shot.camera.gate.height) == pytest.approx((0.0219964, 0.016002))
    assert shot.stand.camera_height == pytest.approx((14 * INCH, 96 * INCH))
    assert shot.stand.level_north is None


def test_axes_wired_in_reverse_are_named_as_in_a_frame_table(lay_out, texts):
    shot = texts["shot"].replace("counter = 0.01", 'reversed = ["reeds.east", "camera.focal_mm"]')
    assert read_shot(lay_out(shot=shot)).stand.reversed == (("reeds", "east"), ("camera", "focal"))


def test_levels_are_read_nearest_the_lens_first_with_the_size_of_their_art(lay_out):
    shot = read_shot(lay_out())
    assert shot.names == ("reeds", "heron", "far hills")
    reeds, heron, hills = shot.levels
    assert (reeds.art_px, heron.art_px, hills.art_px) == ((27, 10), (18, 12), (40, 30))
    assert (reeds.covers, heron.covers) == (("left", "right", "bottom"), None)
    assert (reeds.on, heron.on) == (2, 1)
    assert hills.art_height == pytest.approx(15 * INCH)
    assert heron.east == pytest.approx(-1.25 * INCH)


def test_expectations_and_exposures_are_read(lay_out):
    shot = read_shot(lay_out())
    assert shot.expectations == (
        Expectation("far hills", holds=True),
        Expectation("reeds", heads=Heading.WEST, between=(1, 24)),
        Expectation("reeds", against="far hills", drift_ratio=6.0),
    )
    assert shot.exposures == (Exposure("base", ("far hills", "reeds"), -1.0, ((1, 0.0), (16, 1.0))),)


def test_a_blank_from_is_where_the_axis_stood(lay_out):
    first, second, truck, zoom, turn = read_shot(lay_out()).schedule
    assert first == Move("reeds", "east", 1, 24, 0.0, first.end, Law.STEADY, 6.0, 6.0)
    assert (second.start, second.said_start, second.law) == (first.end, False, Law.SINE)
    assert first.end == pytest.approx(-3.5 * INCH)
    assert (truck.part, truck.axis, truck.law, truck.about) == ("camera", "height", Law.RATIO, "far hills")
    assert (zoom.axis, zoom.start, zoom.end) == ("focal", pytest.approx(0.05), pytest.approx(0.06))
    assert (turn.start, turn.end, turn.law) == (0.0, pytest.approx(math.pi / 4), Law.STEADY)


def test_a_blank_drawing_is_as_before_and_a_dash_is_none(lay_out):
    shot = read_shot(lay_out())
    assert shot.drawings == Drawings(("heron",), (1, 9, 17, 25), (("a",), ("b",), (None,), ("-",)))
    assert shot.drawings.of("heron") == ("a", "b")


def test_a_frame_table_is_told_apart_by_its_header(lay_out):
    table = "frame,camera.height,camera.focal_mm,far hills.east,reeds.turn\n1,48,50,,0\n13,47.5,,0.25,90\n"
    schedule = read_shot(lay_out(schedule=table)).schedule
    assert isinstance(schedule, FrameTable)
    assert schedule.columns == (("camera", "height"), ("camera", "focal"), ("far hills", "east"), ("reeds", "turn"))
    assert schedule.frames == (1, 13)
    assert schedule.values[0] == (pytest.approx(48 * INCH), pytest.approx(0.05), None, 0.0)
    assert schedule.values[1] == (
        pytest.approx(47.5 * INCH),
        None,
        pytest.approx(0.25 * INCH),
        pytest.approx(math.pi / 2),
    )


def test_without_a_schedule_everything_holds(lay_out, texts):
    assert read_shot(lay_out(shot=texts["shot"].replace('schedule = "schedule.csv"\n', ""))).schedule == ()


def test_a_schedule_of_a_header_alone_holds_too(lay_out):
    assert read_shot(lay_out(schedule="part,axis,first,last,to\n")).schedule == ()


def test_an_orthographic_camera_has_a_field_width_and_no_lens(lay_out, texts):
    lens = 'focal_mm = 50\nf_stop = 8\nfocus = "reeds"\n'
    parallel = texts["shot"].replace('"perspective"', '"orthographic"').replace(lens, "field_width = 12\n")
    shot = read_shot(lay_out(shot=parallel.replace('schedule = "schedule.csv"\n', "")))
    assert shot.camera.projection is Projection.ORTHOGRAPHIC
    assert shot.camera.field_width == pytest.approx(12 * INCH)
    assert shot.camera.focal == 0.0


@pytest.mark.parametrize(
    ("said", "focus"),
    [
        ('"infinity"', Focus(distance=math.inf)),
        ('"far hills"', Focus(level="far hills")),
        ("30", Focus(distance=30 * INCH)),
    ],
)
def test_focus_is_a_level_or_a_distance_or_infinity(lay_out, texts, said, focus):
    shot = read_shot(lay_out(shot=texts["shot"].replace('focus = "reeds"', f"focus = {said}")))
    assert shot.camera.focus == focus


def test_a_gate_may_be_given_in_millimetres(lay_out, texts):
    shot = read_shot(
        lay_out(shot=texts["shot"].replace('gate = "academy-35"', "gate_mm = [22.0, 16.0]\nsqueeze = 2.0"))
    )
    assert (shot.camera.gate.width, shot.camera.gate.height) == pytest.approx((0.022, 0.016))
    assert (shot.camera.gate.name, shot.camera.squeeze) == ("", 2.0)


@pytest.mark.parametrize("keyword", ["shot", "schedule", "drawings"])
def test_a_byte_order_mark_and_crlf_change_nothing(lay_out, texts, keyword):
    plain = read_shot(lay_out())
    assert read_shot(lay_out(**{keyword: "\ufeff" + texts[keyword]})) == plain
    assert read_shot(lay_out(**{keyword: texts[keyword].replace("\n", "\r\n")})) == plain
    assert read_shot(lay_out(**{keyword: "\ufeff" + texts[keyword].replace("\n", "\r\n")})).places == plain.places


def test_blanks_around_cells_and_columns_in_another_order_change_nothing(lay_out):
    plain = read_shot(lay_out(schedule="part,axis,first,last,to\nreeds,east,1,24,-3.5\n")).schedule
    assert read_shot(lay_out(schedule='to , part, axis,last,first\n -3.5, "reeds",east  , 24, 1\n')).schedule == plain


@pytest.mark.parametrize(
    ("key", "file", "text"),
    [
        ("frames", "shot.toml", "frames = [1, 48]"),
        ("camera", "shot.toml", "[camera]"),
        ("camera.height", "shot.toml", "height = 48.0"),
        ("camera.focal_mm", "shot.toml", "focal_mm = 50"),
        ("camera.north", "shot.toml", "[camera]"),
        ("stand.least_gap", "shot.toml", "least_gap = 1.5"),
        ("level.reeds", "shot.toml", "[[level]]   # nearest the lens"),
        ("level.heron.height", "shot.toml", "height = 12.0"),
        ("level.far hills.art", "shot.toml", 'art = "art/hills.png"'),
        ("expect[3].drift_ratio", "shot.toml", "drift_ratio = 6.0"),
        ("expect[1].level", "shot.toml", 'level = "far hills"'),
        ("exposure[1].fade", "shot.toml", "fade = [[1, 0.0], [16, 1.0]]"),
        ("schedule:reeds.east@24", "schedule.csv", "reeds,east,24,36,,-4,sine,,,"),
        ("schedule:camera.focal@1", "schedule.csv", "camera,focal_mm,1,48,50,60,ratio,,,"),
    ],
)
def test_everything_said_can_be_pointed_at(lay_out, key, file, text):
    place = read_shot(lay_out()).place(key)
    assert place.file.name == file
    assert place.file.read_text().splitlines()[place.line - 1] == text


def test_columns_and_rows_of_a_frame_table_can_be_pointed_at(lay_out):
    shot = read_shot(lay_out(schedule="# chart\nframe,reeds.east\n1,0\n\n9,1\n"))
    assert shot.place("schedule:reeds.east").line == 2
    assert shot.place("schedule@9").line == 5


def test_the_same_shot_as_inline_tables_is_the_same_shot(lay_out, texts):
    start = texts["shot"].index("[[level]]")
    end = texts["shot"].index("[[expect]]")
    inline = (
        "level = [\n"
        '  {name = "reeds", art = "art/reeds.png", art_width = 13.5, height = 18.0,'
        ' covers = ["left", "right", "bottom"], on = 2},\n'
        '  {name = "heron", art = "cels/heron_{drawing}.png", art_width = 9.0, height = 12.0, east = -1.25},\n'
        '  {name = "far hills", art = "art/hills.png", art_width = 20.0, height = 2.0},\n'
        "]\n"
    )
    plain = read_shot(lay_out())
    root, rest = texts["shot"].split("[camera]")
    rest = rest.replace(texts["shot"][start:end], "")
    shot = read_shot(lay_out(shot=f"{root}{inline}\n[camera]{rest}"))
    assert shot == plain
    assert shot.place("level.heron.height").line == 11


def test_a_shot_of_relative_path_is_read(lay_out, monkeypatch):
    folder = lay_out()
    monkeypatch.chdir(folder)
    assert read_shot(Path()) == read_shot(Path("shot.toml")) == read_shot(folder)


@pytest.mark.parametrize("schedule", ["", "# nothing\n\n", "part,axis,first,last,to\n", "\ufeff\n"])
def test_a_schedule_without_a_row_moves_nothing(lay_out, schedule):
    assert read_shot(lay_out(schedule=schedule)).schedule == ()


def with_chart(lay_out, texts, chart):
    folder = lay_out(shot=texts["shot"].replace("schedule =", 'chart = "chart.csv"\nschedule ='))
    (folder / "chart.csv").write_text(chart, encoding="utf-8")
    return read_shot(folder)


def test_a_chart_stands_beside_moves_and_has_axes_that_they_have_not(lay_out, texts):
    shot = with_chart(lay_out, texts, "frame,reeds.north,far hills.east\n1,0.5,\n7,0.75,1\n")
    assert shot.chart.columns == (("reeds", "north"), ("far hills", "east"))
    assert shot.chart.values == ((0.5 * 0.0254, None), (0.75 * 0.0254, 1 * 0.0254))
    assert shot.schedule


def test_an_axis_is_in_the_schedule_or_in_the_chart(lay_out, texts):
    shot = read_shot(lay_out())
    part, axis = shot.schedule[0].part, shot.schedule[0].axis
    with pytest.raises(ShotError, match=rf"chart.csv:1: {part}.{axis}: is in schedule.csv too; let one of the two"):
        with_chart(lay_out, texts, f"frame,{part}.{axis}\n1,1\n")


def test_a_chart_begins_with_the_column_of_frames(lay_out, texts):
    with pytest.raises(ShotError, match=r"chart.csv:1: part: the header is of no chart; begin with frame"):
        with_chart(lay_out, texts, "part,axis,first,last,to\n")
