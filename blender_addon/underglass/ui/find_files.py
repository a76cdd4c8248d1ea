# SPDX-License-Identifier: GPL-3.0-or-later
"""Where a shot's files are, when their folder was moved, and which of them were changed.

A folder is found beside the .blend, where its art is found, or near where it was if its files are as they were.
"""

import json
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import bpy

from ..shot.files.stamp import digests, stamp
from ..stage import materials, stack_marks

# How deep in a shot's folder art lies at most.
_DEEP = 4
# So many folders are looked into at most, and so often, s.
_MOST_FOLDERS, _LOOK_EVERY_S = 400, 3.0

GONE = "the shot's folder is no longer there: open it where it is now"

_found: dict[tuple[str, str], Path] = {}
_looked: dict[tuple[str, str], float] = {}


def of(scene: Any, said: Path) -> Path:
    """Return the shot file of ``scene``: where it was ``said`` to be, or where it was moved to; ``said`` if nowhere."""
    if said.is_file():
        return said
    key = str(said), bpy.data.filepath
    if key not in _found or not _found[key].is_file():
        _found[key] = next((place for place in _candidates(scene, said) if place.is_file()), said)
    if not _found[key].is_file() and time.monotonic() - _looked.get(key, -_LOOK_EVERY_S) >= _LOOK_EVERY_S:
        # panels ask for every picture that they draw
        _looked[key] = time.monotonic()
        state = scene.underglass.stamp
        alike = {place.resolve() for place in _near(said) if place.is_file() and stamp(place) == state}
        # of a shot and a copy of it nobody knows which is meant
        _found[key] = alike.pop() if len(alike) == 1 else said
    return _found[key]


def is_gone(path: Path | None) -> bool:
    """Return whether the shot file of a scene is named, and nowhere to be found."""
    return path is not None and not path.is_file()


def _candidates(scene: Any, said: Path) -> list[Path]:
    places = [Path(bpy.data.filepath).parent] if bpy.data.filepath else []
    for _, glass in stack_marks.levels(scene):
        for image in materials.images(glass):
            file = materials.file_of(image)
            if file.is_file():
                places += list(file.parents)[:_DEEP]
    return [place / said.name for place in dict.fromkeys(places)]


def _near(said: Path) -> Iterator[Path]:
    """Yield where a shot file may be that is no longer where it was ``said``: two folders down from what is still
    there of its path, and from where the .blend is.
    """
    there = next((folder for folder in said.parent.parents if folder.is_dir()), None)
    roots = [Path(bpy.data.filepath).parent] if bpy.data.filepath else []
    looked = 0
    for root in dict.fromkeys((*roots, *([there] if there is not None else []))):
        below = _folders(root)
        for folder in (*below, *(deeper for one in below for deeper in _folders(one))):
            looked += 1
            if looked > _MOST_FOLDERS:
                return
            yield folder / said.name


def _folders(root: Path) -> list[Path]:
    try:
        return sorted(one for one in root.iterdir() if one.is_dir() and not one.name.startswith("."))[:_MOST_FOLDERS]
    except OSError:
        return []


def remember(scene: Any, path: Path) -> None:
    """Remember in which state each of the files of ``scene`` is now."""
    scene.underglass.digests = json.dumps(digests(path))


def changed(scene: Any, path: Path) -> list[str]:
    """Return which files of ``scene`` are not as it read or wrote them; the shot file where that is not known."""
    said = scene.underglass.digests
    was, now = json.loads(said) if said else {}, digests(path)
    found = [name for name in dict.fromkeys((*was, *now)) if was.get(name) != now.get(name)] if was else []
    return found or [path.name]
