# SPDX-License-Identifier: GPL-3.0-or-later
"""What can be wrong with delivered files, each planted in clean frames, found, and laid to no other frame's charge."""

import os
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from delivered.conftest import MAKING, judged
from delivered.made_frames import cut_short, rewrite, write_frames
from delivered.other_programs import respell
from small_shots import Glass, one_colour, stack
from underglass.plan import Plan, make_plan
from underglass.proof.proof_facts import BLOCK, FAIL, NOTE, PASS, Proof
from underglass.shot.files import read_shot
from underglass.shot.files.shot_fingerprint import fingerprint
from underglass_headless.delivered.files.frame_lists import frame_list


def file_of(delivery: Path, frame: int) -> Path:
    return delivery / f"beauty.{frame:04d}.exr"


def blocks(proof: Proof) -> list[tuple[str, tuple[int, int]]]:
    return [(fault.code, fault.frames) for fault in proof.faults if fault.severity == BLOCK]


def blacken(channels: dict[str, np.ndarray]) -> None:
    for name in ("ViewLayer.Combined.R", "ViewLayer.Combined.G", "ViewLayer.Combined.B"):
        channels[name][:] = 0


def spoil_a_pixel(channels: dict[str, np.ndarray]) -> None:
    channels["ViewLayer.Combined.G"][40, 60] = np.nan


def overflow_a_pass(channels: dict[str, np.ndarray]) -> None:
    channels["ViewLayer.proof2.R"][3, 5] = np.inf


@dataclass(frozen=True)
class Wrong:
    """One thing done to a clean delivery, and the fault on which frames that comes of it."""

    do: Callable[[Plan, Path], None]
    code: str
    frames: tuple[int, int]
    words: str


def remove(plan: Plan, at: Path) -> None:
    for frame in (4, 5, 6):
        file_of(at, frame).unlink()


def double(plan: Plan, at: Path) -> None:
    shutil.copy(file_of(at, 7), at / "beauty.7.exr")


def cut(plan: Plan, at: Path) -> None:
    cut_short(file_of(at, 8))


def cut_one_of_many_parts(plan: Plan, at: Path) -> None:
    write_frames(plan, at, frames=[8], making=replace(MAKING, parts=True))
    cut_short(file_of(at, 8), share=0.8)


def empty(plan: Plan, at: Path) -> None:
    file_of(at, 8).write_bytes(b"")


def make_text(plan: Plan, at: Path) -> None:
    file_of(at, 3).write_text("frame 3 comes tomorrow")


def shrink(plan: Plan, at: Path) -> None:
    camera = replace(plan.shot.camera, frame_px=(160, 120))
    smaller = replace(plan, shot=replace(plan.shot, camera=camera))
    noted = replace(MAKING, shot=_mark(plan))
    write_frames(smaller, at, frames=[9, 10], making=noted)


def exchange(plan: Plan, at: Path) -> None:
    file_of(at, 5).rename(at / "kept")
    file_of(at, 6).rename(file_of(at, 5))
    (at / "kept").rename(file_of(at, 6))


def copy_over(plan: Plan, at: Path) -> None:
    # Not the metadata but the pixels: a frame that was rendered with the state of the one before it.
    pixels: dict[str, np.ndarray] = {}
    rewrite(file_of(at, 6), pixels.update)
    rewrite(file_of(at, 7), lambda channels: channels.update(pixels))


def of_an_older_shot(plan: Plan, at: Path) -> None:
    write_frames(plan, at, frames=[10, 11, 12], making=replace(MAKING, shot="0123456789abcdef"))


def of_another_shot(plan: Plan, at: Path) -> None:
    write_frames(plan, at, frames=[2], making=replace(MAKING, shot="0123456789abcdef", title="Market"))


def of_another_camera(plan: Plan, at: Path) -> None:
    write_frames(plan, at, frames=[2], making=replace(MAKING, header={"Camera": "witness camera"}))


def of_another_scene(plan: Plan, at: Path) -> None:
    write_frames(plan, at, frames=[11, 12], making=replace(MAKING, header={"Scene": "Scene.001"}))


def without_passes(plan: Plan, at: Path) -> None:
    write_frames(plan, at, frames=[4], making=replace(MAKING, passes=False))


def with_empty_passes(plan: Plan, at: Path) -> None:
    """As EEVEE leaves them all where a view layer has more passes than it can hold."""

    def empty(channels: dict[str, np.ndarray]) -> None:
        for name, values in channels.items():
            if "proof" in name:
                values[:] = 0

    for path in write_frames(plan, at, frames=[4, 5], making=replace(MAKING, eevee=True, samples=2)):
        rewrite(path, empty)


