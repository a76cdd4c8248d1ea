# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof that runs beside a Blender window: the job it is given, its process, and what it has said so far.

The process is Blender on a copy of the scene, see `stage.background_proof`; it and this module speak in files of one
folder, each of which appears whole, by rename. No bpy here.
"""

import contextlib
import json
import os
import shutil
import signal
import subprocess
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from ..shot import UnderglassError
from .proof_facts import BLOCK, FAIL, PASS
from .tolerance import DEFAULT_TOLERANCE_PX

JOB = "job.json"
PROGRESS = "progress.json"
PROOF = "proof.json"
SUMMARY = "summary.txt"
FAILED = "failed.json"
PICTURES = "pictures"
LOG = "blender.log"

# How a process ends that takes more memory than there is.
_SHORT_OF_MEMORY = (signal.SIGABRT, 9, signal.SIGSEGV)  # 9 has no name on Windows

SCRIPT = Path(__file__).parent.parent / "stage" / "background_proof.py"
# Settings, scripts and add-ons of whoever works on this machine have no part in a proof, nor has a colour configuration
# (OCIO, BLENDER_OCIO, OCIO_ACTIVE_VIEWS and the like): Blender's own has what a built scene asks for.
_USER_SETTINGS = ("BLENDER_USER_", "BLENDER_SYSTEM_SCRIPTS", "BLENDER_SYSTEM_EXTENSIONS", "OCIO", "BLENDER_OCIO")

# Where Blender looks for a place for temporary files, in one system or the other.
_TEMPORARY = ("TMPDIR", "TEMP", "TMP")


class RunningError(UnderglassError):
    """A proof could not be started beside this Blender."""


@dataclass(frozen=True)
class Job:
    """What to prove, and how. ``scene`` is the scene's name in the copy, empty for the one it opens with.

    ``blend`` is what the proof calls the scene's file, empty for the name of the copy; ``frames`` a list such as
    ``1,48-60``, empty to have them chosen; ``step`` the grid of the test frames, px, 0 for one that suits the frame;
    ``samples`` a pixel of a picture.
    """

    shot: Path
    scene: str = ""
    blend: str = ""
    frames: str = ""
    tolerance_px: float = DEFAULT_TOLERANCE_PX
    step: int = 0
    pictures: bool = True
    samples: int = 1
    depth_of_field: bool = False
    threads: int = 0


@dataclass(frozen=True)
class Progress:
    """What the proof is doing, and how much of it is done; ``of`` 0 where that is not known."""

    what: str
    done: int
    of: int


@dataclass(frozen=True)
class Row:
    """A level's worst place in the rendered pixels; no numbers where it was seen on no frame."""

    level: str
    error_px: float | None
    uncertainty_px: float | None
    frame: int | None
    verdict: str


@dataclass(frozen=True)
class Finished:
    """A proof that is done: ``lines`` say it in words, ``pictures`` are PNG files by frame, ``rows`` one a level."""

    verdict: str
    lines: tuple[str, ...]
    proof_file: Path
    pictures: dict[int, Path]
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Failed:
    """No proof came of it: why, in one line."""

    message: str


def start(job: Job, *, blender: str, blend_copy: Path, folder: Path) -> "subprocess.Popen[bytes]":
    """Start Blender's executable ``blender`` on ``blend_copy`` to do ``job``, and return its process at once.

    ``folder`` is made where needed and freed of what an earlier run left. Raises RunningError.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        job_file = write_job(job, blend_copy=blend_copy, folder=folder)
        command = [blender, "--background", "--factory-startup", "--disable-autoexec", str(blend_copy.resolve())]
        command += ["--python", str(SCRIPT), "--", str(job_file)]
        with (folder / LOG).open("wb") as log:
            return subprocess.Popen(
                command,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                env=without_user_settings(os.environ, folder=folder),
                # On Windows a console would open over the window that asked for the proof.
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
    except OSError as error:
        reason = error.strerror or error
        raise RunningError(
            f"{error.filename or blender}: the proof cannot be started ({reason}); choose another"
        ) from None


def write_job(job: Job, *, blend_copy: Path, folder: Path) -> Path:
    """Put ``job`` into ``folder``, take away what an earlier run said there, and return the job's file."""
    for name in (PROGRESS, PROOF, SUMMARY, FAILED):
        (folder / name).unlink(missing_ok=True)
    shutil.rmtree(folder / PICTURES, ignore_errors=True)
    words = asdict(job) | {
        "shot": str(job.shot.resolve()),
        "copy": str(blend_copy.resolve()),
        "folder": str(folder.resolve()),
    }
    job_file = folder.resolve() / JOB
    job_file.write_text(json.dumps(words), encoding="utf-8")
    return job_file


