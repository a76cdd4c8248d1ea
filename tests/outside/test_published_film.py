# SPDX-License-Identifier: GPL-3.0-or-later
"""Film and time as others print them: frames a foot, running times, timecode; each with its source beside the check."""

import pytest

from underglass.shot import Gate
from underglass.shot.gates import NAMED_GATES
from underglass.shot.units import METRES_PER_MM
from underglass_headless.desk.sheets.film_length import (
    GAUGES,
    counts_a_second,
    drops,
    feet_a_minute,
    feet_and_frames,
    footage,
    frame_of,
    gauge_of,
    running_time,
    timecode,
)

EIGHT, SUPER_EIGHT, SIXTEEN, THIRTY_FIVE = GAUGES
NTSC = 30000 / 1001

# An encyclopedia extract of the 35 mm film technical specifications, which attributes its figures to SMPTE.
SPECIFICATIONS = "liquisearch.com/35_mm_film/technical_specifications"
FILMFUSS = "de.zxc.wiki/wiki/Filmfuß"


@pytest.mark.parametrize(
    ("gauge", "frames", "source"),
    [
        (THIRTY_FIVE, 16, SPECIFICATIONS),
        (SIXTEEN, 40, FILMFUSS),
        (EIGHT, 80, FILMFUSS),
        (SUPER_EIGHT, 72, FILMFUSS),
    ],
)
def test_a_foot_of_film_holds_as_many_frames_as_printed(gauge, frames, source):
    assert feet_and_frames(frames, gauge=gauge) == (1, 0), source
    assert feet_and_frames(frames - 1, gauge=gauge) == (0, frames - 1), source


@pytest.mark.parametrize(
    ("gauge", "fps", "feet", "source"),
    [
        (THIRTY_FIVE, 24, 90, f"{SPECIFICATIONS}; {FILMFUSS}"),
        (THIRTY_FIVE, 16, 60, f"{SPECIFICATIONS}; {FILMFUSS}"),
        (SIXTEEN, 24, 36, FILMFUSS),
    ],
)
def test_a_minute_of_film_is_as_long_as_printed(gauge, fps, feet, source):
    assert feet_a_minute(fps, gauge=gauge) == feet, source


@pytest.mark.parametrize(("gauge", "feet"), [(THIRTY_FIVE, 9000), (SIXTEEN, 3600)])
def test_a_hundred_minutes_of_film_are_as_long_as_printed(gauge, feet):
    """Filmfuß, de.zxc.wiki: 9000 feet of 35 mm, 3600 of 16 mm."""
    assert feet_and_frames(100 * 60 * 24, gauge=gauge) == (feet, 0)


def test_a_thousand_feet_run_about_eleven_minutes():
    """Technical specifications of 35 mm film (liquisearch.com): "about 11" minutes at 24 a second."""
    assert running_time(1000 * THIRTY_FIVE.frames_per_foot, fps=24) / 60 == pytest.approx(11, abs=0.5)


def test_a_frame_of_long_pitch_stock_is_nearly_three_quarters_of_an_inch():
    """The same: a pitch of 0.1870 in, four perforations a frame; a foot of 16 frames takes them for 0.750 in."""
    assert 12 / THIRTY_FIVE.frames_per_foot == pytest.approx(4 * 0.1870, abs=0.0025)
    assert 4 * THIRTY_FIVE.frames_per_foot == 64  # perforations a foot, the same source


def test_a_sheet_of_a_hundred_frames_runs_four_seconds():
    """RMIT AIM, Animation Tech Notes 2: 100 frames a sheet, 4 s at 25 a second."""
    assert running_time(100, fps=25) == 4


def test_three_blocks_of_half_a_foot_are_a_second():
    """Exposure-sheet article (chaos.owiki.org): every eighth line is heavier, half a foot; three such are a second."""
    assert feet_and_frames(2 * 8, gauge=THIRTY_FIVE) == (1, 0)
    assert running_time(3 * 8, fps=24) == 1


@pytest.mark.parametrize(
    ("count", "gauge", "shown"),
    [(24, THIRTY_FIVE, "1+08"), (72, THIRTY_FIVE, "4+08"), (16000, SIXTEEN, "400+00"), (0, SIXTEEN, "0+00")],
)
def test_lengths_that_follow_from_the_printed_ones(count, gauge, shown):
    assert footage(count, gauge=gauge) == shown


