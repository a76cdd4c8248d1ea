# SPDX-License-Identifier: GPL-3.0-or-later
"""Scenes that are built for a delivery: what they put into frames, and that they prove as any other scene does."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import small_shots
from delivered.conftest import judged
from small_shots import Glass
from underglass.image.frame_note import FrameNote, note_text, read_note
from underglass.plan import make_plan
from underglass.proof.proof_facts import PASS
from underglass.shot import UnderglassError
from underglass.shot.files import read_shot
from underglass.shot.files.shot_fingerprint import fingerprint
from underglass_headless.blender.build_blend import build_scene
from underglass_headless.proving.prove_shot import Options, prove

RENDERING = Path(__file__).with_name("rendering.py")
ADD_PASS = """
import sys
import bpy
bpy.ops.wm.open_mainfile(filepath=sys.argv[1], load_ui=False)
bpy.context.view_layer.aovs.add().name = "somebody's"
bpy.ops.wm.save_mainfile()
answer(True)
"""
ODD_TITLE = 'Fähre "West" \\ ночь ' + "x" * 80

LOOK = """
import sys
import bpy
found = []
for path in sys.argv[1:]:
    bpy.ops.wm.open_mainfile(filepath=path, load_ui=False)
    scene = bpy.context.scene
    nodes = {n.bl_idname for m in bpy.data.materials for n in m.node_tree.nodes}
    found.append({
        "engine": scene.render.engine,
        "note": scene.render.stamp_note_text,
        "stamped": [getattr(scene.render, f"use_stamp_{w}") for w in ("frame", "scene", "camera", "note")],
        "passes": [[aov.name, aov.type] for aov in bpy.context.view_layer.aovs],
        "writes": "ShaderNodeOutputAOV" in nodes,
        "format": scene.render.image_settings.file_format,
    })
answer(found)
"""


@pytest.fixture(scope="module")
def shot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the shot.toml of two levels under a title that is not easily spelled."""
    folder = tmp_path_factory.mktemp("shot")
    shot_file = small_shots.stack(folder, [Glass("a", 900.0), Glass("b", 100.0, width=300.0)], frame_px=(160, 120))
    text = shot_file.read_text(encoding="utf-8")
    shot_file.write_text(text.replace('title = "Stack"', f"title = '{ODD_TITLE}'"), encoding="utf-8")
    return shot_file


NAMES = st.text(max_size=80) | st.text(alphabet='"\\, .\n\x1f\u0085aé\U0001f3a5', max_size=80)


def test_a_note_is_a_line_that_people_can_read() -> None:
    note = FrameNote.of(shot="3fa9c01d2e4b5a67", title="Estuary at first light", scene="Scene", camera="stand camera")
    line = 'Underglass: shot 3fa9c01d2e4b5a67, "Estuary at first light", scene Scene, camera stand camera.'
    assert note_text(note) == line


def test_a_note_comes_back_as_it_was_and_another_programs_is_none() -> None:
    note = FrameNote.of(shot="0123456789abcdef", title=ODD_TITLE, scene="Szene\n1", camera="c" * 300)
    assert read_note(note_text(note)) == note
    deep = "underglass " + "[" * 99_999
    for text in ("", "rendered on node 7", 'underglass {"shot": 1}', note_text(note)[:60], "underglass []", deep):
        assert read_note(text) is None


@given(st.text(alphabet="0123456789abcdef", max_size=16), NAMES, NAMES, NAMES)
def test_whatever_a_shot_is_called_its_note_is_one_line_that_blender_has_room_for_and_comes_back(
    shot: str, title: str, scene: str, camera: str
) -> None:
    note = FrameNote.of(shot=shot, title=title, scene=scene, camera=camera)
    text = note_text(note)
    assert read_note(text) == note
    assert len(text.splitlines()) == 1
    assert not any(ord(c) < 32 for c in text)
    # Blender's RenderData.stamp_udata holds 768 bytes, the last of them 0; there is room for one more digest
    assert len(text.encode()) < 768 - len(", art 0123456789abcdef")


@given(NAMES, NAMES, st.data())
def test_a_note_that_is_cut_off_anywhere_is_none(title: str, camera: str, data: st.DataObject) -> None:
    text = note_text(FrameNote.of(shot="0123456789abcdef", title=title, scene="Scene", camera=camera))
    assert read_note(text[: data.draw(st.integers(0, len(text) - 1))]) is None


@given(st.text(max_size=40))
def test_a_note_of_an_older_version_is_read_too(title: str) -> None:
    facts = {"shot": "0123456789abcdef", "title": title, "scene": "Scene", "camera": "stand camera"}
    assert read_note("underglass " + json.dumps(facts, ensure_ascii=False)) == FrameNote(**facts)


@pytest.mark.parametrize(
    ("end", "known"),
    [
        (".", True),
        (", light 0123abcd.", True),
        (', by "somebody, else".', True),
        ("", False),
        (", camera other.", False),
        (", light .", False),
        (", light 0123abcd", False),
        (". More.", False),
        (', "another title".', False),
        (", bare.", False),
    ],
)
def test_later_versions_may_add_parts_and_nothing_else(end: str, *, known: bool) -> None:
    text = 'Underglass: shot 0123, "Title", scene Scene, camera stand camera'
    assert read_note(text + end) == (FrameNote("0123", "Title", "Scene", "stand camera") if known else None)


