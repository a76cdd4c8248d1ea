# SPDX-License-Identifier: GPL-3.0-or-later
"""What happens to files on their way: each is one line, by its cause, and files that are not read are named."""

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from delivered.conftest import MAKING, judged
from delivered.made_frames import Making, write_frames
from delivered.test_file_faults import blocks, file_of
from underglass.plan import Plan
from underglass.proof.proof_facts import PASS, Proof
from underglass_headless.delivered.files.channel_names import unknown_passes
from underglass_headless.delivered.files.find_frames import DeliveryError, find_sequences


@pytest.mark.parametrize("name", ["beauty.0008 (1).exr", "beauty.0008 - Copy.EXR"])
def test_a_second_upload_beside_its_frame_is_named(name: str, delivery: Path, proof_of: Callable[..., Proof]) -> None:
    shutil.copy(file_of(delivery, 8), delivery / name)
    proof = proof_of(delivery)
    assert proof.verdict == PASS
    assert [(fault.code, fault.frames) for fault in proof.faults] == [("frame-stray", (8, 8))]
    assert name in proof.faults[0].message


def test_frames_that_were_renumbered_by_one_are_one_line(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    for frame in range(12, 0, -1):
        file_of(delivery, frame).rename(delivery / f"beauty.{frame + 1:04d}.exr")
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-number", (2, 12))]
    assert not any("--offset" in fault.message for fault in proof.faults)


def test_frames_that_were_padded_are_of_another_size_and_not_cropped_too(
    plan: Plan, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    header = {
        "dataWindow": ((0, 0), (239, 179)),
        "displayWindow": ((-40, 0), (279, 179)),
    }
    write_frames(plan, delivery, frames=(4,), making=replace(MAKING, header=header))
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-size", (4, 4))]
    assert "320 × 180 px, planned 240 × 180" in proof.faults[0].message


def test_frames_one_folder_deeper_are_pointed_at(delivery: Path) -> None:
    with pytest.raises(DeliveryError, match=r"holds no EXR frames with a number.*; name .*/frames$"):
        find_sequences(delivery.parent)


def test_proof_passes_under_other_names_are_told_by_those_names(
    plan: Plan, shot: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from delivered import made_frames

    whole = made_frames.channels_of

    def renamed(*args: object, **options: object) -> tuple[dict[str, np.ndarray], tuple[int, int]]:
        channels, size = whole(*args, **options)  # type: ignore[arg-type]
        return {name.replace(".proof", ".p_"): values for name, values in channels.items()}, size

    monkeypatch.setattr(made_frames, "channels_of", renamed)
    write_frames(plan, tmp_path, making=Making(compression="ZIPS"))
    first = judged(shot, tmp_path).faults[0]
    assert "no proof passes by their names, but ViewLayer.p_0, ViewLayer.p_1" in first.message
    assert "proof0 to proof3" in first.message


def test_passes_that_blender_writes_by_itself_are_no_proof_passes() -> None:
    own = ["ViewLayer.Normal.X", "ViewLayer.Normal.Y", "ViewLayer.Normal.Z"]
    own += [f"ViewLayer.{name}.{letter}" for name in ("Diffuse Color", "GlossDir", "Emit", "AO") for letter in "RGB"]
    own += ["ViewLayer.CryptoObject00.r", "ViewLayer.CryptoObject00.g", "ViewLayer.CryptoObject00.b", "R", "G", "B"]
    assert unknown_passes(own, ["R", "G", "B"]) == ()
