# SPDX-License-Identifier: GPL-3.0-or-later
"""A .blend from somewhere else: nothing in it is run and the proof says what it holds; a damaged one is told of."""

import json
import random
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hostile.mutations import bytes_changed
from hostile.places import run
from hostile.test_names import lay_out

# Each way by which a .blend can bring Python along tries to make a file that tells of it.
SET_TRAPS = """
import sys
import bpy

scene_file, trap_file, folder = sys.argv[1:]
bpy.ops.wm.open_mainfile(filepath=scene_file, load_ui=False, use_scripts=False)
scene = bpy.context.scene

def deed(name):
    return f"__import__('pathlib').Path({folder!r}, {name!r}).touch()"

text = bpy.data.texts.new("startup.py")
handler = "bpy.app.handlers.render_pre.append(lambda *a: " + deed("handler") + ")"
text.write("import bpy\\ndef register():\\n    pass\\n" + deed("text") + "\\n" + handler + "\\n")
text.use_module = True

glass = next(obj for obj in scene.objects if obj.type == "MESH")
driver = glass.driver_add("delta_location", 0).driver
driver.type = "SCRIPTED"
driver.expression = "0 if " + deed("driver") + " else 0"

style = bpy.data.texts.new("style.py")
style.write(deed("style") + "\\n")
layer = scene.view_layers[0]
scene.render.use_freestyle = True
layer.use_freestyle = True
layer.freestyle_settings.mode = "SCRIPT"
layer.freestyle_settings.modules.new().script = style
bpy.ops.wm.save_as_mainfile(filepath=trap_file, check_existing=False)
answer(True)
"""
# What the file holds that can act: each is said.
_HELD = ("startup.py", "style.py", "driver")
SPRING_TRAPS = """
import sys
import bpy

bpy.ops.wm.open_mainfile(filepath=sys.argv[1], use_scripts=True)
bpy.context.scene.frame_set(2)
answer(True)
"""


def built(folder: Path) -> tuple[Path, Path]:
    """Lay out a small shot and build it; return its shot.toml and its .blend."""
    shot = lay_out(folder, "reeds")
    assert run(["build", str(shot), "-o", str(folder / "scene.blend")]).status == 0
    return shot, folder / "scene.blend"


@pytest.mark.render
def test_nothing_in_a_scene_is_run_and_the_proof_says_what_it_holds(
    tmp_path: Path, run_in_blender: Callable[..., Any]
) -> None:
    shot, scene = built(tmp_path / "shot")
    sprung, trap = tmp_path / "sprung", tmp_path / "shot" / "trap.blend"
    sprung.mkdir()
    run_in_blender(SET_TRAPS, scene, trap, sprung)
    assert not list(sprung.iterdir())
    out = tmp_path / "out"
    ended = run(["prove", str(shot), "--scene", str(trap), "--out", str(out), "--frames", "2"])
    assert ended.status in {0, 1}, ended
    assert [path.name for path in sprung.iterdir()] == []
    faults = json.loads((out / "proof.json").read_text(encoding="utf-8"))["faults"]
    said = [fault["message"] for fault in faults if fault["code"] == "script-not-run"]
    assert len(said) == len(_HELD), faults
    assert all(any(name in one for one in said) for name in _HELD), said
    run_in_blender(SPRING_TRAPS, trap)
    assert {path.name for path in sprung.iterdir()} >= {"text", "driver"}, "the traps do not work: this shows nothing"


@pytest.mark.soak
@pytest.mark.timeout(1800)
def test_a_damaged_scene_is_proved_or_told_of_in_a_line(
    tmp_path: Path, seed: int, run_in_blender: Callable[..., Any]
) -> None:
    shot, scene = built(tmp_path / "shot")
    # Damage to what is packed is found out as it is unpacked; in an unpacked file it goes down to Blender's structures.
    unpacked = tmp_path / "unpacked.blend"
    run_in_blender(UNPACK, scene, unpacked)
    plain = unpacked.read_bytes()
    good, damaged = scene.read_bytes(), tmp_path / "shot" / "damaged.blend"
    counts: dict[int, int] = {}
    worst = 0.0
    for number in range(DAMAGED):
        rng = random.Random(f"{seed} scene {number}")
        damaged.write_bytes(bits_flipped(rng, plain) if number % 4 else bytes_changed(rng, good, [good]))
        out = tmp_path / f"out {number}"
        began = time.monotonic()
        words = ["prove", str(shot), "--scene", str(damaged), "--out", str(out), "--frames", "2", "--no-pictures"]
        ended = run(words, timeout=120)
        worst = max(worst, time.monotonic() - began)
        counts[ended.status] = counts.get(ended.status, 0) + 1
        assert ended.status in {0, 1, 2, 3}, (number, ended)
        assert not any("Traceback" in line for line in ended.said), (number, ended)
        if ended.status in {2, 3}:
            assert sum(line.startswith("underglass: ") for line in ended.said) == 1, (number, ended)
            assert not (out / "proof.json").exists()
        else:
            json.loads((out / "proof.json").read_text(encoding="utf-8"))
    print(f"\n{DAMAGED} damaged scenes by status: {dict(sorted(counts.items()))}, {worst:.1f} s at most")
    assert set(counts) & {2, 3}


DAMAGED = 100
UNPACK = """
import sys
import bpy

bpy.ops.wm.open_mainfile(filepath=sys.argv[1], load_ui=False, use_scripts=False)
bpy.ops.wm.save_as_mainfile(filepath=sys.argv[2], check_existing=False, compress=False)
answer(True)
"""


def bits_flipped(rng: random.Random, data: bytes) -> bytes:
    """Return a file with one to some hundred of its bits the other way round, anywhere behind its first line."""
    changed = bytearray(data)
    for _ in range(rng.choice((1, 10, 100))):
        changed[rng.randrange(32, len(changed))] ^= 1 << rng.randrange(8)
    return bytes(changed)
