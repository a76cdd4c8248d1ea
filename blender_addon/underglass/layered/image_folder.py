# SPDX-License-Identifier: GPL-3.0-or-later
"""A folder of images as layered art: each PNG, TIFF or EXR file is a layer, in the order that people number them.

The first name lies nearest the lens, as the first level of a shot file and the top of a list of layers do. The
rearmost image is the canvas, and images of another size lie in its middle.
"""

import re
import unicodedata
from collections.abc import Iterable
from pathlib import Path

from ..image.art_size import read_art
from ..shot.errors import Place, ShotError
from ..shot.words import listed
from .art_layers import ArtLayer, LayeredArt
from .names_from_art import layer_name

SUFFIXES = (".png", ".tif", ".tiff", ".exr")
MOST_LAYERS = 1000


def read_folder(folder: Path) -> LayeredArt:
    """Return the images of ``folder`` as layers; other files are named in a remark, hidden ones are passed over.

    Raises ShotError where there is no image, or one that cannot be shot.
    """
    files, others = _files(folder)
    if not files:
        raise ShotError(Place(folder), "holds no PNG, TIFF or EXR file", "put an image there for each layer")
    if len(files) > MOST_LAYERS:
        raise ShotError(Place(folder), f"holds {len(files)} images", f"layered art may have {MOST_LAYERS}")
    sizes = [_size(file, folder) for file in files]
    canvas = sizes[-1]
    layers = (_layer(file, size, canvas) for file, size in zip(files, sizes, strict=True))
    return LayeredArt(canvas, tuple(layers), folder, tuple(_remarks(others)))


def in_order(names: Iterable[str]) -> list[str]:
    """Return file names in the order that people number them: ``9 sky`` before ``10 sky``, case aside."""
    return sorted(names, key=lambda name: (_counted(name), name))


def _counted(name: str) -> list[tuple[int, int, str]]:
    pieces = re.split(r"(\d+)", unicodedata.normalize("NFKC", name).casefold())
    return [(0, int(piece), "") if piece.isdecimal() else (1, 0, piece) for piece in pieces if piece]


def _files(folder: Path) -> tuple[list[Path], list[str]]:
    """Return the image files of a folder in order, and the names of what else lies there."""
    try:
        names = [path.name for path in folder.iterdir() if not path.name.startswith(".")]
    except OSError as error:
        raise ShotError(Place(folder), f"cannot be read ({error.strerror})", "name a folder of images") from error
    images = [name for name in names if Path(name).suffix.lower() in SUFFIXES and not (folder / name).is_dir()]
    return [folder / name for name in in_order(images)], in_order(set(names) - set(images))


def _size(file: Path, folder: Path) -> tuple[int, int]:
    art = read_art(file, said=Place(folder, 0, file.name))
    return art.width, art.height


def _layer(file: Path, size: tuple[int, int], canvas: tuple[int, int]) -> ArtLayer:
    # In the middle to a whole pixel, so that pixels of the layers lie over each other.
    left, top = ((whole - side) // 2 for whole, side in zip(canvas, size, strict=True))
    return ArtLayer(layer_name(file.name), left, top, size, source=file.read_bytes, suffix=file.suffix.lower())


def _remarks(others: list[str]) -> Iterable[str]:
    if others:
        yield f"left out, no images of this folder: {listed(others)}"
