# SPDX-License-Identifier: GPL-3.0-or-later
"""A stack that lies in another .blend, linked or overridden, is proved where it is shown."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import small_shots
from underglass.proof.proof_facts import BLOCK, FAIL, NOTE, PASS, Proof
from underglass_headless.blender.build_blend import build_scene

pytestmark = [pytest.mark.bpy, pytest.mark.render]

LINKING = """
import sys
from pathlib import Path

import bpy

from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.stage import build_stack, stack_marks

shot, library, folder = map(Path, sys.argv[1:])


def link(*, override):
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = bpy.context.scene
    # What the shot decides of a scene is set by building; the stack that comes of it makes room for the linked one.
    build_stack.build(make_plan(read_shot(shot)), scene)
    stack_marks.remove_stack(scene)
    with bpy.data.libraries.load(str(library), link=True) as (theirs, ours):
        ours.collections = list(theirs.collections)
    stack = ours.collections[0]
    if override:
        stack.override_hierarchy_create(scene, bpy.context.view_layer)
    else:
        scene.collection.children.link(stack)
    scene.camera = stack_marks.cameras(scene)[0]
    return scene


def save(name):
    bpy.ops.wm.save_as_mainfile(filepath=str(folder / f"{name}.blend"))


link(override=False)
save("linked")
scene = link(override=True)
save("overridden")
next(obj for name, obj in stack_marks.levels(scene) if name == "card C").location[0] += 0.003
save("moved")
answer(True)
"""


@pytest.fixture(scope="module")
def scenes(tmp_path_factory: pytest.TempPathFactory, run_in_blender: Callable[..., Any]) -> Path:
    """Return a folder with the shot in `shot`, its stack in `shot/stack.blend`, and scenes in `scenes` that link it."""
    folder = tmp_path_factory.mktemp("linked")
    shot = small_shots.line_up(folder / "shot")
    (folder / "scenes").mkdir()
    build_scene(shot, output=folder / "shot" / "stack.blend")
    run_in_blender(LINKING, shot, folder / "shot" / "stack.blend", folder / "scenes")
    return folder


@pytest.mark.parametrize("name", ["linked", "overridden"])
def test_a_linked_stack_is_proved_and_said_to_be_linked(
    name: str, scenes: Path, proof_of: Callable[..., Proof]
) -> None:
    file = scenes / "scenes" / f"{name}.blend"
    before = file.read_bytes()
    proof = proof_of(scenes / "shot" / "shot.toml", scene=file, frames=(1, 25))
    assert [(fault.severity, fault.message) for fault in proof.faults] == [
        (NOTE, "the stack is linked from stack.blend")
    ]
    assert proof.verdict == PASS
    assert all(m.seen for m in proof.measurements if m.level != "heron")
    assert file.read_bytes() == before


def test_an_override_that_moves_a_level_is_found(scenes: Path, proof_of: Callable[..., Proof]) -> None:
    proof = proof_of(scenes / "shot" / "shot.toml", scene=scenes / "scenes" / "moved.blend", frames=(1, 25))
    assert proof.verdict == FAIL
    assert [(f.code, f.subject) for f in proof.faults if f.severity == BLOCK] == [("east-offset", "card C")]


def test_where_the_library_is_gone_its_levels_are_missing(scenes: Path, proof_of: Callable[..., Proof]) -> None:
    library = scenes / "shot" / "stack.blend"
    library.rename(scenes / "shot" / "elsewhere.blend")
    try:
        proof = proof_of(scenes / "shot" / "shot.toml", scene=scenes / "scenes" / "linked.blend", frames=(1, 25))
    finally:
        (scenes / "shot" / "elsewhere.blend").rename(library)
    assert {"missing", "no-camera"} <= {fault.code for fault in proof.faults}
