# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the art of a scene's levels is now: in its folder, where its images were found since, or in the .blend."""

import shutil
from pathlib import Path, PurePath
from typing import Any

import bpy

from ..shot import Shot, ShotError
from ..shot.errors import Place
from ..stage import materials, stack_marks


def copy_art(scene: Any, shot: Shot, *, former: Path, folder: Path) -> None:
    """Copy all art of ``shot``, once in the folder ``former``, from where it is now into ``folder``, by its own paths.

    Raises ShotError for a file that is nowhere.
    """
    glasses = dict(stack_marks.levels(scene))
    for level in shot.levels:
        for file in shot.art_files(level):
            place = folder / file
            place.parent.mkdir(parents=True, exist_ok=True)
            if not place.exists():
                _copy(file, place, former=former, images=_images(glasses.get(level.name)))


def show_from(scene: Any, shot: Shot, *, former: Path, folder: Path) -> None:
    """Let the levels of ``scene`` show the art of ``shot`` from ``folder``, wherever it was found; ``former`` as above.

    So do other images that lay in the folder ``former``.
    """
    files = {level.name: shot.art_files(level) for level in shot.levels}
    for name, glass in stack_marks.levels(scene):
        images = _images(glass) if glass.library is None else []
        found = {file: _shown(file, images) for file in files.get(name, ())}
        for image in images:
            said = next((file for file, one in found.items() if one == image), None)
            place = materials.file_of(image).resolve()
            if said is not None:
                image.filepath = str(folder / said)
            elif place.is_relative_to(former.resolve()):
                image.filepath = str(folder / place.relative_to(former.resolve()))


def _images(glass: Any) -> list[Any]:
    return [] if glass is None else materials.images(glass)


def _copy(file: str, place: Path, *, former: Path, images: list[Any]) -> None:
    """Copy the art that a shot calls ``file`` to ``place``; ``images`` are those that its level shows."""
    if (former / file).is_file():
        shutil.copyfile(former / file, place)
        return
    image = _shown(file, images)
    if image is not None and materials.file_of(image).is_file():
        shutil.copyfile(materials.file_of(image), place)
    elif image is not None and image.packed_file is not None:
        place.write_bytes(image.packed_file.data)
    else:
        raise ShotError(
            Place(former / file), "is no longer there", "put it back, or find it under File > External Data"
        )


def _shown(file: str, images: list[Any]) -> Any:
    """Return the image that shows ``file``: by as much of its path as the two have in common, from the end on."""
    common = [(_common(PurePath(file), PurePath(bpy.path.abspath(image.filepath))), image) for image in images]
    most = max((count for count, _ in common), default=0)
    best = {image for count, image in common if count == most}
    # of several that are called alike none is known to be the one
    return best.pop() if most and len(best) == 1 else None


def _common(one: PurePath, other: PurePath) -> int:
    pairs = zip(reversed(one.parts), reversed(other.parts), strict=False)
    return next((count for count, (a, b) in enumerate(pairs) if a != b), min(len(one.parts), len(other.parts)))
