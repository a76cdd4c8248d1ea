# SPDX-License-Identifier: GPL-3.0-or-later
"""What the lens draws soft. 50 mm focused at 500 mm, opened to f/8: the circle is f²/N·|d − u|/(d·(u − f))."""

from dataclasses import replace

import pytest

from plan.findings.small_stand import GROUND, LENS, NEAR, found, shot_of, the_one
from underglass.optics.depth_of_field import far_limit, near_limit
from underglass.shot import Camera, Focus, Gate, Level, Move, Shot

OPEN = replace(LENS, f_stop=8.0)
CIRCLE = 0.0254e-3
NEAR_LIMIT, FAR_LIMIT = (float(limit(0.5, focal=0.05, f_stop=8.0, circle=CIRCLE)) for limit in (near_limit, far_limit))


def seen_at(distance: float, *, camera: Camera = OPEN, **changes) -> Shot:
    """Return a shot of one level so far below the lens, beside one that is sharp."""
    other = Level("sharp", "sharp.png", 0.6, 0.5, (9000, 7000))
    level = Level("level", "level.png", 0.6, 1.0 - distance, (9000, 7000), covers=())
    return shot_of(levels=(other, level) if distance > 0.5 else (level, other), camera=camera, **changes)


@pytest.mark.parametrize("limit", [NEAR_LIMIT, FAR_LIMIT])
def test_a_level_is_soft_beyond_the_limits_of_focus_and_not_at_them(limit: float) -> None:
    outward = 1 if limit > 0.5 else -1
    assert found(seen_at(limit - outward * 1e-7), "soft") == []
    finding = the_one(seen_at(limit + outward * 1e-5), "soft")
    assert (finding.level, finding.severity, finding.unit) == ("level", "note", "mm")
    assert finding.limit == pytest.approx(0.0254)
    assert 0.0254 < finding.value < 0.0256


def test_the_circle_is_told_on_the_film_and_in_pixels_with_where_it_would_be_sharp() -> None:
    finding = the_one(seen_at(0.8), "soft")
    # 50²/8·300/(800·450) = 0.2604 mm, and 50 px to the millimetre of a 20 mm gate
    assert finding.value == pytest.approx(2500 / 8 * 300 / (800 * 450))
    for words in ("0.26 mm", "13 px", "800 mm from the lens", "sharp is from 482 mm to 519 mm"):
        assert words in finding.message


def test_beyond_the_hyperfocal_distance_there_is_no_far_limit() -> None:
    far_off = replace(OPEN, focus=Focus(), f_stop=320.0)
    finding = next(f for f in found(seen_at(0.2, camera=far_off), "soft") if f.level == "level")
    # H = 50²/(320·0.0254) = 307.6 mm
    assert finding.message.endswith("sharp is from 308 mm on")


def test_a_shot_may_say_what_still_counts_as_sharp() -> None:
    shot = seen_at(0.8)
    assert found(replace(shot, camera=replace(OPEN, blur=0.261e-3)), "soft") == []
    finding = the_one(replace(shot, camera=replace(OPEN, blur=0.260e-3)), "soft")
    assert finding.limit == pytest.approx(0.260)


def test_narrow_film_wants_a_smaller_circle() -> None:
    film_16 = replace(OPEN, gate=Gate(0.01026, 0.00749))
    assert the_one(seen_at(0.8, camera=film_16), "soft").limit == pytest.approx(0.01524)


@pytest.mark.parametrize("camera", [LENS, replace(shot_of().camera, f_stop=8.0)], ids=["no f-stop", "parallel"])
def test_where_no_lens_or_no_f_stop_is_said_nothing_is_said_of_focus(camera: Camera) -> None:
    assert {finding.code for finding in found(seen_at(0.8, camera=camera))}.isdisjoint({"soft", "nothing-sharp"})


def test_a_level_that_focus_follows_is_sharp_all_the_way() -> None:
    truck = Move("camera", "height", 1, 49, 1.0, 0.9)
    followed = replace(OPEN, focus=Focus(level="near"))
    assert [f.level for f in found(shot_of(truck, camera=followed), "soft")] == ["ground"]


def test_frames_on_which_nothing_is_sharp_are_warned_of() -> None:
    # The only level starts at the distance that is sharp and falls away from it, 5 mm a frame.
    ground = replace(GROUND, height=0.5)
    shot = shot_of(Move("camera", "height", 1, 49, 1.0, 1.24), levels=(ground,), camera=OPEN)
    finding = the_one(shot, "nothing-sharp")
    assert (finding.severity, finding.level) == ("warn", "camera")
    sharp_frames = int((FAR_LIMIT - 0.5) / 0.005) + 1
    assert finding.frames == (1 + sharp_frames, 49)
    # a level that is out of the frame does not make it better
    aside = replace(NEAR, name="aside", height=0.99999 - 0.24, east=3.0)
    assert len(found(replace(shot, levels=(aside, ground)), "nothing-sharp")) == 1


def test_a_stop_that_would_do_is_named_where_there_is_such_a_one() -> None:
    assert "f/8.2" in the_one(seen_at(FAR_LIMIT + 0.0005), "soft").remedy
    assert "f/" not in the_one(seen_at(0.8), "soft").remedy
