# SPDX-License-Identifier: GPL-3.0-or-later
"""The pixels of art through Pillow: PNG and TIFF in, straight RGBA out, and PNG of 8 or 16 bits written.

Pillow itself writes no RGBA of 16 bits, so such a PNG is put together here.
"""

import struct
import zlib
from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from underglass.image.art_size import MOST_PX
from underglass.layered.pixel_port import Bytes, Painted, Singles
from underglass.shot import Place, ShotError

_DEEP_GREY = ("I;16", "I;16B", "I;16L", "I")
_DEEPEST = 65_535


class PillowPixels:
    """Reads and writes pixels as `underglass.layered.Pixels` asks for; RGBA of 16 bits is read as 8."""

    def read(self, path: Path) -> Painted:
        """Return the pixels of an image file (H, W, 4), uint8, or float32 for grey of 16 bits; raises ShotError."""
        try:
            with Image.open(path) as image:
                return array_of(image)
        except (UnidentifiedImageError, Image.DecompressionBombError, OSError, ValueError, SyntaxError) as error:
            raise ShotError(Place(path), f"cannot be decoded ({error})", "save it as PNG of 8 bits") from error

    def write(self, path: Path, array: Painted) -> None:
        """Write a new PNG file: 8 bits a channel from uint8, 16 from float32."""
        path.write_bytes(png_of(array))


# The size of every image is checked from its header before it is decoded, against our own limit.
Image.MAX_IMAGE_PIXELS = MOST_PX


def array_of(image: Image.Image) -> Painted:
    """Return the pixels of a Pillow image as straight RGBA."""
    if image.mode in _DEEP_GREY:
        grey = np.asarray(image, dtype=np.float32) / np.float32(_DEEPEST)
        deep: Singles = np.stack([grey, grey, grey, np.ones_like(grey)], axis=-1)
        return deep
    rgba: Bytes = np.asarray(image.convert("RGBA"))
    return rgba


def png_of(array: Painted) -> bytes:
    """Return straight RGBA pixels as a PNG file: 8 bits a channel from uint8, 16 from float32."""
    if array.dtype != np.uint8:
        return _deep_png(np.rint(np.asarray(array, dtype=np.float64).clip(0, 1) * _DEEPEST).astype(np.uint16))
    file = BytesIO()
    Image.fromarray(np.asarray(array, dtype=np.uint8)).save(file, format="PNG")
    return file.getvalue()


def _deep_png(codes: NDArray[np.uint16]) -> bytes:
    """Return (H, W, 4) codes as a PNG file. Source: W3C Portable Network Graphics, sections 5, 7 and 11."""
    height, width = codes.shape[:2]
    rows = np.frombuffer(codes.astype(">u2").tobytes(), dtype=np.uint8).reshape(height, width * 8)
    # Each row says that the one above is taken off it (filter 2), which makes paintings half as large.
    differences = np.diff(rows, axis=0, prepend=np.zeros((1, rows.shape[1]), dtype=np.uint8))
    lines: Bytes = np.insert(differences, 0, 2, axis=1)
    header = struct.pack(">IIBBBBB", width, height, 16, 6, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(lines.tobytes(), 6)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(name, data) for name, data in chunks)


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
