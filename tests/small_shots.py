# SPDX-License-Identifier: GPL-3.0-or-later
"""Small shots that are laid out on disk for a test: few levels, few pixels, and numbers that can be worked by hand.

``line_up`` has every kind of move in it; ``stack`` makes a still shot of as many levels as one likes.
"""

import shutil
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

CALIBRATION = Path(__file__).parents[1] / "scenes" / "calibration"

# v = f·u/(u − f): focus follows card B, 600 mm off on frame 1 and 480 mm on frame 25, so the lens goes 54.5 to 55.8 mm.
LINE_UP = """\
format = 1
title = "Line-up"
units = "mm"
fps = 24
frames = [1, 25]
schedule = "schedule.csv"
drawings = "drawings.csv"

[camera]
projection = "perspective"
gate_mm = [20.0, 15.0]
frame_px = [400, 300]
focal_mm = 50
f_stop = 64
focus = "card B"
height = 1300.0

[[level]]
name = "card A"
art = "art/card_a.png"
art_width = 24.0
height = 1000.0
east = -15.0
north = 9.0

[[level]]
name = "heron"
art = "art/heron_{drawing}.png"
art_width = 20.0
height = 850.0
east = 20.0
north = 20.0

[[level]]
name = "card B"
art = "art/card_b.png"
art_width = 48.0
height = 700.0
east = 36.0
north = -24.0
turn = 15.0

[[level]]
name = "card C"
art = "art/card_c.png"
art_width = 60.0
height = 550.0
east = 60.0
north = 45.0

[[level]]
name = "card D"
art = "art/card_d.png"
art_width = 432.0
height = 100.0
"""

LINE_UP_SCHEDULE = """\
part,axis,first,last,from,to,law,slow_out,slow_in
camera,height,1,25,1300,1180,steady,,
card C,height,1,25,550,430,steady,,
card A,east,5,20,-15,15,steady,4,4
card B,turn,1,25,15,45,steady,,
"""

LINE_UP_DRAWINGS = """\
frame,heron
1,red
9,blue
17,-
"""

RED, GREEN, BLUE = (230, 20, 20, 255), (20, 230, 20, 255), (20, 20, 230, 255)


def one_colour(path: Path, colour: tuple[int, ...], size: tuple[int, int] = (32, 24)) -> None:
    """Write a PNG of one colour."""
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.new("RGBA" if len(colour) == 4 else "RGB", size, colour).save(path)


def line_up(folder: Path) -> Path:
    """Lay out the shot of five levels with every kind of move; return its shot.toml."""
    (folder / "art").mkdir(parents=True)
    for card in "abcd":
        shutil.copy(CALIBRATION / "art" / f"card_{card}.png", folder / "art")
    one_colour(folder / "art/heron_red.png", RED)
    one_colour(folder / "art/heron_blue.png", BLUE)
    (folder / "schedule.csv").write_text(LINE_UP_SCHEDULE, encoding="utf-8")
    (folder / "drawings.csv").write_text(LINE_UP_DRAWINGS, encoding="utf-8")
    return _write(folder, LINE_UP)


def calibration(folder: Path, *, frame_px: tuple[int, int]) -> Path:
    """Lay out the calibration shot at another size of frame; return its shot.toml."""
    shutil.copytree(CALIBRATION, folder)
    text = (CALIBRATION / "shot.toml").read_text(encoding="utf-8")
    wanted = f"frame_px = [{frame_px[0]}, {frame_px[1]}]"
    return _write(folder, text.replace("frame_px = [1000, 750]", wanted))


@dataclass(frozen=True)
class Glass:
    """One level of a `stack`, mm; without ``art`` it is painted grey. ``more`` is further lines of its table."""

    name: str
    height: float
    width: float = 40.0
    east: float = 0.0
    north: float = 0.0
    turn: float = 0.0
    art: str = ""
    more: str = ""


PERSPECTIVE = """\
projection = "perspective"
gate_mm = [20.0, 15.0]
focal_mm = 50
focus = 300.0
"""
# 100 mm across 400 px: 4 px a mm at every height
PARALLEL = """\
projection = "orthographic"
field_width = 100.0
"""


def stack(
    folder: Path,
    glasses: list[Glass],
    *,
    camera: str = PERSPECTIVE,
    frame_px: tuple[int, int] = (400, 300),
    frames: tuple[int, int] = (1, 3),
    fps: float = 24,
    schedule: str = "",
    drawings: str = "",
) -> Path:
    """Lay out a shot of ``glasses`` under a camera 1300 mm up; return its shot.toml."""
    lines = [f'format = 1\ntitle = "Stack"\nunits = "mm"\nfps = {fps}\nframes = [{frames[0]}, {frames[1]}]']
    for name, text in (("schedule", schedule), ("drawings", drawings)):
        if text:
            lines.append(f'{name} = "{name}.csv"')
            (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    lines.append(f"[camera]\n{camera}frame_px = [{frame_px[0]}, {frame_px[1]}]\nheight = 1300.0")
    for glass in glasses:
        art = glass.art or "art/grey.png"
        if not glass.art:
            one_colour(folder / art, (128, 128, 128, 255))
        lines.append(
            f'[[level]]\nname = "{glass.name}"\nart = "{art}"\nart_width = {glass.width}\nheight = {glass.height}\n'
            f"east = {glass.east}\nnorth = {glass.north}\nturn = {glass.turn}\n{glass.more}"
        )
    return _write(folder, "\n".join(lines) + "\n")


def _write(folder: Path, text: str) -> Path:
    path = folder / "shot.toml"
    path.write_text(text, encoding="utf-8")
    return path
