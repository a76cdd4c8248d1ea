# SPDX-License-Identifier: GPL-3.0-or-later
"""Colours of frames that Blender really rendered, in both its engines: with the art, without it, and on other nodes."""

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import small_shots
from delivered.conftest import judged
from stage.studio import write_configuration
from underglass.proof.proof_facts import BLOCK, FAIL, PASS, Proof
from underglass_headless.blender.build_blend import build_scene

pytestmark = [pytest.mark.bpy, pytest.mark.render]

RENDERING = Path(__file__).with_name("rendering.py")
# In the first the heron shows its first drawing, in the second the other.
FRAMES = (1, 13)


@pytest.fixture(scope="module")
def shot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return five levels, one of them with drawings and one of a fine pattern, blurred by depth of field."""
    shot_file = small_shots.line_up(tmp_path_factory.mktemp("shot") / "line up")
    text = shot_file.read_text(encoding="utf-8")
    shot_file.write_text(text.replace("f_stop = 64", "f_stop = 11").replace("[400, 300]", "[240, 180]"))
    return shot_file


@pytest.fixture(params=["cycles", "eevee"])
def render(
    request: pytest.FixtureRequest, shot: Path, tmp_path: Path, run_in_blender: Callable[..., Any]
) -> Callable[..., Proof]:
    """Return a function that renders the shot in each engine, where asked far from its art, and proves the frames."""

    def rendered(*, pack: bool = False, alone: bool = False) -> Proof:
        scene = shot.with_name(f"{request.param} {pack}.blend")
        build_scene(shot, output=scene, engine=request.param, proof_passes=True, pack=pack)
        if alone:
            (tmp_path / "empty").mkdir()
            scene = Path(shutil.copy(scene, tmp_path / "empty"))
        samples = {"cycles": 8, "eevee": 4}[request.param]
        run_in_blender(RENDERING, scene, tmp_path / "frames", samples, ",".join(map(str, FRAMES)), timeout=280)
        return judged(shot, tmp_path / "frames", frames=FRAMES, tolerance_px=0.25)

    return rendered


def blocks(proof: Proof) -> list[tuple[str, tuple[int, int]]]:
    return [(fault.code, fault.frames) for fault in proof.faults if fault.severity == BLOCK]


def test_a_packed_scene_alone_in_a_folder_is_rendered_with_all_its_art(render: Callable[..., Proof]) -> None:
    proof = render(pack=True, alone=True)
    assert [fault.message for fault in proof.faults] == []
    assert proof.verdict == PASS


def test_a_scene_without_its_art_is_told_by_its_magenta(render: Callable[..., Proof]) -> None:
    proof = render(alone=True)
    assert proof.verdict == FAIL
    assert {code for code, _ in blocks(proof)} == {"art-not-found"}
    assert {fault.frames for fault in proof.faults} == {(1, 1), (13, 13)}
    assert "magenta where card A, heron, card B and 2 more should be" in proof.faults[0].message


def test_a_node_with_another_colour_configuration_is_told(
    render: Callable[..., Proof], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OCIO", str(write_configuration(tmp_path)))
    proof = render()
    assert blocks(proof) == [("colours-differ", (1, 1)), ("colours-differ", (13, 13))]
    # Cycles takes the codes for light, EEVEE finds a space for them and renders in another: both are named.
    assert any(words in proof.faults[0].message for words in ("its sRGB codes stand there", "primaries of ACEScg"))
    assert all(m.verdict == PASS for m in proof.measurements)


def test_a_node_whose_colour_configuration_is_not_there_renders_with_blenders_own(
    render: Callable[..., Proof], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OCIO", "/nowhere/config.ocio")
    assert render().faults == ()
