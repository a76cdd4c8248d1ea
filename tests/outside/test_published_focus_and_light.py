# SPDX-License-Identifier: GPL-3.0-or-later
"""Printed numbers of focus, exposure and panning: tables and textbooks of other people, each named beside its check."""

import math

import pytest

from underglass.optics.depth_of_field import close_up_depth, far_limit, hyperfocal, near_limit
from underglass.optics.light_falloff import close_up_factor, illuminance, stops, working_stop
from underglass.plan import make_plan
from underglass.plan.findings import Finding, find
from underglass.shot import Camera, Level, Move, Projection, Shot

INCH, FOOT = 25.4, 304.8

# Kodak, Essential Reference Guide for Filmmakers, cameras and lenses (slideplayer.com/amp/5823246): hyperfocal
# distances in feet of a 50 mm lens for a circle of 0.001 in. The table uses the short form f²/(N·c).
HYPERFOCAL_FT = {
    1.4: 230.7,
    2.0: 161.5,
    2.8: 115.3,
    4.0: 80.7,
    5.6: 57.7,
    8.0: 40.4,
    11.0: 29.4,
    16.0: 20.2,
    22.0: 14.7,
    32.0: 10.1,
}


@pytest.mark.parametrize(("f_stop", "feet"), HYPERFOCAL_FT.items())
def test_the_hyperfocal_distances_of_a_50_mm_lens(f_stop: float, feet: float) -> None:
    assert hyperfocal(50.0, f_stop=f_stop, circle=0.001 * INCH) / FOOT == pytest.approx(feet, abs=0.05)


# insyncpubs.com/articles/?id=11: 50 mm at f/4, focused at 10 ft; circle, near and far limit as printed to the inch
LIMITS = [(0.030, (8, 9), (11, 8)), (0.019, (9, 2), (11, 0))]


@pytest.mark.parametrize(("circle", "near", "far"), LIMITS)
def test_from_where_to_where_a_50_mm_lens_at_f_4_is_sharp_at_ten_feet(circle, near, far) -> None:
    lens = {"focal": 50.0, "f_stop": 4.0, "circle": circle}
    printed = [feet * FOOT + inches * INCH for feet, inches in (near, far)]
    computed = [limit(10 * FOOT, **lens) for limit in (near_limit, far_limit)]
    assert computed == pytest.approx(printed, abs=0.5 * INCH)


# macrobellows.com/dof_table.php: magnification, f-stop and total depth in mm. The page names no circle of confusion:
# 0.05 mm was fitted to its numbers, so what is checked is how they go with magnification and f-stop. Two cells that
# are misprinted (m 2 at f/11, m 3 at f/22) are left out, and so are those that the table rounds to whole millimetres.
CLOSE_UP = [
    (0.5, 8, 4.80),
    (0.5, 16, 9.60),
    (1.0, 8, 1.60),
    (1.0, 16, 3.20),
    (1.0, 64, 12.80),
    (1.5, 8, 0.89),
    (2.0, 8, 0.60),
    (2.0, 64, 4.80),
    (3.0, 16, 0.71),
    (6.0, 8, 0.16),
]


@pytest.mark.parametrize(("m", "f_stop", "printed"), CLOSE_UP)
def test_how_deep_a_close_up_is_sharp(m: float, f_stop: float, printed: float) -> None:
    assert close_up_depth(m, f_stop=f_stop, circle=0.05) == pytest.approx(printed, abs=0.005)


ARMY = "US Army SS0512, SS05120044.htm at armycommunications.tpub.com"
# what, factor computed, factor printed, how closely, who printed it
FACTORS = [
    ("extension of 18 in, lens of 12 in", close_up_factor(12.0, image=18.0), 2.25, 0.005, ARMY),
    ("8 inches of a 12-inch original", close_up_factor(12.0, image=12.0 * (1 + 8 / 12)), 2.8, 0.05, ARMY),
    (
        "80 mm lens, 10 cm as 5 cm",
        close_up_factor(80.0, image=120.0),
        2.25,
        0.005,
        "taylorfrancis.com 9781136096549",
    ),
    ("1:1", close_up_factor(50.0, image=100.0), 4.0, 1e-9, "Safari 9780240812120, ch. 3"),
    ("1:1, 1/100 s", 100 / 25, close_up_factor(50.0, image=100.0), 1e-9, "photo.stackexchange 132240: 1/25 s"),
    ("300 mm lens, 450 mm draw", close_up_factor(300.0, image=450.0), 2.25, 0.005, "kennethleegallery.com, bellows"),
]


@pytest.mark.parametrize(("what", "computed", "printed", "close", "source"), FACTORS)
def test_the_exposure_that_a_close_up_asks_for(what, computed, printed, close, source) -> None:
    assert computed == pytest.approx(float(printed), abs=close), f"{what}: {source}"


