# SPDX-License-Identifier: GPL-3.0-or-later
"""Amending a shot's files: they say the new shot, and nothing else in them has been touched."""

import re
import tempfile
import tomllib
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
import tomlkit
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from shot_strategies import make_art, make_shot_art, shots
from underglass.shot import (
    Drawings,
    Expectation,
    Exposure,
    Focus,
    FrameTable,
    Law,
    Level,
    Move,
    Projection,
    Shot,
    Stand,
)
from underglass.shot.files import read_shot, write_shot
from underglass.shot.files.amend_files import amend_shot, with_files
from underglass.shot.files.stamp import texts_of
from underglass.shot.files.toml_lines import spans
from underglass.shot.units import metres_from, radians_from

# Two drawn shots are large, and drawing them is most of the time.
PAIRS = settings(
    max_examples=60,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],  # to make two such shots smaller takes minutes
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
INCH = 0.0254


def amended(folder: Path, old: Shot, new: Shot) -> Shot:
    """Amend the files in ``folder`` so that they say ``new``, and read them again."""
    for path, text in amend_shot(old, new, texts=texts_of(old)).items():
        path.write_bytes(text.encode())
    return read_shot(folder)


def edited(shot: Shot, name: str, **changes: object) -> Shot:
    """Return the shot with changes to one level."""
    levels = tuple(replace(level, **changes) if level.name == name else level for level in shot.levels)
    return replace(shot, levels=levels)


def text_of(folder: Path, file: str = "shot.toml") -> str:
    return (folder / file).read_bytes().decode()


def changed_lines(before: str, after: str) -> tuple[list[str], list[str]]:
    """Return the lines that went and those that came."""
    gone, come = Counter(before.splitlines()), Counter(after.splitlines())
    return [*(gone - come).elements()], [*(come - gone).elements()]


# -- any shot into any other -------------------------------------------------------------------------------------------


@PAIRS
@given(shots(most_levels=4), st.data())
def test_any_shot_becomes_any_other(old, data):
    new = data.draw(shots(most_levels=4))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_shot_art(old, folder)
        write_shot(old, folder)
        read = read_shot(folder)
        assert amend_shot(read, read, texts=texts_of(read)) == {}
        make_shot_art(new, folder)
        written = with_files(read, new)
        assert amended(folder, read, new) == written


@st.composite
def commented(draw: st.DrawFn, text: str, *, is_toml: bool) -> str:
    """Draw ``text`` with comments and empty lines put in, behind keys too, and perhaps other line ends and a mark."""
    lines = []
    for number, line in enumerate(text.splitlines()):
        lines += [f"# above {number}"] if draw(st.booleans()) else []
        lines += [""] if draw(st.booleans()) else []
        behind = is_toml and line and draw(st.booleans())
        lines.append(f"{line}{' ' * draw(st.integers(1, 20))}# behind {number}" if behind else line)
    end = draw(st.sampled_from(["\n", "\r\n"]))
    return draw(st.sampled_from(["", "\ufeff"])) + end.join(lines) + draw(st.sampled_from(["", end]))


@st.composite
def small_edits(draw: st.DrawFn, shot: Shot) -> Shot:
    """Draw a shot as an artist leaves it: a few things moved, nothing taken away."""
    level = draw(st.sampled_from(shot.names))
    moved = edited(shot, level, art_width=metres_from(draw(st.integers(1, 500)) / 100, shot.units))
    camera = replace(shot.camera, squeeze=draw(st.sampled_from([1.0, 2.0])), frame_px=(640, 480))
    return draw(
        st.sampled_from(
            [
                moved,
                replace(moved, title="Second take", fps=30.0),
                replace(moved, camera=camera),
                replace(moved, camera=camera, stand=replace(shot.stand, counter=metres_from(0.05, shot.units))),
            ]
        )
    )