def test_four_hundred_feet_of_16_mm_run_eleven_minutes_and_a_little_more():
    # zaro.info prints 100 ft of 16 mm as 2.5 min, which its own 40 frames a foot do not give
    assert running_time(16000, fps=24) == pytest.approx(11 * 60 + 6.667, abs=0.001)
    assert running_time(4000, fps=24) / 60 == pytest.approx(2.7778, abs=0.0001)


OTIO = "OpenTimelineIO 0.18.1, opentime.to_timecode"
TIMECODES = [
    (0, "00:00:00;00", "00:00:00:00", OTIO),
    (1799, "00:00:59;29", "00:00:59:29", OTIO),
    (1800, "00:01:00;02", "00:01:00:00", OTIO),
    (17981, "00:09:59;29", "00:09:59:11", OTIO),
    (17982, "00:10:00;00", "00:09:59:12", f"{OTIO}; davidheidelberger.com, drop-frame tutorial"),
    (107892, "01:00:00;00", "00:59:56:12", f"{OTIO}; dilettantesdictionary.org: 108 numbers an hour are dropped"),
    (1084319, "10:03:00;05", "10:02:23:29", "the test suite of OpenTimelineIO"),
    # 30·35999 + 30 − 2·(600 − 600//10)
    (1078920, "10:00:00;00", "09:59:24:00", "the test suite of OpenTimelineIO, its closed form"),
]


@pytest.mark.parametrize(("frame", "dropped", "whole", "source"), TIMECODES)
def test_timecode_is_as_printed(frame, dropped, whole, source):
    for fps in (NTSC, 29.97):
        assert timecode(frame, fps=fps, drop=True) == dropped, source
        assert timecode(frame, fps=fps) == whole, source
        assert frame_of(dropped, fps=fps) == frame_of(whole, fps=fps) == frame, source


def test_a_minute_turns_over_to_its_third_number():
    """davidheidelberger.com, drop-frame tutorial: 12:38:59;29 is followed by 12:39:00;02."""
    last = frame_of("12:38:59;29", fps=NTSC)
    assert timecode(last + 1, fps=NTSC, drop=True) == "12:39:00;02"


def test_an_hour_at_thirty():
    """andrewduncan.ws/Timecodes: 108000 frames at 30 a second are 1 h 0 m 0 s 0 f."""
    assert timecode(108000, fps=30) == "01:00:00:00"


def test_every_frame_has_its_own_timecode_and_none_that_is_left_out():
    codes = [timecode(frame, fps=NTSC, drop=True) for frame in range(20_001)]
    assert [frame_of(code, fps=NTSC) for code in codes] == list(range(20_001))
    assert not [code for code in codes if code[-5:] in ("00;00", "00;01") and code[4] != "0"]


def test_timecode_agrees_with_opentimelineio():
    opentime = pytest.importorskip("opentimelineio").opentime
    for frame in (*range(0, 200_000, 977), *range(1700, 2000)):
        time = opentime.RationalTime(frame, NTSC)
        assert timecode(frame, fps=NTSC, drop=True) == opentime.to_timecode(time, NTSC, True)


@pytest.mark.parametrize("code", ["00:01:00;00", "00:11:00;01", "00:00:60:00", "00:00:00:30"])
def test_a_timecode_that_does_not_exist_is_refused(code):
    with pytest.raises(ValueError, match="is no timecode"):
        frame_of(code, fps=NTSC)


def test_a_rate_without_timecode_is_told():
    assert counts_a_second(12.5) == 0
    assert counts_a_second(23.976) == 24
    assert drops(29.97)
    assert not drops(30)
    with pytest.raises(ValueError, match=r"12\.5 frames a second have no timecode"):
        timecode(0, fps=12.5)
    with pytest.raises(ValueError, match="24 frames a second have no drop-frame timecode"):
        timecode(0, fps=24, drop=True)


@pytest.mark.parametrize("name", NAMED_GATES)
def test_every_named_gate_runs_on_the_stock_that_its_name_says(name):
    width, height = (side * METRES_PER_MM for side in NAMED_GATES[name].size_mm)
    assert gauge_of(Gate(width, height, name)) is (SIXTEEN if name.endswith("16") else THIRTY_FIVE)


def test_without_a_gate_the_film_is_35_mm():
    assert gauge_of(None) is THIRTY_FIVE


def test_the_academy_field_of_a_twelve_inch_field_is_eight_and_three_quarters_high():
    """The trade's 8¾ in is from memory, and no source was read for it.

    Authorities print the Academy width from 0.864 to 0.868 in, so ours may differ from it by half a percent.
    """
    gate = NAMED_GATES["academy-35"]
    assert 12 * gate.height_in / gate.width_in == pytest.approx(8.75, rel=0.005)
