# SPDX-License-Identifier: GPL-3.0-or-later
"""Art that ends in the frame. 2 px to the mm; the ground of 600 by 450 mm stands over the field of 500 by 375 mm."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from plan.findings.small_stand import DRAWN, GROUND, LENS, NEAR, found, shot_of, the_one
from plan.plannable import plannable_shots
from underglass.plan import Plan, corners_px, make_plan
from underglass.plan.findings import find
from underglass.shot import EDGES, Move, Shot

# 50 mm are to spare at either side, 37.5 mm at top and bottom.
SPARE, SPARE_NORTH = 0.05, 0.0375


def panned(by: float, *, axis: str = "east", part: str = "camera") -> Shot:
    return shot_of(Move(part, axis, 1, 49, 0.0, by))


def test_a_ground_that_reaches_beyond_the_frame_is_nothing_to_speak_of() -> None:
    assert found(shot_of()) == []


def test_a_pan_beyond_the_end_of_the_ground_uncovers_the_side_it_goes_to() -> None:
    finding = the_one(panned(0.06), "off-art")
    assert (finding.severity, finding.level, finding.axis, finding.unit) == ("block", "ground", "east", "mm")
    assert finding.value == pytest.approx(10)
    assert "right" in finding.message
    assert "20 px" in finding.message
    # 60 mm in 48 steps are 1.25 mm each; on step 41 the camera has gone 51.25 mm
    assert finding.frames == (42, 49)


@pytest.mark.parametrize(
    ("axis", "by", "edge"),
    [("east", 0.06, "right"), ("east", -0.06, "left"), ("north", 0.06, "top"), ("north", -0.06, "bottom")],
)
def test_the_edge_is_named_by_the_side_of_the_frame(axis: str, by: float, edge: str) -> None:
    assert f"uncovers the {edge} of" in the_one(panned(by, axis=axis), "off-art").message
    opposite = {"right": "left", "left": "right", "top": "bottom", "bottom": "top"}[edge]
    assert f"uncovers the {opposite} of" in the_one(panned(by, axis=axis, part="ground"), "off-art").message


@pytest.mark.parametrize(("axis", "spare"), [("east", SPARE), ("north", SPARE_NORTH)])
def test_the_frame_may_come_to_the_very_end_of_the_art(axis: str, spare: float) -> None:
    assert found(panned(spare, axis=axis), "off-art") == []
    assert len(found(panned(spare * 1.0001, axis=axis), "off-art")) == 1


def test_a_thin_margin_is_noted_below_a_hundredth_of_the_field() -> None:
    assert found(panned(SPARE - 0.00501), "thin-margin") == []
    finding = the_one(panned(SPARE - 0.00499), "thin-margin")
    assert (finding.severity, finding.level, finding.limit) == ("note", "ground", 5)
    assert finding.value == pytest.approx(4.99)


def test_a_level_that_covers_nothing_may_show_its_ends() -> None:
    assert found(shot_of(levels=(NEAR, GROUND)), "off-art") == []
    assert found(shot_of(levels=(NEAR, replace(GROUND, covers=(), art_width=0.1))), "off-art") == []


def test_a_strip_covers_the_sides_although_it_ends_below_the_top_of_the_frame() -> None:
    strip = replace(GROUND, name="strip", height=0.4, art_px=(4000, 1000), north=-0.15)
    assert found(shot_of(levels=(replace(strip, covers=("left", "right", "bottom")), GROUND))) == []
    finding = the_one(shot_of(levels=(replace(strip, covers=EDGES), GROUND)), "off-art")
    assert "top" in finding.message


# Turned by φ, a corner of the field is 250·sin φ + 187.5·cos φ = 312.5·cos(φ − 53.13°) mm up the art; it ends at 225.
TURN_THAT_FITS = np.arctan2(250, 187.5) - np.arccos(225 / 312.5)


@pytest.mark.parametrize("part", ["camera", "ground"])
@pytest.mark.parametrize("way", [1, -1])
def test_a_turn_brings_the_corners_of_the_art_into_the_frame(part: str, way: int) -> None:
    assert found(shot_of(Move(part, "turn", 1, 49, 0.0, way * TURN_THAT_FITS * 0.9999)), "off-art") == []
    assert len(found(shot_of(Move(part, "turn", 1, 49, 0.0, way * TURN_THAT_FITS * 1.0001)), "off-art")) == 1


def test_art_turned_on_its_side_covers_with_its_other_sides() -> None:
    # 600 mm wide and 450 mm high, upright: it lacks 25 mm at the left and at the right
    finding = the_one(shot_of(levels=(NEAR, replace(GROUND, turn=np.pi / 2))), "off-art")
    assert "uncovers the left and right of" in finding.message
    assert finding.value == pytest.approx(25)
    strip = replace(GROUND, name="strip", height=0.4, art_px=(4000, 1000), turn=np.pi / 2, east=0.2)
    assert found(shot_of(levels=(replace(strip, covers=("top", "bottom", "right")), GROUND)), "off-art") == []
    assert "left" in the_one(shot_of(levels=(replace(strip, covers=("top", "left")), GROUND)), "off-art").message


def test_a_truck_out_uncovers_all_sides_when_the_field_outgrows_the_art() -> None:
    # 800 mm off, the field is 1000 px / (1000·55.56/(20·800)) = 288 mm; 900 mm off it is 324 mm
    ground = replace(GROUND, art_width=0.3)
    shot = shot_of(Move("camera", "height", 1, 49, 1.0, 1.1), levels=(NEAR, ground), camera=LENS)
    finding = the_one(shot, "off-art")
    assert "uncovers the left, right, top and bottom of" in finding.message
    assert finding.value == pytest.approx((324 - 300) / 2)


def outside(plan: Plan, *, by: float) -> np.ndarray:
    """Return whether some corner of the frame lies off the picture of the art by more than so many pixels, (F, L)."""
    width, height = plan.shot.camera.frame_px
    frame = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * [width / 2, height / 2]
    art = corners_px(plan)
    along = np.roll(art, -1, axis=-2) - art
    towards = frame[:, None] - art[:, :, None]
    cross = along[:, :, None, :, 0] * towards[..., 1] - along[:, :, None, :, 1] * towards[..., 0]
    # a picture goes round its corners as art does, the inside on its left
    return (cross / np.hypot(along[..., 0], along[..., 1])[:, :, None] < -by).any(axis=(-1, -2))


@settings(DRAWN, max_examples=60)
@given(shot=plannable_shots(most_levels=4, most_frames=12))
def test_off_art_is_what_the_corners_of_the_picture_say(shot: Shot) -> None:
    """Stretched, so that some art does cover; the oracle is the planned picture, whose corners the proof measures."""
    levels = tuple(replace(level, covers=EDGES, art_width=level.art_width * 20) for level in shot.levels)
    plan = make_plan(replace(shot, levels=levels))
    said = {finding.level: finding.frames for finding in find(plan) if finding.code == "off-art"}
    surely, at_all = outside(plan, by=1e-3), outside(plan, by=0.0)
    for column, name in enumerate(plan.names):
        assert name in said or not surely[:, column].any()
        if name in said:
            first, last = (frame - shot.frames[0] for frame in said[name])
            assert at_all[first : last + 1, column].all()
