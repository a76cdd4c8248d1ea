# SPDX-License-Identifier: GPL-3.0-or-later
"""What the values of a channel tell by themselves: whether they are sound, alike, or of one colour."""

import zlib
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

# Of the coordinates of two renders of a move no row is the same; some rows are enough to tell by, and sooner done.
_ROWS_OF_PASSES = 64
# A half and a float as whole numbers: with a sign, without one, the bit of the sign, and the least that the other bits
# are where a value is infinite or NaN.
_BITS = {2: (np.int16, np.uint16, 0x8000, 0x7C00), 4: (np.int32, np.uint32, 0x80000000, 0x7F800000)}


def has_bad_values(pixels: NDArray[Any]) -> bool:
    """Return whether any value is NaN or infinite. Of single floats a sum tells, unless it is too great itself."""
    if pixels.dtype.itemsize not in _BITS or pixels.dtype.kind != "f" or not pixels.size:
        return False
    if pixels.dtype.itemsize == 4:
        with np.errstate(over="ignore", invalid="ignore"):
            if np.isfinite(pixels.sum()):
                return False
    signed, unsigned, sign, least = _BITS[pixels.dtype.itemsize]
    pixels = np.ascontiguousarray(pixels)
    # As whole numbers with a sign the greatest is a positive one, without it a negative one.
    return bool(pixels.view(signed).max() >= least or pixels.view(unsigned).max() >= sign + least)


def anything(pixels: NDArray[Any]) -> bool:
    """Return whether any pixel is not black."""
    return bool(np.ascontiguousarray(pixels).view(np.uint16).any() and pixels.any())


def checksums(channels: Sequence[NDArray[Any]]) -> str:
    """Return what is the same for the same numbers, every byte of them; empty for no channels.

    Checksums of 32 bits, one a channel, take half as long as a cryptographic digest of all that.
    """
    return "".join(f"{zlib.crc32(np.ascontiguousarray(channel).data):08x}" for channel in channels)


def some_rows(passes: Sequence[NDArray[Any]]) -> list[NDArray[Any]]:
    """Return some rows of the passes: where only a level that others cover moves, the picture stays and they do not."""
    return [channel[::_ROWS_OF_PASSES] for channel in passes]


def one_colour(picture: Sequence[NDArray[Any]]) -> tuple[float, ...]:
    """Return the light of a picture that is one and the same all over; empty where it is not."""
    if not picture or not picture[0].size or not np.isfinite([channel.flat[0] for channel in picture]).all():
        return ()
    # A row tells of nearly every picture that it is not.
    if any((channel[0] != channel[0, 0]).any() for channel in picture):
        return ()
    if any((channel != channel[0, 0]).any() for channel in picture):
        return ()
    return tuple(float(channel[0, 0]) for channel in picture)
