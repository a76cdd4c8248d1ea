# SPDX-License-Identifier: GPL-3.0-or-later
"""Places that cannot be written to: a disk of a few megabytes that is full, one that is read-only, a limit on files."""

import contextlib
import os
import resource
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
COMMAND = [sys.executable, "-m", "underglass_headless"]
# Left free on the full disk, where folders and names have room still.
ROOM_BYTES = 0


@dataclass(frozen=True)
class Ended:
    """How a command ended, and what it said on standard error."""

    status: int
    said: list[str]
    out: str


def run(words: list[str], *, most_bytes: int | None = None, timeout: float = 120) -> Ended:
    """Run a command to its end; with ``most_bytes`` no file that it or its children write may be larger."""

    def limit() -> None:
        if most_bytes is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))

    done = subprocess.run(
        [*COMMAND, *words],
        capture_output=True,
        text=True,
        check=False,
        env=environment(),
        preexec_fn=limit,
        timeout=timeout,
        stdin=subprocess.DEVNULL,
    )
    return Ended(done.returncode, done.stderr.splitlines(), done.stdout)


def environment() -> dict[str, str]:
    """Return the environment of a command, with our packages in reach."""
    paths = os.pathsep.join(str(ROOT / name) for name in ("blender_addon", "headless"))
    return os.environ | {"PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1"}


def contents(folder: Path) -> Mapping[str, Any]:
    """Return all that lies in a folder, hidden files too: bytes of files, None for folders."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }


@contextmanager
def small_disk(place: Path, *, megabytes: int = 24) -> Iterator[Path]:
    """Mount a small disk at ``place``; the test is skipped where that is not allowed."""
    place.mkdir(parents=True, exist_ok=True)
    size = f"size={megabytes}m"
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", size, "tmpfs", str(place)], capture_output=True, text=True, check=False
    )
    if mounted.returncode:
        pytest.skip(f"a small disk cannot be mounted: {mounted.stderr.strip()}")
    try:
        yield place
    finally:
        subprocess.run(["umount", "--lazy", str(place)], check=False)


@contextmanager
def full(disk: Path) -> Iterator[None]:
    """Fill a small disk to the last bytes meanwhile."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as file:
        with contextlib.suppress(OSError):
            while True:
                file.write(bytes(1 << 16))
        with contextlib.suppress(OSError):
            while True:
                file.write(bytes(1 << 12))
        file.truncate(file.tell() - ROOM_BYTES)
    try:
        yield
    finally:
        filler.unlink()


@contextmanager
def read_only(disk: Path) -> Iterator[None]:
    """Make a small disk read-only meanwhile."""
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    try:
        yield
    finally:
        subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)
