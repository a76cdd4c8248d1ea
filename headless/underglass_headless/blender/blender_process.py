# SPDX-License-Identifier: GPL-3.0-or-later
"""Blender as a process of its own: starting the worker, hearing its events, ending it whatever happens."""

import contextlib
import importlib.util
import json
import os
import subprocess
import sys
import threading
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import Any

from underglass.proof.proof_beside_window import how_blender_ended, without_user_settings
from underglass.shot import UnderglassError

from ..machine import shared_libraries
from ..machine.cores_and_memory import memory_limit

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


class WorkerDiedError(BlenderError):
    """Blender's process ended in the middle of its work, without a word: another one may do it.

    ``killed`` where a signal ended it, and not it itself.
    """

    def __init__(self, text: str, *, killed: bool = False) -> None:
        self.killed = killed
        super().__init__(text)


class Worker:
    """A process that holds Blender, at work on ``job``; it does not outlive `end`.

    Blender's own chatter goes to ``folder``/blender.log. Raises BlenderError where Blender is not installed.
    """

    def __init__(self, job: dict[str, Any], *, folder: Path) -> None:
        _require_blender()
        job_file = folder / "job.json"
        job_file.write_text(json.dumps(job), encoding="utf-8")
        self._log = folder / "blender.log"
        with self._log.open("wb") as chatter:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "underglass_headless.in_blender.worker", str(job_file)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=chatter,
                env=_environment(folder),
            )
        self._watchdog = _Watchdog(self._process)
        self._finished = False

    def send(self, words: dict[str, Any], *, silent_s: float = 0.0) -> None:
        """Give it one more thing to do, at which it may be silent for so long; its death is heard from `events`."""
        self._watchdog.allow(silent_s)
        assert self._process.stdin is not None
        with contextlib.suppress(OSError, ValueError):
            self._process.stdin.write((json.dumps(words) + "\n").encode())
            self._process.stdin.flush()

    def finish(self) -> None:
        """Tell it that nothing more is to be done."""
        assert self._process.stdin is not None
        with contextlib.suppress(OSError, ValueError):
            self._process.stdin.close()

    def events(self) -> Iterator[dict[str, Any]]:
        """Yield its events as they come, until it is done.

        Raises BlenderError if it fails, WorkerDiedError if it ends without a word, SceneFileError for a bad scene.
        """
        assert self._process.stdout is not None
        for line in self._process.stdout:
            text = line.decode("utf-8", "replace")
            event = json.loads(text[len(EVENT) :]) if text.startswith(EVENT) else {"event": ""}
            self._watchdog.heard()
            match event["event"]:
                case "":
                    continue
                case "failed":
                    raise _failure(event, self._log)
                case "done":
                    self._finished = True
                case _:
                    yield event
        if not self._finished:
            if self._watchdog.words:
                raise BlenderError(self._watchdog.words)
            status = self._process.wait()
            raise WorkerDiedError(_silence(status, self._log), killed=status < 0)

    def end(self) -> None:
        """End it, whatever it does."""
        self._watchdog.stop()
        self.finish()
        if self._process.poll() is None:
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._process.wait(5.0 if self._finished else 0.1)
            self._process.kill()
        self._process.wait()


def run_worker(job: dict[str, Any], *, folder: Path) -> Generator[dict[str, Any], None, None]:
    """Run a worker on ``job``, which says all that there is to do, and yield its events as they come.

    Raises as `Worker` does. The worker does not outlive this generator: who may stop half-way closes it.
    """
    if job.get("scene"):
        require_blend(Path(job["scene"]))
    worker = Worker(job, folder=folder)
    try:
        worker.finish()
        yield from worker.events()
    finally:
        worker.end()


def silence_limit_s(samples: int, *, size: tuple[int, int], levels: int) -> float:
    """Return how long a worker may be silent, s, where its pictures have ``size`` px and show ``levels``."""
    return SILENCE_LIMIT_S + size[0] * size[1] * samples * levels / SLOWEST_SAMPLES_A_S


class _Watchdog:
    """Ends a process that says nothing for too long, from its first moment on; ``words`` then tells of it.

    A process that has nothing to do says nothing either: whoever starts one gives it work, or ends it.
    """

    def __init__(self, process: "subprocess.Popen[bytes]") -> None:
        self.words = ""
        self._process = process
        self._limit_s = SILENCE_LIMIT_S
        self._heard, self._over = threading.Event(), False
        threading.Thread(target=self._watch, daemon=True).start()

    def allow(self, silent_s: float) -> None:
        """Let it be silent for so long from now on, where that is longer than it may be already."""
        self._limit_s = max(self._limit_s, silent_s)
        self._heard.set()

    def heard(self) -> None:
        """Begin to wait anew."""
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


def users_error(kind: str, text: str) -> UnderglassError | None:
    """Return the error of a process that holds Blender as one of the user's, by the name of its kind; None if it is
    Blender's.
    """
    if kind == "SceneFileError":
        return SceneFileError(text)
    if kind in {"ShotError", "UnderglassError", "OtherMakersError"}:
        # The shot's files changed since they were read here: still what the user wrote, not Blender.
        return UnderglassError(text)
    return None


def _failure(event: dict[str, Any], log: Path) -> UnderglassError:
    text = event["message"] or event["kind"]
    if (error := users_error(event["kind"], text)) is not None:
        return error
    if "No space left" in text or "No space left" in _last_words(log):
        return BlenderError(f"Blender could not write its frames: no space left on the disk ({text})")
    return BlenderError(f"Blender failed: {text}")


def _silence(status: int, log: Path) -> str:
    """Return why a worker ended without a word."""
    missing = shared_libraries.explain_missing()
    if missing:
        return missing
    return how_blender_ended(status, words=_last_words(log), limit_bytes=memory_limit())


def _last_words(log: Path) -> str:
    lines = log.read_text(encoding="utf-8", errors="replace").strip().splitlines() if log.is_file() else []
    return " ".join(lines[-1].split())[:300] if lines else ""