def test_a_lens_of_100_mm_at_f_8_with_100_mm_of_extra_draw_works_at_f_16_two_stops_darker() -> None:
    # tools.gera.services/photographic-bellows-magnification
    assert working_stop(8.0, magnification=100 / 100) == pytest.approx(16.0)
    assert stops(close_up_factor(100.0, image=200.0)) == pytest.approx(2.0)


def test_a_meter_that_says_f_8_at_one_to_two_means_f_5_3_on_the_lens() -> None:
    # Cinematography: Theory and Practice, p. 297: shoot at 8/(1 + 0.5)
    assert 8.0 * 8.0 / working_stop(8.0, magnification=0.5) == pytest.approx(5.3, abs=0.05)


# kennethleegallery.com, bellows page: 2 s become 4.5 s; US Army SS0512: 8 s become 18 s
@pytest.mark.parametrize(("focal", "draw", "before", "after"), [(300.0, 450.0, 2.0, 4.5), (12.0, 18.0, 8.0, 18.0)])
def test_the_longer_exposure_of_a_drawn_out_lens(focal: float, draw: float, before: float, after: float) -> None:
    assert before * close_up_factor(focal, image=draw) == pytest.approx(after)


# jamestelford.wordpress.com 2014/11/28: f/16 at 1 m, f/8 at 2 m, f/4 at 4 m. Light goes as the square of the f-stop.
@pytest.mark.parametrize(("metres", "f_stop"), [(1.0, 16.0), (2.0, 8.0), (4.0, 4.0)])
def test_light_falls_off_with_the_square_of_the_distance(metres: float, f_stop: float) -> None:
    light = illuminance(metres, aside=0.0, candela=16.0**2)
    assert math.sqrt(float(light)) == pytest.approx(f_stop)


def test_a_light_moved_from_three_metres_to_one_is_nine_times_as_bright() -> None:
    # the set-up of swpp.co.uk; the figure is log2 of 9
    near, far = (float(illuminance(metres, aside=0.0, candela=1.0)) for metres in (1.0, 3.0))
    assert near / far == pytest.approx(9)
    assert stops(near / far) == pytest.approx(3.1699, abs=5e-5)


def test_a_light_five_times_as_far_gives_a_twenty_fifth() -> None:
    # alwaysphotographing.com, glossary
    near, far = (float(illuminance(metres, aside=0.0, candela=1.0)) for metres in (1.0, 5.0))
    assert far / near == pytest.approx(1 / 25)


# Pans at 24 frames a second over a field of 12 inches. The older rules of the stand name no field: joshuanava.biz,
# drawn-animation/fc-utk.html, prints that more than 0.1 in a frame is likely to strobe, and that 0.25 in and more, a
# zip pan, is outside of the bad zone. That they are meant on a 12-inch field is our reading.
FIELD_IN = 12.0


def panned(inches_a_frame: float, frames: int = 48) -> list[Finding]:
    """Return what is found in a pan of art over a 12-inch field, 24 frames a second."""
    inch = INCH / 1000
    camera = Camera(Projection.ORTHOGRAPHIC, (1200, 900), 30 * inch, field_width=FIELD_IN * inch)
    art = Level("pan", "pan.png", 60 * inch, 0.0, (9000, 4000))
    move = Move("pan", "east", 1, 1 + frames, 0.0, frames * inches_a_frame * inch)
    shot = Shot("pan", "in", 24.0, (1, 1 + frames), camera, (art,), schedule=(move,))
    return [finding for finding in find(make_plan(shot)) if finding.code == "strobing"]


@pytest.mark.parametrize(("seconds", "severities"), [(7.01, []), (6.99, ["warn"])])
def test_a_pan_may_take_seven_seconds_a_width_and_no_less(seconds: float, severities: list[str]) -> None:
    # red.com/red-101/camera-panning-speed; at 24 frames a second, shutter 180°: daejeonchronicles.com 2022/10/08
    assert [finding.severity for finding in panned(FIELD_IN / (24 * seconds))] == severities


def test_a_pan_at_the_stand_rule_takes_as_long_as_the_older_rule_of_cinema_allows_at_the_most() -> None:
    # 3 to 5 seconds from side to side: Cinematography: Theory and Practice, quoted at artofcinematography.blogspot.com
    # 2013/11. Five are 0.1 in a frame.
    (finding,) = panned(0.1)
    assert finding.severity == "warn"
    assert finding.value / 100 * 24 == pytest.approx(1 / 5.0)
    assert "the stand rule allows 0.1 (5 s)" in finding.message


@pytest.mark.parametrize(("inches", "severity"), [(0.249, "warn"), (0.251, "note")])
def test_a_quarter_of_an_inch_a_frame_and_more_is_a_zip_pan(inches: float, severity: str) -> None:
    (finding,) = panned(inches)
    assert finding.severity == severity
    assert ("zip pan" in finding.message) == (severity == "note")
