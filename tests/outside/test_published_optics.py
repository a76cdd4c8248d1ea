# SPDX-License-Identifier: GPL-3.0-or-later
"""Printed numbers of lenses and gates: tables, textbooks and standards of other people, each named beside its check."""

import math
from collections.abc import Callable
from types import ModuleType

import numpy as np
import pytest

from underglass.optics import thin_lens
from underglass.optics.projection import px_per_metre
from underglass.shot.gates import NAMED_GATES

Oracle = Callable[[str], ModuleType]

# rafcamera.com, "Focal length" (imaging theory): angles of a 22 × 16 mm frame, rounded to ten minutes by the table.
LENS_ANGLES = """
f   16     18     22     28     35     40     50     75     80     100    150   200
H   69°0   62°50  53°10  42°50  34°50  30°50  25°0   16°40  15°40  12°30  8°20  6°20
V   53°10  47°50  39°50  31°50  25°40  22°40  18°10  12°10  11°30  9°10   6°10  4°40
"""
TABLE_ROUNDING = math.radians(12 / 60)
FRAME_MM = {"H": 22.0, "V": 16.0}


def lens_angle_rows() -> list[tuple[str, float, float]]:
    """Return which side, the focal length in mm and the printed angle in radians, for 24 cells."""
    lenses, *sides = (line.split() for line in LENS_ANGLES.strip().splitlines())
    found = []
    for side, *cells in sides:
        for focal, cell in zip(lenses[1:], cells, strict=True):
            degrees, minutes = map(int, cell.split("°"))
            found.append((side, float(focal), math.radians(degrees + minutes / 60)))
    return found


@pytest.mark.parametrize(("side", "focal", "printed"), lens_angle_rows())
def test_the_lens_angles_of_a_table_for_a_22_by_16_frame(side: str, focal: float, printed: float) -> None:
    image = thin_lens.image_distance(focal, focus=math.inf)
    assert thin_lens.lens_angle(FRAME_MM[side], image=image) == pytest.approx(printed, abs=TABLE_ROUNDING)


def test_the_lens_angle_table_has_two_rows_of_twelve_lenses() -> None:
    assert len(lens_angle_rows()) == 24


# f, u, printed v, how closely it was printed, who printed it
IMAGE_DISTANCES = [
    (0.500, 0.750, 1.50, 0.005, "College Physics, a problem at solutioninn.com 1182653"),
    (50.0, 8000.0, 50.3, 0.05, "physicsforums.com thread 400253"),
    (0.24, 0.300, 1.20, 0.005, "physics text solutions, coursehero 6478952"),
    # Its page prints 500, since it rounded the reciprocals to four places; 473.68 is what its own equation gives.
    (360.0, 1500.0, 473.68, 0.005, "kennethleegallery.com, bellows page, corrected"),
    (210.0, 210.0 * 4, 280.0, 0.5, "kennethleegallery.com, bellows page: magnification 1/3"),
]


@pytest.mark.parametrize(("focal", "focus", "printed", "close", "source"), IMAGE_DISTANCES)
def test_the_lens_throws_its_image_where_the_textbook_says(
    focal: float, focus: float, printed: float, close: float, source: str
) -> None:
    assert thin_lens.image_distance(focal, focus=focus) == pytest.approx(printed, abs=close), source


def test_an_image_315_mm_behind_a_200_mm_lens_is_of_a_thing_547_mm_away() -> None:
    # kennethleegallery.com, bellows page: prints 547; its equation gives 547.83, which it cut off.
    assert thin_lens.focus_of(200.0, image=315.0) == pytest.approx(547.83, abs=0.005)


# f, u, printed magnification without its sign, how closely, who printed it
MAGNIFICATIONS = [
    # The value of the first row was put down from memory; its image distance above was read.
    (0.500, 0.750, 2.00, 0.005, "College Physics, a problem at solutioninn.com 1182653; from memory"),
    (50.0, 8000.0, 0.0063, 0.00005, "physicsforums.com thread 400253"),
    (0.24, 1.20, 0.250, 0.0005, "physics text solutions, coursehero 6478952: lens in its other place"),
    (300.0, 10 * 304.8, 0.109, 0.0005, "kennethleegallery.com, 300 mm at 10 ft"),
    (450.0, 15 * 304.8, 0.109, 0.0005, "kennethleegallery.com, 450 mm at 15 ft"),
]


@pytest.mark.parametrize(("focal", "focus", "printed", "close", "source"), MAGNIFICATIONS)
def test_the_image_is_as_large_as_the_textbook_says(
    focal: float, focus: float, printed: float, close: float, source: str
) -> None:
    assert thin_lens.magnification(focal, focus=focus) == pytest.approx(printed, abs=close), source


# kennethleegallery.com, bellows page: magnification from focal length and draw
@pytest.mark.parametrize(("focal", "draw", "printed"), [(200.0, 320.0, 0.600), (150.0, 320.0, 1.133)])
def test_magnification_from_the_draw_of_the_bellows(focal: float, draw: float, printed: float) -> None:
    focus = thin_lens.focus_of(focal, image=draw)
    assert thin_lens.magnification(focal, focus=focus) == pytest.approx(printed, abs=0.0005)


# Worked out from 1/f = 1/u + 1/v for an Academy camera of 0.864 in (21.946 mm) and a 12-inch field; no printed source.
ACADEMY_MM, FIELD_MM, LENS_MM = 21.946, 12 * 25.4, 50.0
TO_ART_MM = LENS_MM * (1 + FIELD_MM / ACADEMY_MM)


