# SPDX-License-Identifier: GPL-3.0-or-later
"""The process that holds Blender: builds a .blend, or does units of a proof one after another as it is told to.

Run as ``python -m underglass_headless.in_blender.worker JOB.json``. It hears of units in lines of JSON on its standard
input and speaks in such lines on its standard output; what it makes are files in the job's folder.
"""

import json
import os
import sys
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bpy

from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.stage import build_stack, materials

from ..blender.blender_process import EVENT
from ..machine.cores_and_memory import peak_mb
from ..machine.freed_memory import keep_freed_memory
from ..work.units_of_work import Job, Unit
from .do_units import Bench
from .scene_files import open_file, start_empty


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
        _do_units(Job.from_words(job["job"]), Path(job["folder"]))
    say("done")
    return 0


def _build(job: dict[str, Any]) -> None:
    """Build into the scene of an existing .blend or into an empty one, and save it beside its final name."""
    if job["scene"]:
        open_file(job["scene"])
    else:
        start_empty()
    build_stack.build(
        make_plan(read_shot(Path(job["shot"]))),
        bpy.context.scene,
        fingerprint=job["fingerprint"],
        engine=job["engine"],
        proof_passes=job["proof_passes"],
    )
    for text in build_stack.others_say(bpy.context.scene):
        say("notice", message=text)
    if job["pack"]:
        materials.pack_art(bpy.context.scene)
    materials.find_art_from(Path(job["save"]).parent, bpy.context.scene)
    bpy.ops.wm.save_as_mainfile(filepath=job["save"], check_existing=False, relative_remap=False)


def _do_units(job: Job, folder: Path) -> None:
    """Do the units that come in; each is made whole while the next one is begun."""
    # A render frees what the next one asks for again.
    keep_freed_memory()
    bench = Bench(job, say=say)
    measured: Future[None] | None = None
    with ThreadPoolExecutor(max_workers=1) as measuring:
        for line in sys.stdin:
            unit = Unit.from_words(json.loads(line))
            finish = bench.do(unit, folder)
            if measured is not None:
                # The passes of one frame at a time lie on the disk beside those that are being made.
                measured.result()
            measured = measuring.submit(_finish, unit, finish)
        if measured is not None:
            measured.result()


def _finish(unit: Unit, finish: Any) -> None:
    try:
        finish()
    except Exception as error:
        # Said at once: the next unit may take its time, and would be done for nothing.
        _say_failed(error)
        raise
    say("unit", unit=unit.words(), peak_mb=peak_mb())


def _say_failed(error: Exception) -> None:
    said = " ".join(str(error).split())
    # Of a render that stops Blender may say no more than that it is an error.
    if not said.removeprefix("Error:").strip():
        said = f"Blender stopped without saying why ({type(error).__name__})"
    say("failed", kind=type(error).__name__, message=said)


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
            _say_failed(error)
            status = 3
    sys.stdout.flush()
    sys.stderr.flush()
    # Blender's own exit can hang or crash once scenes were rendered; all results are on disk by now.
    os._exit(status)
