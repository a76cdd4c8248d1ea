# SPDX-License-Identifier: GPL-3.0-or-later
"""Layered art by its path: which reader a folder or a file wants."""

from pathlib import Path

from ..shot.errors import Place, ShotError
from .art_layers import LayeredArt
from .image_folder import read_folder
from .openraster import read_openraster

PSD_SUFFIXES = (".psd", ".psb")


def read_layered(path: Path) -> LayeredArt:
    """Return the layers of a folder of PNG, TIFF or EXR images, or of an OpenRaster file; raises ShotError."""
    if path.suffix.lower() == ".ora":
        return read_openraster(path)
    if path.is_dir():
        return read_folder(path)
    if not path.exists():
        raise ShotError(Place(path), "is not there", "name a folder of images or an OpenRaster file (.ora)")
    if path.suffix.lower() in PSD_SUFFIXES:
        raise ShotError(Place(path), "is a layered PSD", "make its shot by the command: underglass new ART -o DIR")
    raise ShotError(Place(path), "is no layered art that is read here", "export it as OpenRaster (.ora), or PNG files")
