# SPDX-License-Identifier: GPL-3.0-or-later
"""What the reader says of each fault in a schedule or a sheet of drawings: line, column, fault and remedy."""

import pytest

from underglass.shot import ShotError
from underglass.shot.files import read_shot

MOVES = "part,axis,first,last,from,to,law,slow_out,slow_in,about\n"
EAST = "reeds,east,1,24,0,-3.5,steady,6,6,\n"

# Each row: the text of the schedule, the line and the column of the fault, a part of the problem and of the remedy.
HEADERS = [
    ("part;axis;first;last;from;to\nreeds;east;1;24;0;1,5\n", 1, "", "separated by semicolons", "with commas"),
    ("part\taxis\tfirst\tlast\tto\n", 1, "", "separated by tabs", "with commas"),
    ("foo,bar\n", 1, "foo", "of no schedule", "part,axis,first,last,from,to"),
    ("part,axis,first,lst,to\n", 1, "lst", "not a column", "did you mean 'last'?"),
    ("# a\npart,axis,first,last\n", 2, "to", "column is missing", "part,axis,first,last,from,to,law"),
    ("part,axis,first,last,to,to\n", 1, "to", "'to' is there twice", "keep one"),
    ("part,axis,,last,to\n", 1, "", "column 3 has no name", "name it"),
    ('part,axis,"first,last,to\n', 1, "", "not CSV", "close every quote"),
]
MOVE = [
    ("reads,east,1,24,0,1,,,,\n", 2, "part", "'reads'", "did you mean 'reeds'?"),
    (",east,1,24,0,1,,,,\n", 2, "part", "is blank", "'camera', 'reeds'"),
    ("reeds,esat,1,24,0,1,,,,\n", 2, "axis", "'esat'", "'east'"),
    ("reeds,focal_mm,1,24,0,1,,,,\n", 2, "axis", "'focal_mm'", "'height', 'east', 'north', 'turn'"),
    ("camera,focal,1,24,50,60,,,,\n", 2, "axis", "'focal'", "did you mean 'focal_mm'?"),
    ("reeds,east,1,24,0,1,stedy,,,\n", 2, "law", "'stedy'", "'steady'"),
    ("reeds,east,0,24,0,1,,,,\n", 2, "first", "is 0", "from 1 to 48"),
    ("reeds,east,1,49,0,1,,,,\n", 2, "last", "is 49", "from 1 to 48"),
    ("reeds,east,1.5,24,0,1,,,,\n", 2, "first", "'1.5', not a whole number", "from 1 to 48"),
    ("reeds,east,1,,0,1,,,,\n", 2, "last", "is blank", "whole number"),
    ("reeds,east,24,1,0,1,,,,\n", 2, "last", "is 1, and first is 24", "later last frame"),
    ("reeds,east,24,24,0,1,,,,\n", 2, "last", "is 24, and first is 24", "later last frame"),
    ("reeds,east,1,24,0,,,,,\n", 2, "to", "is blank", "a length"),
    ("reeds,east,1,24,0,one,,,,\n", 2, "to", "'one', not a number", "a length"),
    ("reeds,east,1,24,0,nan,,,,\n", 2, "to", "'nan', not a number", "a length"),
    ("reeds,east,1,24,0,inf,,,,\n", 2, "to", "'inf', not a number", "a length"),
    ("reeds,east,1,24,0,1_0,,,,\n", 2, "to", "'1_0', not a number", "a length"),
    ("reeds,east,1,24,0,1e9,,,,\n", 2, "to", "is 1000000000.0 in", "39370.1 in (1000 m)"),
    ("reeds,east,1,24,0,1e999,,,,\n", 2, "to", "is inf in", "39370.1 in (1000 m)"),
    ('reeds,east,1,24,0,"-3,5",,,,\n', 2, "to", "'-3,5' has a decimal comma", "decimal point: -3.5"),
    ("reeds,east,1,24,0,-3,5,,,,\n", 2, "", "has 11 cells where the header has 10", "decimals with a point"),
    ("reeds,east,1,24,0,1\n", 2, "", "has 6 cells where the header has 10", "comma for every cell"),
    ("reeds;east;1;24;0;1,5;;;;\n", 2, "", "and semicolons", "with commas"),
    ('reeds,"east,1,24,0,1,,,,\n', 2, "", "not CSV", "close every quote"),
    ("reeds,ea\x07st,1,24,0,1,,,,\n", 2, "", "control character", "take it out"),
    ("reeds,height,1,24,,-1,,,,\n", 2, "to", "is -1.0 in", "from 0"),
    ("camera,height,1,24,,0,,,,\n", 2, "to", "is 0.0 in", "above 0"),
    ("camera,focal_mm,1,24,,0,,,,\n", 2, "to", "is 0.0 mm", "above 0"),
    ("reeds,turn,1,24,,1e6,,,,\n", 2, "to", "1000000.0 degrees", "36000 degrees"),
    ("reeds,east,1,24,1,2,,,,\n", 2, "from", "is 1, but reeds east stood at 0: a jump", "write 0 or leave it blank"),
    ("camera,focal_mm,1,24,51,2,,,,\n", 2, "from", "camera focal_mm stood at 50", "write 50 or"),
    ("reeds,turn,1,24,1,2,,,,\n", 2, "from", "reeds turn stood at 0", "write 0 or"),
    (
        "reeds,east,1,24,0,1,steady,12,12,\n",
        2,
        "slow_out",
        "slow_out 12 and slow_in 12 make more than the 23",
        "shorten",
    ),
    ("reeds,east,1,24,0,1,steady,,24,\n", 2, "slow_in", "more than the 23 steps", "lengthen the move"),
    ("reeds,east,1,24,0,1,steady,-1,,\n", 2, "slow_out", "is -1.0", "steps from 0"),
    ("reeds,east,1,24,0,1,sine,6,,\n", 2, "slow_out", "is 6 with the law sine", "only steady and bezier"),
    ("reeds,east,1,24,0,1,bezier,20,,\n", 2, "slow_out", "more than the 23 steps", "lengthen the move"),
    ("reeds,height,1,24,,10,ratio,,6,\n", 2, "slow_in", "is 6 with the law ratio", "only steady"),
    ("reeds,east,1,24,0,1,ratio,,,\n", 2, "law", "ratio on the axis east", "steady or sine"),
    ("camera,turn,1,24,,1,ratio,,,\n", 2, "law", "ratio on the axis turn", "steady or sine"),
    ("camera,height,1,24,,40,ratio,,,\n", 2, "about", "is blank", "write one of 'reeds'"),
    ("camera,height,1,24,,40,ratio,,,hills\n", 2, "about", "'hills'", "'far hills'"),
    ("camera,height,1,24,,40,steady,,,reeds\n", 2, "about", "'reeds'", "leave it blank"),
    ("reeds,height,1,24,,10,ratio,,,heron\n", 2, "about", "'heron'", "leave it blank"),
    ("reeds,east,1,24,1,20000.0000125,,,,\nreeds,east,24,25,0,1,,,,\n", 2, "from", "is 1", "write 0 or"),
    (
        "reeds,east,1,24,0,20000.0000125,,,,\nreeds,east,24,25,1,2,,,,\n",
        3,
        "from",
        "stood at 20000.0000125",
        "write 20000.0000125 or",
    ),
    (EAST + "reeds,east,23,36,,1,,,,\n", 3, "first", "23 overlaps the move at line 2", "begin at 24 or later"),
    ("reeds,east,23,36,,1,,,,\n" + EAST, 2, "first", "23 overlaps the move at line 3", "begin at 24 or later"),
    (EAST + "# then\n\nreeds,east,24,36,-3,1,,,,\n", 5, "from", "stood at -3.5: a jump", "write -3.5 or"),
]
TABLE = [
    ("camera.height,frame\n48,1\n", 1, "frame", "not the first column", "frame the first"),
    ("frame,reads.east\n1,0\n", 1, "reads.east", "no axis", "did you mean 'reeds.east'?"),
    ("frame,camera.focal\n1,0\n", 1, "camera.focal", "no axis", "did you mean 'camera.focal_mm'?"),
    ("frame,reeds.east,reeds.east\n1,0,0\n", 1, "reeds.east", "there twice", "keep one"),
    ("frame,reeds.east\n1,0\n1,1\n", 3, "frame", "frame 1 is there twice", "once, in order"),
    ("frame,reeds.east\n9,0\n2,1\n", 3, "frame", "frame 2 is after frame 9", "once, in order"),
    ("frame,reeds.east\n0,0\n", 2, "frame", "is 0", "from 1 to 48"),
    ("frame,reeds.east\n1,0\n49,0\n", 3, "frame", "is 49", "from 1 to 48"),
    ("frame,reeds.east\n1.0,0\n", 2, "frame", "'1.0', not a whole number", "whole number"),
    ("frame,reeds.east\n1,nan\n", 2, "reeds.east", "'nan', not a number", "a length"),
    ('frame,reeds.east\n1,"0,5"\n', 2, "reeds.east", "decimal comma", "0.5"),
    ("frame,reeds.east\n1,0,5\n", 2, "", "3 cells where the header has 2", "with a point"),
    ("frame,reeds.height\n1,-2\n", 2, "reeds.height", "is -2.0 in", "from 0"),
]
SCHEDULES = HEADERS + [(MOVES + text, *rest) for text, *rest in MOVE] + TABLE

