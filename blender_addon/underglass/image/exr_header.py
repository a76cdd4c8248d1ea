# SPDX-License-Identifier: GPL-3.0-or-later
"""The header of an OpenEXR file, and for scan lines the table of their offsets, so that a cut file is found out.

Source: OpenEXR File Layout (openexr.com). Of a file of several parts the first one counts.
"""

import struct
from typing import BinaryIO

from .image_bytes import ArtError, ArtFile, cut_short, take, unpack

_TILED, _DEEP, _MULTI_PART = 0x200, 0x800, 0x1000
_MOST_NAME_BYTES = 255
_MOST_ATTRIBUTES = 10_000
_CHANNEL_BYTES = 16
_WINDOW_BYTES = 16
# Lines in one chunk by compression: none, RLE, ZIPS, ZIP, PIZ, PXR24, B44, B44A, DWAA, DWAB.
_LINES = (1, 1, 1, 16, 32, 16, 32, 32, 32, 256)

_Window = tuple[int, int, int, int]


def read_exr(file: BinaryIO, *, size: int) -> ArtFile:
    """Return size and alpha of an EXR file of ``size`` bytes; data and display window must be the same."""
    _, flags = unpack(file, "<II")
    if flags & _DEEP:
        raise ArtError("is a deep image", "save it flat")
    attributes = _attributes(file, size)
    window, display = _window(attributes, b"dataWindow"), _window(attributes, b"displayWindow")
    if window != display:
        raise ArtError("has a data window that differs from its display window", "save it uncropped")
    west, top, east, bottom = window
    if not flags & (_TILED | _MULTI_PART):
        _check_whole(file, attributes, height=bottom - top + 1, size=size)
    channels = _channels(attributes.get(b"channels", b""))
    has_alpha = any(name.split(b".")[-1] == b"A" for name in channels)
    # The format has colours multiplied by alpha, and no way to say otherwise.
    return ArtFile(east - west + 1, bottom - top + 1, has_alpha, premultiplied=True)


def _attributes(file: BinaryIO, size: int) -> dict[bytes, bytes]:
    """Return the attributes of the first header."""
    attributes: dict[bytes, bytes] = {}
    for _ in range(_MOST_ATTRIBUTES):
        name = _text(file)
        if not name:
            return attributes
        _text(file)
        (length,) = unpack(file, "<I")
        if file.tell() + length > size:
            raise cut_short()
        attributes[name] = take(file, length)
    raise ArtError("is not an EXR image: its header does not end", "save it again")


def _text(file: BinaryIO) -> bytes:
    """Return the bytes before the next zero byte."""
    start = file.tell()
    text, end, _ = file.read(_MOST_NAME_BYTES + 1).partition(b"\0")
    if not end:
        raise cut_short()
    file.seek(start + len(text) + 1)
    return text


def _window(attributes: dict[bytes, bytes], name: bytes) -> _Window:
    data = attributes.get(name, b"")
    if len(data) != _WINDOW_BYTES:
        raise ArtError("is not an EXR image: it does not say its size", "save it again")
    west, top, east, bottom = struct.unpack("<iiii", data)
    return west, top, east, bottom


def _channels(data: bytes) -> list[bytes]:
    names = []
    while data.strip(b"\0"):
        name, _, rest = data.partition(b"\0")
        names.append(name)
        data = rest[_CHANNEL_BYTES:]
    return names


def _check_whole(file: BinaryIO, attributes: dict[bytes, bytes], *, height: int, size: int) -> None:
    """Raise ArtError where a chunk of scan lines was never written or lies beyond the end of the file."""
    compression = attributes.get(b"compression", b"")
    if len(compression) != 1 or compression[0] >= len(_LINES) or height <= 0:
        return
    count = -(-height // _LINES[compression[0]])
    if file.tell() + 8 * count > size:
        raise cut_short()
    offsets = unpack(file, f"<{count}Q")
    if min(offsets) < file.tell() or max(offsets) >= size:
        raise cut_short()
    file.seek(max(offsets))
    _, length = unpack(file, "<iI")
    if file.tell() + length > size:
        raise cut_short()
