# SPDX-License-Identifier: GPL-3.0-or-later
"""The shots whose rendered frames are altered: painted art with texture and soft edges, drawings, a moving camera."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

import small_shots
from small_shots import Glass

FRAMES = (1, 10)
FRAME_PX = (240, 180)
# Nearest the lens first: these are the numbers of their passes.
REEDS, BIRD, BOAT, HILLS, SKY = range(5)
NAMES = ("reeds", "bird", "boat", "hills", "sky")
GLASSES = [
    Glass("reeds", 1000.0, width=126.0, east=-4.3, north=-14.0, art="art/reeds.png"),
    Glass("bird", 900.0, width=46.0, east=-32.0, north=30.0, art="art/bird_{drawing}.png"),
    Glass("boat", 800.0, width=84.0, east=32.0, north=-8.0, turn=3.0, art="art/boat.png"),
    Glass("hills", 500.0, width=420.0, east=11.0, north=-30.0, art="art/hills.png"),
    Glass("sky", 100.0, width=620.0, art="art/sky.png"),
]
# The camera trucks in all the time, so that no two frames are alike.
SCHEDULE = """\
part,axis,first,last,from,to,law,slow_out,slow_in
camera,height,1,10,1300,1250,steady,,
reeds,east,1,10,-4.3,5.1,steady,2,2
bird,east,1,10,-32,-8,steady,,
boat,turn,1,10,3,9,steady,,
hills,east,1,10,11,-13,steady,,
sky,north,1,10,0,12,steady,,
"""
DRAWINGS = """\
frame,bird
1,up
5,down
"""
SIZE = (320, 240)


def lay_out(folder: Path) -> Path:
    """Lay out the shot in ``folder``; return its shot.toml."""
    (folder / "art").mkdir(parents=True)
    rng = np.random.default_rng(19)
    x, y = np.meshgrid((np.arange(SIZE[0]) + 0.5) / SIZE[0], 1 - (np.arange(SIZE[1]) + 0.5) / SIZE[1])
    # Each its own colour, with patches light and dark over it.
    tints = {
        "reeds": (70, 130, 40),
        "bird_up": (230, 225, 210),
        "bird_down": (205, 215, 235),
        "boat": (190, 60, 45),
        "hills": (110, 90, 150),
        "sky": (120, 175, 235),
    }
    for name, alpha in _alphas(x, y, rng).items():
        shade = np.clip(np.array(tints[name]) * (0.55 + 0.6 * _patches(rng))[..., None], 0, 255)
        pixels = np.dstack([shade, 255 * np.clip(alpha, 0, 1)]).round().astype(np.uint8)
        Image.fromarray(pixels).save(folder / f"art/{name}.png")
    return small_shots.stack(folder, GLASSES, frame_px=FRAME_PX, frames=FRAMES, schedule=SCHEDULE, drawings=DRAWINGS)


def _patches(rng: np.random.Generator) -> NDArray[np.float64]:
    """Return (H, W) from 0 to 1: patches of about 8 pixels, the same nowhere."""
    coarse = Image.fromarray(rng.uniform(0, 255, (SIZE[1] // 8, SIZE[0] // 8)).astype(np.uint8))
    return np.asarray(coarse.resize(SIZE, Image.Resampling.BICUBIC)) / 255


def _alphas(x: NDArray[np.float64], y: NDArray[np.float64], rng: np.random.Generator) -> dict[str, NDArray[np.float64]]:
    """Return how opaque all art is, (H, W) from the top row down; ``x``, ``y`` are places on it, 0 to 1."""
    reeds = _soft(0.26 + 0.03 * np.sin(25 * x) - y, 0.02)
    for _ in range(24):
        foot, lean, tall = rng.uniform((0, -0.3, 0.4), (1, 0.3, 0.9))
        off = np.abs(x - foot - lean * y**2)
        reeds = np.maximum(reeds, _soft(0.012 * (1 - y / tall) - off, 0.006) * (y < tall))
    away = np.hypot((x - 0.5) * 1.3, y - 0.5)
    wing = 0.12 * np.cos(9 * (x - 0.5))
    return {
        "reeds": reeds,
        "bird_up": _soft(0.38 - np.hypot(x - 0.5, 1.6 * (y - 0.5 - wing)), 0.02),
        "bird_down": _soft(0.38 - np.hypot(x - 0.5, 1.6 * (y - 0.5 + wing)), 0.02),
        "boat": np.maximum(_soft(0.42 - away, 0.03) * (y < 0.55), _soft(0.04 - np.abs(x - 0.45), 0.01) * (y > 0.5)),
        "hills": _soft(0.55 + 0.12 * np.sin(9 * x) + 0.04 * np.sin(41 * x) - y, 0.03),
        "sky": np.ones_like(x),
    }


def _soft(inside: NDArray[np.float64], width: float) -> NDArray[np.float64]:
    """Return 1 where ``inside`` is well above 0, 0 well below, and a slope so wide between."""
    return np.asarray(np.clip(0.5 + inside / width, 0.0, 1.0))
