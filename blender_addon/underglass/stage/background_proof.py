# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof in the background of a window: a script for Blender, run on a copy of the scene with the job as argument.

``blender --background --factory-startup --disable-autoexec COPY.blend --python background_proof.py -- JOB.json``, or
with Blender as a module ``python background_proof.py JOB.json``. What it says lies beside the job, see
`proof.proof_beside_window`: every file appears by rename, proof.json last. The copy is never saved.
"""

import contextlib
import importlib
import importlib.util
import json
import os
import sys
import tempfile
import traceback
from dataclasses import replace
from pathlib import Path
from typing import Any

import bpy

PACKAGE = Path(__file__).resolve().parent.parent
# The exit status of a proof that could not be made.
NO_PROOF = 3
# Where frames are asked for in a window.
ASKED = "frames"


def main(arguments: list[str]) -> int:
    """Do the job that the last of ``arguments`` names, and return the exit status."""
    job_file = Path(arguments[-1]).resolve()
    folder = job_file.parent
    _load_package()
    running = _module("proof.proof_beside_window")
    try:
        job = json.loads(job_file.read_text(encoding="utf-8"))
        with tempfile.TemporaryDirectory(prefix="making-", dir=folder, ignore_cleanup_errors=True) as making:
            proof = _prove(job, folder=folder, making=Path(making))
            record, lines = _placed(proof, folder=folder)
        _write(folder / running.SUMMARY, "\n".join(lines) + "\n")
        _write(folder / running.PROOF, record)
    except Exception as error:  # whoever waits for the proof gets one line; the rest is for the log
        traceback.print_exc()
        _write(folder / running.FAILED, json.dumps({"message": _one_line(error)}))
        return NO_PROOF
    return 0


def _load_package() -> None:
    """Make the package that this script lies in known by its folder's name, whatever that is, and none of its
    neighbours: in Blender's folder of extensions they are strangers.
    """
    at = importlib.util.spec_from_file_location(
        PACKAGE.name, PACKAGE / "__init__.py", submodule_search_locations=[str(PACKAGE)]
    )
    assert at is not None
    assert at.loader is not None
    package = importlib.util.module_from_spec(at)
    sys.modules[PACKAGE.name] = package
    at.loader.exec_module(package)


def _module(name: str) -> Any:
    return importlib.import_module(f"{PACKAGE.name}.{name}")


def _prove(job: dict[str, Any], *, folder: Path, making: Path) -> Any:
    running, chosen = _module("proof.proof_beside_window"), _module("proof.choose_frames")
    shot_file = Path(job["shot"])

    def tell(what: str, done: int, of: int) -> None:
        # On Windows a file that is being read cannot be replaced; the next word then takes its place.
        with contextlib.suppress(OSError):
            _write(folder / running.PROGRESS, json.dumps({"what": what, "done": done, "of": of}))

    tell("opening the scene", 0, 0)
    plan = _module("plan").make_plan(_module("shot.files").read_shot(shot_file))
    asked = chosen.parse_frames(job["frames"], where=ASKED)
    # a frame that is not in the shot is named by the field in the window
    chosen.frames_to_test(plan, asked=asked, where=ASKED)
    return _module("stage.prove_here").prove_here(
        _scene(job),
        plan,
        shot_file=shot_file,
        scene_file=Path(job["blend"] or Path(job["copy"]).name),
        folder=making,
        frames=asked,
        tolerance_px=job["tolerance_px"],
        step=job["step"],
        pictures=job["pictures"],
        samples=job["samples"],
        depth_of_field=job["depth_of_field"],
        threads=job["threads"],
        tell=tell,
    )


def _scene(job: dict[str, Any]) -> Any:
    """Return the scene of the copy that is to be proved; the copy is opened where Blender was not started on it."""
    copy, name = Path(job["copy"]), job["scene"]
    opened = Path(bpy.data.filepath)
    if not bpy.data.filepath or not opened.exists() or not opened.samefile(copy):
        bpy.ops.wm.open_mainfile(filepath=str(copy), load_ui=False, use_scripts=False)
    # None: of this file, and not of a library that it links to
    scene = bpy.data.scenes.get((name, None)) if name else bpy.context.scene
    if scene is None:
        raise _module("shot").UnderglassError(f"the copy of the file holds no scene {name}; save the file, prove again")
    return scene


def _placed(proof: Any, *, folder: Path) -> tuple[str, list[str]]:
    """Put the pictures into their place, and return the text of proof.json and the lines of the summary."""
    pictures = Path(_module("proof.proof_beside_window").PICTURES)
    if proof.pictures:
        (folder / pictures).mkdir(exist_ok=True)
    for path in proof.pictures.values():
        path.replace(folder / pictures / path.name)
    placed = replace(proof, pictures={frame: pictures / path.name for frame, path in proof.pictures.items()})
    return _module("proof.proof_json").proof_json(placed), _module("proof.proof_summary").summary_lines(placed)


def _write(path: Path, text: str) -> None:
    """Put ``text`` into ``path`` whole, by rename; half a character, of a file name, is spelled out."""
    part = path.with_name(f".{path.name}.part")
    part.write_bytes(text.encode("utf-8", errors="backslashreplace"))
    part.replace(path)


def _one_line(error: Exception) -> str:
    text = " ".join(str(error).split()) or type(error).__name__
    return text if isinstance(error, _module("shot").UnderglassError) else f"Blender failed: {text}"


if __name__ == "__main__":
    try:
        status = main(sys.argv)
    except BaseException:
        traceback.print_exc()
        status = NO_PROOF
    sys.stdout.flush()
    sys.stderr.flush()
    # Blender's own exit can hang or crash once scenes were rendered; all results are on disk by now.
    os._exit(status)
