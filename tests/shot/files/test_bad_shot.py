# SPDX-License-Identifier: GPL-3.0-or-later
"""What the reader says of each fault in a shot.toml: the line, the key, what is wrong and what would be right."""

from pathlib import Path

import pytest

from underglass.shot import ShotError
from underglass.shot.files import read_shot

# Each row: what is in the good file, what is put in its place, and then what the error must tell: the key, a part of
# the problem, a part of the remedy. The line is that of the change, or of the text in the optional last place.
UNKNOWN = [
    ("fps = 24", "fsp = 24\nfps = 24", "fsp", "not a key", "did you mean 'fps'?"),
    ("focal_mm = 50", "focal = 50", "camera.focal", "not a key", "'focal_mm'"),
    ("height = 12.0", "hieght = 12.0", "level.heron.hieght", "not a key", "'height'"),
    ("least_gap", "gap", "stand.gap", "not a key", "least_gap"),
    ('heads = "west"', 'head = "west"', "expect[2].head", "not a key", "'heads'"),
    ("stops = -1.0", "stop = -1.0", "exposure[1].stop", "not a key", "'stops'"),
    ("fps = 24", "zzz = 24", "zzz", "not a key", "write one of 'format'"),
]
ROOT = [
    ("format = 1", "format = 2", "format", "is 2", "reads format 1"),
    ("format = 1", 'format = "1"', "format", "'1', not a whole number", "write format = 1"),
    ("format = 1", "", "format", "is missing", "write format = 1", None),
    ('units = "in"', 'units = "inch"', "units", "'inch'", "'in'"),
    ('units = "in"', "units = 1", "units", "is 1, not a text", "'in', 'mm', 'cm'"),
    ("fps = 24", "fps = true", "fps", "true, not a number", "from 1 to 240"),
    ("fps = 24", "fps = 0", "fps", "is 0", "from 1 to 240"),
    ("fps = 24", "fps = nan", "fps", "is nan", "from 1 to 240"),
    ("fps = 24", "fps = 1000", "fps", "is 1000", "from 1 to 240"),
    ("frames = [1, 48]", "frames = [48, 1]", "frames", "last before the first", "first frame first"),
    ("frames = [1, 48]", "frames = [1, 100001]", "frames", "[1, 100001]", "100000 frames"),
    ("frames = [1, 48]", "frames = [1.0, 48]", "frames", "1.0, not a whole number", "whole number"),
    ("frames = [1, 48]", "frames = [true, 48]", "frames", "true, not a whole number", "whole number"),
    ("frames = [1, 48]", "frames = [1]", "frames", "[1], not a list of two", "[a, b]"),
    ("frames = [1, 48]", "frames = 48", "frames", "48, not a list of two", "[a, b]"),
    ("frames = [1, 48]", "frames = [1, 99999999999]", "frames", "99999999999", "1048574"),
    ("frames = [1, 48]", "", "frames", "is missing", "[a, b]", None),
    ('title = "Estuary at first light"', "title = 3", "title", "3, not a text", "double quotes"),
    ('title = "Estuary at first light"', 'title = "a\\u0007b"', "title", "control character", "one line"),
    ('schedule = "schedule.csv"', 'schedule = "nowhere.csv"', "schedule", "no file", "correct the path"),
    ('schedule = "schedule.csv"', 'schedule = "../schedule.csv"', "schedule", "leaves the shot's folder", "folder"),
    ('schedule = "schedule.csv"', 'schedule = ""', "schedule", "is ''", "name a file"),
    ('schedule = "schedule.csv"', 'schedule = "art"', "schedule", "is a folder", "name a file"),
    ('drawings = "drawings.csv"', "", "drawings", "is missing", "drawings.csv", None),
]
CAMERA = [
    ("frame_px = [1828, 1332]", "frame_px = [0, 1332]", "camera.frame_px", "is 0", "from 4 to 32768"),
    ("frame_px = [1828, 1332]", "frame_px = [1828, 32769]", "camera.frame_px", "is 32769", "from 4 to 32768"),
    ("frame_px = [1828, 1332]", "frame_px = [1828.5, 1332]", "camera.frame_px", "1828.5, not a whole", "whole"),
    ("focal_mm = 50", "focal_mm = -50", "camera.focal_mm", "is -50 mm", "above 0"),
    ("focal_mm = 50", "focal_mm = 0", "camera.focal_mm", "is 0 mm", "above 0"),
    ("focal_mm = 50", "focal_mm = inf", "camera.focal_mm", "is inf mm", "at most 1000000 mm (1000 m)"),
    ("focal_mm = 50", 'focal_mm = "50"', "camera.focal_mm", "'50', not a number", "above 0"),
    ("focal_mm = 50\n", "", "camera.focal_mm", "is missing", "above 0", "[camera]"),
    ("f_stop = 8", "f_stop = 0", "camera.f_stop", "is 0", "above 0"),
    ("height = 48.0", "height = 0", "camera.height", "is 0 in", "above 0"),
    ("height = 48.0", "height = 1e6", "camera.height", "is 1000000.0 in", "39370.1 in (1000 m)"),
    ("height = 48.0", "height = true", "camera.height", "true, not a number", "a length"),
    ("height = 48.0", "height = 1979-05-27", "camera.height", "not a number", "a length"),
    ("height = 48.0", "height = 0x" + "f" * 6000, "camera.height", "thousands of digits", "(1000 m)"),
    ("height = 48.0\n", "", "camera.height", "is missing", "a length", "[camera]"),
    ("east = 0.5", "east = nan", "camera.east", "is nan in", "a length"),
    ("turn = 90", "turn = 1e9", "camera.turn", "is 1000000000.0 degrees", "from -36000 to 36000 degrees"),
    ('gate = "academy-35"', 'gate = "accademy"', "camera.gate", "'accademy'", "did you mean 'academy-35'?"),
    (
        'gate = "academy-35"',
        'gate = "academy-35"\ngate_mm = [22, 16]',
        "camera.gate_mm",
        "together with gate",
        "keep one",
        "gate_mm = [22, 16]",
    ),
    ('gate = "academy-35"\n', "", "camera.gate", "is missing", "needs gate or gate_mm", "[camera]"),
    ('gate = "academy-35"', "gate_mm = [22, 0]", "camera.gate_mm", "is 0 mm", "above 0"),
    ('gate = "academy-35"', "gate_mm = 22", "camera.gate_mm", "22, not a list of two numbers", "[a, b]"),
    ("east = 0.5", "squeeze = 0", "camera.squeeze", "is 0", "from 0.1 to 10"),
    ("east = 0.5", "field_width = 12", "camera.field_width", "orthographic", "focal_mm and focus"),
    ('"perspective"', '"orthographic"', "camera.focal_mm", "perspective", "field_width in place of", "focal_mm = 50"),
    ('"perspective"', '"perspectiv"', "camera.projection", "'perspectiv'", "'perspective'"),
    ('focus = "reeds"', 'focus = "reads"', "camera.focus", "'reads', no level", "'reeds'"),
    ('focus = "reeds"', 'focus = "zzz"', "camera.focus", "no level", "'infinity'"),
    ('focus = "reeds"', "focus = 1.5", "camera.focus", "1.5 in, no further than the focal", "beyond 1.9685 in"),
    ('focus = "reeds"', "focus = -3", "camera.focus", "is -3 in", "above 0"),
    ('focus = "reeds"', "focus = inf", "camera.focus", "is inf in", "above 0"),
    ('focus = "reeds"', "focus = [1]", "camera.focus", "[1], not a number", "a length"),
    ('focus = "reeds"\n', "", "camera.focus", "is missing", "a length", "[camera]"),
]
STAND = [
    ("camera_height = [14, 96]", "camera_height = [96, 14]", "stand.camera_height", "greater number first", "smaller"),
    ("least_gap = 1.5", "least_gap = -1", "stand.least_gap", "is -1 in", "from 0"),
    ("counter = 0.01", "counter = 0", "stand.counter", "is 0 in", "above 0"),
    ("counter = 0.01", 'reversed = ["reed.east"]', "stand.reversed", "names 'reed.east'", "did you mean 'reeds.east'?"),
    ("counter = 0.01", 'reversed = ["reeds.focal_mm"]', "stand.reversed", "names 'reeds.focal_mm'", "focal_mm'?"),
    ("counter = 0.01", 'reversed = "reeds.east"', "stand.reversed", "not a list", "['camera.height']"),
    ("counter = 0.01", 'reversed = ["reeds.east", "reeds.east"]', "stand.reversed", "twice", "name it once"),
    ("level_east = [-12, 12]", 'level_east = ["a", 12]', "stand.level_east", "'a', not a number", "a length"),
]
LEVEL = [
    ('name = "heron"', 'name = "reeds"', "level[2].name", "the level at line 27 too", "each its own name"),
    ('name = "heron"', 'name = ""', "level[2].name", "is ''", "without blanks"),
    ('name = "heron"', 'name = " heron"', "level[2].name", "' heron'", "without blanks"),
    ('name = "heron"', 'name = "camera"', "level[2].name", "a word of the format", "another name"),
    ('name = "heron"', 'name = "infinity"', "level[2].name", "a word of the format", "another name"),
    ('name = "heron"', 'name = "frame"', "level[2].name", "a word of the format", "another name"),
    ('name = "heron"', 'name = "he\\nron"', "level[2].name", "control character", "one line"),
    ('name = "heron"', f'name = "{"é" * 40}"', "level[2].name", "80 bytes", "may have 63"),
    ('name = "heron"\n', "", "level[2].name", "is missing", "double quotes", 'art = "cels/heron_{drawing}.png"', -1),
    ("art_width = 9.0", "art_width = 0", "level.heron.art_width", "is 0 in", "above 0"),
    ("art_width = 9.0", "art_width = -9", "level.heron.art_width", "is -9 in", "above 0"),
    ("height = 12.0", "height = -1", "level.heron.height", "is -1 in", "from 0"),
    ("height = 12.0", "height = 18", "level.heron.height", "'heron' at 18 in, not below 'reeds' at 18 in", "nearest"),
    (
        "height = 18.0",
        "height = 48",
        "level.reeds.height",
        "not below the camera at 48 in",
        "camera's height above 48 in",
    ),
    (
        "height = 12.0",
        "height = 50",
        "level.heron.height",
        "at 50 in, not below 'reeds'",
        "camera's height above 50 in",
    ),
    ('name = "heron"', 'name = "reeds"\nnorht = 1', "level[2].norht", "not a key", "'north'", "norht"),
    ("height = 2.0", "height = 13.5", "level.far hills.height", "'far hills' at 13.5 in, not below 'heron'", "lower"),
    ("east = -1.25", 'east = "-1.25"', "level.heron.east", "'-1.25', not a number", "a length"),
    ('["left", "right", "bottom"]', '["left", "rigth"]', "level.reeds.covers", "'rigth'", "'right'"),
    ('["left", "right", "bottom"]', '["left", "left"]', "level.reeds.covers", "'left' twice", "once"),
    ('["left", "right", "bottom"]', '"left"', "level.reeds.covers", "'left', not a list", "['left']"),
    ('["left", "right", "bottom"]', "[1]", "level.reeds.covers", "names 1", "'left'"),
    ('["left", "right", "bottom"]', "[0x" + "f" * 6000 + "]", "level.reeds.covers", "thousands of digits", "'left'"),
    ("on = 2", "on = 0", "level.reeds.on", "is 0", "from 1 to 8"),
    ("on = 2", "on = 9", "level.reeds.on", "is 9", "from 1 to 8"),
    ("on = 2", "on = 2.0", "level.reeds.on", "2.0, not a whole number", "from 1 to 8"),
    ("on = 2", "on = true", "level.reeds.on", "true, not a whole number", "from 1 to 8"),
]
EXPECT = [
    ('level = "far hills"', 'level = "far hill"', "expect[1].level", "'far hill'", "'far hills'"),
    ('size = "holds"', 'size = "grows"', "expect[1].size", "'grows'", "'holds'"),
    ('size = "holds"\n', "", "expect[1].size", "is missing", "size or grows or heads or drift_ratio", "[[expect]]"),
    ('size = "holds"', 'size = "holds"\ngrows = 2', "expect[1].grows", "together with size", "keep one", "grows = 2"),
    ('size = "holds"', "grows = 0", "expect[1].grows", "is 0", "above 0"),
    ('heads = "west"', 'heads = "left"', "expect[2].heads", "'left'", "'west', 'east', 'north', 'south'"),
    ("between = [1, 24]", "between = [0, 24]", "expect[2].between", "is 0", "from 1 to 48"),
    ("between = [1, 24]", "between = [24, 24]", "expect[2].between", "[24, 24]", "later last"),
    ('against = "far hills"', 'against = "reeds"', "expect[3].against", "with itself", "another level"),
    ('against = "far hills"', 'against = "x"', "expect[3].against", "'x'", "'far hills'"),
    ("drift_ratio = 6.0", "drift_ratio = inf", "expect[3].drift_ratio", "is inf", "a ratio"),
    ("drift_ratio = 6.0\n", "", "expect[3].drift_ratio", "is missing", "go together", "[[expect]]"),
    ('against = "far hills"\n', "", "expect[3].against", "is missing", "go together", "[[expect]]"),
    ('size = "holds"', 'against = "reeds"', "expect[1].drift_ratio", "is missing", "go together", "[[expect]]"),
    (
        'heads = "west"',
        'heads = "west"\nagainst = "heron"\ndrift_ratio = 2',
        "expect[2].drift_ratio",
        "together with heads",
        "keep one",
        "drift_ratio = 2",
    ),
]
EXPOSURE = [
    ('levels = ["far hills", "reeds"]', 'levels = ["reds"]', "exposure[1].levels", "'reds'", "'reeds'"),
    ('levels = ["far hills", "reeds"]', "levels = []", "exposure[1].levels", "is empty", "leave it out"),
    ('levels = ["far hills", "reeds"]', 'levels = ["reeds", "reeds"]', "exposure[1].levels", "twice", "once"),
    ("stops = -1.0", "stops = nan", "exposure[1].stops", "is nan", "stops from -30 to 30"),
    ("[16, 1.0]", "[16, 1.5]", "exposure[1].fade", "is 1.5", "fraction from 0 to 1"),
    ("[16, 1.0]", "[1, 1.0]", "exposure[1].fade", "frame 1 after frame 1", "ascending"),
    ("[16, 1.0]", "[49, 1.0]", "exposure[1].fade", "is 49", "from 1 to 48"),
    ("[16, 1.0]", "16", "exposure[1].fade", "[[1, 0.0], 16]", "[[frame, number], …]"),
    ('name = "base"', 'name = ""', "exposure[1].name", "is ''", "a name"),
]
SHAPE = [
    ("[camera]", "[[camera]]", "camera", "not a table", "write [camera]"),
    ("[stand]", "[[stand]]", "stand", "not a table", "write [stand]"),
    ('[[exposure]]\nname = "base"', '[exposure]\nname = "base"', "exposure", "not a list of tables", "[[exposure]]"),
    ("height = 48.0", "height = 48,0", "", "not valid TOML", "decimal point"),
    ("height = 48.0", "height = ", "", "not valid TOML: Invalid value at column", "key = value"),
    (
        "height = 48.0",
        "height = 48.0\nheight = 48.0",
        "",
        "Cannot overwrite a value",
        "key = value",
        "height = 48.0",
        1,
    ),
    ("height = 48.0", 'height = "48', "", "not valid TOML", "double quotes"),
    ("height = 48.0", "height = " + "9" * 5000, "", "not valid TOML", "numbers", None),
    ("height = 48.0", "height = " + "[" * 5000, "", "without end", "flat", None),
]
ALL = UNKNOWN + ROOT + CAMERA + STAND + LEVEL + EXPECT + EXPOSURE + SHAPE


