# SPDX-License-Identifier: GPL-3.0-or-later
"""Of a level that shows too little on every frame it is said that only the scene can tell it, and nobody is blamed."""

from dataclasses import replace
from pathlib import Path

import pytest

import small_shots
from delivered.conftest import MAKING, judged
from delivered.made_frames import Making, put, write_frames
from small_shots import Glass
from underglass.plan import make_plan
from underglass.proof.proof_facts import BLOCK, FAIL, PASS, Look, Measurement, Proof
from underglass.shot.files import read_shot
from underglass_headless.delivered.judging.unproved import with_unnamed

pytestmark = pytest.mark.once

FRAME_PX = (160, 120)


def behind_a_card(folder: Path, *, open_px: tuple[float, float]) -> Path:
    """Lay out a sky behind two cards that leave a gap of so many px across and up in the middle of the frame."""
    folder.mkdir()
    # Focused 300 mm off, a 50 mm lens stands 60 mm from the film: 600 mm off its 20 mm gate is 200 mm across.
    mm = 200.0 / FRAME_PX[0]
    small_shots.one_colour(folder / "art/grey.png", (128, 128, 128, 255))
    wide = 900.0
    left, low = wide / 2 + open_px[0] * mm / 2, wide * 0.375 + open_px[1] * mm / 2
    cards = [
        Glass("left", 700.0, width=wide, east=-left),
        Glass("right", 699.0, width=wide, east=left),
        Glass("low", 698.0, width=wide, north=-low),
        Glass("high", 697.0, width=wide, north=low),
    ]
    return small_shots.stack(folder, [*cards, Glass("sky", 100.0, width=900.0)], frame_px=FRAME_PX, frames=(1, 3))


def blocks(proof: Proof) -> list[tuple[str, str]]:
    return [(fault.code, fault.subject) for fault in proof.faults if fault.severity == BLOCK]


def proved(shot: Path, making: Making, *, east: float = 0.0) -> Proof:
    frames = shot.parent / f"frames {making.samples} {east}"
    write_frames(make_plan(read_shot(shot)), frames, making=making, stand=lambda n, s: put(s, "sky", east=east))
    return judged(shot, frames)


def test_a_level_of_which_a_few_pixels_show_is_told_by_the_scene_alone_whatever_the_samples(tmp_path: Path) -> None:
    shot = behind_a_card(tmp_path / "gap", open_px=(5.0, 5.0))
    for samples in (4, 64):
        proof = proved(shot, replace(MAKING, samples=samples))
        assert proof.verdict == FAIL
        # the cards have all that they need where there are samples enough
        assert [found for found in blocks(proof) if found[1] == "sky"] == [("only-scene-tells", "sky")]
        words = "too little of sky shows in these frames to prove it to 0.05 px; only `prove --scene` can"
        assert words in [fault.message for fault in proof.faults]


def test_a_level_that_shows_enough_is_told_with_more_samples_and_that_is_said(tmp_path: Path) -> None:
    shot = behind_a_card(tmp_path / "gap", open_px=(40.0, 30.0))
    few, many = (proved(shot, replace(MAKING, samples=samples)) for samples in (1, 64))
    assert "only-scene-tells" not in {code for code, _ in blocks(few)}
    assert any("with more samples" in fault.message for fault in few.faults)
    assert many.verdict == PASS


def test_a_level_that_is_surely_elsewhere_is_not_let_off_for_showing_little(tmp_path: Path) -> None:
    shot = behind_a_card(tmp_path / "gap", open_px=(6.0, 6.0))
    proof = proved(shot, replace(MAKING, samples=64), east=0.3)
    assert proof.verdict == FAIL
    assert ("only-scene-tells", "sky") not in blocks(proof)


@pytest.mark.parametrize(("error", "named"), [(0.046, "coarse"), (0.081, "out-of-place")])
def test_what_may_be_out_by_chance_is_called_coarse_and_not_out_of_place(error: float, named: str) -> None:
    plan = make_plan(read_shot(small_shots.CALIBRATION / "shot.toml"))
    look = Look(100.0, 0.0, 0.0, 0.0)
    # One in twenty is out by more than its uncertainty, and all frames of a level alike.
    off = [Measurement(frame, plan.names[0], look, look, error, 0.038, FAIL, True, "", True) for frame in (1, 2, 3)]
    (fault,) = with_unnamed(plan, off, [], 0.05)
    assert named in fault.code or fault.code == "too-coarse"
    assert (fault.code == "out-of-place") == (named == "out-of-place")
