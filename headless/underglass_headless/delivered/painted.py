"""The art of a shot as something to look into at places of its own, light and alpha, for registering frames."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from underglass.plan import Plan
from underglass.shot import UnderglassError

from ..proof.exr import read_exr
from .registering import Art

Floats = NDArray[np.float64]


@dataclass
class Painted:
    """Art by file and by how many times it was made smaller; read when it is first asked for."""

    plan: Plan
    images: dict[tuple[Path, int], NDArray[np.float32] | None] = field(default_factory=dict)

    def arts(self, frame: int, *, mattes: bool) -> Sequence[Art | None]:
        """Return what each level shows on ``frame``: its light, or with ``mattes`` its alpha in a channel of its own.

        Raises UnderglassError for art that cannot be read.
        """
        return [self._art(frame, number, mattes) for number in range(len(self.plan.names))]

    def _art(self, frame: int, number: int, mattes: bool) -> Art | None:
        plan, row = self.plan, frame - int(self.plan.frames[0])
        level = plan.shot.levels[number]
        if level.has_drawings and plan.drawing[row, number] < 0:
            return None
        drawing = plan.drawings[number][int(plan.drawing[row, number])] if level.has_drawings else ""
        smaller = max(1, int(level.art_px[0] / float(plan.size_px[row, number])))
        image = self._image(plan.shot.art_path(level, drawing), smaller)
        count = len(plan.names)

        def look(u: Floats, v: Floats) -> tuple[Floats, Floats]:
            rgba = _between(image, u, v)
            if not mattes:
                return rgba[:, :3], rgba[:, 3]
            matte = np.zeros((len(u), count))
            matte[:, number] = rgba[:, 3]
            return matte, rgba[:, 3]

        return look

    def _image(self, path: Path, smaller: int) -> NDArray[np.float32]:
        key = path, smaller
        if key not in self.images:
            try:
                self.images[key] = _read(path, smaller)
            except (OSError, ValueError, Image.DecompressionBombError) as error:
                raise UnderglassError(f"{path}: cannot be read ({error}); save the art again") from None
        image = self.images[key]
        assert image is not None
        return image


def _read(path: Path, smaller: int) -> NDArray[np.float32]:
    """Return an image as (H, W, 4) light with alpha multiplied in, rows from the top."""
    rgba: NDArray[np.float32]
    if path.suffix.lower() == ".exr":
        channels = {name.rpartition(".")[2]: c.pixels for name, c in read_exr(path).channels.items()}
        some = next(iter(channels.values()))
        parts = [
            channels.get(letter, np.ones_like(some) if letter == "A" else np.zeros_like(some)) for letter in "RGBA"
        ]
        rgba = np.stack(parts, axis=-1).astype(np.float32)
    else:
        with Image.open(path) as image:
            codes = np.asarray(image.convert("RGBA"))
        alpha = codes[..., 3:].astype(np.float32) / 255
        rgba = np.concatenate([_light(codes[..., :3]) * alpha, alpha], axis=-1).astype(np.float32)
    height, width = rgba.shape[0] // smaller * smaller, rgba.shape[1] // smaller * smaller
    if smaller == 1 or not height or not width:
        return rgba
    blocks = rgba[:height, :width].reshape(height // smaller, smaller, width // smaller, smaller, 4)
    smaller_one: NDArray[np.float32] = blocks.mean(axis=(1, 3), dtype=np.float32)
    return smaller_one


def _light(codes: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return the linear light of 8-bit sRGB (IEC 61966-2-1)."""
    value = np.arange(256) / 255
    table = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    light: NDArray[np.float32] = table.astype(np.float32)[codes]
    return light


def _between(image: NDArray[np.float32], u: Floats, v: Floats) -> Floats:
    """Return the image at places u, v between its pixels, (N, 4); clear beyond its edges."""
    height, width = image.shape[:2]
    x = np.clip(u * width - 0.5, 0, width - 1)
    y = np.clip((1 - v) * height - 0.5, 0, height - 1)
    left, top = x.astype(int), y.astype(int)
    right, bottom = np.minimum(left + 1, width - 1), np.minimum(top + 1, height - 1)
    across, down = (x - left)[:, None], (y - top)[:, None]
    upper = image[top, left] * (1 - across) + image[top, right] * across
    lower = image[bottom, left] * (1 - across) + image[bottom, right] * across
    inside = (u >= 0) & (u <= 1) & (v >= 0) & (v <= 1)
    return np.asarray((upper * (1 - down) + lower * down) * inside[:, None], dtype=np.float64)
