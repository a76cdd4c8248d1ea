# SPDX-License-Identifier: GPL-3.0-or-later
"""Reading the passes that Cycles wrote, with numpy and zlib alone: one part of scan lines, as OpenEXR lays them out.

Layout: "OpenEXR File Layout", openexr.com, version 2 of the format. What an extension cannot bring is a library for
the rest of that format; a file in any other form is refused in one line.
"""

import math
import struct
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..shot import UnderglassError
from ..shot.words import shown

Floats32 = NDArray[np.float32]
Bytes = NDArray[np.uint8]

_MAGIC = 20000630
_VERSION = 2
# Bit 10 of the version says that names may be long, which changes nothing here; the others are other forms of a file.
_FORMS = {9: "tiles", 11: "deep pixels", 12: "several parts"}
# Lines in a chunk, by the number of the compression.
_LINES = {0: 1, 2: 1, 3: 16}
_TYPES: dict[int, np.dtype[np.generic]] = {1: np.dtype("<f2"), 2: np.dtype("<f4")}
_PREDICTOR = 128
# Deflate makes a byte of no more than 1032 (zlib's own "Technical Details"): a header that asks for more is none.
_MOST_GROWTH = 1032
_MOST_CHANNELS = 4096
_CHANNEL_TAIL = 16


class PassFileError(UnderglassError):
    """A file that Blender rendered cannot be read or lacks what it should hold."""


class _DamagedError(Exception):
    """What is wrong with the bytes of a file."""


@dataclass(frozen=True)
class _Header:
    """What the header says: ``channels`` name and type in the order of the bytes, ``start`` of the table of chunks."""

    channels: tuple[tuple[str, np.dtype[np.generic]], ...]
    width: int
    height: int
    top: int
    compression: int
    start: int

    @property
    def line_bytes(self) -> int:
        return self.width * sum(kind.itemsize for _, kind in self.channels)

    @property
    def chunk_lines(self) -> int:
        return _LINES[self.compression]


def read_pass_file(path: Path) -> dict[str, Floats32]:
    """Return every channel of an EXR file by its name, (H, W) each, rows from the top of its data window.

    Half and single floats, uncompressed or by ZIPS or ZIP. Raises PassFileError, one line, for anything else; no more
    memory is taken than the bytes that are there can fill.
    """
    try:
        data = path.read_bytes()
        header = _header(data)
        lines = _lines(data, header)
    except OSError as error:
        raise PassFileError(f"{path}: cannot be read ({error.strerror or error}); render it again") from None
    except _DamagedError as wrong:
        raise PassFileError(f"{path}: cannot be read as EXR: {wrong}; render it again") from None
    channels, start = {}, 0
    for name, kind in header.channels:
        end = start + header.width * kind.itemsize
        channels[name] = np.ascontiguousarray(lines[:, start:end]).view(kind).astype(np.float32, copy=False)
        start = end
    return channels


def _header(data: bytes) -> _Header:
    if len(data) < 8 or struct.unpack_from("<i", data)[0] != _MAGIC:
        raise _DamagedError("it does not begin as one")
    version = struct.unpack_from("<I", data, 4)[0]
    if version & 0xFF != _VERSION:
        raise _DamagedError(f"its version is {version & 0xFF}, not {_VERSION}")
    for bit, form in _FORMS.items():
        if version >> bit & 1:
            raise _DamagedError(f"it has {form}, not one part of scan lines")
    attributes, start = _attributes(data, 8)
    compression = _attribute(attributes, "compression", "B")[0]
    if compression not in _LINES:
        raise _DamagedError(f"its compression is number {compression}, neither none nor ZIPS nor ZIP")
    left, top, right, bottom = _attribute(attributes, "dataWindow", "4i")
    width, height = right - left + 1, bottom - top + 1
    if width < 1 or height < 1:
        raise _DamagedError(f"its data window is {width} × {height} px")
    channels = _channels(attributes.get("channels", b""))
    return _Header(channels, width, height, top, compression, start)


def _attributes(data: bytes, at: int) -> tuple[dict[str, bytes], int]:
    """Return the values of the header by name, and where the header ends."""
    values: dict[str, bytes] = {}
    while data[at : at + 1] != b"\0":
        name, at = _word(data, at)
        _, at = _word(data, at)
        size = _number(data, at, "<i")
        at += 4
        if size < 0 or at + size > len(data):
            raise _DamagedError("its header is cut short")
        values[name] = data[at : at + size]
        at += size
    return values, at + 1


