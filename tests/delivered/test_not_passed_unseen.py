"""What delivered frames do not show is never passed, and what is no fault is none: the cases that are easily missed."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from delivered.conftest import MAKING, judged
from delivered.made_frames import Making, Stand, cut_short, put, write_frames
from proof import small_shots
from proof.small_shots import Glass
from underglass.plan import Plan, make_plan
from underglass.proof.delivered_fits import SHARED_SHIFT_PX
from underglass.proof.facts import FAIL, PASS, Proof
from underglass.shot import read_shot
from underglass_headless import cli
from underglass_headless.delivered.sequence import DeliveryError

HEADER = "part,axis,first,last,from,to,law,slow_out,slow_in\n"


def east(name: str, metres: float) -> Callable[[int, Stand], Stand]:
    return lambda frame, stand: put(stand, name, east=metres)


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
    (tmp_path / "pan").mkdir()
    # a pan: the sky is ten times as wide as the frame, so that no frame ever shows a tenth of it
    shot = small_shots.stack(
        tmp_path / "pan",
        [Glass("sky", 100.0, width=3200.0)],
        frame_px=(240, 180),
        frames=(1, 4),
        schedule=f"{HEADER}sky,east,1,4,0,-40,steady,,\n",
    )
    write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=making, stand=east("sky", metres))
    assert judged(shot, tmp_path / "frames").verdict == verdict


def test_frames_of_another_engine_among_them_are_judged_by_the_poorest(
    plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    opaque_alone = replace(MAKING, eevee=True, samples=16)
    write_frames(plan, tmp_path / "frames", frames=range(1, 12), making=MAKING)
    write_frames(plan, tmp_path / "frames", frames=[12], making=opaque_alone)
    seen = [m for m in proof_of(tmp_path / "frames").measurements if m.uncertainty_px is not None]
    assert {m.frame for m in seen} == set(range(1, 13))
    assert min(m.uncertainty_px for m in seen) >= SHARED_SHIFT_PX


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
