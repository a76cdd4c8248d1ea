# SPDX-License-Identifier: GPL-3.0-or-later
"""A small shot for hand edits: three levels, one that moves, one that turns, and rear art with a clear window in it."""

from pathlib import Path

import numpy as np
from PIL import Image

FRAME_PX = (96, 72)
FRAMES = (1, 8)

SHOT = """\
format = 1
title = "Edited"
units = "mm"
fps = 24
frames = [1, 8]
schedule = "schedule.csv"

[camera]
projection = "perspective"
gate_mm = [20.0, 15.0]
frame_px = [96, 72]
focal_mm = 50
f_stop = 16
focus = 600.0
height = 1300.0

[[level]]
name = "fern"
art = "art/fern.png"
art_width = 60.0
height = 900.0
east = -25.0
north = 5.0

[[level]]
name = "hill"
art = "art/hill.png"
art_width = 160.0
height = 700.0
north = -30.0

[[level]]
name = "sky"
art = "art/sky.png"
art_width = 560.0
height = 200.0
"""
SCHEDULE = """\
part,axis,first,last,from,to,law,slow_out,slow_in
fern,east,1,8,-25,25,steady,2,2
hill,turn,2,7,0,10,steady,,
"""


def painted(path: Path, *, clear: str, warm: float) -> None:
    """Paint art of 64 × 48 px: a gradient with a grain, clear at its ``clear`` part: edge, window or nowhere."""
    rows, columns = np.mgrid[0:48, 0:64]
    red = 60 + 150 * columns / 63 * warm
    green = 60 + 120 * rows / 47
    blue = 200 - 140 * columns / 63 * warm + 12 * ((rows // 6 + columns // 6) % 2)
    alpha = np.full(rows.shape, 255.0)
    if clear == "edge":
        alpha[((rows - 23.5) / 22) ** 2 + ((columns - 31.5) / 30) ** 2 > 1] = 0
    elif clear == "window":
        # right of the middle, and a little above: where neither fern nor hill comes
        alpha[4:18, 26:40] = 0
    pixels = np.stack([red, green, blue, alpha], axis=-1).clip(0, 255).astype(np.uint8)
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.fromarray(pixels, "RGBA").save(path)


def edited_shot(folder: Path) -> Path:
    """Lay out the shot; return its shot.toml."""
    painted(folder / "art/fern.png", clear="edge", warm=1.0)
    painted(folder / "art/hill.png", clear="edge", warm=0.4)
    painted(folder / "art/sky.png", clear="window", warm=0.7)
    (folder / "schedule.csv").write_text(SCHEDULE, encoding="utf-8")
    (folder / "shot.toml").write_text(SHOT, encoding="utf-8")
    return folder / "shot.toml"
