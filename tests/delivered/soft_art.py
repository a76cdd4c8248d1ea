# SPDX-License-Identifier: GPL-3.0-or-later
"""A shot of painted art with soft edges: thin stalks, blots that fade, and levels that the frame cuts off."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

import small_shots
from small_shots import Glass

FRAMES = (1, 12)
GLASSES = [
    Glass("reeds", 1000.0, width=126.0, east=-4.3, north=-10.0, art="art/reeds.png"),
    Glass("blot", 850.0, width=60.0, east=-60.0, north=14.0, turn=8.0, art="art/blot.png"),
    Glass("ridge", 600.0, width=300.0, east=11.0, north=-30.0, art="art/ridge.png"),
    Glass("sky", 100.0, width=560.0, art="art/sky.png"),
]
SCHEDULE = """\
part,axis,first,last,from,to,law,slow_out,slow_in
camera,height,1,12,1300,1262,steady,2,2
reeds,east,1,12,-4.3,5.1,steady,2,2
blot,turn,1,12,8,17,steady,,
ridge,east,1,12,11,-13,steady,,
"""
SIZE = (480, 240)


def lay_out(folder: Path, *, frame_px: tuple[int, int]) -> Path:
    """Lay out the shot in ``folder``; return its shot.toml."""
    (folder / "art").mkdir(parents=True)
    for name, alpha in _alphas(np.random.default_rng(11)).items():
        shade = np.broadcast_to(np.array([90.0, 140.0, 70.0]), (*alpha.shape, 3))
        pixels = np.dstack([shade, 255 * np.clip(alpha, 0, 1)]).round().astype(np.uint8)
        Image.fromarray(pixels).save(folder / f"art/{name}.png")
    return small_shots.stack(folder, GLASSES, frame_px=frame_px, frames=FRAMES, schedule=SCHEDULE)


def _alphas(rng: np.random.Generator) -> dict[str, NDArray[np.float64]]:
    """Return how opaque the art of each level is, (H, W) from the top row down."""
    x, y = np.meshgrid((np.arange(SIZE[0]) + 0.5) / SIZE[1], 1 - (np.arange(SIZE[1]) + 0.5) / SIZE[1])
    wide = SIZE[0] / SIZE[1]
    # A thick bed that runs off the bottom of the frame, with stalks out of it that lean and thin out upwards.
    reeds = _soft(0.22 + 0.03 * np.sin(9 * x) - y, 0.02)
    for _ in range(60):
        foot, lean, tall, thick = rng.uniform((0, -0.3, 0.4, 0.002), (wide, 0.3, 1.0, 0.012))
        off = np.abs(x - foot - lean * y**2)
        reeds = np.maximum(reeds, _soft(thick * (1 - y / tall) - off, 0.006) * (y < tall))
    away = np.hypot((x - wide / 2) * 0.6, y - 0.5)
    return {
        "reeds": reeds,
        "blot": _soft(0.3 - away, 0.15) * (0.9 + 0.1 * np.sin(40 * x)) + _soft(0.22 - away, 0.05),
        "ridge": _soft(0.5 + 0.2 * np.sin(5 * x) + 0.05 * np.sin(31 * x) - y, 0.06),
        "sky": np.ones_like(x),
    }


def _soft(inside: NDArray[np.float64], width: float) -> NDArray[np.float64]:
    """Return 1 where ``inside`` is well above 0, 0 well below, and a slope so wide between."""
    return np.asarray(np.clip(0.5 + inside / width, 0.0, 1.0))
