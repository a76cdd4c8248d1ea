# SPDX-License-Identifier: GPL-3.0-or-later
"""An OpenRaster file as layered art: a zip archive with a stack of layers told in XML, and a PNG file for each layer.

Source: OpenRaster, Layer Stack Specification and File Layout Specification (openraster.org). What is no part of its
baseline is named in a remark. The file may come from anywhere, so nothing in it is believed.
"""

import math
import zipfile
import zlib
from dataclasses import dataclass, field
from functools import partial
from io import BytesIO
from pathlib import Path, PurePosixPath, PureWindowsPath
from xml.etree import ElementTree

from ..image.image_bytes import ArtError
from ..image.png_header import read_png
from ..shot.errors import Place, ShotError
from ..shot.files_on_disk import ordinary_size
from ..shot.words import has_control_characters, shown
from .art_layers import NORMAL, ArtGroup, ArtLayer, LayeredArt, Part, check_offset, check_size
from .image_folder import MOST_LAYERS

MIMETYPE = "image/openraster"
MOST_XML_BYTES = 4 * 2**20
MOST_LAYER_BYTES = 512 * 2**20
MOST_ART_BYTES = 4 * 2**30
MOST_NESTED = 32

_PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_SOURCE_OVER = "svg:src-over"
# A program may round a full opacity up.
_OPACITY_ROUNDING = 1e-6
# What a broken or hostile archive makes Python's reader raise.
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError)
_SAVE_AGAIN = "save it again from the painting program"


@dataclass
class _Reading:
    """A file that is being read: its archive, and what was found out on the way."""

    path: Path
    archive: zipfile.ZipFile
    remarks: list[str] = field(default_factory=list)
    layers: int = 0
    bytes: int = 0

    def wrong(self, key: str, problem: str, remedy: str = _SAVE_AGAIN) -> ShotError:
        return ShotError(Place(self.path, 0, key), problem, remedy)


def read_openraster(path: Path) -> LayeredArt:
    """Return the layers and groups of an OpenRaster file; raises ShotError where it is broken or not one."""
    ordinary_size(path, said=Place(path))
    try:
        with zipfile.ZipFile(path) as archive:
            return _art(_Reading(path, archive))
    except _BROKEN as error:
        raise ShotError(Place(path), f"is no whole OpenRaster file ({_reason(error)})", _SAVE_AGAIN) from error


def _reason(error: Exception) -> str:
    return str(getattr(error, "strerror", None) or error) or type(error).__name__


def _art(reading: _Reading) -> LayeredArt:
    mimetype = _member(reading, "mimetype", most=100)
    if mimetype.strip() != MIMETYPE.encode():
        raise reading.wrong("mimetype", f"is {shown(mimetype.decode(errors='replace'))}", f"it has to be {MIMETYPE}")
    image = _xml(reading)
    canvas = _count(reading, image, "w"), _count(reading, image, "h")
    check_size(canvas, said=Place(reading.path, 0, "canvas"))
    stacks = image.findall("stack")
    if image.tag != "image" or len(stacks) != 1:
        raise reading.wrong(
            "stack.xml", "has no stack of layers in an image", "it has to hold one image with one stack"
        )
    parts = _parts(reading, stacks[0], at=(0, 0), depth=0)
    return LayeredArt(canvas, parts, reading.path, tuple(reading.remarks))


def _xml(reading: _Reading) -> ElementTree.Element:
    """Return the root of stack.xml, which may declare no entities: a few lines of them can fill all memory."""
    data = _member(reading, "stack.xml", most=MOST_XML_BYTES)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise reading.wrong("stack.xml", "is not UTF-8 text") from error
    if "<!doctype" in text.lower():
        raise reading.wrong("stack.xml", "has a DOCTYPE", "no layer stack needs one; take it out")
    try:
        return ElementTree.fromstring(text)
    except ElementTree.ParseError as error:
        raise reading.wrong("stack.xml", f"is broken XML ({error})") from error


def _member(reading: _Reading, name: str, *, most: int) -> bytes:
    """Return the bytes of a file in the archive; neither what it is said to hold nor what it holds may exceed most."""
    return member_bytes(reading.path, name, most=most, archive=reading.archive)


def member_bytes(path: Path, name: str, *, most: int, archive: zipfile.ZipFile | None = None) -> bytes:
    """Return the file ``name`` of the archive at ``path``, of at most ``most`` bytes; raises ShotError."""
    if archive is None:
        try:
            with zipfile.ZipFile(path) as opened:
                return member_bytes(path, name, most=most, archive=opened)
        except _BROKEN as error:
            raise ShotError(Place(path), f"cannot be read ({_reason(error)})", _SAVE_AGAIN) from error
    place = Place(path, 0, name)
    try:
        info = archive.getinfo(name)
        with archive.open(info) as file:
            data = b"" if info.file_size > most else file.read(most + 1)
    except KeyError as error:
        raise ShotError(place, "is not in the file", _SAVE_AGAIN) from error
    except _BROKEN as error:
        raise ShotError(place, f"cannot be unpacked ({_reason(error)})", _SAVE_AGAIN) from error
    if max(info.file_size, len(data)) > most:
        raise ShotError(place, f"unpacks to more than {most:,} bytes", "make the layers smaller")
    return data