def _attribute(attributes: Mapping[str, bytes], name: str, form: str) -> tuple[int, ...]:
    value = attributes.get(name, b"")
    if len(value) != struct.calcsize(f"<{form}"):
        raise _DamagedError(f"its header has no valid {name}")
    return struct.unpack(f"<{form}", value)


def _channels(value: bytes) -> tuple[tuple[str, np.dtype[np.generic]], ...]:
    found, at = [], 0
    while value[at : at + 1] not in (b"\0", b""):
        name, at = _word(value, at)
        if at + _CHANNEL_TAIL > len(value):
            raise _DamagedError("its list of channels is cut short")
        kind, _, x, y = struct.unpack_from("<4i", value, at)
        at += _CHANNEL_TAIL
        if kind not in _TYPES:
            raise _DamagedError(f"its channel {shown(name)} holds neither half nor single floats")
        if (x, y) != (1, 1):
            raise _DamagedError(f"its channel {shown(name)} leaves out pixels")
        found.append((name, _TYPES[kind]))
    if not 0 < len(found) <= _MOST_CHANNELS or len(dict(found)) != len(found):
        raise _DamagedError("its list of channels is not valid")
    return tuple(found)


def _lines(data: bytes, header: _Header) -> Bytes:
    """Return the bytes of every line, (H, line_bytes), as they were before they were packed."""
    places = _places(data, header)
    lines = np.empty((header.height, header.line_bytes), dtype=np.uint8)
    for row, count, begin, end in places:
        packed = memoryview(data)[begin:end]
        whole = count * header.line_bytes
        # What did not shrink was stored as it was.
        block = np.frombuffer(packed, np.uint8) if len(packed) == whole else _unpacked(packed, whole)
        lines[row : row + count] = block.reshape(count, -1)
    return lines


def _places(data: bytes, header: _Header) -> list[tuple[int, int, int, int]]:
    """Return first row, number of rows, begin and end of the bytes of every chunk: all there, each in bounds, no two
    in one place. Nothing is made of a size that the header claims before this is known.
    """
    count = math.ceil(header.height / header.chunk_lines)
    table_end = header.start + 8 * count
    if table_end > len(data):
        raise _DamagedError("its table of lines is cut short")
    offsets = sorted(int(offset) for offset in np.frombuffer(data, "<u8", count, header.start))
    places, last = [], table_end
    for begin in offsets:
        if begin < last or begin + 8 > len(data):
            raise _DamagedError("lines of it are not there")
        y, size = struct.unpack_from("<2i", data, begin)
        last = begin + 8 + size
        row = y - header.top
        if size < 0 or last > len(data) or not 0 <= row < header.height or row % header.chunk_lines:
            raise _DamagedError("lines of it are not there")
        rows = min(header.chunk_lines, header.height - row)
        whole = rows * header.line_bytes
        if size > whole or (header.compression == 0 and size != whole) or whole > max(size, 1) * _MOST_GROWTH:
            raise _DamagedError(f"line {y} has a size that cannot be")
        places.append((row, rows, begin + 8, last))
    if len({row for row, *_ in places}) != count:
        raise _DamagedError("lines of it are not there")
    return places


def _unpacked(packed: memoryview, whole: int) -> Bytes:
    """Return ``whole`` bytes out of ``packed``: inflated, summed up from their differences, and both halves merged."""
    inflate = zlib.decompressobj()
    try:
        # One byte more than is wanted tells that there are more, and none of the rest is made.
        raw = inflate.decompress(packed, whole + 1)
    except zlib.error:
        raise _DamagedError("lines of it are damaged") from None
    if len(raw) != whole or not inflate.eof:
        raise _DamagedError("lines of it are damaged")
    steps = np.frombuffer(raw, np.uint8) - np.uint8(_PREDICTOR)
    steps[:1] += np.uint8(_PREDICTOR)
    summed = np.cumsum(steps, dtype=np.uint8)
    merged = np.empty(whole, dtype=np.uint8)
    half = (whole + 1) // 2
    merged[0::2], merged[1::2] = summed[:half], summed[half:]
    return merged


def _word(data: bytes, at: int) -> tuple[str, int]:
    """Return the word that begins at ``at`` and ends with a zero, and where the next thing begins."""
    end = data.find(b"\0", at, at + 256)
    if end < 0:
        raise _DamagedError("its header is cut short")
    return data[at:end].decode("utf-8", "replace"), end + 1


def _number(data: bytes, at: int, form: str) -> int:
    if at + struct.calcsize(form) > len(data):
        raise _DamagedError("its header is cut short")
    return int(struct.unpack_from(form, data, at)[0])
