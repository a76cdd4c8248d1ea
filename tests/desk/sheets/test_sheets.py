# SPDX-License-Identifier: GPL-3.0-or-later
"""What the position sheets say: readings, steps, headings and remarks of each operator, the exposure sheet, the CSV."""

import csv
import io
import re
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings

from plan.plannable import plannable_shots
from underglass.plan import make_plan
from underglass.shot import (
    CAMERA,
    Camera,
    Drawings,
    Exposure,
    Focus,
    Gate,
    Level,
    Move,
    Projection,
    Shot,
    ShotError,
    Stand,
)
from underglass.shot.units import METRES_PER_UNIT
from underglass_headless.desk.sheets.cautions import CAUTIONS, DEFERENCE
from underglass_headless.desk.sheets.exposure_sheet import MOST_COLUMNS, exposure_tables
from underglass_headless.desk.sheets.make_sheets import operator_sets
from underglass_headless.desk.sheets.sheet_tables import csv_files, exposure_csv, operator_csv
from underglass_headless.report.csv_formulas import text_from_cell

README = Path(__file__).resolve().parents[3] / "README.md"
INCH = METRES_PER_UNIT["in"]
HOSTILE = ["=1+1", "-2", "+cmd", "@sum", "<script>alert(1)</script>", 'a"b,c', "\u202egnp", "..", "Camera", "a/b\\c"]


def shot_of(*moves: Move, **said: object) -> Shot:
    camera = Camera(
        Projection.PERSPECTIVE, (1600, 1200), 40 * INCH, Gate(0.022, 0.016), 0.05, focus=Focus(distance=30 * INCH)
    )
    levels = (
        Level("heron", "heron_{drawing}.png", 4 * INCH, 12 * INCH, (400, 300), east=INCH, on=2),
        Level("reeds", "reeds.png", 12 * INCH, 8 * INCH, (400, 300)),
        Level("hills", "hills.png", 30 * INCH, 2 * INCH, (400, 300)),
    )
    drawings = Drawings(("heron",), (1, 5, 17), (("a",), ("b",), ("-",)))
    said = {"stand": Stand(counter=0.01 * INCH), "drawings": drawings, "schedule": moves} | said
    return Shot("Heron", "in", 24.0, (1, 25), camera, levels, **said)


def east(first: int, last: int, start: float, end: float, part: str = "reeds") -> Move:
    return Move(part, "east", first, last, start * INCH, end * INCH)


def sets_of(shot: Shot):
    return {one.part: one for one in operator_sets(make_plan(shot))}


def remarks(shot: Shot, part: str) -> dict[int, str]:
    return {row.frame: "; ".join(row.remarks) for row in sets_of(shot)[part].rows if row.remarks}


def test_there_is_a_set_for_the_camera_and_for_each_glass():
    assert list(sets_of(shot_of())) == [CAMERA, "heron", "reeds", "hills"]


def test_a_line_says_frame_feet_reading_step_and_heading():
    row = sets_of(shot_of(east(1, 25, 0, -2.4)))["reeds"].rows[17]
    assert (row.frame, row.footage, row.drawing) == (18, "1+01", "")
    assert [(cell.reading, cell.step, cell.heading) for cell in row.cells] == [("−1.70", "0.10", "west")]


def test_a_level_that_never_moves_has_a_set_up_sheet_and_one_with_drawings_a_line_a_frame():
    sets = sets_of(shot_of(east(1, 25, 0, 1)))
    assert sets["hills"].rows == sets[CAMERA].rows == ()
    assert [position.reading for position in sets["hills"].line_up] == ["2.00", "0.00", "0.00", "0.0"]
    heron = sets["heron"]
    assert heron.moving == ()
    assert [row.drawing for row in heron.rows if row.changes] == ["a", "b", "–"]


def test_where_a_move_starts_turns_round_and_stops_is_remarked():
    shot = shot_of(east(5, 10, 0, 1), east(10, 15, 1, -1), east(20, 22, -1, 0))
    assert remarks(shot, "reeds") == {6: "starts", 11: "turns round", 15: "stops", 21: "starts", 22: "stops"}


def test_axes_that_start_together_are_named_together():
    up = Move("reeds", "height", 5, 10, 8 * INCH, 9 * INCH)
    assert remarks(shot_of(east(5, 9, 0, 1), up), "reeds") == {
        6: "Height and East start",
        9: "East stops",
        10: "Height stops",
    }


def test_a_level_on_twos_does_not_start_anew_every_second_frame():
    assert remarks(shot_of(east(1, 25, 1, 3, "heron")), "heron") == {
        1: "held to frame 4",
        3: "starts",
        5: "held to frame 16",
        17: "no drawing to frame 25: leave the glass clear",
        25: "stops",
    }