@PAIRS
@given(shots(most_levels=4), st.data())
def test_comments_and_untouched_keys_stay_in_the_eyes_of_another_reader(old, data):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_shot_art(old, folder)
        write_shot(old, folder)
        for file in folder.glob("*.*"):
            text = data.draw(commented(file.read_text(), is_toml=file.suffix == ".toml"))
            file.write_bytes(text.encode())
        read = read_shot(folder)
        assert read == old
        new = data.draw(small_edits(read))
        before = texts_of(read)
        assert amended(folder, read, new) == with_files(read, new)
        after = texts_of(read)
        for path, text in before.items():
            assert comments(after[path]) == comments(text)
            assert after[path].startswith("\ufeff") == text.startswith("\ufeff")
            assert ("\r\n" in text) == ("\r\n" in after[path])
            assert "\n" not in after[path].replace("\r\n", "") or "\r\n" not in text
        file = folder / "shot.toml"
        was, now = (tomlkit.parse(texts[file].removeprefix("\ufeff")).unwrap() for texts in (before, after))
        assert len(now["level"]) == len(was["level"])
        for one, other in zip(was["level"], now["level"], strict=True):
            assert {key for key in one if one[key] != other.get(key)} <= {"art_width"}
            assert [*other][: len(one)] == [*one]
        if new.camera == read.camera:
            assert now["camera"] == was["camera"]


def comments(text: str) -> Counter[str]:
    """Return the comments in a text that `commented` made."""
    return Counter(re.findall(r"# (?:above|behind) \d+", text))


# -- shot.toml ---------------------------------------------------------------------------------------------------------

HAND_MADE = """\
# Reeds before hills.

format = 1
title = "Estuary"   # the "first" take
"units" = 'in'
fps = 24
frames = [
  1,  # slate off
  48,
]
schedule = "schedule.csv"
camera.projection = "perspective"
camera.gate_mm = [22.00, 16.0]
camera.frame_px = [1828, 1332]
camera . focal_mm = 50    # the long one
camera.focus = "reeds"
camera.height = 48.00     # from the bed
stand = { least_gap = 1.50, counter = 0.01 }

# the near glass
[[level]]                 # nearest the lens
  name = "reeds"
  art = "art/reeds.png"
  art_width = 13.50       # measured
  height = 18.00
  east = 0.25             # a little
  covers = [ "left",  # always
             "right", # after the pan
             "bottom" ]
# so much for the reeds

# the far glass
[[level]]
name = "far hills"
art = "art/hills.png"
art_width = 2e1
height = 2.0

# what must hold
[[expect]]
level = "far hills"
size = "holds"
"""
SCHEDULE = """\
# what the stand does
part, axis, first, last, to, slow_out, slow_in

# the pan
reeds,     east,   1, 24, 1.50, 6, 6
reeds,     east,  24, 36, 2.00, 0, 0
# the truck
camera,  height,   1, 48, 40.0, 12, 12
"""


@pytest.fixture
def hand_made(lay_out) -> Path:
    """Return a shot laid out as one person writes it: dotted keys, an inline table, arrays over several lines."""
    return lay_out(shot=HAND_MADE, schedule=SCHEDULE)


def test_a_new_number_changes_its_own_line_and_its_comment_keeps_its_column(hand_made):
    old = read_shot(hand_made)
    new = edited(old, "reeds", art_width=metres_from(9.25, "in"))
    assert amended(hand_made, old, new) == new
    assert changed_lines(HAND_MADE, text_of(hand_made)) == (
        ["  art_width = 13.50       # measured"],
        ["  art_width = 9.25        # measured"],
    )


def test_a_comment_gives_way_to_a_long_number(hand_made):
    old = read_shot(hand_made)
    new = replace(old, title="Estuary at the very first light of a day in May")
    assert amended(hand_made, old, new) == new
    assert 'title = "Estuary at the very first light of a day in May" # the "first" take' in text_of(hand_made)