DRAWINGS = [
    ("", 1, "", "is empty", "header line"),
    ("# nothing\n\n", 1, "", "is empty", "header line"),
    ("heron,frame\na,1\n", 1, "heron", "is the first column", "frame the first column"),
    ("frame,heron,reeds\n1,a,b\n", 1, "reeds", "level without drawings", "{drawing}"),
    ("frame,herons\n1,a\n", 1, "herons", "is no level", "did you mean 'heron'?"),
    ("frame\n1\n", 1, "heron", "has drawings but no column", "add a column heron"),
    ("frame,heron\n", 1, "frame", "has no rows", "shown at frame 1"),
    ("frame,heron\n2,a\n", 2, "frame", "begins at frame 2", "shown at frame 1"),
    ("frame,heron\n1,\n", 2, "heron", "is blank", "- for none"),
    ("frame,heron\n1,a\n1,b\n", 3, "frame", "there twice", "once, in order"),
    ("frame,heron\n1,a\n99,b\n", 3, "frame", "is 99", "from 1 to 48"),
    ("frame;heron\n1;a\n", 1, "", "semicolons", "commas"),
]


def check(error: ShotError, file: str, line: int, column: str, problem: str, remedy: str) -> None:
    assert (problem in error.problem, remedy in error.remedy) == (True, True), str(error)
    assert (error.place.file.name, error.place.line, error.place.key) == (file, line, column), str(error)
    assert "\n" not in str(error)


