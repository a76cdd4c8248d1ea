# SPDX-License-Identifier: GPL-3.0-or-later
"""The art of a level that is added or painted anew: brought into the shot's folder, where no file is ever replaced."""

import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

import numpy as np

from ..image.art_size import read_art
from ..image.image_bytes import ArtFile
from ..layered.names_from_art import file_names
from ..shot import Place, Shot, UnderglassError
from . import art_pixels

ART_FOLDER = "art"
MOST_NUMBERED = 1000


@contextmanager
def brought(file: Path, shot: Shot) -> Iterator[tuple[str, ArtFile]]:
    """Yield the way to an image from the shot's folder, copied there where it lies elsewhere, and its header.

    Raises ShotError where it is no image that can be shot. An error raised meanwhile takes the copy away again.
    """
    art = read_art(file, said=Place(file))
    try:
        inside = file.resolve().relative_to(shot.folder.resolve())
    except ValueError:
        pass
    else:
        yield PurePosixPath(*inside.parts).as_posix(), art
        return
    place = _free(shot, file.stem, file.suffix.lower())
    making = place.with_name(f".incoming-{secrets.token_hex(4)}{place.suffix}")
    try:
        shutil.copyfile(file, making)
        making.rename(place)
    finally:
        making.unlink(missing_ok=True)
    with _gone_on_error(place):
        yield f"{ART_FOLDER}/{place.name}", art


@contextmanager
def clear_card(name: str, size_px: tuple[int, int], shot: Shot) -> Iterator[str]:
    """Write a clear PNG for a card that is to be painted, and yield the way to it from the shot's folder.

    An error raised meanwhile takes it away again.
    """
    place = _free(shot, name, ".png")
    making = place.with_name(f".incoming-{secrets.token_hex(4)}.png")
    try:
        art_pixels.BlenderPixels().write(making, np.zeros((size_px[1], size_px[0], 4), dtype=np.uint8))
        making.rename(place)
    finally:
        making.unlink(missing_ok=True)
    with _gone_on_error(place):
        yield f"{ART_FOLDER}/{place.name}"


@contextmanager
def _gone_on_error(place: Path) -> Iterator[None]:
    try:
        yield
    except BaseException:
        place.unlink(missing_ok=True)
        raise


def _free(shot: Shot, name: str, suffix: str) -> Path:
    """Return a place in the folder of art that nothing has yet; the folder is made."""
    folder = shot.folder / ART_FOLDER
    folder.mkdir(exist_ok=True)
    stem = file_names([name], suffixes=[""])[0]
    for number in range(1, MOST_NUMBERED):
        place = folder / f"{stem}{f' {number}' if number > 1 else ''}{suffix}"
        if not place.exists():
            return place
    raise UnderglassError(f"{folder} has {MOST_NUMBERED} files of this name: give the level another one")