def test_a_50_mm_lens_over_a_12_inch_field() -> None:
    m = thin_lens.magnification(LENS_MM, focus=TO_ART_MM)
    v = thin_lens.image_distance(LENS_MM, focus=TO_ART_MM)
    assert m == pytest.approx(0.07200, abs=5e-6)
    assert v == pytest.approx(53.600, abs=5e-4)
    assert (TO_ART_MM + v) / 25.4 == pytest.approx(31.419, abs=5e-4)
    assert thin_lens.field_width(ACADEMY_MM, image=v, distance=TO_ART_MM) == pytest.approx(FIELD_MM, rel=1e-12)


def test_the_marked_focal_length_frames_a_12_inch_field_7_2_percent_too_wide() -> None:
    pinhole = thin_lens.field_width(ACADEMY_MM, image=LENS_MM, distance=TO_ART_MM)
    assert pinhole == pytest.approx(326.7, abs=0.05)
    assert pinhole / FIELD_MM == pytest.approx(1.072, abs=5e-5)


def test_a_scene_camera_for_a_50_mm_lens_at_f_8_over_a_12_inch_field_has_53_6_mm_and_f_8_576() -> None:
    # Blender takes the picture as if focused at infinity (its camera code): lens f(1 + m), stop N(1 + m) make up for it
    v = thin_lens.image_distance(LENS_MM, focus=TO_ART_MM)
    assert v == pytest.approx(LENS_MM * 1.072, abs=5e-4)
    assert thin_lens.marked_stop(8.0, focal=LENS_MM, image=v) == pytest.approx(8.576, abs=5e-5)


@pytest.mark.parametrize("squeeze", [1.0, 2.0])
def test_a_two_to_one_squeeze_doubles_the_horizontal_field(squeeze: float) -> None:
    # jukolart.us, lens angles (handbook excerpt): tan of half the angle is ½A/f, and A/f for a 2× anamorphic lens
    frame_px, f = 1000, 0.05
    metres_across = frame_px / px_per_metre(1.0, frame_width=frame_px, gate_width=0.022, squeeze=squeeze, image=f)
    assert metres_across / 2 == pytest.approx(0.022 / (2 * f) * squeeze, rel=1e-12)


# Millimetres that are printed as millimetres. Our table of gates holds inches as they are printed, and millimetres that
# were worked out from those inches would only repeat it: gates with no such figure here have no check from outside.
GATES_MM = [
    # ISO 2907:2002, largest projectable image of 35 mm film, as its listing at theiteh.com prints it
    ("projector-137", (20.95, 15.29), 0.005, "ISO 2907:2002, style C"),
    ("projector-185", (20.95, 11.32), 0.01, "ISO 2907:2002, style A, the least height"),
    ("projector-239", (20.95, 17.53), 0.005, "ISO 2907:2002, style B"),
    ("academy-35", (22.0, 16.0), 0.05, "rafcamera.com, Focal length: the frame of its table of angles"),
    ("super-16", (12.39, 7.49), 0.006, "cs.frwiki.wiki/wiki/Film_16_mm"),
    # Our gate is this preset, so this tells only that its inches come back as its millimetres.
    ("standard-16", (10.26, 7.49), 1e-9, "Blender's camera preset Analog 16 mm"),
]


@pytest.mark.parametrize(("name", "printed", "close", "source"), GATES_MM)
def test_a_gate_has_the_printed_millimetres(name: str, printed: tuple[float, float], close: float, source: str) -> None:
    assert NAMED_GATES[name].size_mm == pytest.approx(printed, abs=close), source


def test_the_gate_of_a_projected_1_37_picture_is_the_camera_that_openusd_makes_unasked(oracle: Oracle) -> None:
    camera = oracle("pxr.Gf").Camera()
    usual = (camera.horizontalAperture, camera.verticalAperture)
    assert NAMED_GATES["projector-137"].size_mm == pytest.approx(usual, abs=0.001)


# The shapes that pictures are called by, the anamorphic one twice as wide as on the film: common practice.
@pytest.mark.parametrize(
    ("name", "squeeze", "ratio"),
    [("projector-137", 1, 1.37), ("projector-166", 1, 1.66), ("projector-185", 1, 1.85), ("projector-239", 2, 2.39)],
)
def test_a_projected_picture_has_the_shape_that_it_is_called_by(name: str, squeeze: int, ratio: float) -> None:
    width, height = NAMED_GATES[name].size_mm
    assert squeeze * width / height == pytest.approx(ratio, abs=0.005)


def test_prysm_finds_the_same_image_distances_and_magnifications(oracle: Oracle) -> None:
    lenses = oracle("prysm.thinlens")
    f, times = np.meshgrid([5.0, 16, 25, 35, 50, 75, 100, 300], np.geomspace(1.001, 1000, 200))
    u = f * times
    v = thin_lens.image_distance(f, focus=u)
    # prysm counts to the left of the lens as negative, and an image upside down as smaller than nothing
    np.testing.assert_allclose(v, lenses.object_to_image_dist(f, -u), rtol=1e-11)
    np.testing.assert_allclose(thin_lens.magnification(f, focus=u), -lenses.object_dist_to_mag(f, u), rtol=1e-11)
    np.testing.assert_allclose(thin_lens.focus_of(f, image=v), lenses.image_to_object_dist(f, v), rtol=1e-9)
