# SPDX-License-Identifier: GPL-3.0-or-later
"""The size of a piece of art, and whether it has alpha, from the header of its file: nothing is decoded.

PNG, TIFF and EXR are each read by a module of their own; only what is common to them is here.
"""

from pathlib import Path
from typing import BinaryIO

from ..shot.errors import Place, ShotError
from ..shot.files_on_disk import ordinary_size
from ..shot.words import shown
from .exr_header import read_exr
from .image_bytes import ArtError, ArtFile
from .png_header import read_png
from .tiff_header import read_tiff

# Our own limits: more than any scanner gives, and what a machine can hold beside the other levels.
MOST_SIDE_PX = 32_768
MOST_PX = 400_000_000

_READERS = {"PNG": read_png, "TIFF": read_tiff, "EXR": read_exr}
_FORMAT_OF_SUFFIX = {".png": "PNG", ".tif": "TIFF", ".tiff": "TIFF", ".exr": "EXR"}
_MAGIC = {
    b"\x89PNG\r\n\x1a\n": "PNG",
    b"II*\0": "TIFF",
    b"MM\0*": "TIFF",
    b"II+\0": "TIFF",
    b"MM\0+": "TIFF",
    b"\x76\x2f\x31\x01": "EXR",
    b"\xff\xd8\xff": "JPEG",
    b"GIF8": "GIF",
    b"8BPS": "Photoshop",
    b"RIFF": "WebP",
    b"BM": "BMP",
}
_SAVE_AS = "save it as PNG, TIFF or EXR"


def read_art(path: Path, *, said: Place) -> ArtFile:
    """Return the size of an image file and whether it has alpha; ``said`` is where the shot names it.

    Raises ShotError where there is no whole image of a size that can be shot.
    """
    size = ordinary_size(path, said=said)
    try:
        with path.open("rb") as file:
            art = _read(file, path, size)
        _check_size(art)
    except ArtError as error:
        raise ShotError(said, f"{shown(path.name)} {error.problem}", error.remedy) from error
    except OSError as error:
        raise ShotError(said, f"{shown(path.name)} cannot be read ({error.strerror})", "make it readable") from error
    return art


def _read(file: BinaryIO, path: Path, size: int) -> ArtFile:
    if not size:
        raise ArtError("is empty (0 bytes)", "save the art again")
    named = _FORMAT_OF_SUFFIX.get(path.suffix.lower())
    if named is None:
        raise ArtError("has a name that does not end in .png, .tif, .tiff or .exr", _SAVE_AS)
    start = file.read(8)
    found = next((name for magic, name in _MAGIC.items() if start.startswith(magic)), "")
    if found in _READERS and found != named:
        raise ArtError(f"is a {found} image with a name that ends in {path.suffix}", "name it for what it is")
    if found != named:
        raise ArtError(f"is {f'a {found} file' if found else 'not an image'}", _SAVE_AS)
    file.seek(0)
    return _READERS[found](file, size=size)


def _check_size(art: ArtFile) -> None:
    if not art.width > 0 < art.height:
        raise ArtError(f"is {art.width}×{art.height} px", "save the art again")
    if max(art.width, art.height) > MOST_SIDE_PX or art.width * art.height > MOST_PX:
        remedy = f"our limit is {MOST_SIDE_PX} px a side and {MOST_PX // 10**6} million px; scale it down"
        raise ArtError(f"is {art.width}×{art.height} px", remedy)
