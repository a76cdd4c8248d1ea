# SPDX-License-Identifier: GPL-3.0-or-later
"""A layered PSD or PSB file as layered art, through psd-tools: its layers, its groups, and what of it is lost.

What has no pixels of its own, such as an adjustment layer, cannot lie on a glass; a remark names it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from psd_tools import PSDImage
from psd_tools.constants import BlendMode, ColorMode

from underglass.layered import ArtGroup, ArtLayer, LayeredArt
from underglass.layered.art_layers import NORMAL, Part, check_offset, check_size
from underglass.layered.openraster import MOST_NESTED
from underglass.shot import Place, ShotError
from underglass.shot.words import listed, shown

from .pillow_pixels import png_of
from .psd_pixels import flat_pixels, is_deep, is_srgb, layer_pixels, opacity_of

_MODES = {ColorMode.RGB, ColorMode.GRAYSCALE, ColorMode.CMYK, ColorMode.INDEXED, ColorMode.BITMAP}
_PLAIN = {BlendMode.NORMAL, BlendMode.PASS_THROUGH}
# Kinds of layers whose pixels the file keeps; the others change or fill what is below them.
_PAINTED = {"pixel", "type", "shape", "smartobject"}
_MERGE = "merge it in the painting program to keep what it does"


@dataclass(frozen=True)
class _Reading:
    """A file that is being read. What is found to be lost is put into ``remarks``."""

    path: Path
    document: Any
    remarks: list[str]
    depth: int = 0

    def place(self, layer: Any) -> Place:
        return Place(self.path, 0, layer.name)


def read_psd(path: Path) -> LayeredArt:
    """Return the layers and groups of a PSD or PSB file, nearest the lens first; raises ShotError.

    A layer's mask is painted into its alpha, and layers clipped to it are painted into it. RGB and grey of 16 bits keep
    them where the colours need no conversion to sRGB; the rest has 8.
    """
    document = _opened(path)
    if document.color_mode not in _MODES:
        problem = f"has {document.color_mode.name.lower()} colours"
        raise ShotError(Place(path), problem, "convert it to RGB in the painting program")
    check_size(document.size, said=Place(path, 0, "canvas"))
    reading = _Reading(path, document, list(_remarks_on_colours(document)))
    parts: tuple[Part, ...]
    if len(document):
        parts = tuple(_parts(list(document), reading))
    else:
        reading.remarks.append("the file has no layers: the whole picture is one level")
        painted = partial(flat_pixels, document, said=Place(path))
        parts = (ArtLayer("picture", 0, 0, document.size, source=lambda: png_of(painted()), painted=painted),)
    return LayeredArt(document.size, parts, path, tuple(reading.remarks))


def _opened(path: Path) -> Any:
    try:
        return PSDImage.open(path)
    except FileNotFoundError as error:
        raise ShotError(Place(path), "is not there", "name a layered PSD") from error
    except Exception as error:
        # Whatever a broken file makes the parser stumble over, it is the file that is wrong.
        reason = (str(getattr(error, "strerror", None) or error) or type(error).__name__)[:200]
        raise ShotError(Place(path), f"is no whole PSD file ({reason})", "save it again") from error


def _remarks_on_colours(document: Any) -> Iterator[str]:
    if document.color_mode is ColorMode.CMYK:
        yield "the colours were converted from CMYK to RGB: compare them with the painting"
    elif not is_srgb(document):
        yield "the colours were converted from the file's profile to sRGB"
    if document.depth > 8 and not is_deep(document):
        yield f"the layers had {document.depth} bits a channel, and have 8 now"


def _parts(layers: Sequence[Any], reading: _Reading) -> Iterator[Part]:
    """Yield layers and groups, topmost first; psd-tools lists them from the bottom."""
    if reading.depth > MOST_NESTED:
        raise ShotError(Place(reading.path), f"nests groups more than {MOST_NESTED} deep", "put fewer into each other")
    # What is clipped follows its base, from the bottom up.
    runs: list[list[Any]] = []
    for layer in layers:
        if layer.clipping and runs:
            runs[-1].append(layer)
        else:
            runs.append([layer])
    for base, *clipped in reversed(runs):
        # What is hidden will be left out with all that hangs on it, so that nothing else needs to be said of it.
        heard = reading if base.visible else replace(reading, remarks=[])
        heard.remarks.extend(_losses(base))
        part = _group(base, clipped, heard) if base.is_group() else _layer(base, clipped, heard)
        if part is not None:
            yield part


def _group(group: Any, clipped: list[Any], reading: _Reading) -> ArtGroup:
    if clipped:
        names = listed(layer.name for layer in clipped)
        reading.remarks.append(f"clipped to the group {shown(group.name)} and left out: {names}; {_MERGE}")
    parts = tuple(_parts(list(group), replace(reading, depth=reading.depth + 1)))
    return ArtGroup(group.name, parts, opacity_of(group), group.visible, _blend(group))


def _layer(layer: Any, clipped: list[Any], reading: _Reading) -> ArtLayer | None:
    if not _has_pixels(layer):
        reading.remarks.append(f"{shown(layer.name)} {_without(layer)}")
        return None
    check_size(layer.size, said=reading.place(layer))
    check_offset(layer.left, layer.top, said=reading.place(layer))
    painted = partial(
        layer_pixels,
        layer,
        clipped=tuple(_that_show(clipped, layer, reading)),
        document=reading.document,
        path=reading.path,
    )
    return ArtLayer(
        name=layer.name,
        left=layer.left,
        top=layer.top,
        size_px=layer.size,
        opacity=opacity_of(layer),
        visible=layer.visible,
        source=lambda: png_of(painted()),
        blend=_blend(layer),
        painted=painted,
    )


def _that_show(clipped: list[Any], base: Any, reading: _Reading) -> Iterator[Any]:
    """Yield the layers clipped to ``base`` that can be painted into it."""
    for layer in clipped:
        name = f"{shown(layer.name)}, clipped to {shown(base.name)},"
        if not layer.visible:
            reading.remarks.append(f"{name} is hidden and was left out")
        elif layer.is_group() or not _has_pixels(layer):
            reading.remarks.append(f"{name} {_without(layer)}")
        else:
            check_size(layer.size, said=reading.place(layer))
            how = "" if layer.blend_mode in _PLAIN else f", plainly and not by {_blend(layer)}"
            reading.remarks.extend((f"{name} was painted into it{how}", *_losses(layer)))
            yield layer


def _has_pixels(layer: Any) -> bool:
    return layer.kind in _PAINTED and layer.has_pixels() and layer.width > 0 < layer.height


def _without(layer: Any) -> str:
    if layer.kind == "pixel":
        return "is empty and was left out"
    return f"has no pixels (its kind is {layer.kind}) and was left out; {_MERGE}"


def _losses(layer: Any) -> Iterator[str]:
    """Yield what of a layer no stand can show."""
    if layer.has_effects():
        yield f"the effects of {shown(layer.name)} were left out; merge them in the painting program to keep them"
    if layer.has_vector_mask():
        yield f"the vector mask of {shown(layer.name)} was left out; make it a mask of pixels to keep it"
    if layer.is_group() and layer.has_mask():
        yield f"the mask of the group {shown(layer.name)} was left out; apply it in the painting program to keep it"


def _blend(layer: Any) -> str:
    return NORMAL if layer.blend_mode in _PLAIN else layer.blend_mode.name.lower().replace("_", " ")
