# SPDX-License-Identifier: GPL-3.0-or-later
"""A wrong scene must never pass: what was done to it is named, and nothing else is blamed."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import small_shots
from proving import wrong_scenes
from proving.wrong_scenes import HARMLESS_SCENES, WRONG_SCENES, WrongScene
from underglass.proof.proof_facts import BLOCK, FAIL, NOTE, PASS, Fault, Proof
from underglass_headless.blender.build_blend import build_scene

pytestmark = [pytest.mark.bpy, pytest.mark.render]

# Both ends of every move but one, and the middle of that one.
FRAMES = (1, 12, 25)


@pytest.fixture(scope="module")
def scenes(tmp_path_factory: pytest.TempPathFactory, run_in_blender: Callable[..., Any]) -> Path:
    """Return a folder with the shot, its clean scene and every wrong one beside it."""
    folder = tmp_path_factory.mktemp("wrong") / "shot"
    shot_file = small_shots.line_up(folder)
    build_scene(shot_file, output=folder / "clean.blend")
    made = run_in_blender(Path(wrong_scenes.__file__), folder / "clean.blend", folder)["made"]
    assert len(made) == len(set(made)) == len(WRONG_SCENES) + len(HARMLESS_SCENES)
    return folder


def test_the_scene_as_it_was_built_passes_without_a_remark(scenes: Path, proof_of: Callable[..., Proof]) -> None:
    proof = proof_of(scenes / "shot.toml", scene=scenes / "clean.blend")
    assert (proof.verdict, proof.faults) == (PASS, ())


@pytest.mark.parametrize("row", WRONG_SCENES, ids=lambda row: row.name)
def test_a_wrong_scene_never_passes(row: WrongScene, scenes: Path, proof_of: Callable[..., Proof]) -> None:
    proof = proof_of(scenes / "shot.toml", scene=scenes / f"{row.name}.blend", frames=FRAMES)
    said = "\n".join(f"{fault.severity} {fault.code}: {fault.message}" for fault in proof.faults)
    print(said)
    assert proof.verdict == FAIL
    fault = _the_fault(row, proof)
    assert fault, said
    assert all(word in fault.message for word in row.words), said
    if row.amount is not None:
        assert fault.amount == pytest.approx(row.amount, rel=row.within)
        assert fault.unit == row.unit
    blamed = {fault.subject for fault in proof.faults if fault.severity == BLOCK}
    assert blamed <= {row.subject, *row.also}, said


def test_what_only_the_viewport_hides_is_in_the_way_all_the_same(scenes: Path, proof_of: Callable[..., Proof]) -> None:
    proof = proof_of(scenes / "shot.toml", scene=scenes / "eye.blend", frames=FRAMES)
    found = {fault.message.split()[0] for fault in proof.faults if fault.code == "in-the-way"}
    assert found == {"eye", "screen", "folder"}


@pytest.mark.parametrize("row", HARMLESS_SCENES, ids=lambda row: row.name)
def test_what_does_no_harm_is_a_note(row: WrongScene, scenes: Path, proof_of: Callable[..., Proof]) -> None:
    proof = proof_of(scenes / "shot.toml", scene=scenes / f"{row.name}.blend", frames=FRAMES)
    said = "\n".join(f"{fault.severity} {fault.code}: {fault.message}" for fault in proof.faults)
    print(said)
    assert proof.verdict == PASS, said
    assert [fault.code for fault in proof.faults] == ([row.code] if row.code else []), said
    assert all(fault.severity == NOTE for fault in proof.faults)
    assert all(word in said for word in row.words), said


def _the_fault(row: WrongScene, proof: Proof) -> Fault | None:
    """Return the fault that ``row`` asks for, of the right severity."""
    wanted = row.code, row.subject, row.severity
    return next((fault for fault in proof.faults if (fault.code, fault.subject, fault.severity) == wanted), None)
