# SPDX-License-Identifier: GPL-3.0-or-later
"""The pixels of a layer in a PSD file, as psd-tools decodes them: masks in the alpha, clipped layers painted in.

Arrays are straight RGBA, (H, W, 4), over the bounds of the layer. What layers there are is `psd_layers`.
"""

import io
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from PIL import ImageCms
from psd_tools import compression
from psd_tools.constants import ColorMode, Resource, Tag

from underglass.layered.pixel_port import Bytes, Painted, Singles, premultiplied
from underglass.shot import Place, ShotError

_FULL = 255
_DEEP_MODES = {ColorMode.RGB, ColorMode.GRAYSCALE}


def is_deep(document: Any) -> bool:
    """Return whether the layers keep 16 bits a channel: in colours that Pillow need not convert."""
    return document.depth == 16 and document.color_mode in _DEEP_MODES and is_srgb(document)


def is_srgb(document: Any) -> bool:
    """Return whether the colours can stay as they are: there is no profile, or it is sRGB; grey is left alone."""
    profile = document.image_resources.get_data(Resource.ICC_PROFILE)
    if not profile or document.color_mode is not ColorMode.RGB:
        return True
    try:
        return "srgb" in ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(io.BytesIO(profile))).lower()
    except (ImageCms.PyCMSError, OSError):
        return False


def opacity_of(layer: Any) -> float:
    """Return the opacity of a layer and its fill together, 0 to 1."""
    fill = layer.tagged_blocks.get_data(Tag.BLEND_FILL_OPACITY, _FULL)
    return float(layer.opacity) / _FULL * float(getattr(fill, "value", fill)) / _FULL


def flat_pixels(document: Any, *, said: Place) -> Painted:
    """Return the picture of a file without layers; raises ShotError where it cannot be decoded."""
    with _decoding(said):
        rgba: Bytes = np.asarray(document.topil().convert("RGBA"))
    return rgba


def layer_pixels(layer: Any, *, clipped: Sequence[Any], document: Any, path: Path) -> Painted:
    """Return the pixels of a layer, and of the layers clipped to it over its colours; raises ShotError."""
    with _decoding(Place(path, 0, layer.name)):
        singles = _singles(layer, document)
        for one in clipped:
            _paint_clipped(singles, _singles(one, document), base=layer, clipped=one)
    return singles if is_deep(document) else np.rint(singles * _FULL).astype(np.uint8)


@contextmanager
def _decoding(said: Place) -> Iterator[None]:
    """Turn what a decoder stumbles over into one line at ``said``: whatever it is, the file is wrong."""
    try:
        with warnings.catch_warnings():
            # psd-tools warns of a channel that it cannot unpack, and makes it black.
            category = getattr(compression, "PSDDecompressionWarning", None)
            if category is not None:
                warnings.simplefilter("error", category)
            yield
    except Exception as error:
        reason = (str(error) or type(error).__name__)[:200]
        raise ShotError(said, f"cannot be decoded ({reason})", "save it again") from error


def _singles(layer: Any, document: Any) -> Singles:
    """Return a layer's pixels as float32 with its mask in its alpha."""
    rgba = np.ones((layer.height, layer.width, 4), dtype=np.float32)
    if is_deep(document):
        rgba[..., :3] = layer.numpy("color")
    else:
        rgba[..., :3] = np.asarray(layer.topil().convert("RGB"), dtype=np.float32) / _FULL
    alpha = layer.numpy("shape")
    if alpha is not None:
        rgba[..., 3] = alpha[..., 0]
    rgba[..., 3] *= _mask(layer)
    return rgba


def _mask(layer: Any) -> Singles:
    """Return a layer's mask over the layer, (H, W), 1 where it shows; outside its own bounds a mask is one tone."""
    sheet = np.ones((layer.height, layer.width), dtype=np.float32)
    mask = layer.mask
    if mask is None or mask.disabled:
        return sheet
    sheet[:] = mask.background_color / _FULL
    pixels = layer.numpy("mask")
    if pixels is not None and mask.width > 0 < mask.height:
        _lay_in(sheet, pixels[..., 0], left=mask.left - layer.left, top=mask.top - layer.top)
    return sheet


def _lay_in(sheet: Singles, pixels: Singles, *, left: int, top: int) -> None:
    """Put ``pixels`` into ``sheet`` at ``left`` and ``top``, as far as they lie on it."""
    pixels = pixels[max(-top, 0) :, max(-left, 0) :]
    place = sheet[max(top, 0) :, max(left, 0) :][: pixels.shape[0], : pixels.shape[1]]
    place[:] = pixels[: place.shape[0], : place.shape[1]]


def _paint_clipped(sheet: Singles, above: Singles, *, base: Any, clipped: Any) -> None:
    """Paint ``above`` over the colours of ``sheet``, whose alpha stays: what is clipped shows where its base does.

    Source: W3C Compositing and Blending Level 1, section 9.1.9: source atop.
    """
    over = np.zeros_like(sheet)
    light = premultiplied(above) * np.float32(opacity_of(clipped))
    _lay_in(over, light, left=clipped.left - base.left, top=clipped.top - base.top)
    sheet[..., :3] = sheet[..., :3] * (1 - over[..., 3:]) + over[..., :3]
