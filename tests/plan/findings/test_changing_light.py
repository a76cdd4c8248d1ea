# SPDX-License-Identifier: GPL-3.0-or-later
"""Exposure that changes while the shot runs."""

from dataclasses import replace

import numpy as np
import pytest

from plan.findings.small_stand import GROUND, LENS, NEAR, found, shot_of, the_one
from underglass.shot import Exposure, Focus, Lamp, Law, Move, Shot

LONG = replace(GROUND, art_width=2.0)
FOLLOWED = replace(LENS, focus=Focus(level="near"))


def trucked(to: float) -> Shot:
    """Return a truck with focus on a level that is 400 mm below the lens at first: m = 50/350."""
    return shot_of(Move("camera", "height", 1, 49, 1.0, to), levels=(NEAR, LONG), camera=FOLLOWED)


def distance_for(stops: float) -> float:
    """Return how far off the level is when the exposure has gone down by so many stops: (v/f)² = (d/(d − f))²."""
    ratio = 400 / 350 * 2 ** (stops / 2)
    return 0.05 * ratio / (ratio - 1)


def test_a_lens_that_is_drawn_out_by_a_sixth_of_a_stop_is_let_be() -> None:
    assert found(trucked(0.6 + distance_for(1 / 6 - 1e-4)), "bellows") == []
    finding = the_one(trucked(0.6 + distance_for(1 / 6 + 1e-4)), "bellows")
    assert (finding.severity, finding.level, finding.frames) == ("warn", "camera", (1, 49))
    assert (finding.value, finding.limit) == (pytest.approx(1 / 6 + 1e-4), pytest.approx(1 / 6))
    assert "darkens" in finding.message
    assert "open the lens" in finding.remedy


def test_the_close_up_factor_is_told_at_both_ends() -> None:
    # 400 to 200 mm: (400/350)² = 1.306 to (200/150)² = 1.778, 0.445 stops
    message = the_one(trucked(0.8), "bellows").message
    for words in ("1.31", "1.78", "0.44 stops"):
        assert words in message


def test_a_truck_with_focus_at_a_fixed_distance_keeps_its_exposure() -> None:
    assert found(replace(trucked(0.8), camera=LENS), "bellows") == []


def lit_by(*lamps: Lamp, to: float = 0.3, **changes) -> Shot:
    sink = Move("near", "height", 1, 49, 0.6, to, Law.SINE)
    return shot_of(sink, levels=(NEAR, LONG), lamps=lamps, **changes)


def test_a_level_that_leaves_its_lamp_gets_darker_by_the_inverse_square() -> None:
    # 300 to 600 mm below a lamp that stands over it
    finding = the_one(lit_by(Lamp("key", 100.0, 0.9)), "uneven-light")
    assert (finding.severity, finding.level, finding.frames) == ("warn", "near", (1, 49))
    assert finding.value == pytest.approx(2.0)
    assert "near gets darker by 2 stops" in finding.message


def test_a_sixth_of_a_stop_of_light_is_let_be() -> None:
    for stops, many in ((1 / 6 - 1e-4, 0), (1 / 6 + 1e-4, 1)):
        to = 0.9 - 0.3 * 2 ** (stops / 2)
        assert len(found(lit_by(Lamp("key", 100.0, 0.9), to=to), "uneven-light")) == many


def test_two_lamps_add_up() -> None:
    """The second stands below by as much as the first above, so that the level goes from one to the other."""
    lamps = (Lamp("above", 1.0, 0.9), Lamp("below", 1.0, 0.0))
    assert found(lit_by(*lamps, to=0.3), "uneven-light")[0].value == pytest.approx(
        np.log2((1 / 0.3**2 + 1 / 0.6**2) / (2 / 0.45**2)), rel=1e-3
    )


def test_a_lamp_lights_the_levels_that_it_is_said_to_light() -> None:
    assert found(lit_by(Lamp("key", 100.0, 0.9, levels=("ground",))), "uneven-light") == []


def test_a_lamp_to_the_side_falls_off_with_the_angle_too() -> None:
    # 400 mm to the side: E goes as h/(h² + 0.4²)^1.5
    def light(h: float) -> float:
        return h / (h**2 + 0.16) ** 1.5

    finding = the_one(lit_by(Lamp("side", 7.0, 0.9, east=0.4), to=0.21), "uneven-light")
    # it is brightest where h = 0.4/√2, just before which it begins
    greatest = light(0.4 / np.sqrt(2))
    assert light(0.3) < greatest
    assert finding.value == pytest.approx(np.log2(light(0.3) / light(0.69)))


def test_a_camera_that_pans_away_from_its_lamp_sees_it_get_darker() -> None:
    pan = shot_of(Move("camera", "east", 1, 49, 0.0, 0.4, Law.SINE), levels=(NEAR, LONG), lamps=(Lamp("k", 1.0, 0.9),))
    assert "ground" in [finding.level for finding in found(pan, "uneven-light")]


def test_light_that_adds_up_to_something_else_is_no_matter() -> None:
    passes = (Exposure("one"), Exposure("two", stops=-3.0))
    assert found(shot_of(exposures=passes)) == []


@pytest.mark.parametrize(
    ("fade", "said"),
    [
        (((1, 0.0), (16, 1.0)), False),
        (((1, 1.0), (16, 0.3), (30, 0.0)), False),
        (((1, 0.5), (40, 0.5)), False),
        (((1, 0.0), (16, 0.9)), True),
        (((1, 0.2), (16, 1.0)), True),
    ],
)
def test_a_fade_ends_at_nothing_or_at_all(fade: tuple[tuple[int, float], ...], said: bool) -> None:
    findings = found(shot_of(exposures=(Exposure("glow", fade=fade),)))
    assert [finding.code for finding in findings] == ["open-fade"] * said
    if said:
        assert (findings[0].severity, findings[0].level) == ("warn", "")
        assert "glow" in findings[0].message
