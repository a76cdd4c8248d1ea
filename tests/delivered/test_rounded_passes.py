# SPDX-License-Identifier: GPL-3.0-or-later
"""Passes that went through files of fewer bits: the frames are named, with the number of steps, and no level."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from delivered.conftest import MAKING, judged
from delivered.made_frames import rewrite, write_frames
from delivered.test_file_faults import file_of
from underglass.plan import Plan
from underglass.proof.proof_facts import PASS, Proof
from underglass_headless.delivered.files.frame_lists import frames_said


def rounded(path: Path, steps: int) -> None:
    """Round every channel of a file to so many steps from 0 to 1."""

    def change(channels: dict[str, np.ndarray]) -> None:
        for name, pixels in channels.items():
            if ".proof" in name:
                channels[name] = (np.round(pixels.astype(np.float64) * steps) / steps).astype(pixels.dtype)

    rewrite(path, change)


@pytest.mark.parametrize(("steps", "bits"), [(255, 8), (1023, 10)])
def test_frames_of_few_bits_are_named_with_their_steps(
    steps: int, bits: int, plan: Plan, shot: Path, tmp_path: Path
) -> None:
    for path in write_frames(plan, tmp_path, frames=(4, 5, 6, 7), making=replace(MAKING, samples=8)):
        if path != file_of(tmp_path, 5):
            rounded(path, steps)
    faults = judged(shot, tmp_path, frames=(4, 5, 6, 7)).faults
    assert {fault.code for fault in faults} == {"too-coarse"}
    assert len(faults) == 1
    said = (
        f"since the passes of {frames_said([4, 6, 7])} were rounded to {steps + 1} steps, as {bits}-bit files hold them"
    )
    assert said in faults[0].message
    assert "samples" not in faults[0].message


def test_frames_of_8_bits_and_of_half_floats_are_told_apart(
    plan: Plan, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    rounded(file_of(delivery, 6), 255)
    write_frames(plan, delivery, frames=(9,), making=replace(MAKING, half=True))
    faults = proof_of(delivery).faults
    assert {fault.code for fault in faults} == {"too-coarse"}
    said = "\n".join(fault.message for fault in faults)
    assert "the passes of frame 6 were rounded to 256 steps" in said
    assert "the passes of frame 9 are 16-bit floats" in said


def test_16_bits_are_fine_enough_and_taken_into_the_uncertainty(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    rounded(file_of(delivery, 6), 65535)
    proof = proof_of(delivery)
    assert proof.verdict == PASS
    least = {m.frame: m.uncertainty_px for m in proof.measurements if m.level == "sky"}
    assert least[6] > least[5]