@pytest.mark.parametrize(
    ("text", "line", "column", "problem", "remedy"), SCHEDULES, ids=[repr(r[0][-40:]) for r in SCHEDULES]
)
def test_a_fault_in_a_schedule_is_told_with_line_and_column(lay_out, text, line, column, problem, remedy):
    with pytest.raises(ShotError) as caught:
        read_shot(lay_out(schedule=text))
    check(caught.value, "schedule.csv", line, column, problem, remedy)


@pytest.mark.parametrize(("text", "line", "column", "problem", "remedy"), DRAWINGS, ids=[repr(r[0]) for r in DRAWINGS])
def test_a_fault_in_a_sheet_of_drawings_is_told_with_line_and_column(lay_out, text, line, column, problem, remedy):
    with pytest.raises(ShotError) as caught:
        read_shot(lay_out(drawings=text))
    check(caught.value, "drawings.csv", line, column, problem, remedy)


def test_an_orthographic_camera_has_no_lens_to_zoom(lay_out, texts):
    lens = 'focal_mm = 50\nf_stop = 8\nfocus = "reeds"\n'
    parallel = texts["shot"].replace('"perspective"', '"orthographic"').replace(lens, "field_width = 12\n")
    with pytest.raises(ShotError, match=r"schedule.csv:7: axis: is 'focal_mm'; write one of 'height', 'east'"):
        read_shot(lay_out(shot=parallel))


