# SPDX-License-Identifier: GPL-3.0-or-later
"""The verdict that readings and fits of pixels come to together, both made by hand."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from proof.readings import reading_of
from report import synthetic
from underglass.plan import corners_px
from underglass.proof.measure.measured_corners import Fit
from underglass.proof.measure.passes import Lattice, MeasuredFrame
from underglass.proof.proof_facts import BLOCK, FAIL, NOTE, PASS, Proof
from underglass.proof.verdict.judge_levels import BY_CHANCE, judge_level
from underglass.proof.verdict.whole_proof import judge_scene
from underglass.reading.scene_reading import SceneReading

PLAN = synthetic.plan()
FRAMES = (1, 24, 48)
# Samples that lie where their pixels are.
LATTICE = Lattice(4.0, 457, 333, (0.0, 0.0), (1.0, 1.0), (0.0, 0.0), 0.0, placed=True)


def fit_of(number: int, frame: int, off: float = 0.0, **odd: float) -> Fit:
    """Return the fit of a level that is ``off`` to the east by so many px, and in other ways ``odd``."""
    corners = corners_px(PLAN)[frame - 1, number]
    fit = Fit(corners + np.array([off, 0.0]), 0.004, 0.001, 10_000, False, 160_000.0, corners, 0.001)
    return replace(fit, **odd)


def fits(
    *, off: dict[str, float] | None = None, odd: dict[str, dict[str, float]] | None = None, lattice: Lattice = LATTICE
) -> dict[int, MeasuredFrame]:
    """Return what pixels of ``PLAN`` come to, where levels are ``off`` and ``odd`` on frame 24."""
    off, odd = off or {}, odd or {}
    return {
        frame: MeasuredFrame(
            {
                number: fit_of(number, frame, *([off.get(name, 0.0)] if frame == 24 else []), **odd.get(name, {}))
                for number, name in enumerate(PLAN.names)
            },
            lattice,
        )
        for frame in PLAN.frames.tolist()
    }


def judged(reading: SceneReading, pixels: dict[int, MeasuredFrame], *, tolerance: float = 0.05) -> Proof:
    return judge_scene(
        PLAN,
        shot_file=Path("shot.toml"),
        scene_file=None,
        reading=reading,
        frames=FRAMES,
        measured=pixels,
        tolerance=tolerance,
        pictures={},
        picture_reasons={},
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
    blocks = [fault for fault in proof.faults if fault.severity == BLOCK]
    assert [fault.code for fault in blocks] == ["out-of-place"]
    assert blocks[0].message == "boat measures 0.048 ± 0.004 px out of place on frame 24, by several small deviations"
    assert blocks[0].error_px == pytest.approx(0.048)


def test_a_level_of_which_a_part_is_missing_in_the_pixels_is_cut_off() -> None:
    proof = judged(reading_of(PLAN), fits(odd={"far hills": {"missing": BY_CHANCE + 1}}))
    assert [(fault.code, fault.subject) for fault in proof.faults] == [("cut-off", "far hills")]
    assert {m.level for m in proof.measurements if not m.whole} == {"far hills"}
    assert "only" in proof.faults[0].message


@pytest.mark.parametrize(
    ("odd", "code"),
    [
        ({"strange": BY_CHANCE + 1, "strange_px": 0.06}, "strange-pixels"),
        ({"worst_px": 0.06}, "not-flat"),
        ({"doubled": 9_000}, "two-surfaces"),
    ],
)
def test_a_level_whose_surface_is_odd_is_named_though_its_corners_are_in_place(
    odd: dict[str, float], code: str
) -> None:
    proof = judged(reading_of(PLAN), fits(odd={"boat": odd}))
    assert proof.verdict == FAIL
    assert [(fault.code, fault.subject) for fault in proof.faults] == [(code, "boat")]


@pytest.mark.parametrize(
    "odd",
    [
        {"missing": BY_CHANCE},
        {"strange": BY_CHANCE, "strange_px": 900.0},
        # within the tolerance of 0.05 px
        {"strange": 90, "strange_px": 0.04},
        {"worst_px": 0.04},
        # no more than a sample for each row and column that the level goes through, twice
        {"doubled": BY_CHANCE},
    ],
)
def test_a_few_odd_pixels_are_counted_and_do_no_harm(odd: dict[str, float]) -> None:
    proof = judged(reading_of(PLAN), fits(odd={"boat": odd}))
    assert (proof.verdict, proof.faults) == (PASS, ())
    (name, count), *_ = odd.items()
    if name != "worst_px":
        assert {getattr(m, name) for m in proof.measurements if m.level == "boat"} == {count}


def test_a_frame_that_does_not_lie_on_its_pixels_is_told_by_the_datum() -> None:
    shifted = replace(LATTICE, shift=(0.5, 0.0), farthest_px=0.5)
    proof = judged(reading_of(PLAN), fits(lattice=shifted))
    assert [(fault.code, fault.severity) for fault in proof.faults] == [("off-grid", BLOCK)]
    assert "+0.500 px east" in proof.faults[0].message
    assert proof.samples is not None
    assert proof.samples.shift_px == 0.5


def test_where_clipping_leaves_no_room_for_the_datum_a_note_says_so() -> None:
    proof = judged(reading_of(PLAN), fits(lattice=Lattice(2.0, 914, 666)))
    assert proof.verdict == PASS
    assert [(fault.code, fault.severity) for fault in proof.faults] == [("no-datum", NOTE)]


def test_what_hides_the_datum_stands_before_every_level() -> None:
    proof = judged(reading_of(PLAN), fits(lattice=replace(LATTICE, hidden=30)))
    assert [(fault.code, fault.severity, fault.subject) for fault in proof.faults] == [("in-the-way", BLOCK, "scene")]
    assert proof.faults[0].frames == (1, 48)


def test_a_frame_that_was_not_rendered_does_not_pass_unseen() -> None:
    pixels = fits()
    del pixels[30]
    proof = judged(reading_of(PLAN), pixels)
    assert proof.verdict == FAIL
    assert {m.frame for m in proof.measurements if m.verdict == FAIL} == {30}


def test_a_level_that_is_gone_on_some_frames_is_worse_than_one_that_is_a_hair_off() -> None:
    pixels = fits(off={"boat": 0.06})
    number = PLAN.names.index("boat")
    for frame in (10, 11):
        pixels[frame] = replace(pixels[frame], fits={**pixels[frame].fits, number: None})
    proof = judged(reading_of(PLAN), pixels)
    assert [(fault.code, fault.subject) for fault in proof.faults] == [("not-seen", "boat")]
    assert "from frame 10 to 11" in proof.faults[0].message


def strip(thickness_px: float) -> np.ndarray:
    """Return the corners of a level that lies across the whole frame at its top, of which so much shows."""
    width, height = PLAN.shot.camera.frame_px
    low = height / 2 - thickness_px
    return np.array([(-width, low), (width, low), (width, low + height), (-width, low + height)])


@pytest.mark.parametrize(
    ("thickness_px", "hits", "verdict"),
    [
        # narrower than two samples: it may lie between their rows
        (7.0, 0, PASS),
        # a row or two of it are there, or are not
        (10.0, 460, PASS),
        (10.0, 0, FAIL),
        # wide enough to be fitted, and it was not
        (16.0, 900, FAIL),
    ],
)
def test_a_strip_too_narrow_to_be_measured_passes_only_where_something_of_it_is_there(
    thickness_px: float, hits: int, verdict: str
) -> None:
    corners = np.broadcast_to(strip(thickness_px), (len(PLAN.frames), len(PLAN.names), 4, 2))
    m = judge_level(PLAN, corners=corners, frame=1, level="boat", fit=None, tolerance=0.05, spacing=4.0, hits=hits)
    assert m.verdict == verdict
