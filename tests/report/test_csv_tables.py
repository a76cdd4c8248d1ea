# SPDX-License-Identifier: GPL-3.0-or-later
"""The tables: read back by Python's own csv module, they say what went in."""

import csv
import io
import math
import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from report import synthetic
from underglass.plan.plan_arrays import Plan
from underglass_headless.report.csv_formulas import cell_from_text, text_from_cell
from underglass_headless.report.csv_tables import measurement_table, plan_table

# What a spreadsheet may take for a formula, as the security community lists it.
FORMULA_SIGNS = tuple("=+-@\t\r\n＝＋－＠")
# 10,000 frames of 64 levels; a shot as long is rare, and nobody likes to wait for a table.
MOST_SECONDS = 15.0


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


@pytest.mark.parametrize("names", [synthetic.NAMES, synthetic.HOSTILE])
def test_the_plan_table_reads_back_as_the_plan_to_the_last_bit(names):
    plan = synthetic.plan(names)
    rows = read(plan_table(plan))
    assert [int(row["frame"]) for row in rows] == [frame for frame in range(1, 49) for _ in names]
    assert [text_from_cell(row["level"]) for row in rows] == list(names) * 48
    for column, values in (("size_px", plan.size_px), ("x", plan.x), ("y", plan.y), ("turn", np.degrees(plan.turn))):
        assert [float(row[column]) for row in rows] == values.ravel().tolist()


def test_the_plan_table_has_the_columns_that_were_agreed():
    text = plan_table(synthetic.plan())
    assert text.startswith("frame,level,size_px,x,y,turn\n1,near branches,")
    assert "\r" not in text
    assert "-0.0," not in text


def test_turns_are_degrees_counter_clockwise():
    reeds = [row for row in read(plan_table(synthetic.plan())) if row["level"] == "reeds"]
    assert float(reeds[0]["turn"]) == 0.0
    assert float(reeds[-1]["turn"]) == pytest.approx(3.0, abs=1e-12)


def test_measurements_are_all_there_and_what_was_not_measured_is_blank():
    proof = synthetic.failing(synthetic.HOSTILE)
    rows = read(measurement_table(proof))
    assert len(rows) == len(proof.measurements)
    for row, measurement in zip(rows, proof.measurements, strict=True):
        assert (int(row["frame"]), text_from_cell(row["level"])) == (measurement.frame, measurement.level)
        assert float(row["planned_x"]) == measurement.planned.x
        assert (row["verdict"], row["seen"]) == (measurement.verdict, "yes" if measurement.seen else "no")
        if measurement.measured is None:
            assert row["measured_size_px"] == row["error_px"] == row["uncertainty_px"] == ""
            assert row["remark"] == measurement.remark
        else:
            assert float(row["measured_size_px"]) == measurement.measured.size_px
            assert float(row["error_px"]) == measurement.error_px


@given(st.text(max_size=30))
def test_any_text_comes_back_and_none_can_be_taken_for_a_formula(text):
    row = next(csv.reader(io.StringIO(f"{cell_from_text(text)},end\n", newline=""), strict=True))
    assert row[1] == "end"
    assert not row[0].startswith(FORMULA_SIGNS)
    assert text_from_cell(row[0]) == text


@pytest.mark.parametrize("text", ["=1+1", "+mist", "-2 glass", "@reeds", "'=1", "''@x", "'quoted'", "", "a=b", "reeds"])
def test_names_like_these_come_back(text):
    assert text_from_cell(cell_from_text(text)) == text


def test_a_plain_name_is_left_alone():
    assert cell_from_text("far hills") == "far hills"
    assert cell_from_text("'evening' sky") == "'evening' sky"


def test_a_long_shot_of_many_levels_is_written_in_seconds():
    frames, levels = 10_000, 64
    small = synthetic.plan()
    values = np.random.default_rng(1977).normal(0.0, 500.0, (frames, levels))
    names = tuple(f"level {number}" for number in range(levels))
    wide = _widened(small, names, values)
    begun = time.perf_counter()
    text = plan_table(wide)
    assert time.perf_counter() - begun < MOST_SECONDS
    assert text.count("\n") == frames * levels + 1
    assert math.isclose(float(text.rsplit("\n", 2)[1].split(",")[2]), values[-1, -1])


def _widened(small: Plan, names: tuple[str, ...], values: np.ndarray) -> Plan:
    """Return a plan of other names and values; the table looks at nothing else."""
    from dataclasses import replace

    levels = tuple(replace(small.shot.levels[0], name=name) for name in names)
    tracks = replace(small.tracks, frames=np.arange(1, len(values) + 1))
    shot = replace(small.shot, levels=levels, frames=(1, len(values)))
    return replace(small, shot=shot, tracks=tracks, size_px=values, x=values, y=values, turn=values)
