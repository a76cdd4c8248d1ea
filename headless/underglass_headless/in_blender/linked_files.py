# SPDX-License-Identifier: GPL-3.0-or-later
"""What else an open .blend is made of: libraries, pictures, every picture of a numbered run, every tile."""

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import bpy

from ..work.unit_results import NOT_THERE, depend_digest, members_of, run_name


@dataclass(frozen=True)
class Linked:
    """The files beside a .blend in ``origin``: ``depends`` as `UnitResult` has it, and what tells of a change soon."""

    origin: Path = Path()
    depends: Mapping[str, str] = field(default_factory=dict)
    stamps: Mapping[Path, tuple[int, ...]] = field(default_factory=dict)
    runs: tuple[str, ...] = ()

    @classmethod
    def of_open(cls, scene: Path) -> "Linked":
        """Return what the open .blend ``scene`` is linked from; what is missing too: it may be there the next time."""
        origin = scene.parent
        found = {Path(name) for name in bpy.utils.blend_paths(absolute=True, packed=False, local=False)}
        runs = set()
        for first in _numbered():
            found.update(members_of(first))
            runs.add(run_name(os.path.relpath(first, origin)))
        paths = sorted(path for path in found if path != scene and not path.is_dir())
        # Before they are read: what changes meanwhile is noticed the next time.
        stamps = {path: _stamp(path) for path in paths}
        names = [*(os.path.relpath(path, origin) for path in paths), *sorted(runs)]
        return cls(origin, {name: _digest(origin, name) for name in names}, stamps, tuple(sorted(runs)))

    def is_current(self) -> bool:
        """Say whether all of it is still as it was, without reading it."""
        return all(_stamp(path) == stamp for path, stamp in self.stamps.items()) and all(
            _digest(self.origin, run) == self.depends[run] for run in self.runs
        )


def _numbered() -> Iterator[Path]:
    """Yield a path of every run of numbered pictures and of tiles, whose files Blender does not list."""
    for data in (*bpy.data.images, *bpy.data.movieclips):
        if data.source in {"SEQUENCE", "TILED"} and data.filepath:
            yield Path(bpy.path.abspath(data.filepath, library=data.library))


def _digest(origin: Path, name: str) -> str:
    try:
        return depend_digest(origin, name)
    except OSError:
        return NOT_THERE


def _stamp(path: Path) -> tuple[int, ...]:
    """Return what changes with every change of a file, without reading it; empty where there is none."""
    try:
        told = path.stat()
    except OSError:
        return ()
    return told.st_ino, told.st_size, told.st_mtime_ns, told.st_ctime_ns
