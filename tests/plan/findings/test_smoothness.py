# SPDX-License-Identifier: GPL-3.0-or-later
"""Jumps, jerks, hard starts and stops. A millimetre is 2 px; what is seen is half a pixel, a 2000th of the width."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plan.findings.small_stand import GROUND, LENS, NEAR, found, shot_of, the_one
from underglass.plan import make_plan, make_tracks
from underglass.plan.findings import find
from underglass.shot import FrameTable, Law, Move, Shot

CODES = {"jump", "jerk", "hard-start", "hard-stop"}
LONG = replace(GROUND, art_width=9.0)


def uneven(shot: Shot) -> list[tuple[str, str]]:
    return [(finding.code, finding.level) for finding in found(shot) if finding.code in CODES]


def charted(values: list[float | None], *, axis: str = "east", on: int = 1) -> Shot:
    """Return a shot by a chart of millimetres, or degrees."""
    factor = np.pi / 180 if axis == "turn" else 1e-3
    rows = tuple((None if value is None else float(value) * factor,) for value in values)
    table = FrameTable((("near", axis),), tuple(range(1, len(rows) + 1)), rows)
    levels = (replace(NEAR, on=on), LONG)
    return replace(shot_of(levels=levels, frames=(1, len(rows))), schedule=table)


@pytest.mark.parametrize(
    "move",
    [
        Move("near", "east", 5, 45, 0.0, 0.1, slow_out=8, slow_in=8),
        Move("near", "east", 5, 45, 0.0, 0.1, slow_out=1, slow_in=1),
        Move("near", "east", 5, 45, 0.0, -0.1, Law.SINE),
        Move("near", "turn", 5, 45, 0.0, 1.0, Law.SINE),
        Move("camera", "north", 5, 45, 0.0, 0.02, slow_out=20, slow_in=20),
    ],
)
def test_moves_that_slow_out_and_slow_in_are_smooth(move: Move) -> None:
    assert uneven(shot_of(move)) == []


def test_a_slip_in_a_chart_jumps() -> None:
    values = [0.1 * frame for frame in range(20)]
    values[9] = 9.0
    shot = charted(values)
    finding = the_one(shot, "jump")
    assert (finding.severity, finding.level, finding.axis) == ("warn", "near", "east")
    assert finding.frames == (9, 10)
    assert finding.value == pytest.approx(8.2)
    assert finding.unit == "mm a frame"
    assert "and back" in finding.message


@pytest.mark.parametrize("frame", [0, 1, 18, 19])
def test_a_slip_at_either_end_of_a_chart_jumps_too(frame: int) -> None:
    values = [0.1 * frame for frame in range(20)]
    values[frame] += 5.0
    assert uneven(charted(values)) == [("jump", "near")]


def test_a_shake_to_and_fro_is_no_slip() -> None:
    assert uneven(charted([float(frame % 2) for frame in range(20)])) == []


def test_a_sparse_chart_jumps_at_every_row_and_is_told_once() -> None:
    values = [0.0, *[None] * 9, 10.0, *[None] * 9, 30.0, *[None] * 4]
    finding = the_one(charted(values), "jump")
    assert finding.frames == (20, 21)
    assert "once more" in finding.message


@pytest.mark.parametrize("on", [2, 3, 4])
def test_a_chart_on_twos_threes_or_fours_does_not_jump(on: int) -> None:
    assert uneven(charted([frame // on * on * 1.0 for frame in range(24)])) == []


def test_a_level_on_twos_is_as_smooth_as_its_move() -> None:
    move = Move("near", "east", 5, 45, 0.0, 0.1, Law.SINE)
    assert uneven(shot_of(move, levels=(replace(NEAR, on=2), LONG))) == []


@pytest.mark.parametrize("on", [1, 2, 4])
def test_a_speed_is_told_by_the_frame_whatever_a_level_is_moved_on(on: int) -> None:
    shot = shot_of(Move("near", "east", 5, 45, 0.0, 0.04), levels=(replace(NEAR, on=on), LONG))
    finding = the_one(shot, "hard-start")
    assert (finding.frames, finding.value) == ((5, 5), pytest.approx(1.0))


def test_a_jump_of_four_times_the_greatest_step_beside_it_is_one_at_the_limit() -> None:
    steps = np.ones(20)
    steps[10] = 4.0
    assert ("jump", "near") not in uneven(charted(np.cumsum(steps).tolist()))
    steps[10] = 4.001
    assert ("jump", "near") in uneven(charted(np.cumsum(steps).tolist()))


def test_a_jump_of_half_a_pixel_is_not_seen() -> None:
    assert uneven(charted([0.0] * 10 + [0.25] * 10)) == []
    assert uneven(charted([0.0] * 10 + [0.2501] * 10)) == [("jump", "near")]


def test_a_move_without_slows_starts_and_stops_hard() -> None:
    shot = shot_of(Move("near", "east", 5, 45, 0.0, 0.04))
    start, stop = the_one(shot, "hard-start"), the_one(shot, "hard-stop")
    assert (start.severity, start.frames, stop.frames) == ("note", (5, 5), (45, 45))
    assert (start.value, stop.value) == (pytest.approx(1.0), pytest.approx(1.0))
    assert "slow_out" in start.remedy
    assert "slow_in" in stop.remedy


def test_a_shot_that_begins_and_ends_in_mid_move_does_not_start_hard() -> None:
    assert uneven(shot_of(Move("near", "east", 1, 49, 0.0, 0.1))) == []


def test_a_start_slower_than_half_a_pixel_a_frame_is_not_seen() -> None:
    assert uneven(shot_of(Move("near", "east", 5, 45, 0.0, 40 * 0.25e-3))) == []
    assert len(uneven(shot_of(Move("near", "east", 5, 45, 0.0, 40 * 0.2501e-3)))) == 2


@pytest.mark.parametrize(("then", "jerks"), [(1.26, False), (1.34, True), (0.76, False), (0.74, True), (-1.0, True)])
def test_touching_moves_of_different_speeds_jerk_beyond_a_quarter(then: float, jerks: bool) -> None:
    """A quarter of the greater speed: from 1 to 1.333 mm a frame, or down to 0.75."""
    moves = (Move("near", "east", 1, 25, 0.0, 0.024), Move("near", "east", 25, 49, 0.024, 0.024 + 0.024 * then))
    findings = found(shot_of(*moves), "jerk")
    assert bool(findings) is jerks
    if jerks:
        assert (findings[0].severity, findings[0].frames) == ("warn", (25, 25))
        assert findings[0].value == pytest.approx(abs(then - 1))


def test_a_jerk_that_turns_round_says_so() -> None:
    moves = (Move("near", "east", 1, 25, 0.0, 0.024), Move("near", "east", 25, 49, 0.024, 0.0))
    assert "the other way, west" in the_one(shot_of(*moves), "jerk").message


def test_a_part_is_told_once_by_its_worst_axis() -> None:
    moves = (Move("near", "east", 5, 45, 0.0, 0.02), Move("near", "north", 9, 41, 0.0, 0.08))
    finding = the_one(shot_of(*moves), "hard-start")
    assert (finding.axis, finding.frames) == ("north", (9, 9))
    assert "once more" in finding.message


def test_a_zoom_is_in_millimetres_of_the_lens() -> None:
    zoom = shot_of(Move("camera", "focal", 5, 45, 0.05, 0.07), camera=LENS)
    finding = the_one(zoom, "hard-start")
    assert (finding.value, finding.unit) == (pytest.approx(0.5), "mm a frame")
    assert finding.message.startswith("the camera's lens starts longer on frame 5")


def test_turns_are_in_degrees() -> None:
    finding = the_one(charted([0.0] * 10 + [20.0] * 10, axis="turn"), "jump")
    assert (finding.value, finding.unit) == (pytest.approx(20.0), "degrees a frame")


@given(
    first=st.integers(2, 10),
    span=st.integers(8, 36),
    slow=st.integers(1, 4),
    way=st.floats(-0.2, 0.2),
    part=st.sampled_from(["near", "camera"]),
    axis=st.sampled_from(["east", "north", "turn"]),
    law=st.sampled_from([Law.STEADY, Law.SINE]),
)
def test_no_move_with_slows_is_ever_uneven_even_as_blender_keeps_it(first, span, slow, way, part, axis, law) -> None:
    """Keys are of single precision, so the readings that come back from a scene are a little off."""
    move = Move(part, axis, first, first + span, 0.0, way, law)
    if law is Law.STEADY:
        move = replace(move, slow_out=float(slow), slow_in=float(slow))
    shot = shot_of(move, levels=(NEAR, LONG))
    tracks = make_tracks(shot)
    tracks.camera.update({axis: track.astype(np.float32).astype(float) for axis, track in tracks.camera.items()})
    tracks.levels.update({axis: track.astype(np.float32).astype(float) for axis, track in tracks.levels.items()})
    assert [f.message for f in find(make_plan(shot, tracks=tracks)) if f.code in CODES] == []