def expected_line(text: str, at: int, *rest: str | int | None) -> int:
    """Return the line of the change, of the text in ``rest`` that is nearest before or after it, or 0 for None."""
    if rest == (None,):
        return 0
    if rest:
        mark, moved = str(rest[0]), int(rest[1]) if len(rest) > 1 else 0
        before = text.rfind(mark, 0, at)
        found = before if mark.startswith("[") else text.index(mark, max(at - 20, 0))
        return text.count("\n", 0, found) + 1 + moved
    return text.count("\n", 0, at) + 1


@pytest.mark.parametrize("row", ALL, ids=[f"{row[2] or 'toml'}: {row[1][:40]!r}" for row in ALL])
def test_the_error_says_line_key_fault_and_remedy(lay_out, texts, row):
    good, bad, key, problem, remedy, *rest = row
    assert good in texts["shot"]
    text = texts["shot"].replace(good, bad, 1)
    with pytest.raises(ShotError) as caught:
        read_shot(lay_out(shot=text))
    error = caught.value
    assert (problem in error.problem, remedy in error.remedy) == (True, True), str(error)
    assert (error.place.file.name, error.place.key) == ("shot.toml", key), str(error)
    assert error.place.line == expected_line(text, texts["shot"].index(good), *rest), str(error)
    assert "\n" not in str(error)


