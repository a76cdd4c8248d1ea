"""The verdict that readings and fits of pixels come to together, both made by hand."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from proof.readings import reading_of
from report import synthetic
from underglass.plan import corners_px
from underglass.plan.reading import SceneReading
from underglass.proof.facts import FAIL, PASS, STOP, Proof
from underglass.proof.measure import Fit
from underglass.proof.verdict import judge_scene

PLAN = synthetic.plan()
FRAMES = (1, 24, 48)
# What is in the frame of a level that is all in it.
WHOLE_PX = 1e9


def fits(*, off: dict[str, float] | None = None, area: dict[str, float] | None = None) -> dict[tuple[int, int], Fit]:
    """Return what pixels of ``PLAN`` come to, where levels are ``off`` to the east by so many px on frame 24."""
    corners = corners_px(PLAN)
    off, area = off or {}, area or {}
    return {
        (frame, number): Fit(
            corners[frame - 1, number] + (off.get(name, 0.0) * (frame == 24), 0.0),
            0.004,
            0.001,
            10_000,
            False,
            area.get(name, WHOLE_PX),
        )
        for frame in FRAMES
        for number, name in enumerate(PLAN.names)
    }


def judged(reading: SceneReading, pixels: dict[tuple[int, int], Fit], *, tolerance: float = 0.05) -> Proof:
    return judge_scene(
        PLAN,
        shot_file=Path("shot.toml"),
        scene_file=None,
        reading=reading,
        frames=FRAMES,
        fits=pixels,
        rendered=FRAMES,
        tolerance=tolerance,
        pictures={},
        seconds={},
    )


def test_pixels_and_numbers_as_planned_pass() -> None:
    proof = judged(reading_of(PLAN), fits())
    assert (proof.verdict, proof.faults) == (PASS, ())


def test_where_only_a_measurement_fails_its_error_is_quoted() -> None:
    """The scene is 0.03 px off, which is allowed, the pixels 0.048 px, which with its uncertainty is not."""
    reading = reading_of(PLAN)
    corners = reading.corners.copy()
    corners[:, 2, :, :2] += 0.03 / PLAN.scale[23, 2] / np.sqrt(2)
    proof = judged(replace(reading, corners=corners), fits(off={"boat": 0.048}))
    assert proof.verdict == FAIL
    stops = [fault for fault in proof.faults if fault.severity == STOP]
    assert [fault.code for fault in stops] == ["out-of-place"]
    assert stops[0].message == "boat measures 0.048 ± 0.004 px out of place on frame 24, by several small deviations"
    assert stops[0].error_px == pytest.approx(0.048)


def test_a_level_of_which_a_part_is_missing_in_the_pixels_is_cut_off() -> None:
    proof = judged(reading_of(PLAN), fits(area={"far hills": 900_000.0}))
    assert [(fault.code, fault.subject) for fault in proof.faults] == [("cut-off", "far hills")]
    assert {m.level for m in proof.measurements if not m.whole} == {"far hills"}
    assert "only" in proof.faults[0].message
