# SPDX-License-Identifier: GPL-3.0-or-later
"""A wrong offset is told with the right one, and numbers below 0 are listed so that they can be read."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from delivered.conftest import MAKING
from delivered.made_frames import write_frames
from underglass.plan import Plan
from underglass.proof.proof_facts import Proof
from underglass_headless.delivered.files.find_frames import DeliveryError
from underglass_headless.delivered.files.frame_lists import frame_list, frames_said


def delivered(plan: Plan, folder: Path, offset: int) -> Path:
    for frame in plan.frames.tolist():
        making = replace(MAKING, header={"Frame": f"{frame + offset:04d}"})
        write_frames(plan, folder, frames=[frame], making=making, name=f"beauty.{frame + offset:04d}.exr")
    return folder


def messages(proof: Proof, code: str) -> list[str]:
    return [fault.message for fault in proof.faults if fault.code == code]


def test_an_offset_that_is_one_too_many_is_told_with_the_right_one(
    plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    frames = delivered(plan, tmp_path / "frames", 1000)
    proof = proof_of(frames, offset=1001)
    assert messages(proof, "frame-missing") == [
        "frame 12 is missing; with --offset 1000 all of the shot's frames would be there"
    ]
    (beyond,) = messages(proof, "frame-beyond")
    assert beyond.startswith("frame 0 (1001 in the files' names) is there too")


def test_an_offset_that_fits_nothing_is_told_with_the_right_one(
    plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    frames = delivered(plan, tmp_path / "frames", 1000)
    with pytest.raises(DeliveryError, match="give --offset 1000") as error:
        proof_of(frames, offset=5)
    assert "\n" not in str(error.value)


def test_a_frame_that_is_missing_at_the_right_offset_is_told_without_another(
    plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    frames = delivered(plan, tmp_path / "frames", 1000)
    (frames / "beauty.1012.exr").unlink()
    assert messages(proof_of(frames, offset=1000), "frame-missing") == ["frame 12 is missing"]


def test_numbers_below_0_are_listed_with_words_between_them() -> None:
    assert frame_list([-999, -998, -997, 4, 5, 9]) == "-999 to -997,4-5,9"
    assert frame_list(range(-2, 4)) == "-2 to 3"
    assert frames_said([-1]) == "frame -1"