def _parts(reading: _Reading, stack: ElementTree.Element, *, at: tuple[int, int], depth: int) -> tuple[Part, ...]:
    """Return what a stack holds, topmost first; ``at`` is where it lies, which drafts before 0.0.6 let it say."""
    if depth > MOST_NESTED:
        raise reading.wrong("stack.xml", f"nests groups more than {MOST_NESTED} deep", "put fewer into each other")
    parts: list[Part] = []
    for element in stack:
        if element.tag == "layer":
            parts.append(_layer(reading, element, at))
        elif element.tag == "stack":
            parts.append(_group(reading, element, at, depth))
        else:
            reading.remarks.append(f"a {shown(element.tag)} element is left out: it is no layer of pixels")
    return tuple(parts)


def _group(reading: _Reading, element: ElementTree.Element, at: tuple[int, int], depth: int) -> ArtGroup:
    name = element.get("name", "") or "group"
    left, top = _offset(reading, element, name, at)
    if (left, top) != at:
        # The drafts let a group lie somewhere, and 0.0.6 does not; some programs took its layers' places as they were.
        reading.remarks.append(
            f"group {shown(name)} has a place of its own, which programs differ in: look at its layers'"
        )
    return ArtGroup(
        name=name,
        layers=_parts(reading, element, at=(left, top), depth=depth + 1),
        opacity=_opacity(reading, element, name),
        visible=_visible(reading, element, name),
        blend=_blend(element),
    )


def _layer(reading: _Reading, element: ElementTree.Element, at: tuple[int, int]) -> ArtLayer:
    reading.layers += 1
    if reading.layers > MOST_LAYERS:
        raise reading.wrong("stack.xml", f"has more than {MOST_LAYERS} layers", "merge some")
    name = element.get("name", "") or f"layer {reading.layers}"
    source = _source(reading, element, name)
    left, top = _offset(reading, element, name, at)
    return ArtLayer(
        name=name,
        left=left,
        top=top,
        size_px=_size(reading, source, name),
        opacity=_opacity(reading, element, name),
        visible=_visible(reading, element, name),
        source=partial(member_bytes, reading.path, source, most=MOST_LAYER_BYTES),
        blend=_blend(element),
    )


def _source(reading: _Reading, element: ElementTree.Element, name: str) -> str:
    """Return the name of a layer's file within the archive."""
    source = element.get("src", "")
    if not source or has_control_characters(source):
        raise reading.wrong(name, f"has the source {shown(source)}", "it has to name a file of the archive")
    # A leading slash is the root of the archive, as some programs write it; the disk is never looked at.
    outside = PureWindowsPath(source).drive or "\\" in source or ".." in PurePosixPath(source).parts
    if outside or source not in reading.archive.NameToInfo:
        raise reading.wrong(name, f"has the source {shown(source)}", "it has to name an image within the file")
    return source


def _size(reading: _Reading, source: str, name: str) -> tuple[int, int]:
    """Return the size of a layer's image, which has to be a whole PNG file."""
    data = _member(reading, source, most=MOST_LAYER_BYTES)
    reading.bytes += len(data)
    if reading.bytes > MOST_ART_BYTES:
        raise reading.wrong(name, f"brings the art above {MOST_ART_BYTES:,} bytes", "make the layers smaller")
    if not data.startswith(_PNG_SIGNATURE):
        raise reading.wrong(name, f"has an image {shown(source)} that is no PNG", "make it a layer of pixels")
    try:
        art = read_png(BytesIO(data), size=len(data))
    except ArtError as error:
        raise reading.wrong(name, f"{shown(source)} {error.problem}") from error
    check_size((art.width, art.height), said=Place(reading.path, 0, name))
    return art.width, art.height


def _offset(reading: _Reading, element: ElementTree.Element, name: str, at: tuple[int, int]) -> tuple[int, int]:
    left, top = (_integer(reading, element.get(key, "0"), name, key) for key in ("x", "y"))
    left, top = at[0] + left, at[1] + top
    check_offset(left, top, said=Place(reading.path, 0, name))
    return left, top


def _count(reading: _Reading, image: ElementTree.Element, key: str) -> int:
    return _integer(reading, image.get(key, ""), "image", key)


def _integer(reading: _Reading, text: str, name: str, key: str) -> int:
    number = _number(text)
    if not math.isfinite(number) or number != int(number):
        raise reading.wrong(name, f"has {key}={shown(text)}", "it has to be a whole number of pixels")
    return int(number)


def _opacity(reading: _Reading, element: ElementTree.Element, name: str) -> float:
    text = element.get("opacity", "1")
    opacity = _number(text)
    if not -_OPACITY_ROUNDING <= opacity <= 1 + _OPACITY_ROUNDING:
        raise reading.wrong(name, f"has the opacity {shown(text)}", "it has to be a number from 0 to 1")
    return min(max(opacity, 0.0), 1.0)


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return math.nan


def _visible(reading: _Reading, element: ElementTree.Element, name: str) -> bool:
    text = element.get("visibility", "visible")
    if text not in ("visible", "hidden"):
        raise reading.wrong(name, f"has the visibility {shown(text)}", "it has to be visible or hidden")
    return text == "visible"


def _blend(element: ElementTree.Element) -> str:
    operation = element.get("composite-op", _SOURCE_OVER)
    return NORMAL if operation == _SOURCE_OVER else operation