def test_a_shot_without_levels_or_camera_is_told_so(lay_out, texts):
    bare = texts["shot"][: texts["shot"].index("[camera]")]
    with pytest.raises(ShotError, match=r"level: is missing; write a \[\[level\]\] table"):
        read_shot(lay_out(shot=bare))
    levels = texts["shot"][texts["shot"].index("[[level]]") : texts["shot"].index("[[expect]]")]
    with pytest.raises(ShotError, match=r"camera: is missing; write a \[camera\] table"):
        read_shot(lay_out(shot=bare + levels))


def test_levels_in_single_brackets_are_told_to_be_doubled(lay_out, texts):
    start, end = texts["shot"].index("[[level]]"), texts["shot"].index("[[expect]]")
    single = texts["shot"][:start] + '[level]\nname = "reeds"\n' + texts["shot"][end:]
    with pytest.raises(ShotError, match=r"level: is a table, not a list of tables; write \[\[level\]\] in double"):
        read_shot(lay_out(shot=single))


def test_an_exposure_named_twice_is_an_error(lay_out, texts):
    with pytest.raises(ShotError, match=r"exposure\[2\].name: 'base' is the name of an earlier exposure"):
        read_shot(lay_out(shot=texts["shot"] + '[[exposure]]\nname = "base"\n'))


def test_an_error_reads_as_one_line_with_file_and_value(lay_out, texts):
    folder = lay_out(shot=texts["shot"].replace("focal_mm = 50", "focal_mm = -50"))
    with pytest.raises(ShotError) as caught:
        read_shot(folder)
    remedy = "write a length above 0 and at most 1000000 mm (1000 m)"
    assert str(caught.value) == f"{folder / 'shot.toml'}:13: camera.focal_mm: is -50 mm; {remedy}"


def test_a_file_that_is_missing_is_named(tmp_path: Path):
    with pytest.raises(ShotError, match=r"no file .*nowhere.toml"):
        read_shot(tmp_path / "nowhere.toml")
    with pytest.raises(ShotError, match=r"no file .*shot.toml"):
        read_shot(tmp_path)
