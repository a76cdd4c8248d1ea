# SPDX-License-Identifier: GPL-3.0-or-later
"""Frames that Blender really rendered, in both its engines: they prove, and their stated uncertainty holds."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import small_shots
from delivered import soft_art
from delivered.conftest import judged
from underglass.proof.proof_facts import BLOCK, FAIL, PASS, Measurement, Proof
from underglass_headless.blender.build_blend import build_scene

pytestmark = [pytest.mark.bpy, pytest.mark.render]

RENDERING = Path(__file__).with_name("rendering.py")
# An expanded uncertainty with k = 2 is meant to hold in 95 of 100 cases (JCGM 100).
COVERAGE = 0.95
CHOSEN = (1, 7, 13, 19, 25)

Render = Callable[..., Proof]


@pytest.fixture(scope="module")
def shot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the line-up: five levels, drawings, every kind of move, stopped down to a depth of field that shows."""
    shot_file = small_shots.line_up(tmp_path_factory.mktemp("shot") / "line up")
    text = shot_file.read_text(encoding="utf-8")
    shot_file.write_text(text.replace("f_stop = 64", "f_stop = 11").replace("[400, 300]", "[240, 180]"))
    return shot_file


@pytest.fixture(scope="module")
def scenes(shot: Path) -> dict[str, Path]:
    """Return the scene with proof passes, for each engine."""
    built = {}
    for engine in ("cycles", "eevee"):
        built[engine] = shot.with_name(f"{engine}.blend")
        build_scene(shot, output=built[engine], engine=engine, proof_passes=True)
    return built


@pytest.fixture
def render(shot: Path, scenes: dict[str, Path], tmp_path: Path, run_in_blender: Callable[..., Any]) -> Render:
    """Return a function that renders frames of a built scene and proves them."""

    def rendered(engine: str, *, samples: int, frames: tuple[int, ...], **settings: object) -> Proof:
        place = tmp_path / f"{engine} {samples}"
        said = [f"{name}={value}" for name, value in settings.items()]
        listed = ",".join(map(str, frames))
        run_in_blender(RENDERING, scenes[engine], place, samples, listed, *said, timeout=280)
        return judged(shot, place, frames=frames, tolerance_px=0.25)

    return rendered


def covered(proof: Proof) -> tuple[float, list[Measurement]]:
    """Return the share of measurements whose error is within the stated uncertainty, and all of them."""
    seen = [m for m in proof.measurements if m.error_px is not None]
    return float(np.mean([m.error_px <= m.uncertainty_px for m in seen])), seen


def test_frames_of_cycles_prove_with_the_metadata_that_blender_wrote(render: Render, shot: Path) -> None:
    proof = render("cycles", samples=8, frames=CHOSEN)
    assert [fault.message for fault in proof.faults] == []
    assert proof.verdict == PASS
    assert proof.engine == "CYCLES"
    share, seen = covered(proof)
    assert len(seen) >= 20
    assert share >= COVERAGE


@pytest.mark.faults
@pytest.mark.parametrize(("samples", "every"), [(1, 1), (4, 1), (32, 3)])
def test_the_uncertainty_of_cycles_holds(render: Render, samples: int, every: int) -> None:
    proof = render("cycles", samples=samples, frames=tuple(range(1, 26, every)), stop=1, denoise=1, adaptive=1)
    share, seen = covered(proof)
    fine = [m.uncertainty_px for m in seen]
    print(f"\nCycles, {samples} samples: {share:.3f} of {len(seen)} within U, which is {np.median(fine):.4f} px mostly")
    assert len(seen) >= 90 // every
    assert share >= COVERAGE
    assert not [fault for fault in proof.faults if fault.severity == BLOCK and fault.code != "too-coarse"]


@pytest.mark.faults
@pytest.mark.parametrize(("samples", "frames"), [(2, CHOSEN), (16, (1, 13))])
def test_the_uncertainty_of_eevee_holds(render: Render, samples: int, frames: tuple[int, ...]) -> None:
    proof = render("eevee", samples=samples, frames=frames)
    share, seen = covered(proof)
    fine = [m.uncertainty_px for m in seen]
    print(f"\nEEVEE, {samples} samples: {share:.3f} of {len(seen)} within U, which is {np.median(fine):.4f} px mostly")
    assert proof.engine == "EEVEE"
    assert proof.verdict == PASS
    assert len(seen) >= 4 * len(frames)
    assert share >= COVERAGE


@pytest.mark.faults
@pytest.mark.parametrize(("samples", "frames"), [(2, CHOSEN[:2]), (8, (1, 7)), (16, (12,))])
def test_the_uncertainty_of_eevee_holds_for_soft_art_that_the_frame_cuts_off(
    samples: int, frames: tuple[int, ...], tmp_path: Path, run_in_blender: Callable[..., Any]
) -> None:
    shot = soft_art.lay_out(tmp_path / "shot", frame_px=(240, 180))
    scene = tmp_path / "soft.blend"
    build_scene(shot, output=scene, engine="eevee", proof_passes=True)
    run_in_blender(RENDERING, scene, tmp_path / "frames", samples, ",".join(map(str, frames)), timeout=280)
    proof = judged(shot, tmp_path / "frames", frames=frames, tolerance_px=0.25)
    share, seen = covered(proof)
    fine = [m.uncertainty_px for m in seen]
    print(f"\nSoft, {samples} samples: {share:.3f} of {len(seen)} within U, which is {np.median(fine):.4f} px mostly")
    assert [fault.message for fault in proof.faults] == []
    assert len(seen) == 4 * len(frames)
    assert share >= COVERAGE
    # The shift that all pixels share makes 0.033 px of it, or 0.098 px where samples may be few.
    assert min(fine) <= (0.105 if samples == 2 else 0.04)


@pytest.mark.engines
@pytest.mark.parametrize("settings", [{"depth": 16}, {"parts": 1}])
def test_half_floats_and_parts_are_read_as_blender_writes_them(render: Render, settings: dict[str, int]) -> None:
    proof = render("cycles", samples=4, frames=(1, 13), **settings)
    share, seen = covered(proof)
    assert len(seen) >= 9
    # of so few one may be out by more than what holds for 95 of 100
    assert share >= 0.9
    assert not [fault for fault in proof.faults if fault.severity == BLOCK and fault.code != "too-coarse"]


@pytest.mark.engines
def test_frames_of_an_edited_scene_name_the_level_that_was_moved(
    shot: Path, scenes: dict[str, Path], tmp_path: Path, run_in_blender: Callable[..., Any]
) -> None:
    moved = tmp_path / "moved.blend"
    run_in_blender(MOVE, scenes["cycles"], moved)
    frames = (1, 13, 25)
    run_in_blender(RENDERING, moved, tmp_path / "frames", 4, ",".join(map(str, frames)))
    proof = judged(shot, tmp_path / "frames", frames=frames)
    assert proof.verdict == FAIL
    fault = next(fault for fault in proof.faults if fault.severity == BLOCK)
    assert (fault.code, fault.subject) == ("north-offset", "card B")
    assert fault.amount == pytest.approx(2.0, rel=0.03)


MOVE = """
import sys
import bpy
bpy.ops.wm.open_mainfile(filepath=sys.argv[1], load_ui=False)
bpy.data.objects["card B"].delta_location.y = 0.002
bpy.ops.wm.save_as_mainfile(filepath=sys.argv[2], relative_remap=True)
answer(True)
"""