def test_dotted_keys_stay_dotted_and_new_ones_go_below_them(hand_made):
    old = read_shot(hand_made)
    camera = replace(old.camera, focal=metres_from(35.5, "mm"), f_stop=8.0, north=metres_from(1.5, "in"))
    new = replace(old, camera=camera)
    assert amended(hand_made, old, new) == new
    gone, come = changed_lines(HAND_MADE, text_of(hand_made))
    assert gone == ["camera . focal_mm = 50    # the long one"]
    assert sorted(come) == ["camera . focal_mm = 35.5  # the long one", "camera.f_stop = 8.0", "camera.north = 1.5"]


def test_an_inline_table_is_amended_within_its_braces(hand_made):
    old = read_shot(hand_made)
    new = replace(old, stand=Stand(least_gap=old.stand.least_gap, level_east=(-12 * INCH, 12 * INCH)))
    assert amended(hand_made, old, new) == new
    assert "stand = { least_gap = 1.50, level_east = [-12.0, 12.0] }\n" in text_of(hand_made)


def test_an_array_over_several_lines_keeps_its_comments(hand_made):
    old = read_shot(hand_made)
    new = edited(replace(old, frames=(1, 60)), "reeds", covers=("left", "bottom"))
    assert amended(hand_made, old, new) == new
    text = text_of(hand_made)
    assert "frames = [\n  1,  # slate off\n  60,\n]" in text
    for comment in ("# always", "# after the pan"):
        assert comment in text


def test_a_level_back_at_the_centre_says_so_where_it_said_where_it_was(hand_made):
    old = read_shot(hand_made)
    new = edited(old, "reeds", east=0.0)
    assert changed_lines(HAND_MADE, amend_shot(old, new, texts=texts_of(old))[hand_made / "shot.toml"]) == (
        ["  east = 0.25             # a little"],
        ["  east = 0.0              # a little"],
    )


def test_a_new_key_is_indented_as_its_neighbours(hand_made):
    old = read_shot(hand_made)
    new = edited(old, "reeds", on=2)
    assert amended(hand_made, old, new) == new
    assert '"bottom" ]\n  on = 2\n# so much for the reeds' in text_of(hand_made)


def test_a_level_that_leaves_takes_its_table_and_the_comments_that_touch_it(hand_made):
    old = read_shot(hand_made)
    kept = tuple(level for level in old.levels if level.name == "reeds")
    new = replace(old, levels=kept, expectations=())
    assert amended(hand_made, old, new) == new
    text = text_of(hand_made)
    assert "far" not in text
    assert "must hold" not in text
    assert text.endswith("# so much for the reeds\n")


def test_a_level_that_comes_stands_in_its_order_and_the_comments_stay(hand_made):
    make_art(hand_made, "art/mist.png", 20, 10)
    old = read_shot(hand_made)
    mist = Level("mist", "art/mist.png", 16 * INCH, 10 * INCH, (20, 10), on=2)
    new = replace(old, levels=(old.levels[0], mist, old.levels[1]))
    assert amended(hand_made, old, new) == new
    gone, come = changed_lines(HAND_MADE, text_of(hand_made))
    assert gone == []
    assert 'name = "mist"' in come
    assert text_of(hand_made).index("the far glass") > text_of(hand_made).index("mist")


def test_levels_that_change_places_take_their_comments_along(hand_made):
    make_art(hand_made, "art/hills.png", 40, 30)
    old = read_shot(hand_made)
    reeds, hills = old.levels
    new = replace(old, levels=(replace(hills, height=20 * INCH), reeds), schedule=old.schedule)
    assert amended(hand_made, old, new) == new
    text = text_of(hand_made)
    assert (
        text.index("the far glass")
        < text.index("far hills")
        < text.index("the near glass")
        < text.index("art/reeds.png")
    )


