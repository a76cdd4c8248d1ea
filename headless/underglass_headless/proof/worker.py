"""The process that holds Blender: builds or opens a scene, reads it on every frame, renders the test frames.

Run as ``python -m underglass_headless.proof.worker JOB.json``. It judges nothing and speaks in lines of JSON on its
standard output; what it makes are files in the job's folder. It never saves over a scene that it was given.
"""

import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import bpy

from underglass import compat
from underglass.plan import make_plan
from underglass.shot import read_shot
from underglass.stage import build, materials, readback, testframes

from .blender_process import EVENT, SceneFileError


def say(event: str, **facts: Any) -> None:
    """Print one event for the process that started this one."""
    os.write(_events, (EVENT + json.dumps({"event": event, **facts}) + "\n").encode())


def main(job_file: str) -> int:
    """Do the job and return the exit status."""
    job = json.loads(Path(job_file).read_text(encoding="utf-8"))
    bpy.context.preferences.filepaths.save_version = 0
    if job["task"] == "build":
        _build(job)
    else:
        _open(job)
        _read(job)
        _render(job)
    say("done")
    return 0


def _open_file(path: str) -> None:
    """Open a .blend with its scripts switched off; raises SceneFileError."""
    try:
        bpy.ops.wm.open_mainfile(filepath=path, load_ui=False, use_scripts=False)
    except RuntimeError as error:
        # A file that was opened with a complaint, such as of a library that is not there, is opened.
        if bpy.data.filepath != path:
            reason = " ".join(str(error).split()).rsplit(": ", 1)[-1]
            remedy = "save it again, or take an earlier copy of it"
            raise SceneFileError(f"{path}: Blender cannot read it ({reason}); {remedy}") from None


def _build(job: dict[str, Any]) -> None:
    """Build into the scene of an existing .blend or into an empty one, and save it beside its final name."""
    if job["scene"]:
        _open_file(job["scene"])
    else:
        _empty()
    build.build(
        make_plan(read_shot(Path(job["shot"]))),
        bpy.context.scene,
        fingerprint=job["fingerprint"],
        engine=job["engine"],
        proof_passes=job["proof_passes"],
    )
    for text in build.others_say(bpy.context.scene):
        say("notice", message=text)
    materials.find_art_from(Path(job["save"]).parent, bpy.context.scene)
    bpy.ops.wm.save_as_mainfile(filepath=job["save"], check_existing=False, relative_remap=False)


def _open(job: dict[str, Any]) -> None:
    if job["scene"]:
        _open_file(job["scene"])
    else:
        _empty()
        build.build(make_plan(read_shot(Path(job["shot"]))), bpy.context.scene, fingerprint=job["fingerprint"])
    say("opened", blender=compat.VERSION_TEXT)


def _empty() -> None:
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)


def _read(job: dict[str, Any]) -> None:
    first, last = job["frames"]
    reading = readback.read_scene(
        bpy.context.scene,
        range(first, last + 1),
        look_at=job["test_frames"],
        progress=lambda row: say("read", done=row),
    )
    if job["scene"]:
        reading = replace(reading, paints=build.planned_paints(make_plan(read_shot(Path(job["shot"])))))
    reading.save(Path(job["folder"]) / "scene.npz")
    say("reading", file="scene.npz")


def _render(job: dict[str, Any]) -> None:
    scene = bpy.context.scene
    if scene.camera is None or scene.camera.type != "CAMERA":
        say("no-camera")
        return
    folder, frames = Path(job["folder"]), job["test_frames"]
    for file in testframes.render_passes(
        scene, frames=frames, folder=folder, step=job["step"], batch=job["batch"], threads=job["threads"]
    ):
        say("pass", frame=file.frame, file=file.path.name, names=file.names, size=file.size, step=file.step)
    say("passes-done")
    if job["pictures"]:
        for frame, path in testframes.render_pictures(
            scene, frames=frames, folder=folder, samples=job["samples"], depth_of_field=job["depth_of_field"]
        ):
            say("picture", frame=frame, file=path.name)
        say("pictures-done")


@contextmanager
def _own_events() -> Iterator[int]:
    """Keep the real standard output for events and send what Blender prints to standard error."""
    events = os.dup(1)
    os.dup2(2, 1)
    yield events


if __name__ == "__main__":
    with _own_events() as _events:
        try:
            status = main(sys.argv[1])
        except Exception as error:  # the parent turns it into one line; a traceback would say less
            text = " ".join(str(error).split())
            say("failed", kind=type(error).__name__, message=text)
            status = 3
    sys.stdout.flush()
    sys.stderr.flush()
    # Blender's own exit can hang or crash once scenes were rendered; all results are on disk by now.
    os._exit(status)