def test_a_creep_starts_where_its_counter_does():
    # a twentieth of an inch in 24 frames: 0.005 is passed in the third of them, 0.045 in the twenty-second
    assert remarks(shot_of(east(1, 25, 0, 0.05)), "reeds") == {4: "starts", 23: "stops"}


def test_passes_and_fades_are_remarked_and_each_pass_has_its_box():
    base = Exposure("base", ("reeds", "hills"), fade=((1, 0.0), (9, 1.0)))
    shot = shot_of(east(1, 25, 0, 2.4), exposures=(base, Exposure("glow", ("reeds",), stops=-1.0)))
    sets = sets_of(shot)
    assert remarks(shot, "reeds")[1] == "passes: base and glow; base fades in, 0 % to 100 % on frame 9"
    assert remarks(shot, "reeds")[9] == "base stays at 100 %"
    assert sets["reeds"].passes == sets[CAMERA].passes == ("base", "glow")
    assert (sets["hills"].passes, sets["hills"].outside) == (("base",), ("glow",))
    assert ("Pass", "glow: reeds, −1 stops") in sets[CAMERA].facts
    # in none of the passes, so there is nothing to be set
    assert (sets["heron"].passes, sets["heron"].rows) == ((), ())


def test_a_wired_axis_says_so_in_words_and_its_readings_and_headings_are_the_counters():
    move = east(1, 25, 0.5, 2.9)
    wired = shot_of(move, stand=Stand(counter=0.01 * INCH, reversed=(("reeds", "east"),)))
    reeds, straight = sets_of(wired)["reeds"], sets_of(shot_of(move))["reeds"]
    line = reeds.line_up[1]
    assert line.reading == "−0.50"
    assert "reads −0.50 where the axis stands at 0.50, and says west as it goes east" in line.reversed
    assert not any(position.reversed for position in (*straight.line_up, reeds.line_up[0]))
    assert [row.cells[0].reading for row in reeds.rows] == [f"−{row.cells[0].reading}" for row in straight.rows]
    assert {row.cells[0].heading for row in reeds.rows[1:]} == {"west"}


def test_the_counter_is_said_to_be_assumed_where_it_is():
    assert "(assumed: the shot names no counter)" in dict(sets_of(shot_of(stand=Stand()))["reeds"].facts)["Counter"]
    assert "assumed" not in dict(sets_of(shot_of())["reeds"].facts)["Counter"]


def test_the_worst_rounding_is_said_in_units_and_on_screen():
    said = dict(sets_of(shot_of(east(1, 25, 0, 0.05)))["reeds"].facts)["Rounding"]
    off = float(re.search(r"at most East ([0-9.]+) in on frame", said)[1])
    assert 0.004 < off <= 0.005
    plan = make_plan(shot_of())
    on_screen = float(re.search(r"moves the picture by ([0-9.]+) px", said)[1])
    assert on_screen == pytest.approx(off * INCH * plan.scale[0, 1], rel=0.05)
    assert dict(sets_of(shot_of())["hills"].facts)["Rounding"] == "none: every reading falls on a step."


def test_film_is_counted_by_the_gate():
    thirty_five = dict(sets_of(shot_of())[CAMERA].facts)["Film"]
    assert "1 ft 9 fr of 35 mm film, 16 frames a foot (by the gate of 22 × 16 mm)" in thirty_five
    narrow = replace(shot_of().camera, gate=Gate(0.01026, 0.00749, "standard-16"))
    assert (
        "0 ft 25 fr of 16 mm film, 40 frames a foot"
        in dict(sets_of(replace(shot_of(), camera=narrow))[CAMERA].facts)["Film"]
    )


def test_the_exposure_sheet_has_every_level_the_camera_and_the_passes():
    base = Exposure("base", fade=((1, 0.0), (5, 1.0)))
    shot = shot_of(east(1, 25, 0, 2.4), exposures=(base,))
    plan = make_plan(shot)
    (table,) = exposure_tables(plan, sets=operator_sets(plan))
    assert table.parts == ("heron", "reeds", "hills", CAMERA)
    assert table.passes == ("base",)
    line = table.lines[4]
    assert (line.frame, line.footage, line.light) == (5, "0+04", ("100 %",))
    assert [(share.drawing, share.changes, share.headings) for share in line.shares] == [
        ("b", True, ()),
        ("", False, ("east",)),
        ("", False, ()),
        ("", False, ()),
    ]
    assert [line.light[0] for line in table.lines[:4]] == ["0 %", "25 %", "50 %", "75 %"]


