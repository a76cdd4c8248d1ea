# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof from the window: a copy of the file is proved by a Blender of its own in the background."""

import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import bpy

from ..proof import proof_beside_window
from ..shot import UnderglassError
from . import live_stack, proof_age, proof_pictures
from .report_operator import done, may_work, reported

PROVING = "proving in the background"


@dataclass
class _Run:
    """One proof: the process, the folder that its results are in, what it said last, and in which state the shot's
    files were when somebody last looked.
    """

    scene: str
    shot_file: str
    folder: Path
    process: "subprocess.Popen[bytes] | None"
    said: Any = None
    proved: proof_age.Proved | None = None
    files: str = ""


_run: _Run | None = None


def is_running() -> bool:
    """Return whether a proof is on its way."""
    return _run is not None and _run.process is not None


def present(scene: Any) -> Any:
    """Return what the proof of ``scene`` said last: running.Progress, Finished, Failed, or None."""
    if _run is None or (_run.scene, _run.shot_file) != (scene.name, scene.underglass.shot_file):
        return None
    return _run.said


def notes(scene: Any) -> tuple[str, ...]:
    """Return whether the last proof of ``scene`` is of the stack as it is now, in words; nothing where it is."""
    return () if _run is None or present(scene) is None else proof_age.notes(scene, _run.proved, files=_run.files)


def files_are(scene: Any, state: str) -> None:
    """Hear in which state the files of the shot of ``scene`` are now."""
    if _run is not None and _run.scene == scene.name:
        _run.files = state


def look() -> None:
    """Hear what the proof says."""
    if _run is None or _run.process is None:
        return
    _run.said = proof_beside_window.poll(_run.folder, process=_run.process)
    if not isinstance(_run.said, proof_beside_window.Progress):
        _stop()
        scene = bpy.data.scenes.get(_run.scene)
        if scene is not None and scene.underglass.message == PROVING:
            scene.underglass.message = ""
    if isinstance(_run.said, proof_beside_window.Finished):
        proof_pictures.keep(Path(bpy.path.abspath(_run.shot_file)), _run.said)


def begin(scene: Any) -> None:
    """Start to prove ``scene`` as it stands; a copy is saved for it, the open file is not touched."""
    global _run
    clear()
    path = live_stack.shot_path(scene)
    if path is None:
        raise UnderglassError("this scene has no shot; open one first")
    proved = proof_age.proved_now(scene)
    folder = Path(tempfile.mkdtemp(prefix="underglass-proof-"))
    try:
        process = _start(scene, path, folder)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    first = proof_beside_window.Progress("starting Blender", 0, 0)
    _run = _Run(scene.name, scene.underglass.shot_file, folder, process, first, proved)


def _start(scene: Any, path: Path, folder: Path) -> "subprocess.Popen[bytes]":
    copy, settings = folder / "scene.blend", scene.underglass
    try:
        bpy.ops.wm.save_as_mainfile(filepath=str(copy), copy=True, check_existing=False)
    except RuntimeError as error:
        raise UnderglassError(f"a copy of the scene cannot be saved: {' '.join(str(error).split())}") from None
    job = proof_beside_window.Job(
        shot=path,
        scene=scene.name,
        blend=Path(bpy.data.filepath).name,
        tolerance_px=settings.tolerance_px,
        pictures=settings.prove_pictures,
        samples=1,
    )
    return proof_beside_window.start(job, blender=bpy.app.binary_path, blend_copy=copy, folder=folder)


def _stop() -> None:
    if _run is not None and _run.process is not None:
        proof_beside_window.stop(_run.process)
        _run.process = None


def clear() -> None:
    """End the proof that runs, if one does, and remove what it left."""
    global _run
    _stop()
    if _run is not None:
        shutil.rmtree(_run.folder, ignore_errors=True)
    _run = None


class UNDERGLASS_OT_prove(bpy.types.Operator):
    """Render every frame in the background and measure size and place of every level in the pixels"""

    bl_idname = "underglass.prove"
    bl_label = "Prove"

    @classmethod
    def poll(cls, context: Any) -> bool:
        if not may_work(cls, context):
            return False
        if is_running():
            cls.poll_message_set("A proof is running")
            return False
        if not bpy.app.binary_path:
            cls.poll_message_set("This Blender is a Python module: use the command underglass prove")
            return False
        return True

    @reported
    def execute(self, context: Any) -> set[str]:
        begin(context.scene)
        return done(self, context.scene, PROVING)


class UNDERGLASS_OT_stop_proof(bpy.types.Operator):
    """End the proof that runs in the background; what it has done so far is dropped"""

    bl_idname = "underglass.stop_proof"
    bl_label = "Stop"

    @classmethod
    def poll(cls, context: Any) -> bool:
        if is_running():
            return True
        cls.poll_message_set("No proof is running")
        return False

    def execute(self, context: Any) -> set[str]:
        clear()
        return done(self, context.scene, "the proof was stopped")


CLASSES = (UNDERGLASS_OT_prove, UNDERGLASS_OT_stop_proof)


def attach() -> None:
    """Nothing runs before it is asked for."""


def detach() -> None:
    """End what runs."""
    clear()
