"""Blender as a process of its own: starting the worker, hearing its events, ending it whatever happens."""

import contextlib
import importlib.util
import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from underglass.shot import UnderglassError

from .. import system

EVENT = "underglass-event "
# A still of a tall stack on a slow core takes a minute or two; a worker that is silent this long hangs.
SILENCE_LIMIT_S = 900.0


class BlenderError(UnderglassError):
    """Blender or a render failed; one line says what it said last."""


def run_worker(job: dict[str, Any], *, folder: Path) -> Iterator[dict[str, Any]]:
    """Run the worker on ``job`` and yield its events as they come; raises BlenderError if it fails.

    Blender's own chatter goes to ``folder``/blender.log. The worker does not outlive this generator.
    """
    _require_blender()
    job_file = folder / "job.json"
    job_file.write_text(json.dumps(job), encoding="utf-8")
    log = folder / "blender.log"
    with log.open("wb") as chatter:
        process = subprocess.Popen(
            [sys.executable, "-m", "underglass_headless.proof.worker", str(job_file)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=chatter,
            env=_environment(),
        )
    watchdog = threading.Timer(0, lambda: None)
    finished = False
    try:
        assert process.stdout is not None
        for line in process.stdout:
            watchdog.cancel()
            watchdog = threading.Timer(SILENCE_LIMIT_S, process.kill)
            watchdog.daemon = True
            watchdog.start()
            text = line.decode("utf-8", "replace")
            if not text.startswith(EVENT):
                continue
            event = json.loads(text[len(EVENT) :])
            if event["event"] == "failed":
                raise BlenderError(_failure(event, log))
            if event["event"] == "done":
                finished = True
            else:
                yield event
        if not finished:
            raise BlenderError(_silence(process.wait(), log))
    finally:
        watchdog.cancel()
        if process.poll() is None:
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(5.0 if finished else 0.1)
            process.kill()
        process.wait()


def _require_blender() -> None:
    if importlib.util.find_spec("bpy") is None:
        version = f"{sys.version_info.major}.{sys.version_info.minor}"
        raise BlenderError(
            f"Blender's Python module bpy is not installed for Python {version}; install Underglass on Python 3.11 or"
            " 3.13, which brings it"
        )


def _environment() -> dict[str, str]:
    """Return the environment of the worker: the same packages, and no user settings of a Blender on this machine."""
    paths = [path for path in sys.path if path and Path(path).is_dir()]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}


def _failure(event: dict[str, Any], log: Path) -> str:
    text = event["message"] or event["kind"]
    if "No space left" in text or "No space left" in _last_words(log):
        return f"Blender could not write its frames: no space left on the disk ({text})"
    return f"Blender failed: {text}"


def _silence(status: int, log: Path) -> str:
    """Return why a worker ended without a word."""
    missing = system.explain_missing()
    if missing:
        return missing
    ended = f"was ended by signal {-status}" if status < 0 else f"ended with status {status}"
    words = _last_words(log)
    return f"Blender {ended}" + (f": {words}" if words else "")


def _last_words(log: Path) -> str:
    lines = log.read_text(encoding="utf-8", errors="replace").strip().splitlines() if log.is_file() else []
    return " ".join(lines[-1].split())[:300] if lines else ""
