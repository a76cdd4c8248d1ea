"""Where a shot's files are, when their folder was moved: beside the .blend, or where its art is found."""

from pathlib import Path
from typing import Any

import bpy

from ..stage import marks, materials

# How deep in a shot's folder art lies at most.
_DEEP = 4

GONE = "the shot's folder is no longer there: open it where it is now"

_found: dict[tuple[str, str], Path] = {}


def of(scene: Any, said: Path) -> Path:
    """Return the shot file of ``scene``: where it was ``said`` to be, or where it was moved to; ``said`` if nowhere."""
    if said.is_file():
        return said
    key = str(said), bpy.data.filepath
    if key not in _found or not _found[key].is_file():
        _found[key] = next((place for place in _candidates(scene, said) if place.is_file()), said)
    return _found[key]


def _candidates(scene: Any, said: Path) -> list[Path]:
    places = [Path(bpy.data.filepath).parent] if bpy.data.filepath else []
    for _, glass in marks.levels(scene):
        for image in materials.images(glass):
            file = materials.file_of(image)
            if file.is_file():
                places += list(file.parents)[:_DEEP]
    return [place / said.name for place in dict.fromkeys(places)]
