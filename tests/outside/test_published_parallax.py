# SPDX-License-Identifier: GPL-3.0-or-later
"""Printed laws of what a stand is for: parallax, the field against the height of the camera, and fades.

All goes through a shot to a plan, so that the laws are tested as a shot uses them.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from underglass.optics.light_falloff import stops
from underglass.plan import Plan, make_plan
from underglass.plan.field_of_levels import field_corners
from underglass.plan.pass_light import fractions
from underglass.shot import Camera, Exposure, Focus, Gate, Level, Move, Projection, Shot

FOOT_M = 0.3048
# A lens focused at infinity throws its image its own focal length behind it.
CAMERA = Camera(Projection.PERSPECTIVE, (2200, 1600), 1.0, Gate(0.022, 0.016), 0.050, 8.0, Focus())
PX_PER_RADIAN = 2200 * 0.050 / 0.022


def planned(*moves: Move, depths: tuple[float, ...], camera: Camera = CAMERA) -> Plan:
    """Return the plan of one level at each of ``depths`` m under the lens, two frames."""
    levels = tuple(
        Level(f"at {depth:g}", "art.png", 0.1, camera.height - depth, (400, 300)) for depth in sorted(depths)
    )
    return make_plan(Shot("parallax", "mm", 24.0, (1, 2), camera, levels, schedule=moves))


def angles(plan: Plan) -> np.ndarray:
    """Return by what angle each level goes by from the first frame to the second, radians; small ones."""
    return np.asarray((plan.x[1] - plan.x[0]) / PX_PER_RADIAN)


# -- parallax ----------------------------------------------------------------------------------------------------------

# ISO 80000-3:2006, item 3-1.C.c, as edcsreg.sedris.org/browse/eu/PARSEC quotes it: the distance at which 1 au subtends
# 1 second of arc is about 206 264.8 au.
PARSEC_AU = 206_264.8


@pytest.mark.parametrize("parsecs", [1.0, 2.0, 4.0])
def test_a_level_a_parsec_away_goes_by_a_second_of_arc_for_each_unit_that_the_camera_goes_aside(parsecs: float) -> None:
    # the astronomical unit is a millimetre here
    slide = Move("camera", "east", 1, 2, 0.0, 0.001)
    (angle,) = angles(planned(slide, depths=(PARSEC_AU * parsecs * 0.001,)))
    # the camera goes east, so the picture goes west
    assert np.degrees(-angle) * 3600 == pytest.approx(1.0 / parsecs, rel=1e-6)


# M. Nawrot and K. Stroyan, "The motion/pursuit law for visual depth perception from motion parallax", Vision Research
# 49(15), 2009, 1969–1978 (pmc.ncbi.nlm.nih.gov/articles/PMC2735858): relative depth d/f is about r = dθ/dα, motion over
# pursuit. K. Stroyan, "Motion/Pursuit Ratio and Depth in 1D", demonstrations.wolfram.com: exactly, it is r/(1 − r), and
# who takes r alone is out by the share −r.
@pytest.mark.parametrize("farther", [0.02, 0.25, 1.0, 3.0])
def test_how_much_deeper_a_level_lies_is_told_by_its_motion_over_that_of_the_one_that_is_looked_at(farther: float):
    fixated = 0.4
    slide = Move("camera", "east", 1, 2, 0.0, 1e-5)
    pursuit, other = angles(planned(slide, depths=(fixated, fixated * (1 + farther))))
    # An eye that follows the one level sees the other go by the difference.
    ratio = (pursuit - other) / pursuit
    assert ratio / (1 - ratio) == pytest.approx(farther, rel=1e-9)
    assert (ratio - farther) / farther == pytest.approx(-ratio, rel=1e-9)


# -- field against height ----------------------------------------------------------------------------------------------


def field_width(plan: Plan) -> float:
    corners = field_corners(plan)[0, 0]
    return float(corners[1, 0] - corners[0, 0])


def test_a_field_of_6_feet_from_12_feet_away_takes_a_lens_of_47_4_mm() -> None:
    # An answer in photography-forums.com thread 18460: a sensor of 23.7 mm, 23.7 · 12/6 = 47.4. That is the
    # proportion O/A = D/F of jukolart.us, lens angle and field of view.
    camera = replace(CAMERA, gate=Gate(0.0237, 0.0158), focal=0.0474)
    for times in (1.0, 2.0, 0.5):
        high = replace(camera, height=12 * FOOT_M * times)
        assert field_width(planned(depths=(12 * FOOT_M * times,), camera=high)) == pytest.approx(6 * FOOT_M * times)


# The angles of the same table that the lenses are tested by (rafcamera.com, "Focal length"): here of the field that a
# stand sees from some height. It rounds to ten minutes.
@pytest.mark.parametrize(("focal_mm", "degrees"), [(16, 69.0), (35, 34 + 50 / 60), (50, 25.0), (100, 12.5)])
@pytest.mark.parametrize("height", [0.5, 2.0])
def test_the_field_from_a_height_subtends_the_printed_angle(focal_mm: float, degrees: float, height: float) -> None:
    camera = replace(CAMERA, focal=focal_mm / 1000, height=height)
    seen = 2 * math.atan(field_width(planned(depths=(height,), camera=camera)) / (2 * height))
    assert math.degrees(seen) == pytest.approx(degrees, abs=12 / 60)


# -- fades -------------------------------------------------------------------------------------------------------------

# Eastman Kodak, Ciné-Kodak Special II, Operating Instructions, p. 28 (manualshelf.com): OPEN is 165 degrees, half open
# 82.5; that halves the exposure, and the lens is opened from f/11 to f/8 for it. Standard dissolves: 40 or 60 frames.
OPEN, HALF_OPEN = 165.0, 82.5


@pytest.mark.parametrize("frames", [40, 60])
def test_in_the_middle_of_a_dissolve_either_pass_is_half_open_which_is_one_stop(frames: int) -> None:
    plan = make_plan(Shot("dissolve", "mm", 16.0, (0, frames), CAMERA, (Level("a", "a.png", 0.1, 0.5, (4, 3)),)))
    out, into = (
        fractions(Exposure("pass", fade=((0, start), (frames, 1.0 - start))), frames=plan.frames)
        for start in (1.0, 0.0)
    )
    assert (out[0], out[-1], into[0], into[-1]) == (1.0, 0.0, 0.0, 1.0)
    assert out[frames // 2] * OPEN == into[frames // 2] * OPEN == HALF_OPEN
    assert stops(OPEN / HALF_OPEN) == pytest.approx(1.0)
    assert stops(out[frames // 2]) == pytest.approx(-1.0)
    # f/11 is marked for 8·√2 = 11.3
    assert stops(OPEN / HALF_OPEN) == pytest.approx(2 * math.log2(11 / 8), abs=0.1)
    # common practice, no source: two passes that dissolve into each other add up to one exposure on every frame
    assert np.add(out, into) == pytest.approx(1.0)
