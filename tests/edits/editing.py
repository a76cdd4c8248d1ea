# SPDX-License-Identifier: GPL-3.0-or-later
"""Run inside Blender: does each edit of a list to a clean scene, pictures it before and after, and proves it.

``editing.py SHOT ASKED OUT``: ASKED says as JSON which edits, by name or a part of all; OUT gets a line of JSON for
each, as it comes.
"""

import json
import os
import sys
import tempfile
import time
import traceback
from pathlib import Path
from typing import Any

import bpy
import numpy as np

import edits.all_edits  # noqa: F401
from edits.edits import EDITS, Edit
from underglass.plan import make_plan
from underglass.plan.plan_arrays import Plan
from underglass.shot.files import read_shot
from underglass.shot.files.shot_fingerprint import fingerprint
from underglass.stage.build_stack import build
from underglass.stage.prove_here import prove_here

# Without this EEVEE and Workbench ask for a screen.
os.environ.setdefault("EGL_PLATFORM", "surfaceless")
# Engines that render here without a screen.
CYCLES = "CYCLES"


def pictured(folder: Path) -> dict[int, np.ndarray] | None:
    """Return what the open scene renders on every frame, by its own settings: codes (rows, columns, 4), 0 to 255.

    None where it does not render at all.
    """
    scene = bpy.context.scene
    if scene.camera is None or scene.render.engine != CYCLES:
        return None
    found = {}
    for frame in range(1, 9):
        scene.frame_set(frame)
        name = folder / f"beauty-{frame}"
        scene.render.filepath = str(name)
        scene.render.use_overwrite = True
        try:
            bpy.ops.render.render(write_still=True)
        except RuntimeError:
            return None
        files = sorted(folder.glob(f"{name.name}*"))
        found[frame] = np.concatenate([codes(path) for path in files])
    return found


def codes(path: Path) -> np.ndarray:
    """Return the pixels of a file as codes, and remove it."""
    image = bpy.data.images.load(str(path))
    # Files of 16 bits would else come as light.
    image.colorspace_settings.is_data = True
    width, height = image.size
    pixels = np.empty(width * height * image.channels, dtype=np.float32)
    image.pixels.foreach_get(pixels)
    bpy.data.images.remove(image)
    path.unlink()
    pixels = pixels.reshape(height, width, -1).astype(np.float64) * 255
    if pixels.shape[2] < 4:
        pixels = np.concatenate([pixels, np.full((*pixels.shape[:2], 4 - pixels.shape[2]), 255.0)], axis=2)
    return pixels


def largest(before: dict[int, np.ndarray] | None, after: dict[int, np.ndarray] | None) -> float:
    """Return the largest change of any pixel, in codes."""
    if before is None or after is None:
        return 255.0
    if any(before[frame].shape != after[frame].shape for frame in before):
        return 255.0
    return max(float(np.abs(before[frame] - after[frame]).max()) for frame in before)


def run(one: Edit, plan: Plan, clean: Path, before: Any, folder: Path) -> dict[str, Any]:
    """Return how one edit ended, as plain values."""
    begun = time.monotonic()
    bpy.ops.wm.open_mainfile(filepath=str(clean), load_ui=False, use_scripts=False)
    one.do(bpy.context.scene)
    edited = clean.with_name("edited.blend")
    bpy.ops.wm.save_as_mainfile(filepath=str(edited), check_existing=False)
    # As the file has it: what was done by a script need not be evaluated yet.
    bpy.ops.wm.open_mainfile(filepath=str(edited), load_ui=False, use_scripts=False)
    changed = largest(before, pictured(folder))
    rendered = time.monotonic()
    bpy.ops.wm.open_mainfile(filepath=str(edited), load_ui=False, use_scripts=False)
    proof = prove_here(
        bpy.context.scene,
        plan,
        shot_file=clean.with_name("shot.toml"),
        scene_file=edited,
        folder=folder,
        pictures=False,
    )
    return {
        "name": one.name,
        "changed": changed,
        "verdict": proof.verdict,
        "faults": [[f.severity, f.code, f.subject, f.message] for f in proof.faults],
        "tests": len(proof.test_frames),
        "seconds": [rendered - begun, time.monotonic() - rendered],
    }


def chosen(asked: dict[str, Any]) -> list[str]:
    """Return the names of the edits that are asked for: one part in ``parts`` of them, those that hold a text."""
    names = [name for name in asked["names"] or EDITS if asked["holding"] in name]
    return names[asked["part"] :: asked["parts"]]


def main(shot_file: Path, asked: Path, out: Path) -> int:
    """Run every edit that is asked for."""
    shot = read_shot(shot_file)
    plan = make_plan(shot)
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    build(plan, bpy.context.scene, fingerprint=fingerprint(shot))
    clean = shot_file.with_name("clean.blend")
    bpy.ops.wm.save_as_mainfile(filepath=str(clean), check_existing=False)
    with tempfile.TemporaryDirectory() as place, out.open("w", encoding="utf-8") as lines:
        bpy.ops.wm.open_mainfile(filepath=str(clean), load_ui=False, use_scripts=False)
        before = pictured(Path(place))
        for name in chosen(json.loads(asked.read_text(encoding="utf-8"))):
            one = EDITS[name]
            expected = {"codes": sorted(one.codes), "words": one.words, "planned": one.planned, "noise": one.noise}
            try:
                ended = run(one, plan, clean, before, Path(place))
            except Exception as error:  # told of as one that went wrong; the others go on
                traceback.print_exc()
                ended = {"name": name, "broke": f"{type(error).__name__}: {error}"}
            lines.write(json.dumps(ended | expected) + "\n")
            lines.flush()
    return 0


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:4]))
    answer(True)  # type: ignore[name-defined]  # noqa: F821
