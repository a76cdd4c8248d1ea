# SPDX-License-Identifier: GPL-3.0-or-later
"""Frames without proof passes: told by Cryptomatte or by the picture, as far as those go and no further."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import small_shots
from delivered.conftest import judged
from underglass.proof.proof_facts import BLOCK, FAIL, PASS, Proof
from underglass_headless.blender.build_blend import build_scene
from underglass_headless.delivered.files.cryptomatte import identity_of, murmur3_32

pytestmark = pytest.mark.once

RENDERING = Path(__file__).with_name("rendering.py")
FRAMES = (1, 7, 13)
# What the picture alone tells of these cards, px.
COARSE_PX = 2.5


@pytest.mark.parametrize(
    ("text", "seed", "value"),
    [
        # Published test vectors of MurmurHash3_x86_32 (en.wikipedia.org/wiki/MurmurHash, "Test vectors").
        ("", 0, 0),
        ("", 1, 0x514E28B7),
        ("test", 0, 0xBA6BD213),
        ("Hello, world!", 0, 0xC0363E43),
        ("The quick brown fox jumps over the lazy dog", 0, 0x2E4FF723),
    ],
)
def test_names_are_hashed_as_published(text: str, seed: int, value: int) -> None:
    assert murmur3_32(text.encode(), seed=seed) == value


@pytest.mark.parametrize(
    ("name", "value"),
    # From the manifest of a file that Blender 5.0.1 wrote.
    [("card A", 0x188C14B8), ("heron", 0x0A3E9436), ("card B", 0x88734882), ("card C", 0xFE098212)],
)
def test_identities_are_those_that_blender_writes(name: str, value: int) -> None:
    assert identity_of(name) == value


@pytest.fixture(scope="module")
def shot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the line-up, with its scene as a plain build leaves it beside it."""
    shot_file = small_shots.line_up(tmp_path_factory.mktemp("shot") / "line up")
    build_scene(shot_file, output=shot_file.with_name("plain.blend"))
    return shot_file


@pytest.fixture
def rendered(shot: Path, tmp_path: Path, run_in_blender: Callable[..., Any]) -> Callable[..., Proof]:
    """Return a function that renders three frames without passes, some of the scene changed before, and proves them."""

    def render(change: str = "", *settings: str, tolerance_px: float = COARSE_PX) -> Proof:
        scene = shot.with_name("plain.blend")
        if change:
            scene = shot.with_name("changed.blend")
            run_in_blender(CHANGE.format(change=change), shot.with_name("plain.blend"), scene)
        run_in_blender(RENDERING, scene, tmp_path / "frames", 8, ",".join(map(str, FRAMES)), *settings)
        return judged(shot, tmp_path / "frames", frames=FRAMES, tolerance_px=tolerance_px)

    return render


CHANGE = """
import sys
import bpy
bpy.ops.wm.open_mainfile(filepath=sys.argv[1], load_ui=False)
{change}
bpy.ops.wm.save_as_mainfile(filepath=sys.argv[2], relative_remap=False)
answer(True)
"""
CARD_B_NORTH = 'bpy.data.objects["card B"].delta_location.y = 0.003'


@pytest.mark.render
def test_the_picture_alone_tells_places_to_a_pixel_or_so_and_says_so(rendered: Callable[..., Proof]) -> None:
    proof = rendered()
    assert proof.verdict == PASS
    assert proof.source is not None
    assert proof.source.kind == "picture"
    assert "what frames between those show" in proof.source.cannot_show
    seen = [m for m in proof.measurements if m.error_px is not None]
    assert {m.level for m in seen} == set(proof.plan.names)
    assert all(m.error_px <= m.uncertainty_px for m in seen)
    assert min(m.uncertainty_px for m in seen) > 0.4


@pytest.mark.engines
def test_the_picture_alone_does_not_prove_a_twentieth_of_a_pixel(rendered: Callable[..., Proof]) -> None:
    proof = rendered(tolerance_px=0.05)
    assert proof.verdict == FAIL
    assert {fault.code for fault in proof.faults if fault.severity == BLOCK} == {"too-coarse"}


@pytest.mark.engines
def test_a_level_far_off_is_named_by_the_picture(rendered: Callable[..., Proof]) -> None:
    proof = rendered(CARD_B_NORTH)
    assert proof.verdict == FAIL
    (fault,) = [fault for fault in proof.faults if fault.severity == BLOCK]
    assert (fault.code, fault.subject) == ("north-offset", "card B")
    assert fault.amount == pytest.approx(3.0, abs=0.3)


@pytest.mark.engines
def test_mattes_tell_places_where_there_are_some(rendered: Callable[..., Proof]) -> None:
    proof = rendered("", "mattes=1")
    assert proof.source is not None
    assert proof.source.kind == "cryptomatte"
    seen = [m for m in proof.measurements if m.error_px is not None]
    assert len(seen) >= 8
    assert np.mean([m.error_px <= m.uncertainty_px for m in seen]) >= 0.95


@pytest.mark.engines
def test_mattes_name_a_level_far_off(rendered: Callable[..., Proof]) -> None:
    proof = rendered(CARD_B_NORTH, "mattes=1")
    off = [(f.code, f.subject) for f in proof.faults if f.severity == BLOCK and f.code.endswith("offset")]
    assert off == [("north-offset", "card B")]