def with_lossy_passes(plan: Plan, at: Path) -> None:
    write_frames(plan, at, frames=[4, 5], making=replace(MAKING, compression="DWAA"))


def _mark(plan: Plan) -> str:
    return fingerprint(plan.shot)


def black(plan: Plan, at: Path) -> None:
    rewrite(file_of(at, 9), blacken)


def nan(plan: Plan, at: Path) -> None:
    rewrite(file_of(at, 9), spoil_a_pixel)


def infinite(plan: Plan, at: Path) -> None:
    rewrite(file_of(at, 9), overflow_a_pass)


def number_passes_from_one(plan: Plan, at: Path) -> None:
    def spell(name: str) -> str:
        return re.sub(r"proof(\d)", lambda match: f"proof{int(match[1]) + 1}", name)

    for frame in (4, 5):
        respell(file_of(at, frame), spell)


def cut_in_the_header(plan: Plan, at: Path) -> None:
    os.truncate(file_of(at, 8), 300)


WRONG = {
    "removed": Wrong(remove, "frame-missing", (4, 6), "frames 4-6 are missing"),
    "doubled": Wrong(double, "frame-doubled", (7, 7), "frame 7 is there 2 times: beauty.0007.exr and beauty.7.exr"),
    "cut": Wrong(cut, "frame-cut-short", (8, 8), "frame 8 cannot be read: it is cut short or damaged"),
    "cut in parts": Wrong(cut_one_of_many_parts, "frame-cut-short", (8, 8), "frame 8 cannot be read"),
    "empty": Wrong(empty, "frame-cut-short", (8, 8), "frame 8 cannot be read: it is empty (0 bytes)"),
    "cut early": Wrong(cut_in_the_header, "frame-cut-short", (8, 8), "its header is cut short or damaged"),
    "text": Wrong(make_text, "frame-refused", (3, 3), "frame 3 is no EXR file: by its contents it is a text"),
    "small": Wrong(shrink, "frame-size", (9, 10), "frames 9-10 are 160 × 120 px, planned 240 × 180"),
    "black": Wrong(black, "frame-black", (9, 9), "frame 9 is black all over"),
    "nan": Wrong(nan, "frame-nan", (9, 9), "frame 9 holds values that are NaN or infinite, in ViewLayer.Combined.G"),
    "infinite": Wrong(infinite, "frame-nan", (9, 9), "in ViewLayer.proof2.R"),
    "stale": Wrong(of_an_older_shot, "frame-stale", (10, 12), "frames 10-12 were rendered from another state"),
    "another shot": Wrong(of_another_shot, "frame-of-another-shot", (2, 2), "frame 2 is of another shot, “Market”"),
    "another camera": Wrong(
        of_another_camera, "frame-of-another-camera", (2, 2), "of the camera “witness camera”, the shot was built for"
    ),
    "another scene": Wrong(of_another_scene, "frame-of-another-scene", (11, 12), "of the scene “Scene.001”"),
    "more levels": Wrong(
        number_passes_from_one, "frame-of-another-shot", (4, 5), "hold proof4, a pass of level 5, but the shot has 4"
    ),
    "repeated": Wrong(copy_over, "frame-shows-another", (7, 7), "frame 7 shows what the plan has on frame 6"),
    "no passes": Wrong(without_passes, "not-proved", (4, 4), "--proof-passes"),
    "empty passes": Wrong(with_empty_passes, "not-proved", (4, 5), "--proof-passes"),
    "lossy": Wrong(with_lossy_passes, "not-proved", (4, 5), "compressed with DWAA"),
}


