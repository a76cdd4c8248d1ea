# SPDX-License-Identifier: GPL-3.0-or-later
"""Cryptomatte: how much of each pixel each level covers, from the mattes of objects that any renderer writes.

After the Cryptomatte Specification 1.2.0 (Friedman and Jones, Psyop 2015-2018): ranked pairs of identity and coverage
in channels of a layer, identities are MurmurHash3_32 of the object's name, read as a float.
"""

import json
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

_NAME, _MANIFEST = "name", "manifest"
_PAIRS = (("r", "g"), ("b", "a"), ("red", "green"), ("blue", "alpha"))
_MOST_RANKS = 16


def object_mattes(
    pixels: Mapping[str, NDArray[Any]], *, texts: Mapping[str, str], names: Sequence[str]
) -> NDArray[np.float32] | None:
    """Return the mattes of the levels named, (H, W, L), or None where the file holds none of them.

    ``pixels`` are the channels of the file by name, ``texts`` its metadata.
    """
    for key, layer in texts.items():
        parts = key.split("/")
        if len(parts) != 3 or parts[0] != "cryptomatte" or parts[2] != _NAME or "Object" not in layer:
            continue
        ranks = _ranks(pixels, layer)
        if not ranks:
            continue
        wanted = _identities(texts.get(f"cryptomatte/{parts[1]}/{_MANIFEST}", ""), names)
        mattes = np.zeros((*ranks[0][0].shape, len(names)), dtype=np.float32)
        for identity, coverage in ranks:
            bits = np.ascontiguousarray(identity, dtype=np.float32).view(np.uint32)
            for number, value in enumerate(wanted):
                mattes[..., number] += np.where(bits == value, coverage, 0.0)
        if mattes.any():
            return mattes
    return None


def identity_of(name: str) -> int:
    """Return the identity of an object: MurmurHash3_32 of its name, kept off what is no ordinary float."""
    value = murmur3_32(name.encode("utf-8"))
    if (value >> 23) & 255 in (0, 255):
        value ^= 1 << 23
    return value


def murmur3_32(data: bytes, *, seed: int = 0) -> int:
    """Return MurmurHash3_x86_32 (Appleby, public domain) of some bytes."""
    value, whole = seed, len(data) // 4 * 4
    for at in range(0, whole, 4):
        value ^= _mixed(int.from_bytes(data[at : at + 4], "little"))
        value = (_turned(value, 13) * 5 + 0xE6546B64) & 0xFFFFFFFF
    value ^= _mixed(int.from_bytes(data[whole:], "little")) ^ len(data)
    for shift, factor in ((16, 0x85EBCA6B), (13, 0xC2B2AE35)):
        value = ((value ^ value >> shift) * factor) & 0xFFFFFFFF
    return value ^ value >> 16


def _mixed(block: int) -> int:
    return (_turned(block * 0xCC9E2D51 & 0xFFFFFFFF, 15) * 0x1B873593) & 0xFFFFFFFF


def _turned(value: int, by: int) -> int:
    return (value << by | value >> 32 - by) & 0xFFFFFFFF


def _identities(manifest: str, names: Sequence[str]) -> list[int]:
    """Return the identity of each name: as the manifest has it, or else by its hash."""
    try:
        said = json.loads(manifest)
    except ValueError:
        said = {}
    found = []
    for name in names:
        try:
            found.append(int(said[name], 16))
        except (KeyError, TypeError, ValueError):
            found.append(identity_of(name))
    return found


def _ranks(pixels: Mapping[str, NDArray[Any]], layer: str) -> list[tuple[NDArray[Any], NDArray[Any]]]:
    """Return identity and coverage of each rank; letters may be small or large, or whole words."""
    by_lower = {name.lower(): values for name, values in pixels.items()}
    found = []
    for rank in range(_MOST_RANKS):
        for pair in _PAIRS:
            names = [f"{layer}{rank:02d}.{letter}".lower() for letter in pair]
            if all(name in by_lower for name in names):
                found.append((by_lower[names[0]], by_lower[names[1]]))
    return found
