# SPDX-License-Identifier: GPL-3.0-or-later
"""The art file of one level: a layer's file byte for byte where that will do, else painted anew through the port."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..image.art_size import read_art
from ..shot.errors import Place
from ..shot.words import shown
from .art_layers import ArtGroup, ArtLayer, LayeredArt, Part, check_size
from .pixel_port import Pixels, Singles, fade, paint_over, premultiplied, straight

_INCOMING = ".incoming"
PNG = ".png"
_PNG_DEPTH_AT = 24


@dataclass(frozen=True)
class _Sheet:
    """Painted pixels (H, W, 4), colours multiplied by alpha, and where their upper left lies on the canvas."""

    pixels: Singles
    left: int
    top: int
    deep: bool


def bounds_of(part: Part) -> tuple[int, int, int, int]:
    """Return left, top, right and bottom of a layer, or of all in a group, in pixels of the canvas."""
    if isinstance(part, ArtLayer):
        return part.left, part.top, part.left + part.size_px[0], part.top + part.size_px[1]
    corners = [bounds_of(layer) for layer in part.layers]
    lefts, tops, rights, bottoms = zip(*corners, strict=True)
    return min(lefts), min(tops), max(rights), max(bottoms)


def place_art(
    part: Part, *, art: LayeredArt, stem: Path, rearmost: bool, pixels: Pixels
) -> tuple[Path, tuple[str, ...]]:
    """Write the art of ``part`` beside ``stem``, which has no suffix yet; return its file, and remarks on the way.

    A level that is not the rearmost must have alpha. Raises ShotError for an image that cannot be shot.
    """
    if isinstance(part, ArtGroup):
        left, top, right, bottom = bounds_of(part)
        check_size((right - left, bottom - top), said=Place(art.place, 0, part.name))
        sheet = _painted(part, art=art, stem=stem, pixels=pixels)
        file = _named(stem, PNG)
        pixels.write(file, fade(straight(sheet.pixels, as_bytes=not sheet.deep), opacity=part.opacity))
        return file, ()
    return _place_layer(part, art, stem, rearmost, pixels)


def _place_layer(
    layer: ArtLayer, art: LayeredArt, stem: Path, rearmost: bool, pixels: Pixels
) -> tuple[Path, tuple[str, ...]]:
    incoming = _unpack(layer, art, stem)
    has_alpha = read_art(incoming, said=Place(art.place, 0, layer.name)).has_alpha
    if layer.opacity == 1 and (has_alpha or rearmost):
        return incoming.replace(_named(stem, layer.suffix)), ()
    if not has_alpha and layer.suffix == ".exr":
        problem = "has no alpha channel, and would hide every level below it"
        raise art.wrong(layer.name, problem, "save it with transparency (RGBA)")
    remarks = []
    array = layer.painted() if layer.painted else pixels.read(incoming)
    if not has_alpha and not rearmost:
        remarks.append(f"{shown(layer.name)} has no alpha channel: it hides what lies below it")
    if array.dtype == np.uint8 and _is_deep(incoming):
        remarks.append(f"{shown(layer.name)} had 16 bits a channel, and has 8 since it was painted again")
    incoming.unlink()
    file = _named(stem, PNG)
    pixels.write(file, fade(array, opacity=layer.opacity))
    return file, tuple(remarks)


def _named(stem: Path, suffix: str) -> Path:
    # Not with_suffix, which would take a dot in the name for one.
    return stem.with_name(stem.name + suffix)


def _unpack(layer: ArtLayer, art: LayeredArt, stem: Path) -> Path:
    """Put a layer's image file as it is beside ``stem``, under a passing name."""
    incoming = stem.with_name(_INCOMING + layer.suffix)
    incoming.write_bytes(layer.source())
    found = read_art(incoming, said=Place(art.place, 0, layer.name))
    if (found.width, found.height) != layer.size_px:
        raise art.wrong(layer.name, "has changed on disk while it was read", "try again")
    return incoming


def _is_deep(file: Path) -> bool:
    with file.open("rb") as opened:
        head = opened.read(_PNG_DEPTH_AT + 1)
    return file.suffix == PNG and len(head) > _PNG_DEPTH_AT and head[_PNG_DEPTH_AT] == 16


def _painted(group: ArtGroup, *, art: LayeredArt, stem: Path, pixels: Pixels) -> _Sheet:
    """Return the layers of a group painted over each other, the rearmost first, as an isolated group."""
    left, top, right, bottom = bounds_of(group)
    sheet = np.zeros((bottom - top, right - left, 4), dtype=np.float32)
    deep = False
    for part in reversed(group.layers):
        above = (
            _painted(part, art=art, stem=stem, pixels=pixels)
            if isinstance(part, ArtGroup)
            else _decoded(part, art, stem, pixels)
        )
        paint_over(sheet, above.pixels, left=above.left - left, top=above.top - top, opacity=part.opacity)
        deep = deep or above.deep
    return _Sheet(sheet, left, top, deep)


def _decoded(layer: ArtLayer, art: LayeredArt, stem: Path, pixels: Pixels) -> _Sheet:
    if layer.painted:
        array = layer.painted()
    else:
        incoming = _unpack(layer, art, stem)
        array = pixels.read(incoming)
        incoming.unlink()
    return _Sheet(premultiplied(array), layer.left, layer.top, deep=array.dtype != np.uint8)
