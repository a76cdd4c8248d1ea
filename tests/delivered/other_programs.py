# SPDX-License-Identifier: GPL-3.0-or-later
"""Frames as other programs write them, made of clean ones: other names, parts, forms and compressions."""

import struct
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np
import OpenEXR

# How the OpenEXR library numbers what a channel holds, and its magic number and version ("OpenEXR File Layout").
FLOAT, HALF = 2, 1
_MAGIC, _VERSION = 20000630, 2


def contents(path: Path) -> tuple[dict[str, Any], dict[str, np.ndarray]]:
    """Return header and channels of a file of one part."""
    with OpenEXR.File(str(path), separate_channels=True) as file:
        channels = {name: channel.pixels.copy() for name, channel in file.channels().items()}
        return {key: value for key, value in file.header().items() if key != "channels"}, channels


def respell(path: Path, rename: Callable[[str], str], **header: Any) -> None:
    """Write a file anew with other names of its channels, and with more in its ``header``."""
    said, channels = contents(path)
    OpenEXR.File(said | header, {rename(name): pixels for name, pixels in channels.items()}).write(str(path))


def in_parts(path: Path, named: Callable[[str], tuple[str, str]], **header: Any) -> None:
    """Write a file anew in parts: ``named`` gives of a channel the name of its part, and its own in that."""
    said, channels = contents(path)
    parts: dict[str, dict[str, np.ndarray]] = {}
    for name, pixels in channels.items():
        part, own = named(name)
        parts.setdefault(part, {})[own] = pixels
    OpenEXR.File([OpenEXR.Part(said | header, mine, part) for part, mine in parts.items()]).write(str(path))


def deepen(path: Path, kind: Any = OpenEXR.deepscanline) -> None:
    """Put a deep picture in the place of a file: so many samples of depth in each pixel."""
    depths = np.empty((4, 5), dtype=object)
    for y, x in np.ndindex(4, 5):
        depths[y, x] = np.arange(1 + x % 2, dtype=np.float32)
    header = {"compression": OpenEXR.ZIPS_COMPRESSION, "type": kind}
    if kind == OpenEXR.deeptile:
        header["tiles"] = OpenEXR.TileDescription()
    OpenEXR.File(header, {"Z": depths}).write(str(path))


def as_luminance(path: Path) -> None:
    """Put luminance at every pixel and chroma at every second one in the place of a file."""
    _, channels = contents(path)
    grey = channels["ViewLayer.Combined.G"].astype(np.float16)
    every_second = {name: OpenEXR.Channel(np.zeros_like(grey), 2, 2) for name in ("RY", "BY")}
    header = {"type": OpenEXR.scanlineimage, "compression": OpenEXR.ZIP_COMPRESSION}
    OpenEXR.File(header, {"Y": OpenEXR.Channel(grey, 1, 1), **every_second}).write(str(path))


def header_alone(
    path: Path,
    window: tuple[int, int, int, int],
    *,
    channels: Iterable[str] = "ABGR",
    display: tuple[int, int, int, int] = (0, 0, 239, 179),
    tail: bytes = bytes(4096),
) -> None:
    """Write a file whose header claims any data ``window``, and that has next to nothing behind it."""

    def attribute(name: str, kind: str, value: bytes) -> bytes:
        return name.encode() + b"\0" + kind.encode() + b"\0" + struct.pack("<i", len(value)) + value

    listed = b"".join(name.encode() + b"\0" + struct.pack("<4i", FLOAT, 0, 1, 1) for name in channels) + b"\0"
    path.write_bytes(
        struct.pack("<iI", _MAGIC, _VERSION)
        + attribute("channels", "chlist", listed)
        + attribute("compression", "compression", b"\0")
        + attribute("dataWindow", "box2i", struct.pack("<4i", *window))
        + attribute("displayWindow", "box2i", struct.pack("<4i", *display))
        + attribute("lineOrder", "lineOrder", b"\0")
        + attribute("pixelAspectRatio", "float", struct.pack("<f", 1.0))
        + attribute("screenWindowCenter", "v2f", struct.pack("<2f", 0.0, 0.0))
        + attribute("screenWindowWidth", "float", struct.pack("<f", 1.0))
        + b"\0"
        + tail
    )
