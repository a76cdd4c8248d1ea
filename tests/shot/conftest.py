# SPDX-License-Identifier: GPL-3.0-or-later
"""A small whole shot on disk, which tests change in one place to see what the reader says."""

from collections.abc import Callable
from pathlib import Path

import pytest

from shot_strategies import make_art

SHOT_TOML = """\
format = 1
title = "Estuary at first light"
units = "in"
fps = 24
frames = [1, 48]
schedule = "schedule.csv"
drawings = "drawings.csv"

[camera]
projection = "perspective"
gate = "academy-35"
frame_px = [1828, 1332]
focal_mm = 50
f_stop = 8
focus = "reeds"
height = 48.0
east = 0.5
turn = 90

[stand]
camera_height = [14, 96]
level_east = [-12, 12]
least_gap = 1.5
counter = 0.01

[[level]]   # nearest the lens
name = "reeds"
art = "art/reeds.png"
art_width = 13.5
height = 18.0
covers = ["left", "right", "bottom"]
on = 2

[[level]]
name = "heron"
art = "cels/heron_{drawing}.png"
art_width = 9.0
height = 12.0
east = -1.25

[[level]]
name = "far hills"
art = "art/hills.png"
art_width = 20.0
height = 2.0

[[expect]]
level = "far hills"
size = "holds"

[[expect]]
level = "reeds"
heads = "west"
between = [1, 24]

[[expect]]
level = "reeds"
against = "far hills"
drift_ratio = 6.0

[[exposure]]
name = "base"
levels = ["far hills", "reeds"]
stops = -1.0
fade = [[1, 0.0], [16, 1.0]]
"""

SCHEDULE_CSV = """\
# what the stand does
part,axis,first,last,from,to,law,slow_out,slow_in,about
reeds,east,1,24,0,-3.5,steady,6,6,
reeds,east,24,36,,-4,sine,,,

camera,height,12,48,48,40,ratio,,,far hills
camera,focal_mm,1,48,50,60,ratio,,,
heron,turn,1,12,,45,,,,
"""

DRAWINGS_CSV = """\
frame,heron
1,a
9,b
17,
25,-
"""

LayOut = Callable[..., Path]


@pytest.fixture
def lay_out(tmp_path: Path) -> LayOut:
    """Return a function that lays a shot out on disk; keywords change the text of its files."""

    def put(*, shot: str = SHOT_TOML, schedule: str = SCHEDULE_CSV, drawings: str = DRAWINGS_CSV) -> Path:
        folder = tmp_path / "estuary"
        make_art(folder, "art/reeds.png", 27, 10)
        make_art(folder, "cels/heron_a.png", 18, 12)
        make_art(folder, "cels/heron_b.png", 18, 12)
        make_art(folder, "art/hills.png", 40, 30, alpha=False)
        for name, text in (("shot.toml", shot), ("schedule.csv", schedule), ("drawings.csv", drawings)):
            (folder / name).write_bytes(text.encode("utf-8"))
        return folder

    return put


@pytest.fixture
def texts() -> dict[str, str]:
    """Return the texts of the small shot, by the keyword that changes them."""
    return {"shot": SHOT_TOML, "schedule": SCHEDULE_CSV, "drawings": DRAWINGS_CSV}
