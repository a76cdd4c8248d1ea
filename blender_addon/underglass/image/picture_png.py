# SPDX-License-Identifier: GPL-3.0-or-later
"""A rendered picture as people see it: from the renderer's light to sRGB, and to a PNG by numpy and zlib alone.

Scene-linear and premultiplied in; 8-bit sRGB over black out.
"""

import math
import struct
import zlib

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Pixels = Singles | Floats | NDArray[np.float16]

# IEC 61966-2-1, the transfer function of sRGB: a straight toe up to here, a power above.
_TOE_END = 0.0031308
_TOE_SLOPE = 12.92
# White beyond any light of a picture, and still a number that can be averaged.
_ENDLESS = 1e6
# PNG, second edition (ISO/IEC 15948): signature, colour type for red, green and blue, filter "up".
_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_RGB = 2
_UP = 2


def over_black(rgba: Pixels) -> Singles:
    """Return the light of premultiplied ``rgba`` over black, (H, W, 3): black adds nothing, alpha has done its work.

    A pixel that is no number becomes black, as viewers have it; an endless one becomes white.
    """
    light: Singles = np.nan_to_num(rgba[..., :3].astype(np.float32), nan=0.0, posinf=_ENDLESS, neginf=0.0)
    return light


def srgb_from_light(light: Pixels) -> Floats:
    """Return the sRGB value, 0 to 1, of linear light; what is darker than black or brighter than white is clipped."""
    linear = np.clip(np.asarray(light, dtype=np.float64), 0.0, 1.0)
    power = 1.055 * np.maximum(linear, _TOE_END) ** (1.0 / 2.4) - 0.055
    return np.where(linear <= _TOE_END, linear * _TOE_SLOPE, power)


def light_from_srgb(values: Pixels) -> Floats:
    """Return the linear light, 0 to 1, of sRGB values of 0 to 1."""
    coded = np.clip(np.asarray(values, dtype=np.float64), 0.0, 1.0)
    power = ((coded + 0.055) / 1.055) ** 2.4
    return np.where(coded <= _TOE_END * _TOE_SLOPE, coded / _TOE_SLOPE, power)


def codes_from_light(light: Pixels) -> NDArray[np.uint8]:
    """Return ``light`` as 8-bit sRGB."""
    codes: NDArray[np.uint8] = np.rint(srgb_from_light(light) * 255.0).astype(np.uint8)
    return codes


def no_wider(light: Singles, *, width: int) -> Singles:
    """Return ``light`` (H, W, 3) at most ``width`` px wide: means over squares, without what is left at the edges."""
    count = math.ceil(light.shape[1] / width)
    rows, columns = light.shape[0] // count, light.shape[1] // count
    if count == 1 or rows == 0:
        return light
    squares = light[: rows * count, : columns * count].reshape(rows, count, columns, count, 3)
    smaller: Singles = squares.mean(axis=(1, 3), dtype=np.float32)
    return smaller


def png(codes: NDArray[np.uint8]) -> bytes:
    """Return the bytes of an 8-bit sRGB PNG of ``codes`` (H, W, 3), rows from the top."""
    height, width, _ = codes.shape
    rows = np.empty((height, 1 + 3 * width), dtype=np.uint8)
    rows[:, 0] = _UP
    flat = codes.reshape(height, -1)
    rows[0, 1:], rows[1:, 1:] = flat[0], flat[1:] - flat[:-1]
    header = struct.pack(">2I5B", width, height, 8, _RGB, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"sRGB", b"\0"), (b"IDAT", zlib.compress(rows.tobytes(), 6)), (b"IEND", b""))
    return _SIGNATURE + b"".join(_chunk(kind, data) for kind, data in chunks)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
