# SPDX-License-Identifier: GPL-3.0-or-later
"""Art with fewer pixels than the frame shows of it. The frame has 2 px to the mm."""

from dataclasses import replace

import pytest

from plan.findings.small_stand import GROUND, LENS, NEAR, PARALLEL, found, shot_of, the_one
from underglass.shot import Camera, Move

# 600 mm at 2 px to the mm
JUST_ENOUGH = 1200


def ground_of(pixels: int) -> tuple:
    return (NEAR, replace(GROUND, art_px=(pixels, pixels * 3 // 4)))


def test_a_pixel_of_art_for_a_pixel_of_the_frame_is_enough() -> None:
    assert found(shot_of(levels=ground_of(JUST_ENOUGH))) == []
    finding = the_one(shot_of(levels=ground_of(1196)), "coarse-art")
    assert (finding.severity, finding.level, finding.frames) == ("warn", "ground", (1, 49))
    assert (finding.value, finding.limit) == (pytest.approx(1196 / 1200), 1.0)
    assert "1200 px wide" in finding.remedy


def test_a_truck_in_outgrows_the_art_on_its_last_frames() -> None:
    truck = Move("camera", "height", 1, 49, 1.0, 0.76)
    # at 800 mm a metre is 1000·55.56/(20·0.8) = 3472 px, at 560 mm 4960 px; 2600 px of 0.6 m are 4333 to the metre
    finding = the_one(shot_of(truck, levels=ground_of(2600), camera=LENS), "coarse-art")
    assert finding.value == pytest.approx((2600 / 0.6) / (1000 * 0.5 / 9 / 0.02 / 0.56 / 1), rel=1e-3)
    assert 1 < finding.frames[0] < finding.frames[1] == 49


def test_a_squeeze_asks_for_its_pixels_up_the_art() -> None:
    wide = replace(PARALLEL, squeeze=2.0)
    assert found(shot_of(levels=ground_of(2 * JUST_ENOUGH), camera=wide), "coarse-art") == []
    assert len(found(shot_of(levels=ground_of(2 * JUST_ENOUGH - 4), camera=wide), "coarse-art")) == 1


def test_coarse_art_out_of_the_frame_is_nobody_s_business() -> None:
    off = replace(NEAR, east=2.0, art_px=(40, 30))
    assert found(shot_of(levels=(off, GROUND)), "coarse-art") == []


@pytest.mark.parametrize(("f_stop", "severity"), [(8.0, "note"), (800.0, "warn")])
def test_what_the_lens_blurs_more_than_that_is_noted_only(f_stop: float, severity: str) -> None:
    camera: Camera = replace(LENS, f_stop=f_stop)
    # 2 frame px to an art px, and a circle of 13 px at f/8, of 0.13 px at f/800
    coarse = (NEAR, replace(GROUND, art_px=(1042, 782)))
    assert the_one(shot_of(levels=coarse, camera=camera), "coarse-art").severity == severity