def test_many_levels_go_on_in_another_table():
    levels = tuple(Level(f"glass {n}", "g.png", INCH, (30 - n) * INCH, (4, 3)) for n in range(25))
    plan = make_plan(replace(shot_of(), levels=levels, drawings=Drawings()))
    tables = exposure_tables(plan, sets=operator_sets(plan))
    assert [part for table in tables for part in table.parts] == [*plan.names, CAMERA]
    assert max(len(table.parts) for table in tables) <= MOST_COLUMNS


# -- CSV ---------------------------------------------------------------------------------------------------------------


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_a_table_holds_all_axes_of_its_operator_and_numbers_are_numbers():
    plan = make_plan(shot_of(east(1, 25, 0, -2.4)))
    reeds = next(one for one in operator_sets(plan) if one.part == "reeds")
    rows = rows_of(operator_csv(plan, reeds))
    assert list(rows[0])[:5] == ["frame", "feet_frames", "height_in", "height_step_in", "height_heading"]
    assert (rows[0]["east_in"], rows[0]["east_step_in"], rows[0]["remarks"]) == ("0.00", "", "")
    assert (rows[-1]["east_in"], rows[-1]["east_step_in"], rows[-1]["east_heading"]) == ("-2.40", "-0.10", "west")
    assert rows[-1]["remarks"] == "stops"
    assert (rows[-1]["turn_deg"], rows[-1]["height_in"]) == ("0.0", "8.00")


@given(plannable_shots(most_frames=12))
@settings(max_examples=15)
def test_every_reading_in_every_file_is_a_number_and_the_steps_add_up(shot):
    try:
        plan = make_plan(shot)
    except ShotError:
        return
    sets = operator_sets(plan)
    files = csv_files(plan, sets=sets)
    assert len(files) == len(sets) + 2
    everything = rows_of(files["all readings.csv"])
    assert len(everything) == len(plan.frames) * sum(len(one.axes) for one in sets)
    for one in sets:
        for axis in one.axes:
            mine = [row for row in everything if text_from_cell(row["part"]) == one.part and row["axis"] == axis.axis]
            readings = [Decimal(row["reading"]) for row in mine]
            steps = [Decimal(row["step"]) for row in mine[1:]]
            assert readings[0] + sum(steps) == readings[-1]
            assert [row["frame"] for row in mine] == [str(frame) for frame in plan.frames.tolist()]


def test_timecode_is_dropped_at_29_97_and_left_out_where_there_is_none():
    plan = make_plan(replace(shot_of(), fps=29.97))
    assert rows_of(csv_files(plan, sets=operator_sets(plan))["all readings.csv"])[-1]["timecode"] == "00:00:00;24"
    plan = make_plan(replace(shot_of(), fps=12.5))
    assert rows_of(csv_files(plan, sets=operator_sets(plan))["all readings.csv"])[-1]["timecode"] == ""


def hostile_plan():
    levels = tuple(Level(name, f"art {n}.png", 4 * INCH, (30 - n) * INCH, (400, 300)) for n, name in enumerate(HOSTILE))
    exposures = (Exposure("=base", ("-2",)), Exposure("</style><b>", None))
    shot = replace(shot_of(), title="</title><i>", levels=levels, drawings=Drawings(), exposures=exposures)
    return make_plan(replace(shot, schedule=(east(1, 25, 0, -2.4, HOSTILE[0]),)))


def test_no_name_becomes_a_formula_and_every_name_can_be_had_back():
    plan = hostile_plan()
    sets = operator_sets(plan)
    for text in csv_files(plan, sets=sets).values():
        for row in csv.reader(io.StringIO(text, newline="")):
            for cell in row:
                assert cell[:1] not in ("=", "+", "@")
                assert not cell.startswith("-") or float(cell) < 0
    header = next(csv.reader(io.StringIO(exposure_csv(plan, sets=sets), newline="")))
    assert [text_from_cell(cell) for cell in header[2 : 2 + len(HOSTILE)]] == HOSTILE


def test_no_name_leaves_its_folder_or_takes_the_place_of_another():
    plan = hostile_plan()
    names = list(csv_files(plan, sets=operator_sets(plan)))
    assert len({name.casefold() for name in names}) == len(names) == len(HOSTILE) + 3
    for name in names:
        assert Path(name).name == name
        assert not name.startswith((".", "-"))


# -- the cautions ------------------------------------------------------------------------------------------------------


def test_the_readme_says_the_same_cautions():
    said = " ".join(README.read_text(encoding="utf-8").split())
    for what, text in CAUTIONS.items():
        assert f"- **{what}**: {text}" in said
    assert DEFERENCE in said
