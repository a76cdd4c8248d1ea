# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of a proof: rendered frames, from the renderer's light to PNG files that any viewer shows right.

Scene-linear and premultiplied in; 8-bit sRGB over black out.
"""

from io import BytesIO
from pathlib import Path

import numpy as np

from underglass.image.picture_png import Pixels, Singles, codes_from_light, over_black

from ..results import write_bytes


def write_picture(rgba: Pixels, path: Path, *, max_width: int | None = None) -> None:
    """Write scene-linear, premultiplied ``rgba`` (H, W, 4), top row first, over black, as PNG; raises ResultError.

    A picture wider than ``max_width`` px is made smaller, in linear light, so that fine bright detail keeps its light.
    """
    light = over_black(rgba)
    if max_width is not None and light.shape[1] > max_width:
        light = _smaller(light, width=max_width)
    write_bytes(path, png_from_light(light))


def png_from_light(light: Pixels) -> bytes:
    """Return ``light`` (H, W, 3), scene-linear, as an 8-bit sRGB PNG."""
    from PIL import Image, PngImagePlugin

    info = PngImagePlugin.PngInfo()
    info.add(b"sRGB", b"\x00")
    buffer = BytesIO()
    Image.fromarray(codes_from_light(light)).save(buffer, format="PNG", pnginfo=info, compress_level=4)
    return buffer.getvalue()


def _smaller(light: Singles, *, width: int) -> Singles:
    """Return ``light`` resized to ``width`` px with a filter that neither rings nor skips pixels."""
    from PIL import Image

    height = max(1, round(light.shape[0] * width / light.shape[1]))
    channels = (Image.fromarray(np.ascontiguousarray(light[..., channel])) for channel in range(3))
    sized = [np.asarray(channel.resize((width, height), Image.Resampling.BILINEAR)) for channel in channels]
    return np.stack(sized, axis=-1)
