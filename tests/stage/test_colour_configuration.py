# SPDX-License-Identifier: GPL-3.0-or-later
"""With the variable OCIO set, to a studio's configuration or to nothing that is there, all is proved the same."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import small_shots
from small_shots import Glass
from stage.studio import write_configuration
from underglass.proof.proof_beside_window import without_user_settings
from underglass.proof.proof_facts import BLOCK, PASS
from underglass_headless.blender.build_blend import build_scene
from underglass_headless.proving.prove_shot import Options, prove

pytestmark = pytest.mark.bpy

# What the configuration in force makes of a scene that is built in a Blender that has it, as in a window.
BUILD = """
import sys
from pathlib import Path
import bpy
from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.stage import build_stack, materials
from underglass.ui.art_pixels import BlenderPixels

bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
scene, shot = bpy.context.scene, Path(sys.argv[1])
build_stack.build(make_plan(read_shot(shot)), scene)
if len(sys.argv) > 2:
    materials.find_art_from(Path(sys.argv[2]).parent, scene)
    bpy.ops.wm.save_as_mainfile(filepath=sys.argv[2], relative_remap=False)
answer({
    "view": scene.view_settings.view_transform,
    "says": build_stack.others_say(scene),
    "pixel": BlenderPixels().read(shot.parent / "art/grey.png")[0, 0].tolist(),
})
"""
LOOK = """
import sys
import bpy
bpy.ops.wm.open_mainfile(filepath=sys.argv[1], load_ui=False)
answer([bpy.context.scene.view_settings.view_transform, *{image.colorspace_settings.name for image in bpy.data.images}])
"""


@pytest.fixture(params=["studio", "nowhere"])
def configured(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Set the variables that name a colour configuration."""
    path = write_configuration(tmp_path) if request.param == "studio" else tmp_path / "nowhere.ocio"
    for name in ("OCIO", "BLENDER_OCIO"):
        monkeypatch.setenv(name, str(path))
    return str(request.param)


@pytest.fixture
def shot(tmp_path: Path) -> Path:
    """Return the shot.toml of two levels."""
    (tmp_path / "shot").mkdir()
    glasses = [Glass("a", 900.0), Glass("b", 100.0, width=300.0)]
    return small_shots.stack(tmp_path / "shot", glasses, frame_px=(160, 120))


def test_a_scene_is_built_in_a_blender_that_has_the_configuration(
    configured: str, shot: Path, run_in_blender: Callable[..., Any]
) -> None:
    said = run_in_blender(BUILD, shot)
    assert said["pixel"] == [128, 128, 128, 255]
    if configured == "studio":
        assert said["view"] == "Un-tone-mapped"
        (words,) = said["says"]
        assert "(variable OCIO) has no view Standard" in words
    else:
        assert (said["view"], said["says"]) == ("Standard", [])


def test_a_scene_is_built_and_proved_without_the_configuration(
    configured: str,
    shot: Path,
    tmp_path: Path,
    run_in_blender: Callable[..., Any],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    scene = tmp_path / "built.blend"
    assert build_scene(shot, output=scene) == ()
    (tmp_path / "work").mkdir()
    for given in (scene, None):
        options = Options(scene=given, frames=(1,), pictures=given is not None)
        proof = prove(shot, options=options, folder=tmp_path / "work", tell=lambda *_: None)
        assert ([fault.message for fault in proof.faults], proof.verdict) == ([], PASS)
    for name in ("OCIO", "BLENDER_OCIO"):
        monkeypatch.delenv(name)
    assert run_in_blender(LOOK, scene) == ["Standard", "sRGB"]


def test_a_scene_that_was_built_under_the_configuration_proves_without_it(
    configured: str, shot: Path, tmp_path: Path, run_in_blender: Callable[..., Any]
) -> None:
    scene = tmp_path / "built.blend"
    run_in_blender(BUILD, shot, scene)
    (tmp_path / "work").mkdir()
    options = Options(scene=scene, frames=(1,), pictures=False)
    proof = prove(shot, options=options, folder=tmp_path / "work", tell=lambda *_: None)
    assert ([fault.message for fault in proof.faults if fault.severity == BLOCK], proof.verdict) == ([], PASS)


def test_no_variable_of_a_colour_configuration_reaches_a_blender_of_ours(tmp_path: Path) -> None:
    given = {"OCIO": "a", "BLENDER_OCIO": "b", "OCIO_ACTIVE_VIEWS": "c", "PATH": "d"}
    kept = without_user_settings(given, folder=tmp_path)
    assert kept["PATH"] == "d"
    assert not [name for name in kept if "OCIO" in name]
    assert np.isin(["BLENDER_USER_RESOURCES", "TMPDIR"], list(kept)).all()