def test_clean_frames_pass(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    proof = proof_of(delivery)
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert proof.rendered_frames == tuple(range(1, 13))
    assert proof.source is not None
    assert proof.source.files == "beauty.#.exr 1-12"


@pytest.mark.parametrize("name", WRONG)
def test_a_fault_of_the_files_is_named_on_its_frames_and_no_level_is_blamed(
    name: str, plan: Plan, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    wrong = WRONG[name]
    wrong.do(plan, delivery)
    proof = proof_of(delivery)
    assert proof.verdict == FAIL
    assert blocks(proof) == [(wrong.code, wrong.frames)]
    assert wrong.words in proof.faults[0].message
    assert "EXR_ERR" not in proof.faults[0].message
    assert all(m.verdict == PASS for m in proof.measurements)
    clean = set(range(1, 13)) - set(range(wrong.frames[0], wrong.frames[1] + 1))
    assert set(proof.rendered_frames) == clean


def test_a_copy_that_says_which_frame_it_is_makes_that_one_no_fault(
    delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    shutil.copy(file_of(delivery, 6), file_of(delivery, 9))
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-number", (9, 9))]
    assert proof.faults[0].message == "frame 9 says that it was rendered as frame 6"
    assert set(proof.rendered_frames) == set(range(1, 13)) - {9}


def test_frames_that_hold_another_frame_are_the_fault_and_that_one_is_not(
    delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    pixels: dict[str, np.ndarray] = {}
    rewrite(file_of(delivery, 3), pixels.update)
    for frame in (8, 9):
        rewrite(file_of(delivery, frame), lambda channels: channels.update(pixels))
    faults = [(fault.frames, fault.message) for fault in proof_of(delivery).faults]
    assert faults == [
        ((8, 8), "frame 8 shows what the plan has on frame 3"),
        ((9, 9), "frame 9 shows what the plan has on frame 3"),
    ]


def test_frames_that_changed_places_say_so_themselves(
    plan: Plan, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    exchange(plan, delivery)
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-number", (5, 5)), ("frame-number", (6, 6))]
    assert proof.faults[0].message == "frame 5 says that it was rendered as frame 6"


def test_a_held_picture_may_be_the_same_on_many_frames(
    tmp_path: Path, plan: Plan, proof_of: Callable[..., Proof]
) -> None:
    still = tmp_path / "still"
    still.mkdir()

    shot = stack(still, [Glass("sky", 100.0, width=560.0)], frame_px=(160, 120), frames=(1, 4))
    write_frames(make_plan(read_shot(shot)), still / "frames", making=MAKING)
    assert judged(shot, still / "frames").verdict == PASS


def test_a_frame_on_which_nothing_should_show_may_be_black(tmp_path: Path) -> None:

    folder = tmp_path / "night"
    one_colour(folder / "art/black.png", (0, 0, 0, 255))
    shot = stack(folder, [Glass("night", 100.0, width=560.0, art="art/black.png")], frame_px=(160, 120), frames=(1, 2))
    for path in write_frames(make_plan(read_shot(shot)), folder / "frames", making=MAKING):
        rewrite(path, blacken)
    assert judged(shot, folder / "frames").verdict == PASS


def test_frames_beyond_the_shot_are_not_read_and_a_note(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    file_of(delivery, 0).write_bytes(b"no picture at all")
    for frame in (13, 14, 99):
        shutil.copy(file_of(delivery, 1), file_of(delivery, frame))
    proof = proof_of(delivery)
    assert (proof.verdict, proof.rendered_frames) == (PASS, tuple(range(1, 13)))
    assert [(fault.code, fault.severity, fault.frames, fault.message) for fault in proof.faults] == [
        ("frame-beyond", NOTE, (0, 99), "frames 0,13-14,99 are there too, beyond what the shot has; not read")
    ]


def test_who_asks_for_some_frames_hears_nothing_of_others(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    shutil.copy(file_of(delivery, 1), file_of(delivery, 13))
    proof = proof_of(delivery, frames=(1, 2))
    assert (proof.verdict, proof.faults) == (PASS, ())


def test_frames_without_metadata_are_judged_with_a_note(
    plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    write_frames(plan, tmp_path / "bare", making=replace(MAKING, noted=False))
    proof = proof_of(tmp_path / "bare")
    assert proof.verdict == PASS
    assert [(fault.code, fault.severity, fault.frames) for fault in proof.faults] == [
        ("frames-unmarked", NOTE, (1, 12))
    ]


def test_only_the_frames_that_are_asked_for_have_to_be_there(
    plan: Plan, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    remove(plan, delivery)
    assert proof_of(delivery, frames=(1, 2, 3)).verdict == PASS


def test_frames_are_listed_by_their_stretches() -> None:
    assert frame_list([1, 2, 3, 5, 9, 10]) == "1-3,5,9-10"
    assert frame_list([]) == ""


def test_many_scattered_frames_are_one_fault_and_those_between_are_still_judged(tmp_path: Path) -> None:
    shot = stack(tmp_path, [Glass("sky", 100.0, width=560.0)], frame_px=(80, 60), frames=(1, 40))
    plan = make_plan(read_shot(shot))
    for frame, path in enumerate(write_frames(plan, tmp_path / "frames", making=MAKING), start=1):
        if frame % 3 == 0:
            cut_short(path)
    proof = judged(shot, tmp_path / "frames")
    assert blocks(proof) == [("frame-cut-short", (3, 39))]
    assert proof.faults[0].message.startswith("frames 3,6,9,12,15,18,21,24,27,30,33,36,39 cannot be read")
    assert proof.rendered_frames == tuple(frame for frame in range(1, 41) if frame % 3)
