# SPDX-License-Identifier: GPL-3.0-or-later
"""Art with colours that are known to the last bit, in the forms that painters hand in."""

import struct
import zlib
from pathlib import Path

import numpy as np
import OpenEXR
from numpy.typing import NDArray

from shot_strategies import png_chunk

# Encoded sRGB and what it decodes to, as the package colour-science has it.
PUBLISHED_SRGB = {0.25: 0.0508761, 0.5: 0.2140411, 0.75: 0.5225216, 128 / 255: 0.2158605}


def linear_from_srgb(encoded: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return scene-linear values of encoded ones, 0 to 1 (IEC 61966-2-1)."""
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def code_from_linear(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the 8-bit sRGB code, not rounded, of scene-linear values."""
    x = np.maximum(np.asarray(linear, dtype=np.float64), 0.0)
    return 255 * np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)


def blocks(colours: NDArray[np.generic], side: int) -> NDArray[np.generic]:
    """Return an image with every entry of ``colours`` (rows, columns, channels) as a block of ``side`` pixels."""
    return colours.repeat(side, axis=0).repeat(side, axis=1)


def block_centres(picture: NDArray[np.float32], side: int) -> NDArray[np.float32]:
    """Return the mean of the inner half of every block: what the filter of a neighbour does not reach."""
    rows, columns = picture.shape[0] // side, picture.shape[1] // side
    tiles = picture.reshape(rows, side, columns, side, -1)
    inner = slice(side // 4, side - side // 4)
    return tiles[:, inner, :, inner].mean(axis=(1, 3))


def write_png16(path: Path, pixels: NDArray[np.uint16]) -> None:
    """Write an RGB PNG of 16 bits a channel, which Pillow cannot."""
    height, width, _ = pixels.shape
    rows = pixels.astype(">u2").reshape(height, -1)
    data = b"".join(b"\0" + row.tobytes() for row in rows)
    header = struct.pack(">IIBBBBB", width, height, 16, 2, 0, 0, 0)
    path.parent.mkdir(parents=True, exist_ok=True)
    chunks = (png_chunk(b"IHDR", header), png_chunk(b"IDAT", zlib.compress(data)), png_chunk(b"IEND", b""))
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + b"".join(chunks))


def write_exr(path: Path, pixels: NDArray[np.float32]) -> None:
    """Write an RGBA EXR of floats; colour is taken to be multiplied with alpha, as EXR has it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    header = {"compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.scanlineimage}
    with OpenEXR.File(header, {"RGBA": np.ascontiguousarray(pixels, dtype=np.float32)}) as file:
        file.write(str(path))


def write_tiff(path: Path, pixels: NDArray[np.unsignedinteger], *, associated: bool) -> None:
    """Write an RGBA TIFF, one strip, whose alpha is said to be multiplied into its colours or not.

    TIFF revision 6.0, section 18: ExtraSamples (338) is 1 for associated alpha, 2 for unassociated.
    """
    height, width, samples = pixels.shape
    data = pixels.astype(pixels.dtype.newbyteorder("<")).tobytes()
    depths_at, data_at = 8, 8 + 2 * samples
    depths = struct.pack("<4H", *[8 * pixels.dtype.itemsize] * samples)
    short, long = 3, 4
    entries = [
        (256, short, 1, width),
        (257, short, 1, height),
        (258, short, samples, depths_at),
        (259, short, 1, 1),
        (262, short, 1, 2),
        (273, long, 1, data_at),
        (277, short, 1, samples),
        (278, short, 1, height),
        (279, long, 1, len(data)),
        (338, short, 1, 1 if associated else 2),
    ]
    directory = struct.pack("<H", len(entries)) + b"".join(struct.pack("<HHII", *entry) for entry in entries)
    head = b"II" + struct.pack("<HI", 42, data_at + len(data))
    path.write_bytes(head + depths + data + directory + bytes(4))
