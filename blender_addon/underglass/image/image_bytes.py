# SPDX-License-Identifier: GPL-3.0-or-later
"""The bytes of an image file, taken one number at a time, and what comes out of them."""

import struct
from dataclasses import dataclass
from typing import BinaryIO

from ..shot.errors import UnderglassError


@dataclass(frozen=True)
class ArtFile:
    """What the header of an image file says: size in pixels, and whether it has an alpha channel.

    ``premultiplied`` tells that colours were multiplied by their alpha already (associated alpha).
    """

    width: int
    height: int
    has_alpha: bool
    premultiplied: bool = False


class ArtError(UnderglassError):
    """An image file that cannot be used; who reads it adds where it was named."""

    def __init__(self, problem: str, remedy: str) -> None:
        self.problem = problem
        self.remedy = remedy
        super().__init__(f"{problem}; {remedy}")


def cut_short() -> ArtError:
    """Return the error of a file that ends too soon, to be raised."""
    return ArtError("is cut short", "save or copy it again")


def take(file: BinaryIO, count: int) -> bytes:
    """Return the next ``count`` bytes; raises ArtError where the file ends before."""
    data = file.read(count)
    if len(data) != count:
        raise cut_short()
    return data


def unpack(file: BinaryIO, layout: str) -> tuple[int, ...]:
    """Return the next numbers of a struct ``layout``; raises ArtError where the file ends before."""
    return struct.unpack(layout, take(file, struct.calcsize(layout)))
