# SPDX-License-Identifier: GPL-3.0-or-later
"""The header of a PNG file, and its chunks as far as IEND, so that a file that was cut is found out.

Source: W3C Portable Network Graphics specification, sections 5 (structure) and 11 (chunks).
"""

import os
import zlib
from typing import BinaryIO

from .image_bytes import ArtError, ArtFile, cut_short, take, unpack

_SIGNATURE_BYTES = 8
_HEADER_BYTES = 13
_COLOUR_TYPES_WITH_ALPHA = (4, 6)


def read_png(file: BinaryIO, *, size: int) -> ArtFile:
    """Return size and alpha of a PNG file of ``size`` bytes; transparent palette entries or colours count as alpha."""
    file.seek(_SIGNATURE_BYTES)
    length, name = _chunk(file)
    if name != b"IHDR" or length != _HEADER_BYTES:
        raise ArtError("is not a PNG file: IHDR does not come first", "save it again")
    header = take(file, length)
    if unpack(file, ">I") != (zlib.crc32(name + header),):
        raise ArtError("is damaged: the checksum of IHDR is wrong", "save or copy it again")
    chunks = _chunk_names(file, size)
    if b"IDAT" not in chunks:
        raise ArtError("has no picture in it (no IDAT)", "save it again")
    width, height = int.from_bytes(header[:4], "big"), int.from_bytes(header[4:8], "big")
    return ArtFile(width, height, header[9] in _COLOUR_TYPES_WITH_ALPHA or b"tRNS" in chunks)


def _chunk(file: BinaryIO) -> tuple[int, bytes]:
    (length,) = unpack(file, ">I")
    return length, take(file, 4)


def _chunk_names(file: BinaryIO, size: int) -> set[bytes]:
    """Return the names of the chunks up to IEND, each of which must lie within the file."""
    names: set[bytes] = set()
    while True:
        length, name = _chunk(file)
        end = file.seek(length + 4, os.SEEK_CUR)
        if end > size:
            raise cut_short()
        if name == b"IEND":
            return names
        names.add(name)
