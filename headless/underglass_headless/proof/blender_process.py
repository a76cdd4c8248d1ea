"""Blender as a process of its own: starting the worker, hearing its events, ending it whatever happens."""

import contextlib
import importlib.util
import json
import os
import subprocess
import sys
import threading
from collections.abc import Generator
from pathlib import Path
from typing import Any

from underglass.proof.running import without_user_settings
from underglass.shot import UnderglassError

from .. import system

EVENT = "underglass-event "
# A worker silent this long hangs: Blender loads within seconds, and between two events it makes one still.
SILENCE_LIMIT_S = 900.0
# A still may take longer where it is large: so many samples, each through every level, a slow core makes in a second.
SLOWEST_SAMPLES_A_S = 100_000.0
# Every .blend begins with the first of these, or with the mark of what it was packed by: gzip up to 2.93, then zstd.
_BLEND_MARKS = (b"BLENDER", b"\x1f\x8b", b"\x28\xb5\x2f\xfd")


class BlenderError(UnderglassError):
    """Blender or a render failed; one line says what it said last."""


class SceneFileError(UnderglassError):
    """A .blend that was given is none, or cannot be read."""


def require_blend(path: Path) -> None:
    """Raise SceneFileError unless ``path`` is a file that begins as a .blend does."""
    try:
        with path.open("rb") as file:
            start = file.read(max(map(len, _BLEND_MARKS)))
    except FileNotFoundError:
        raise SceneFileError(f"{path}: is not there; correct the path to the .blend") from None
    except IsADirectoryError:
        raise SceneFileError(f"{path}: is a folder; name the .blend in it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise SceneFileError(f"{path}: cannot be read ({reason}); make it readable") from None
    if not start.startswith(_BLEND_MARKS):
        raise SceneFileError(f"{path}: is no Blender file; name a .blend that Blender saved")


def run_worker(job: dict[str, Any], *, folder: Path) -> Generator[dict[str, Any], None, None]:
    """Run the worker on ``job`` and yield its events as they come.

    Raises BlenderError if it fails, SceneFileError for a bad ``scene`` of the job. Blender's own chatter goes to
    ``folder``/blender.log. The worker does not outlive this generator: who may stop half-way closes it.
    """
    if job.get("scene"):
        require_blend(Path(job["scene"]))
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
            env=_environment(folder),
        )
    watchdog = _Watchdog(process)
    finished = False
    try:
        assert process.stdout is not None
        for line in process.stdout:
            text = line.decode("utf-8", "replace")
            event = json.loads(text[len(EVENT) :]) if text.startswith(EVENT) else {"event": ""}
            watchdog.heard(event, job)
            match event["event"]:
                case "":
                    continue
                case "failed":
                    raise _failure(event, log)
                case "done":
                    finished = True
                case _:
                    yield event
        if not finished:
            raise BlenderError(watchdog.words or _silence(process.wait(), log))
    finally:
        watchdog.stop()
        if process.poll() is None:
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(5.0 if finished else 0.1)
            process.kill()
        process.wait()


def silence_limit_s(job: dict[str, Any], *, size: tuple[int, int], levels: int) -> float:
    """Return how long the worker may be silent, s, where its pictures have ``size`` px and show ``levels``."""
    return SILENCE_LIMIT_S + size[0] * size[1] * int(job.get("samples", 1)) * levels / SLOWEST_SAMPLES_A_S


class _Watchdog:
    """Ends a process that says nothing for too long, from its first moment on; ``words`` then tells of it."""

    def __init__(self, process: "subprocess.Popen[bytes]") -> None:
        self.words = ""
        self._process = process
        self._limit_s = SILENCE_LIMIT_S
        self._levels: set[str] = set()
        self._heard, self._over = threading.Event(), False
        threading.Thread(target=self._watch, daemon=True).start()

    def heard(self, event: dict[str, Any], job: dict[str, Any]) -> None:
        """Begin to wait anew; a pass of a frame tells how large the stills to come are."""
        if event["event"] == "pass":
            self._levels.update(event["names"])
            self._limit_s = silence_limit_s(job, size=tuple(event["size"]), levels=len(self._levels))
        self._heard.set()

    def stop(self) -> None:
        """Watch no longer."""
        self._over = True
        self._heard.set()

    def _watch(self) -> None:
        while self._heard.wait(self._limit_s):
            self._heard.clear()
            if self._over:
                return
        self.words = f"Blender said nothing for {self._limit_s:.0f} s and was ended; run it again"
        self._process.kill()


def _require_blender() -> None:
    if importlib.util.find_spec("bpy") is None:
        version = f"{sys.version_info.major}.{sys.version_info.minor}"
        raise BlenderError(
            f"Blender's Python module bpy is not installed for Python {version}; install Underglass on Python 3.11 or"
            " 3.13, which brings it"
        )


def _environment(folder: Path) -> dict[str, str]:
    """Return the environment of the worker: the same packages, and no user settings of a Blender on this machine."""
    paths = [path for path in sys.path if path and Path(path).is_dir()]
    return without_user_settings(os.environ, folder=folder) | {"PYTHONPATH": os.pathsep.join(paths)}


def _failure(event: dict[str, Any], log: Path) -> UnderglassError:
    text = event["message"] or event["kind"]
    if event["kind"] == "SceneFileError":
        return SceneFileError(text)
    if event["kind"] == "ShotError":
        # The shot's files changed since they were read here: still what the user wrote, not Blender.
        return UnderglassError(text)
    if "No space left" in text or "No space left" in _last_words(log):
        return BlenderError(f"Blender could not write its frames: no space left on the disk ({text})")
    return BlenderError(f"Blender failed: {text}")


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