def without_user_settings(environment: Mapping[str, str], *, folder: Path) -> dict[str, str]:
    """Return ``environment`` for a Blender that keeps what it would write of its user's in ``folder``.

    Its temporary files too: it is ended without its own clean-up, and would leave a folder of them behind.
    """
    kept = {name: value for name, value in environment.items() if not name.startswith(_USER_SETTINGS)}
    settings, temporary = folder / "blender settings", folder / "blender temporary"
    for own in (settings, temporary):
        own.mkdir(exist_ok=True)
    places = dict.fromkeys(_TEMPORARY, str(temporary.resolve()))
    return kept | {"BLENDER_USER_RESOURCES": str(settings.resolve()), **places}


def poll(folder: Path, *, process: "subprocess.Popen[bytes] | None" = None) -> Progress | Finished | Failed:
    """Return how far the proof in ``folder`` is; with its ``process``, a process that ended without a word has failed.

    Never waits.
    """
    # Asked first: whatever the process wrote before it ended is then there to be read.
    ended = None if process is None else process.poll()
    if (failed := _read(folder / FAILED)) is not None:
        return Failed(str(failed.get("message") or "the proof failed and does not say why"))
    if (record := _read(folder / PROOF)) is not None:
        return _finished(record, folder)
    if ended is not None:
        return Failed(_silence(ended, folder / LOG))
    said = _read(folder / PROGRESS)
    return Progress("starting Blender", 0, 0) if said is None else Progress(said["what"], said["done"], said["of"])


def stop(process: "subprocess.Popen[bytes]") -> None:
    """End the process of a proof, if it still runs."""
    if process.poll() is None:
        process.kill()
    process.wait()


def _read(path: Path) -> dict[str, Any] | None:
    """Return what a file says; None where it is not there, or for the moment cannot be read."""
    with contextlib.suppress(OSError, ValueError):
        value = json.loads(path.read_text(encoding="utf-8"))
        return value if isinstance(value, dict) else None
    return None


def _finished(record: dict[str, Any], folder: Path) -> Finished:
    summary = folder / SUMMARY
    lines = summary.read_text(encoding="utf-8").splitlines() if summary.is_file() else []
    return Finished(
        verdict=record["verdict"],
        lines=tuple(lines),
        proof_file=folder / PROOF,
        pictures={int(frame): folder / name for frame, name in record["pictures"].items()},
        rows=tuple(_row(record, name) for name in record["shot"]["levels"]),
    )


def _row(record: dict[str, Any], level: str) -> Row:
    """Return the worst of a level's measurements; it fails with any of them, in the scene, or by a fault's name."""
    own = [m for m in record["measurements"] if m["level"] == level]
    worst = max((m for m in own if m["error_px"] is not None), key=lambda m: float(m["error_px"]), default=None)
    wrong = (
        any(m["verdict"] != PASS for m in own)
        or any(f["subject"] == level and f["severity"] == BLOCK for f in record["faults"])
        or any(
            scene["missing_frames"] or (scene["worst_px"] or 0.0) > record["tolerance_px"]
            for scene in record["scene_error_px"]
            if scene["level"] == level
        )
    )
    verdict = FAIL if wrong else PASS
    if worst is None:
        return Row(level, None, None, None, verdict)
    return Row(level, worst["error_px"], worst["uncertainty_px"], worst["frame"], verdict)


def _silence(status: int, log: Path) -> str:
    """Return why a process ended that said nothing."""
    lines: list[str] = []
    with contextlib.suppress(OSError):
        lines = log.read_text(encoding="utf-8", errors="replace").strip().splitlines()
    words = " ".join(lines[-1].split())[:300] if lines else ""
    return how_blender_ended(status, words=words)


def how_blender_ended(status: int, *, words: str = "", limit_bytes: int | None = None) -> str:
    """Return how a process of Blender ended that told nothing of its own accord, and the last ``words`` of its log.

    ``limit_bytes`` of memory is what it may have. The system ends what takes too much memory with signal 9; what gets
    none ends itself with 11, or with 6.
    """
    if status >= 0:
        return f"Blender ended with status {status}" + (f": {words}" if words else "")
    said = f"; the last line of its log: {words}" if words else ""
    if -status not in _SHORT_OF_MEMORY:
        return f"Blender was ended by signal {-status}{said}"
    limit = "" if limit_bytes is None else f" (the limit here is {limit_bytes / 2**30:.1f} GiB)"
    return f"Blender was ended by signal {-status}: memory may be short{limit}{said}"
