# SPDX-License-Identifier: GPL-3.0-or-later
"""The header of a TIFF file: the tags of its first picture, classic or BigTIFF, in either byte order.

Source: TIFF revision 6.0, sections 2 (structure), 8 (baseline tags) and 18 (alpha); BigTIFF: libtiff's description.
"""

import struct
from dataclasses import dataclass
from typing import BinaryIO

from .image_bytes import ArtError, ArtFile, cut_short, unpack

_WIDTH, _HEIGHT, _COLOURS, _SAMPLES, _EXTRA_SAMPLES = 256, 257, 262, 277, 338
_STRIPS, _TILES = (273, 279), (324, 325)
_TAGS = {_WIDTH, _HEIGHT, _COLOURS, _SAMPLES, _EXTRA_SAMPLES, *_STRIPS, *_TILES}
_BIG = 43
_MOST_VALUES = 2_000_000
# Struct letters of the types that sizes and offsets come in: BYTE, SHORT, LONG, LONG8.
_LETTERS = {1: "B", 3: "H", 4: "I", 16: "Q"}
# Kinds of alpha: multiplied into the colours already, or not.
_ASSOCIATED, _UNASSOCIATED = 1, 2
_RGB = 2

_Tags = dict[int, tuple[int, ...]]


@dataclass(frozen=True)
class _Layout:
    """How this file writes numbers: byte order, and the size of counts and offsets."""

    order: str
    entry_count: str
    word: str


def read_tiff(file: BinaryIO, *, size: int) -> ArtFile:
    """Return size and alpha, with its kind, of a TIFF file of ``size`` bytes."""
    order = "<" if file.read(2) == b"II" else ">"
    (version,) = unpack(file, f"{order}H")
    layout = _Layout(order, "Q", "Q") if version == _BIG else _Layout(order, "H", "I")
    if version == _BIG:
        unpack(file, f"{order}HH")
    (directory,) = unpack(file, f"{order}{layout.word}")
    tags = _tags(file, directory, layout, size)
    if len(tags.get(_WIDTH, ())) != 1 or len(tags.get(_HEIGHT, ())) != 1:
        raise ArtError("is not a TIFF image: it does not say its size", "save it again")
    _check_whole(tags, size)
    kind = _alpha_kind(tags)
    return ArtFile(
        tags[_WIDTH][0], tags[_HEIGHT][0], bool(kind) or _has_fourth(tags), premultiplied=kind == _ASSOCIATED
    )


def _alpha_kind(tags: _Tags) -> int:
    """Return which kind of alpha a sample is said to be, of several the first; 0 for none."""
    return next((kind for kind in tags.get(_EXTRA_SAMPLES, ()) if kind in (_ASSOCIATED, _UNASSOCIATED)), 0)


def _has_fourth(tags: _Tags) -> bool:
    """Return whether there is a fourth sample beside RGB, which Blender takes for alpha whatever it is said to be."""
    return tags.get(_COLOURS) == (_RGB,) and tags.get(_SAMPLES) == (4,)


def _tags(file: BinaryIO, directory: int, layout: _Layout, size: int) -> _Tags:
    """Return the values of the tags that matter in the directory at ``directory``."""
    _go_to(file, directory, size)
    (count,) = unpack(file, f"{layout.order}{layout.entry_count}")
    entry = struct.calcsize(f"<HH{layout.word}{layout.word}")
    start = file.tell()
    if start + count * entry + struct.calcsize(layout.word) > size:
        raise cut_short()
    tags: _Tags = {}
    for index in range(count):
        file.seek(start + index * entry)
        tag, kind, values = unpack(file, f"{layout.order}HH{layout.word}")
        if tag in _TAGS and kind in _LETTERS:
            tags[tag] = _values(file, _LETTERS[kind], values, layout, size)
    return tags


def _values(file: BinaryIO, letter: str, count: int, layout: _Layout, size: int) -> tuple[int, ...]:
    """Return the values of an entry, which lie in its last word where they fit and elsewhere where they do not."""
    if count > _MOST_VALUES:
        raise ArtError("is not a TIFF image: a tag has millions of values", "save it again")
    if count * struct.calcsize(letter) > struct.calcsize(layout.word):
        (offset,) = unpack(file, f"{layout.order}{layout.word}")
        _go_to(file, offset, size)
    return unpack(file, f"{layout.order}{count}{letter}")


def _go_to(file: BinaryIO, offset: int, size: int) -> None:
    if offset >= size:
        raise cut_short()
    file.seek(offset)


def _check_whole(tags: _Tags, size: int) -> None:
    """Raise ArtError where a strip or tile is said to lie beyond the end of the file, or there is none."""
    offsets, counts = next(((tags[o], tags[c]) for o, c in (_STRIPS, _TILES) if o in tags and c in tags), ((), ()))
    if not offsets or len(offsets) != len(counts):
        raise ArtError("has no picture in it", "save it again")
    if max(offset + count for offset, count in zip(offsets, counts, strict=True)) > size:
        raise cut_short()
