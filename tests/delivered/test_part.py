# SPDX-License-Identifier: GPL-3.0-or-later
"""A part of the frames, judged before the others are there: what is wrong is found, what others tell is left open."""

from dataclasses import replace
from pathlib import Path

import pytest

import small_shots
from delivered.conftest import MAKING, judged, lay_out_mist
from delivered.made_frames import cut_short, put, write_frames
from delivered.test_not_passed_unseen import HALF_FLOATS, HEADER, east
from small_shots import Glass
from underglass.plan import Plan, make_plan
from underglass.proof.proof_facts import BLOCK, FAIL, PASS
from underglass.shot.files import read_shot
from underglass_headless import cli


def test_every_part_of_clean_frames_passes(shot: Path, clean: Path) -> None:
    for part in ((1,), (2, 3, 4, 5), (6, 7, 8, 9, 10, 11, 12)):
        proof = judged(shot, clean, frames=part, part=True)
        assert (proof.verdict, proof.rendered_frames) == (PASS, part)
        assert proof.faults == ()


def test_a_sliver_that_other_frames_tell_is_left_to_them(tmp_path: Path) -> None:
    # a sky as wide as the frame leaves it, until little of it shows, and that is told coarsely
    move = f"{HEADER}sky,east,1,4,0,-345,steady,,\n"
    glasses = [Glass("sky", 100.0, width=320.0)]
    shot = small_shots.stack(tmp_path, glasses, frame_px=(240, 180), frames=(1, 4), schedule=move)
    plan = make_plan(read_shot(shot))
    write_frames(plan, tmp_path / "frames", frames=[1, 2, 3], making=MAKING)
    write_frames(plan, tmp_path / "frames", frames=[4], making=HALF_FLOATS)
    assert judged(shot, tmp_path / "frames").verdict == PASS
    assert judged(shot, tmp_path / "frames", frames=(4,)).verdict == FAIL
    assert judged(shot, tmp_path / "frames", frames=(4,), part=True).verdict == PASS


def test_a_level_that_other_frames_may_tell_is_left_to_them(tmp_path: Path) -> None:
    # as in test_levels: EEVEE writes nothing of what is nowhere opaque
    shot = lay_out_mist(tmp_path)
    making = replace(MAKING, eevee=True, samples=16, clear=("mist",))
    write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=making)
    asked = {"frames": (1,), "tolerance_px": 0.8}
    assert judged(shot, tmp_path / "frames", **asked).verdict == FAIL
    assert judged(shot, tmp_path / "frames", **asked, part=True).verdict == PASS


def test_a_level_that_is_off_and_files_that_are_spoilt_fail_a_part(plan: Plan, shot: Path, tmp_path: Path) -> None:
    folder = tmp_path / "frames"
    written = write_frames(plan, folder, frames=range(1, 9), making=MAKING, stand=east("boat", 0.03))
    proof = judged(shot, folder, frames=(1, 2, 3), part=True)
    assert {(fault.subject, fault.severity) for fault in proof.faults} == {("boat", BLOCK)}
    cut_short(written[4])
    assert "frame-cut-short" in {fault.code for fault in judged(shot, folder, frames=(5, 6), part=True).faults}
    missing = judged(shot, folder, frames=(8, 9), part=True)
    assert ("frame-missing", (9, 9)) in {(fault.code, fault.frames) for fault in missing.faults}
    gone = tmp_path / "gone"
    write_frames(plan, gone, frames=(1,), making=replace(MAKING, hidden=("hills",)))
    assert ("not-seen", "hills") in {(f.code, f.subject) for f in judged(shot, gone, frames=(1,), part=True).faults}
    turned = tmp_path / "turned"
    write_frames(plan, turned, frames=(1,), making=MAKING, stand=lambda frame, stand: put(stand, "hills", turn=0.2))
    assert judged(shot, turned, frames=(1,), part=True).verdict == FAIL


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--part", "--frames", "1"], "--part needs --frames-from"),
        (["--part", "--frames-from", "render"], "--part needs --frames:"),
    ],
)
def test_a_part_is_one_of_delivered_frames_and_says_which(
    words: list[str], said: str, shot: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["prove", str(shot), *words]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1
