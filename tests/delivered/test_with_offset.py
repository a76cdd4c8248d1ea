# SPDX-License-Identifier: GPL-3.0-or-later
"""Frames numbered from 1001 on are looked into as closely as others, whichever numbers their metadata tell."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from delivered.conftest import MAKING
from delivered.made_frames import rewrite, write_frames
from underglass.plan import Plan
from underglass.proof.proof_facts import BLOCK, PASS, Proof

OFFSET = 1000
FRAMES = (4, 5, 6, 7)


def delivered(plan: Plan, folder: Path, *, moved: bool) -> list[Path]:
    """Deliver frames as OFFSET more; their metadata count with the files where the scene itself was ``moved``."""
    paths = []
    for frame in FRAMES:
        number = frame + OFFSET if moved else frame
        making = replace(MAKING, header={"Frame": f"{number:04d}"})
        paths += write_frames(plan, folder, frames=[frame], making=making, name=f"beauty.{frame + OFFSET:04d}.exr")
    return paths


def mirror(channels: dict[str, np.ndarray]) -> None:
    for name in channels:
        channels[name] = np.ascontiguousarray(channels[name][:, ::-1])


def brighten_passes(channels: dict[str, np.ndarray]) -> None:
    for name in channels:
        if "proof" in name:
            channels[name] *= 1.5


def blocks(proof: Proof) -> list[str]:
    return [fault.code for fault in proof.faults if fault.severity == BLOCK]


@pytest.mark.parametrize("moved", [False, True])
@pytest.mark.parametrize(("change", "code"), [(mirror, "frame-flipped"), (brighten_passes, "passes-recoloured")])
def test_a_frame_changed_as_a_whole_is_told_with_an_offset_too(
    change: Callable[[dict[str, np.ndarray]], None],
    code: str,
    *,
    moved: bool,
    plan: Plan,
    tmp_path: Path,
    proof_of: Callable[..., Proof],
) -> None:
    paths = delivered(plan, tmp_path / "frames", moved=moved)
    assert proof_of(tmp_path / "frames", frames=FRAMES, offset=OFFSET).verdict == PASS
    for path in paths[:2]:
        rewrite(path, change)
    assert blocks(proof_of(tmp_path / "frames", frames=FRAMES, offset=OFFSET)) == [code]


def test_one_picture_beside_several_passes_is_told_with_an_offset_too(
    plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    paths = delivered(plan, tmp_path / "frames", moved=True)
    picture: dict[str, np.ndarray] = {}

    def take(channels: dict[str, np.ndarray]) -> None:
        picture.update({name: values.copy() for name, values in channels.items() if "Combined" in name})

    rewrite(paths[0], take)
    rewrite(paths[2], lambda channels: channels.update(picture))
    assert "frames-identical" in blocks(proof_of(tmp_path / "frames", frames=FRAMES, offset=OFFSET))
