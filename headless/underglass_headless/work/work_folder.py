# SPDX-License-Identifier: GPL-3.0-or-later
"""The work folder: what the units of a proof left behind, by the key of their job, so that a run goes on where an
earlier one ended. A unit counts as done when all of its files are as they were made, and not because it is there.
"""

import contextlib
import fcntl
import hashlib
import json
import os
import shutil
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from ..results import ResultError, made_folder, work_folder, write_bytes, write_text
from .unit_results import UnitError, UnitResult, depend_digest, parse_result, read_result
from .units_of_work import Job, Unit

_JOB_FILE = "job.json"
# Held shared by every run that uses the folder, so that none is swept away under it.
_IN_USE = "in-use"


class Store:
    """Where the results of ``job`` lie: a folder of its own in ``place``."""

    def __init__(self, place: Path, job: Job) -> None:
        self.place, self.job = place, job
        self.folder = place / job.key
        # With a .blend, what else went into a result is named by its way from it.
        self._origin = (job.scene or job.shot).resolve().parent
        # Whether the folder can be kept in use: where it cannot, nobody knows what others are using.
        self._locks = False
        # A proof of the shot and one of a scene against it do not take each other's work for an older state of theirs.
        of = f"{job.shot}\0{job.scene or ''}"
        self._of = hashlib.sha256(of.encode("utf-8", "backslashreplace")).hexdigest()[:16]

    @contextmanager
    def open(self) -> Iterator[Path]:
        """Make the folder, keep it in use, and yield a folder in ``place`` for what is in the making.

        Of a run that came to nothing, nothing stays. Raises ResultError.
        """
        with made_folder(self.place):
            try:
                with work_folder(self.place) as making, self._held():
                    write_text(self.folder / _JOB_FILE, json.dumps(self._told(), indent=1, ensure_ascii=False) + "\n")
                    yield making
            finally:
                if not any(path.name not in {_JOB_FILE, _IN_USE} for path in _listed(self.folder)):
                    _remove_unused(self.folder)

    def whole(self, units: Iterable[Unit]) -> dict[Unit, UnitResult]:
        """Return the results of those ``units`` that are there whole, and made of what is still the same."""
        found = {}
        for unit in units:
            # what is damaged or cannot be read is done again
            with contextlib.suppress(UnitError, OSError):
                result = read_result(self.folder, unit)
                if result is not None:
                    found[unit] = result
        same: dict[tuple[str, str], bool] = {}
        for result in found.values():
            for pair in result.depends.items():
                if pair not in same:
                    same[pair] = self._is_same(*pair)
        return {unit: result for unit, result in found.items() if all(same[pair] for pair in result.depends.items())}

    def move_in(self, unit: Unit, folder: Path) -> UnitResult:
        """Move the files of a unit from ``folder`` into their place, its JSON last; raises UnitError, OSError."""
        result = parse_result((folder / unit.result_file).read_bytes(), unit)
        for name in [*result.files, unit.result_file]:
            (folder / name).replace(self.folder / name)
        return result

    def take(self, unit: Unit, made: Mapping[str, bytes]) -> UnitResult:
        """Put the files of a unit that was done elsewhere in their place; raises UnitError if they are not whole."""
        result = parse_result(made.get(unit.result_file, b""), unit)
        if set(made) != {unit.result_file, *result.files}:
            raise UnitError(f"{unit.result_file}: came with other files than it names")
        for name in [*result.files, unit.result_file]:
            write_bytes(self.folder / name, made[name])
        read = read_result(self.folder, unit)
        assert read is not None, "it was written just now"
        return read

    def sweep_others(self) -> None:
        """Remove what no run is using of other states of this shot, or of this scene; never another's."""
        for folder in self.place.iterdir() if self._locks else ():
            if folder != self.folder and _told_of(folder) == self._of:
                _remove_unused(folder)

    def keep_within(self, limit: int) -> None:
        """Remove older results until all that jobs left in the place is ``limit`` bytes at the most.

        First those of other states of this shot, or of this scene, then others', of each the longest unused first.
        What a run is using stays, and so does this job's own; then there may be more.
        """
        if not self._locks:
            return
        jobs = [folder for folder in self.place.iterdir() if _told_of(folder)]
        size = {folder: _size(folder) for folder in jobs}
        others = [folder for folder in jobs if folder != self.folder]
        for folder in sorted(others, key=lambda one: (_told_of(one) != self._of, _last_used(one))):
            if sum(size.values()) <= limit:
                return
            _remove_unused(folder)
            if not folder.exists():
                del size[folder]

    def _is_same(self, name: str, digest: str) -> bool:
        try:
            return depend_digest(self._origin, name) == digest
        except (OSError, ValueError):
            return False

    @contextmanager
    def _held(self) -> Iterator[None]:
        try:
            while True:
                self.folder.mkdir(parents=True, exist_ok=True)
                # readable too: a network file system may give a shared lock on nothing else
                lock = (self.folder / _IN_USE).open("a+b")
                # Some network file systems know no locks; then nothing is swept by this run either.
                with contextlib.suppress(OSError):
                    fcntl.flock(lock, fcntl.LOCK_SH)
                    self._locks = True
                if _is_at(self.folder / _IN_USE, lock):
                    break
                lock.close()  # it was swept between making and locking, and perhaps made anew
        except OSError as error:
            raise ResultError(
                f"{self.folder}: cannot be written: {error.strerror or error}; choose a place that can be written"
            ) from None
        with lock:
            yield

    def _told(self) -> dict[str, object]:
        job = self.job
        return {
            "of": self._of,
            "shot": job.shot.name,
            "scene": job.scene.name if job.scene else "",
            "fingerprint": job.fingerprint,
            "frames": list(job.span),
            "made by": dict(job.makers),
        }


def _told_of(folder: Path) -> str:
    """Return whose results a folder holds, as its job file tells; empty where that cannot be told."""
    with contextlib.suppress(OSError, ValueError, TypeError, AttributeError):
        return str(json.loads((folder / _JOB_FILE).read_text(encoding="utf-8")).get("of", ""))
    return ""


def _size(folder: Path) -> int:
    """Return how many bytes the files in the folder of a job have; those that are gone meanwhile have none."""
    total = 0
    for path in _listed(folder):
        with contextlib.suppress(OSError):
            total += path.stat().st_size
    return total


def _last_used(folder: Path) -> float:
    """Return when a run used the folder of a job last: each writes the job's file anew."""
    with contextlib.suppress(OSError):
        return (folder / _JOB_FILE).stat().st_mtime
    return 0.0


def _listed(folder: Path) -> list[Path]:
    try:
        return list(folder.iterdir())
    except OSError:
        return []


def _remove_unused(folder: Path) -> None:
    """Remove the folder of a job, unless a run is using it."""
    with contextlib.suppress(OSError), (folder / _IN_USE).open("r+b") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        if _is_at(folder / _IN_USE, lock):
            shutil.rmtree(folder, ignore_errors=True)


def _is_at(path: Path, file: BinaryIO) -> bool:
    """Say whether an open ``file`` is the one that lies at ``path``: what is locked under no name keeps nobody out."""
    try:
        return os.path.samestat(os.fstat(file.fileno()), path.stat())
    except FileNotFoundError:
        return False
