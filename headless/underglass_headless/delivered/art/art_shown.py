# SPDX-License-Identifier: GPL-3.0-or-later
"""The art of a shot as the camera sees it: which file a level shows, and its light with alpha multiplied in."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from underglass.image.picture_png import light_from_srgb
from underglass.plan import Plan
from underglass.shot import UnderglassError

from ...exr.read_exr import FrameFileError, read_exr
from ..files.channel_names import spelling_of

Singles = NDArray[np.float32]


def art_shown(plan: Plan, row: int, number: int) -> Path | None:
    """Return the file that a level shows on frame ``row`` of the plan; None where it shows no drawing."""
    level, drawing = plan.shot.levels[number], int(plan.drawing[row, number])
    if not level.has_drawings:
        return plan.shot.art_path(level)
    return None if drawing < 0 else plan.shot.art_path(level, plan.drawings[number][drawing])


def read_art(path: Path) -> Singles:
    """Return an image as (H, W, 4) linear light with alpha multiplied in, rows from the top.

    Raises UnderglassError, one line, for what cannot be read.
    """
    try:
        return _from_exr(path) if path.suffix.lower() == ".exr" else _from_codes(path)
    except FrameFileError as error:
        raise UnderglassError(f"{error}; save the art again") from None
    except (OSError, ValueError, Image.DecompressionBombError) as error:
        raise UnderglassError(f"{path}: cannot be read ({error}); save the art again") from None


def _from_exr(path: Path) -> Singles:
    held = read_exr(path).channels
    channels = {name.rpartition(".")[2]: channel.pixels for name, channel in held.items()}
    # Of several layers or parts the picture counts, however its channels are spelled.
    channels |= {letter: held[name].pixels for letter, name in zip("RGBA", spelling_of(held).picture, strict=False)}
    if not channels:
        raise ValueError("it holds no channel")
    some = next(iter(channels.values()))
    otherwise = {"R": np.zeros_like(some), "G": np.zeros_like(some), "B": np.zeros_like(some), "A": np.ones_like(some)}
    parts = [channels.get(letter, none).astype(np.float32) for letter, none in otherwise.items()]
    return np.stack(parts, axis=-1)


def _from_codes(path: Path) -> Singles:
    with Image.open(path) as image:
        if image.mode in {"I", "F"}:
            raise ValueError("its numbers are neither 8 nor 16 bits")
        if image.mode.startswith("I;16"):
            # What Pillow makes of 16 bits of grey would be cut off at 255.
            codes = np.asarray(Image.fromarray((np.asarray(image) >> 8).astype(np.uint8)).convert("RGBA"))
        else:
            codes = np.asarray(image.convert("RGBA"))
    light_of = light_from_srgb(np.arange(256) / 255).astype(np.float32)
    alpha = codes[..., 3:].astype(np.float32) / 255
    rgba: Singles = np.concatenate([light_of[codes[..., :3]] * alpha, alpha], axis=-1)
    return rgba