def test_a_stand_that_was_not_described_gets_a_table_above_the_levels(lay_out, texts):
    plain = re.sub(r"\[stand\].*?\n\n", "", texts["shot"], flags=re.DOTALL)
    folder = lay_out(shot=plain)
    old = read_shot(folder)
    new = replace(old, stand=Stand(least_gap=INCH))
    assert amended(folder, old, new) == new
    assert "[stand]\nleast_gap = 1.0\n\n[[level]]   # nearest" in text_of(folder)


INLINE_LEVELS = """\
format = 1
title = ""
units = "in"
fps = 24
frames = [1, 48]
camera = { projection = "orthographic", frame_px = [100, 100], field_width = 12, height = 48 }
level = [
  { name = "reeds", art = "art/reeds.png", art_width = 13.50, height = 18 }, # near
  { name = "far hills", art = "art/hills.png", art_width = 20, height = 2 }, # far
]
expect = []
"""


def test_levels_in_an_array_of_inline_tables_are_amended_there(lay_out):
    folder = lay_out(shot=INLINE_LEVELS)
    make_art(folder, "art/mist.png", 20, 10)
    old = read_shot(folder)
    mist = Level("mist", "art/mist.png", 16 * INCH, 10 * INCH, (20, 10))
    new = replace(
        edited(old, "reeds", east=1 * INCH),
        expectations=(Expectation("reeds", holds=True),),
        exposures=(Exposure("base", fade=((1, 0.0), (2, 1.0))),),
    )
    new = replace(new, levels=(new.levels[0], mist, new.levels[1]))
    assert amended(folder, old, new) == new
    text = text_of(folder)
    assert "art_width = 13.50, height = 18, east = 1.0 }" in text
    assert "# near" in text
    assert "# far" in text
    again = read_shot(folder)
    assert amended(folder, again, old) == old


def test_a_camera_that_loses_its_lens_loses_its_keys(hand_made):
    old = read_shot(hand_made)
    camera = replace(
        old.camera, projection=Projection.ORTHOGRAPHIC, focal=0.0, focus=Focus(), field_width=12 * INCH, gate=None
    )
    new = replace(old, camera=camera)
    assert amended(hand_made, old, new) == new
    assert "camera.gate_mm" not in text_of(hand_made)


def test_every_span_of_a_document_holds_its_value():
    """Each value, cut out of the text, reads as what another reader finds at its path."""
    found = {span.path: HAND_MADE[span.value : span.end] for span in spans(HAND_MADE) if not span.is_header}
    said = dict(values_of(tomllib.loads(HAND_MADE), ""))
    assert {path: tomllib.loads(f"k = {text}")["k"] for path, text in found.items()} == {
        path: said[path] for path in found
    }
    assert [span.path for span in spans(HAND_MADE) if span.is_header] == ["level[0]", "level[1]", "expect[0]"]


