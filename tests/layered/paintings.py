# SPDX-License-Identifier: GPL-3.0-or-later
"""Small paintings for tests: noise that no two layers share, and archives of layers, whole or broken."""

import io
import zipfile
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

CANVAS = (64, 48)
STACK = '<image version="0.0.5" w="{w}" h="{h}"><stack>{layers}</stack></image>'


def noise(size_px: tuple[int, int], *, seed: int, alpha: int | None = None) -> NDArray[np.uint8]:
    """Return RGBA pixels (H, W, 4) that are different everywhere; ``alpha`` makes all of them as clear."""
    pixels = np.random.default_rng(seed).integers(0, 256, (size_px[1], size_px[0], 4), dtype=np.uint8)
    if alpha is not None:
        pixels[..., 3] = alpha
    return pixels


def png(pixels: NDArray[np.uint8]) -> bytes:
    """Return pixels as a PNG file."""
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, format="PNG")
    return file.getvalue()


def opened(path: Path) -> NDArray[np.uint8]:
    """Return the pixels of an image file as RGBA."""
    with Image.open(path) as image:
        return np.asarray(image.convert("RGBA"))


def write_ora(
    path: Path,
    layers: str,
    images: Mapping[str, bytes] | None = None,
    *,
    mimetype: str | None = "image/openraster",
    stack: str | bytes | None = None,
    canvas: tuple[int, int] = CANVAS,
) -> Path:
    """Write an OpenRaster file whose stack holds the XML ``layers``; ``stack`` takes the place of all of stack.xml."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        if mimetype is not None:
            archive.writestr("mimetype", mimetype, zipfile.ZIP_STORED)
        archive.writestr("stack.xml", stack or STACK.format(w=canvas[0], h=canvas[1], layers=layers))
        for name, data in (images or {"data/a.png": png(noise(CANVAS, seed=0))}).items():
            archive.writestr(name, data)
    return path


def write_folder(folder: Path, images: Mapping[str, NDArray[np.uint8]]) -> Path:
    """Write a folder of images, each under its name."""
    folder.mkdir(parents=True)
    for name, pixels in images.items():
        Image.fromarray(pixels).save(folder / name)
    return folder


def files_in(folder: Path) -> list[str]:
    """Return all files in a folder and below, as sorted relative paths."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
