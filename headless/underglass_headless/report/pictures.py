"""Pictures of a proof: rendered frames, from the renderer's light to PNG files that any viewer shows right.

Scene-linear and premultiplied in; 8-bit sRGB over black out.
"""

from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..results import write_bytes

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Pixels = Singles | Floats | NDArray[np.float16]

# IEC 61966-2-1, the transfer function of sRGB: a straight toe up to here, a power above.
_TOE_END = 0.0031308
_TOE_SLOPE = 12.92
# White beyond any light of a picture, and still a number that can be averaged.
_ENDLESS = 1e6


def write_picture(rgba: Pixels, path: Path, *, max_width: int | None = None) -> None:
    """Write scene-linear, premultiplied ``rgba`` (H, W, 4), top row first, over black, as PNG; raises ResultError.

    A picture wider than ``max_width`` px is made smaller, in linear light, so that fine bright detail keeps its light.
    """
    light = _over_black(rgba)
    if max_width is not None and light.shape[1] > max_width:
        light = _smaller(light, width=max_width)
    write_bytes(path, png_from_light(light))


def png_from_light(light: Pixels) -> bytes:
    """Return ``light`` (H, W, 3), scene-linear, as an 8-bit sRGB PNG."""
    from PIL import Image, PngImagePlugin

    codes = np.rint(srgb_from_light(light) * 255.0).astype(np.uint8)
    info = PngImagePlugin.PngInfo()
    info.add(b"sRGB", b"\x00")
    buffer = BytesIO()
    Image.fromarray(codes).save(buffer, format="PNG", pnginfo=info)
    return buffer.getvalue()


def srgb_from_light(light: Pixels) -> Floats:
    """Return the sRGB value, 0 to 1, of linear light; what is darker than black or brighter than white is clipped."""
    linear = np.clip(np.asarray(light, dtype=np.float64), 0.0, 1.0)
    power = 1.055 * np.maximum(linear, _TOE_END) ** (1.0 / 2.4) - 0.055
    return np.where(linear <= _TOE_END, linear * _TOE_SLOPE, power)


def _over_black(rgba: Pixels) -> Singles:
    """Return the light of premultiplied ``rgba`` over black, (H, W, 3): black adds nothing, alpha has done its work.

    A pixel that is no number becomes black, as viewers have it; an endless one becomes white.
    """
    light: Singles = np.nan_to_num(rgba[..., :3].astype(np.float32), nan=0.0, posinf=_ENDLESS, neginf=0.0)
    return light


def _smaller(light: Singles, *, width: int) -> Singles:
    """Return ``light`` resized to ``width`` px with a filter that neither rings nor skips pixels."""
    from PIL import Image

    height = max(1, round(light.shape[0] * width / light.shape[1]))
    channels = (Image.fromarray(np.ascontiguousarray(light[..., channel])) for channel in range(3))
    sized = [np.asarray(channel.resize((width, height), Image.Resampling.BILINEAR)) for channel in channels]
    return np.stack(sized, axis=-1)