@pytest.mark.bpy
def test_built_scenes_note_their_shot_and_carry_passes_where_asked(
    shot: Path, tmp_path: Path, run_in_blender: Callable[..., Any]
) -> None:
    scenes = [tmp_path / f"{name}.blend" for name in ("plain", "cycles", "eevee", "again")]
    plain, cycles, eevee, again = scenes
    build_scene(shot, output=plain)
    build_scene(shot, output=cycles, proof_passes=True)
    build_scene(shot, output=eevee, proof_passes=True, engine="eevee")
    build_scene(shot, output=again, proof_passes=True)
    build_scene(shot, output=again)
    found = run_in_blender(LOOK, *scenes)
    for scene in found:
        note = read_note(scene["note"])
        assert note is not None
        assert (note.shot, note.scene, note.camera) == (fingerprint(read_shot(shot)), "Scene", "stand camera")
        assert note.title == ODD_TITLE[:60]
        assert scene["stamped"] == [True] * 4
    assert [scene["writes"] for scene in found] == [False, True, True, False]
    assert [bool(scene["passes"]) for scene in found] == [False, True, True, False]
    assert found[1]["passes"] == [["proof0", "COLOR"], ["proof1", "COLOR"]]
    # v = 50·300/250 = 60 mm; at 400 mm off, 160 px to a gate of 20 mm, 40 × 30 mm are 48 × 36 px: two fringes each way.
    assert found[2]["passes"][:3] == [["proofu", "COLOR"], ["proofv", "COLOR"], ["proof0u2v2", "VALUE"]]
    # EEVEE in 5.2 can lose passes of one value that are listed before those of colour.
    assert [kind for _, kind in found[2]["passes"]] == ["COLOR", "COLOR", "VALUE", "VALUE"]
    assert found[1]["format"] == "OPEN_EXR_MULTILAYER"
    assert found[2]["engine"].startswith("BLENDER_EEVEE")


ON_THE_GPU = """
import sys
import bpy
bpy.context.scene.render.engine = "CYCLES"
bpy.context.scene.cycles.device = "GPU"
bpy.ops.wm.save_as_mainfile(filepath=sys.argv[1])
answer(True)
"""
DEVICE = """
import sys
import bpy
bpy.ops.wm.open_mainfile(filepath=sys.argv[1], load_ui=False)
answer(bpy.context.scene.cycles.device)
"""


@pytest.mark.bpy
def test_a_scene_that_renders_on_the_gpu_still_does_once_a_stack_is_built_in_it(
    shot: Path, tmp_path: Path, run_in_blender: Callable[..., Any]
) -> None:
    run_in_blender(ON_THE_GPU, tmp_path / "scene.blend")
    build_scene(shot, output=tmp_path / "scene.blend", proof_passes=True)
    assert run_in_blender(DEVICE, tmp_path / "scene.blend") == "GPU"


def side_by_side(folder: Path, count: int) -> Path:
    """Return the shot.toml of so many levels that all are seen, one beside the next."""
    folder.mkdir()
    glasses = [Glass(f"g{n}", 200.0 - n, width=6.0, east=8.0 * (n - (count - 1) / 2)) for n in range(count)]
    return small_shots.stack(folder, glasses, camera=small_shots.PARALLEL, frame_px=(300, 30), frames=(1, 1))


@pytest.mark.bpy
@pytest.mark.render
def test_eevee_carries_fourteen_levels_and_more_are_refused_before_anything_is_written(
    tmp_path: Path, run_in_blender: Callable[..., Any]
) -> None:
    shot, scene = side_by_side(tmp_path / "fourteen", 14), tmp_path / "fourteen.blend"
    build_scene(shot, output=scene, proof_passes=True, engine="eevee")
    run_in_blender(RENDERING, scene, tmp_path / "frames", 1, "1")
    proof = judged(shot, tmp_path / "frames", tolerance_px=0.5)
    assert [m.level for m in proof.measurements if m.error_px is not None] == [f"g{n}" for n in range(14)]
    assert proof.verdict == PASS
    # A pass of another's takes the place of a level.
    run_in_blender(ADD_PASS, scene)
    for folder, count, output, most in (
        ("fifteen", 15, tmp_path / "fifteen.blend", "14 levels, and the shot has 15"),
        ("again", 14, scene, "13 levels beside 1 pass of other materials, and the shot has 14"),
    ):
        before = output.read_bytes() if output.exists() else None
        with pytest.raises(UnderglassError) as refused:
            build_scene(side_by_side(tmp_path / folder, count), output=output, proof_passes=True, engine="eevee")
        assert str(refused.value) == f"EEVEE can write proof passes of {most}; --engine cycles carries any number"
        assert (output.read_bytes() if output.exists() else None) == before


@pytest.mark.bpy
@pytest.mark.render
def test_a_scene_with_proof_passes_proves_as_any_other(shot: Path, tmp_path: Path) -> None:
    scene = tmp_path / "passes.blend"
    build_scene(shot, output=scene, proof_passes=True)
    work = tmp_path / "work"
    work.mkdir()
    options = Options(scene=scene, frames=(1,), pictures=False)
    proof = prove(shot, options=options, folder=work, tell=lambda *_: None)
    assert [fault.message for fault in proof.faults] == []
    assert proof.verdict == PASS
    assert make_plan(read_shot(shot)).names == ("a", "b")
