# SPDX-License-Identifier: GPL-3.0-or-later
"""Art is known by its bytes: a scene proves wherever its shot was copied to, and not with a changed picture."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image, ImageOps

import small_shots
from underglass.proof.proof_facts import PASS, Proof
from underglass_headless.blender.build_blend import build_scene

pytestmark = [pytest.mark.bpy, pytest.mark.render]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a shot, its scene, and a copy of the shot."""
    folder = tmp_path_factory.mktemp("art")
    shot = small_shots.line_up(folder / "shot")
    build_scene(shot, output=folder / "scene.blend")
    shutil.copytree(folder / "shot", folder / "copy")
    return folder


def test_a_scene_proves_by_a_copy_of_its_shot(folder: Path, proof_of: Callable[..., Proof]) -> None:
    proof = proof_of(folder / "copy" / "shot.toml", scene=folder / "scene.blend", frames=(1, 25))
    assert [fault.message for fault in proof.faults] == []
    assert proof.verdict == PASS


def test_a_picture_that_was_changed_is_named(folder: Path, proof_of: Callable[..., Proof]) -> None:
    shutil.copytree(folder / "shot", folder / "changed")
    art = sorted((folder / "changed" / "art").glob("*.png"))[0]
    with Image.open(art) as before:
        ImageOps.mirror(before).save(art)
    proof = proof_of(folder / "changed" / "shot.toml", scene=folder / "scene.blend", frames=(1, 25))
    told = [fault.message for fault in proof.faults if fault.code == "art-differs"]
    assert len(told) == 1
    assert f"shows another {art.name} than the file beside the shot" in told[0]