def values_of(value: object, path: str) -> Iterator[tuple[str, object]]:
    """Yield all values of a document by path."""
    yield path, value
    if isinstance(value, dict):
        for key, item in value.items():
            yield from values_of(item, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from values_of(item, f"{path}[{number}]")


# -- the sheets --------------------------------------------------------------------------------------------------------


def test_rows_of_moves_that_stay_keep_their_lines(hand_made):
    old = read_shot(hand_made)
    first, second, truck = old.schedule
    new = replace(old, schedule=(first, replace(second, end=3 * INCH), truck))
    assert amended(hand_made, old, new) == new
    assert changed_lines(SCHEDULE, text_of(hand_made, "schedule.csv")) == (
        ["reeds,     east,  24, 36, 2.00, 0, 0"],
        ["reeds,     east,  24, 36, 3.0, 0, 0"],
    )


def test_a_law_that_the_sheet_has_no_column_for_gets_one(hand_made):
    old = read_shot(hand_made)
    first, second, truck = old.schedule
    new = replace(old, schedule=(first, replace(second, law=Law.SINE), truck))
    assert amended(hand_made, old, new) == new
    lines = text_of(hand_made, "schedule.csv").splitlines()
    assert lines[1] == "part, axis, first, last, to, slow_out, slow_in,law"
    assert lines[0] == "# what the stand does"


def test_a_move_that_goes_takes_its_line_and_one_that_comes_stands_where_it_belongs(hand_made):
    old = read_shot(hand_made)
    first, _, truck = old.schedule
    tilt = Move("far hills", "turn", 1, 12, 0.0, radians_from(5.0), said_start=False)
    new = replace(old, schedule=(first, tilt, truck))
    assert amended(hand_made, old, new) == new
    assert changed_lines(SCHEDULE, text_of(hand_made, "schedule.csv")) == (
        ["reeds,     east,  24, 36, 2.00, 0, 0"],
        ["far hills,turn,1,12,5.0,0,0"],
    )


def test_a_shot_that_held_gets_a_schedule_and_a_key_for_it(lay_out, texts):
    folder = lay_out(shot=texts["shot"].replace('schedule = "schedule.csv"\n', ""))
    (folder / "schedule.csv").unlink()
    old = read_shot(folder)
    new = replace(old, schedule=(Move("reeds", "east", 1, 12, 0.0, INCH),))
    assert amended(folder, old, new) == replace(new, schedule_file="schedule.csv")
    assert text_of(folder).splitlines()[6] == 'schedule = "schedule.csv"'


TABLE = """\
# from the chart of the second of May
frame,reeds.east,camera.height
1,0.00,48.0
# here the wind comes up
9,0.250,

17,,47.50
"""


def test_a_frame_table_keeps_its_rows_and_the_comments_above_them(lay_out):
    folder = lay_out(schedule=TABLE)
    old = read_shot(folder)
    table = old.schedule
    values = ((0.0, 48 * INCH), (None, 47.75 * INCH), (0.5 * INCH, None), (None, 47.5 * INCH))
    new = replace(old, schedule=FrameTable(table.columns, (1, 5, 9, 17), values))
    assert amended(folder, old, new) == new
    assert text_of(folder, "schedule.csv") == TABLE.replace("# here", "5,,47.75\n# here").replace("0.250", "0.5")


def test_a_frame_table_may_lose_a_column(lay_out):
    folder = lay_out(schedule=TABLE)
    old = read_shot(folder)
    values = tuple(row[1:] for row in old.schedule.values)
    new = replace(old, schedule=FrameTable(old.schedule.columns[1:], old.schedule.frames, values))
    assert amended(folder, old, new) == new
    assert text_of(folder, "schedule.csv") == (
        "# from the chart of the second of May\nframe,camera.height\n1,48.0\n# here the wind comes up\n9,\n\n17,47.50\n"
    )


@pytest.mark.parametrize("schedule", ["moves", "table", "nothing"])
def test_a_schedule_of_another_form_keeps_what_stands_above_it(lay_out, texts, schedule):
    was = {"moves": texts["schedule"], "table": TABLE, "nothing": "# nothing moves\n"}[schedule]
    folder = lay_out(schedule=was)
    old = read_shot(folder)
    other = (
        (Move("reeds", "east", 1, 12, 0.0, INCH),)
        if schedule == "table"
        else FrameTable((("reeds", "east"),), (1,), ((INCH,),))
    )
    new = replace(old, schedule=other)
    assert amended(folder, old, new) == new
    assert text_of(folder, "schedule.csv").startswith(was.splitlines()[0] + "\n")


def test_drawings_keep_their_lines(lay_out):
    text = "# keys by hand\r\nframe, heron\r\n1, a\r\n9, b   \r\n# gone\r\n25, -\r\n"
    folder = lay_out(drawings=text)
    old = read_shot(folder)
    new = replace(old, drawings=Drawings(("heron",), (1, 9, 12, 25), (("a",), ("b",), ("a",), ("-",))))
    assert amended(folder, old, new) == new
    assert text_of(folder, "drawings.csv") == text.replace("# gone", "12,a\r\n# gone")