def test_moves_of_one_axis_may_touch_and_come_in_any_order(lay_out):
    rows = ["reeds,east,24,36,,-4,,,,\n", "reeds,east,40,48,-4,0,,,,\n", EAST]
    moves = read_shot(lay_out(schedule=MOVES + "".join(rows))).schedule
    assert [(move.first, move.last) for move in moves] == [(24, 36), (40, 48), (1, 24)]
    assert moves[0].start == moves[2].end


def test_a_start_that_differs_by_less_than_any_counter_shows_is_no_jump(lay_out):
    move = read_shot(lay_out(schedule=MOVES + "reeds,east,1,24,0.00000001,1,,,,\n")).schedule[0]
    assert move.start == pytest.approx(1e-8 * 0.0254)


def test_all_steps_of_a_move_may_be_slow(lay_out):
    move = read_shot(lay_out(schedule=MOVES + "reeds,east,1,24,0,1,steady,11.5,11.5,\n")).schedule[0]
    assert (move.slow_out, move.slow_in) == (11.5, 11.5)


def test_a_zero_slow_is_no_fault_with_another_law(lay_out):
    assert read_shot(lay_out(schedule=MOVES + "reeds,east,1,24,0,1,sine,0,0,\n")).schedule[0].slow_out == 0


@pytest.mark.parametrize(
    ("start", "words"),
    [
        # the first bytes of each: Blender's file format, RFC 8878, RFC 1952, APPNOTE 4.3.7, PNG 5.2, EXR layout
        (b"BLENDER17-01v0500", "is a Blender file, not text; name the shot.toml; a .blend is given with --scene"),
        (b"\x28\xb5\x2f\xfd\x00", "is a packed Blender file, not text"),
        (b"\x1f\x8b\x08\x00", r"is a packed file \(gzip\), not text; unpack it"),
        (b"PK\x03\x04\x14\x00", "is a packed file, as a spreadsheet is saved, not text; export it as text"),
        (b"\x89PNG\r\n\x1a\n", "is a PNG picture, not text"),
        (b"\x76\x2f\x31\x01\x02", "is an EXR picture, not text; name a file of text; a folder of frames"),
    ],
)
@pytest.mark.parametrize("name", ["shot.toml", "schedule.csv", "drawings.csv"])
def test_a_file_that_is_no_text_is_told_as_what_it_is(lay_out, name, start, words):
    folder = lay_out()
    (folder / name).write_bytes(start + bytes(range(256)))
    with pytest.raises(ShotError, match=words) as caught:
        read_shot(folder)
    assert caught.value.place.file.name == name


@pytest.mark.parametrize("name", ["shot.toml", "schedule.csv", "drawings.csv"])
def test_a_file_that_is_not_utf_8_is_told_with_its_line(lay_out, name):
    folder = lay_out()
    data = (folder / name).read_bytes()
    (folder / name).write_bytes(data + b"# \xff\n")
    with pytest.raises(ShotError, match=r"is not UTF-8 text \(byte 0xff\); save it as UTF-8") as caught:
        read_shot(folder)
    assert (caught.value.place.file.name, caught.value.place.line) == (name, data.count(b"\n") + 1)
    (folder / name).write_bytes(data.decode().encode("utf-16"))
    with pytest.raises(ShotError, match="is UTF-16 text; save it as UTF-8"):
        read_shot(folder)
