# SPDX-License-Identifier: GPL-3.0-or-later
"""What delivered frames do not show is never passed, and what is no fault is none: the cases that are easily missed."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import OpenEXR
import pytest

import small_shots
from delivered.conftest import MAKING, judged
from delivered.made_frames import Making, Stand, cut_short, put, rewrite, write_frames
from small_shots import Glass
from underglass.plan import Plan, make_plan
from underglass.proof.proof_facts import BLOCK, FAIL, NOTE, PASS, Fault, Look, Measurement, Proof
from underglass.proof.proof_summary import judged as judged_figure
from underglass.proof.proof_summary import worst_told
from underglass.shot.files import read_shot
from underglass_headless import cli
from underglass_headless.delivered.files.find_frames import DeliveryError
from underglass_headless.delivered.files.pass_fits import SHARED_SHIFT_OF_FEW_PX, SHARED_SHIFT_PX
from underglass_headless.delivered.judging.delivered_frame import PASSES, DeliveredFrame
from underglass_headless.delivered.judging.unproved import never_told, with_unnamed

pytestmark = pytest.mark.once

HEADER = "part,axis,first,last,from,to,law,slow_out,slow_in\n"


def east(name: str, metres: float) -> Callable[[int, Stand], Stand]:
    return lambda frame, stand: put(stand, name, east=metres)


def pan(folder: Path) -> Path:
    """Lay out a pan over a sky ten times as wide as the frame, so that no frame ever shows a tenth of it."""
    folder.mkdir()
    return small_shots.stack(
        folder,
        [Glass("sky", 100.0, width=3200.0)],
        frame_px=(240, 180),
        frames=(1, 4),
        schedule=f"{HEADER}sky,east,1,4,0,-40,steady,,\n",
    )


HALF_FLOATS, ONE_SAMPLE = replace(MAKING, half=True), replace(MAKING, samples=1)


@pytest.mark.parametrize(
    ("making", "metres", "verdict"),
    [
        (MAKING, 0.0, PASS),
        # told to 27 px only, so that in place and 12 px off it are the same
        (HALF_FLOATS, 0.0, FAIL),
        (HALF_FLOATS, 0.02, FAIL),
        (ONE_SAMPLE, 0.02, FAIL),
        (MAKING, 0.02, FAIL),
    ],
)
def test_wide_art_of_which_a_sliver_shows_on_every_frame_passes_only_where_it_is_told_finely(
    making: Making, metres: float, verdict: str, tmp_path: Path
) -> None:
    shot = pan(tmp_path / "pan")
    write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=making, stand=east("sky", metres))
    assert judged(shot, tmp_path / "frames").verdict == verdict


@pytest.mark.parametrize(("samples", "least_px"), [(16, SHARED_SHIFT_PX), (2, SHARED_SHIFT_OF_FEW_PX)])
def test_frames_of_another_engine_among_them_have_the_uncertainty_of_theirs(
    samples: int, least_px: float, plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    write_frames(plan, tmp_path / "frames", frames=range(1, 7), making=MAKING)
    write_frames(plan, tmp_path / "frames", frames=range(7, 13), making=replace(MAKING, eevee=True, samples=samples))
    seen = [m for m in proof_of(tmp_path / "frames").measurements if m.uncertainty_px is not None]
    assert min(m.uncertainty_px for m in seen if m.frame > 6) >= least_px
    assert min(m.uncertainty_px for m in seen if m.frame <= 6) < SHARED_SHIFT_PX


@pytest.mark.parametrize("eevee", [False, True])
def test_a_level_that_its_pass_nowhere_fills_is_not_said_to_be_gone(
    eevee: bool, plan: Plan, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    def halve(channels: dict[str, np.ndarray]) -> None:
        for name, values in channels.items():
            if name.startswith("ViewLayer.proof1"):
                channels[name] = (values * 0.5).astype(values.dtype)

    for path in write_frames(plan, delivery, frames=(4, 5), making=replace(MAKING, eevee=eevee)):
        rewrite(path, halve)
    faults = [fault for fault in proof_of(delivery).faults if fault.code == "not-seen"]
    assert [(fault.subject, fault.frames) for fault in faults] == [("boat", (4, 5))]
    assert faults[0].message.startswith("boat should fill pixels on frames 4 to 5, but its proof pass fills none: look")


def test_frames_of_cycles_that_lost_their_texts_are_known_by_their_passes(
    plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    for path in write_frames(plan, tmp_path / "frames", frames=[3, 6], making=replace(MAKING, samples=4)):
        with OpenEXR.File(str(path), separate_channels=True) as file:
            channels = {name: channel.pixels for name, channel in file.channels().items()}
        OpenEXR.File({"compression": OpenEXR.ZIP_COMPRESSION}, channels).write(str(path))
    proof = proof_of(tmp_path / "frames", frames=(3, 6))
    assert proof.engine == "CYCLES"
    # EEVEE with few samples would make it 0.098 px at the least
    assert max(m.uncertainty_px for m in proof.measurements if m.uncertainty_px is not None) < 0.06


def test_a_told_frame_does_not_let_others_pass_that_tell_nothing(tmp_path: Path) -> None:
    shot = pan(tmp_path / "pan")
    plan = make_plan(read_shot(shot))
    write_frames(plan, tmp_path / "frames", frames=[1], making=MAKING)
    off = east("sky", 0.02)
    write_frames(plan, tmp_path / "frames", frames=[2, 3, 4], making=HALF_FLOATS, stand=off)
    assert judged(shot, tmp_path / "frames").verdict == FAIL


def test_a_crop_that_takes_a_fifth_of_the_frame_is_no_pass(plan: Plan, tmp_path: Path, shot: Path) -> None:
    write_frames(plan, tmp_path / "frames", making=replace(MAKING, window=(45, 0, 0, 0)))
    proof = judged(shot, tmp_path / "frames")
    assert proof.verdict == FAIL
    assert {(fault.code, fault.subject) for fault in proof.faults} == {("frame-cropped", "frames")}
    assert proof.measurements == ()


def test_a_level_that_something_covers_a_fifth_of_is_cut_off(plan: Plan, tmp_path: Path, shot: Path) -> None:
    def cover(channels: dict[str, np.ndarray]) -> None:
        for name, pixels in channels.items():
            if "proof3" in name:
                pixels[:, :45] = 0

    for path in write_frames(plan, tmp_path / "frames", making=MAKING):
        rewrite(path, cover)
    proof = judged(shot, tmp_path / "frames")
    assert ("cut-off", "sky") in {(fault.code, fault.subject) for fault in proof.faults}


def star(folder: Path, *, width: float) -> Path:
    """Lay out a sky with a star of ``width`` mm, 1.6 px each."""
    folder.mkdir()
    glasses = [Glass("star", 700.0, width=width, east=30, north=20), Glass("sky", 100.0, width=560.0)]
    return small_shots.stack(
        folder, glasses, frame_px=(320, 240), frames=(1, 3), schedule=f"{HEADER}sky,east,1,3,0,-20,steady,,\n"
    )


def test_a_star_that_is_not_there_is_missed(tmp_path: Path) -> None:
    shot = star(tmp_path / "star", width=6.0)
    plan = make_plan(read_shot(shot))
    write_frames(plan, tmp_path / "with", making=MAKING)
    write_frames(plan, tmp_path / "without", making=replace(MAKING, hidden=("star",)))
    assert judged(shot, tmp_path / "with").faults == ()
    proof = judged(shot, tmp_path / "without")
    assert proof.verdict == FAIL
    assert ("not-seen", "star") in {(fault.code, fault.subject) for fault in proof.faults}


def test_a_star_too_small_to_tell_its_place_by_has_a_note(tmp_path: Path) -> None:
    shot = star(tmp_path / "star", width=2.0)
    write_frames(make_plan(read_shot(shot)), tmp_path / "with", making=MAKING)
    proof = judged(shot, tmp_path / "with")
    assert proof.verdict == PASS
    assert [(fault.severity, fault.subject) for fault in proof.faults] == [(NOTE, "star")]
    assert "too little of star to tell its place by" in proof.faults[0].message


def test_who_moves_behind_an_opaque_card_changes_no_picture(tmp_path: Path) -> None:
    (tmp_path / "hidden").mkdir()
    glasses = [Glass("card", 700.0, width=400.0), Glass("sky", 100.0, width=560.0)]
    schedule = f"{HEADER}sky,east,1,4,0,-40,steady,,\n"
    shot = small_shots.stack(tmp_path / "hidden", glasses, frame_px=(160, 120), frames=(1, 4), schedule=schedule)
    write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=MAKING)
    assert judged(shot, tmp_path / "frames").faults == ()


@pytest.mark.parametrize("samples", [0, 16])
def test_a_card_that_wipes_off_the_frame_leaves_no_level_missing_or_cut_off(samples: int, tmp_path: Path) -> None:
    (tmp_path / "wipe").mkdir()
    glasses = [Glass("card", 700.0, width=420.0, east=-110), Glass("sky", 100.0, width=900.0)]
    schedule = f"{HEADER}card,east,1,24,-110,-116,steady,,\nsky,east,1,24,0,-20,steady,,\n"
    shot = small_shots.stack(tmp_path / "wipe", glasses, frame_px=(320, 240), frames=(1, 24), schedule=schedule)
    write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=replace(MAKING, samples=samples))
    told = {fault.code for fault in judged(shot, tmp_path / "frames").faults}
    assert not told & {"not-seen", "cut-off"}


def test_an_old_take_is_not_judged_in_place_of_a_damaged_new_one(
    plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    new = write_frames(plan, tmp_path / "frames", making=MAKING, name="take2.{frame:04d}.exr")
    write_frames(plan, tmp_path / "frames", making=MAKING, name="take1.{frame:04d}.exr")
    cut_short(new[0])
    with pytest.raises(DeliveryError, match=r"holds 2 sequences: take1.#.exr 1-12, take2.#.exr 1-12; name one"):
        proof_of(tmp_path / "frames")


def test_a_level_that_moves_where_no_frame_shows_it_changes_no_picture_and_is_no_fault(tmp_path: Path) -> None:
    (tmp_path / "waiting").mkdir()
    shot = small_shots.stack(
        tmp_path / "waiting",
        [Glass("bird", 900.0, width=30.0, east=-900.0), Glass("sky", 100.0, width=560.0)],
        frame_px=(160, 120),
        frames=(1, 4),
        schedule=f"{HEADER}bird,east,1,4,-900,-880,steady,,\n",
    )
    write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=MAKING)
    proof = judged(shot, tmp_path / "frames")
    assert [fault.code for fault in proof.faults if fault.code == "frames-identical"] == []


def test_a_program_hears_how_far_the_looking_is(
    shot: Path, clean: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["prove", str(shot), "--frames-from", str(clean), "--out", str(tmp_path / "proof"), "--json"]
    assert cli.run(words) == 0
    events = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    progress = [event for event in events if event["event"] == "progress"]
    assert [event["done"] for event in progress] == list(range(1, 13))
    assert {(event["what"], event["of"]) for event in progress} == {("looking at the frames", 12)}


def test_a_level_that_is_off_by_no_one_thing_is_named_beside_one_that_is_not_told_finely(plan: Plan) -> None:
    look = Look(100.0, 0.0, 0.0, 0.0)
    off = Measurement(1, "reeds", look, look, 0.112, 0.04, FAIL, True, "", True)
    by_chance = Measurement(1, "hills", look, look, 3.988, 3.894, FAIL, True, "", True)
    coarse = Measurement(1, "sky", look, look, 0.027, 0.041, FAIL, True, "", True)
    told = Fault("too-coarse", BLOCK, "sky", "", (1, 1), 0.027, "px", 0.027, "sky cannot be proved")
    found = with_unnamed(plan, [off, by_chance, coarse], [told], 0.05)
    assert [(fault.code, fault.subject) for fault in found] == [("too-coarse", "sky"), ("out-of-place", "reeds")]
    # What is out by more than its uncertainty by chance is told in one fault with what is too coarse.
    (found_one,) = with_unnamed(plan, [by_chance, coarse], [told], 0.05)
    assert (found_one.code, found_one.subject) == ("too-coarse", "hills")
    assert found_one.message.startswith("sky and hills cannot be proved")
    named = Fault("east-offset", BLOCK, "boat", "east", (1, 1), 1.0, "mm", 0.5, "boat is too far east")
    assert with_unnamed(plan, [off, coarse], [told, named], 0.05) == [told, named]


def test_what_is_told_too_coarsely_for_want_of_the_sample_count_says_so(tmp_path: Path) -> None:
    # Of a rod ten pixels wide every pixel is near an edge: how fair a choice they are hangs on the number of samples.
    glasses = [Glass("rod", 1000.0, width=4.0, turn=3.0), Glass("sky", 100.0, width=560.0)]
    shot = small_shots.stack(tmp_path, glasses, frame_px=(240, 180), frames=(1, 1))
    plan = make_plan(read_shot(shot))
    (path,) = write_frames(plan, tmp_path / "frames", making=replace(MAKING, samples=16))
    assert judged(shot, tmp_path / "frames", tolerance_px=0.2).verdict == PASS
    with OpenEXR.File(str(path), separate_channels=True) as file:
        channels = {name: channel.pixels.copy() for name, channel in file.channels().items()}
        header = {k: v for k, v in file.header().items() if k != "channels" and not k.startswith("cycles")}
    OpenEXR.File(header, channels).write(str(path))
    (unsaid,) = _stops(judged(shot, tmp_path / "frames", tolerance_px=0.2))
    assert unsaid.code == "too-coarse"
    assert "the file does not say how many samples its pixels had" in unsaid.message
    assert "more samples" not in unsaid.message


def test_what_is_told_too_coarsely_with_the_sample_count_asks_for_more_of_them(
    plan: Plan, shot: Path, tmp_path: Path
) -> None:
    write_frames(plan, tmp_path / "frames", frames=[6], making=replace(MAKING, samples=4))
    (said,) = _stops(judged(shot, tmp_path / "frames", frames=(6,), tolerance_px=0.02))
    assert said.code == "too-coarse"
    assert "render with more samples, to 32-bit EXR" in said.message
    assert "--proof-passes" not in said.message


def _stops(proof: Proof) -> list[Fault]:
    return [fault for fault in proof.faults if fault.severity == BLOCK]


def test_cycles_is_not_said_to_tell_more_of_what_cycles_rendered(plan: Plan) -> None:
    look = Look(100.0, 0.0, 0.0, 0.0)
    unseen = [Measurement(1, plan.names[0], look, None, None, None, PASS, False)]
    for shared in (True, False):
        file = DeliveredFrame(1, "a.exr", levels=(0,), evidence=PASSES, shared=shared)
        (fault,) = never_told(plan, unseen, 0.05, shown={(1, 0): 0.5}, usable=[file])
        assert ("Cycles tells more" in fault.message) == shared


def test_a_pass_prints_the_figure_that_let_it_pass_and_a_fail_that_which_failed(plan: Plan) -> None:
    look = Look(100.0, 0.0, 0.0, 0.0)
    part = Measurement(1, "boat", look, look, 0.024, 0.055, PASS, True, judged_px=0.011, judged_uncertainty_px=0.02)
    good = Measurement(1, "sky", look, look, 0.01, 0.005, PASS, True)
    off = Measurement(1, "reeds", look, look, 0.09, 0.01, FAIL, True)
    by_chance = Measurement(1, "hills", look, look, 3.988, 3.999, FAIL, True)
    worst = worst_told([part, good], tolerance=0.05)
    assert worst is part
    assert judged_figure(worst) == (0.011, 0.02)
    assert worst_told([part, good, off, by_chance], tolerance=0.05) is off
    assert worst_told([part, good, by_chance], tolerance=0.05) is by_chance
