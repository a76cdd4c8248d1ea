# SPDX-License-Identifier: GPL-3.0-or-later
"""A shot to deliver frames of, and a proof of whatever was delivered."""

import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import small_shots
from delivered.made_frames import Making, paint_art, write_frames
from small_shots import Glass
from underglass.plan import Plan, make_plan
from underglass.proof.proof_facts import Proof
from underglass.shot.files import read_shot
from underglass_headless.delivered.prove_delivered import DeliveredOptions, prove_delivered

FRAMES = (1, 12)
MAKING = Making(compression="ZIPS")
# Every level moves by itself, so that each has a way to go wrong of its own; they overlap here and there.
GLASSES = [
    Glass("reeds", 1000.0, width=30.0, east=-22.0, north=-12.0, art="art/reeds.png"),
    Glass("boat", 850.0, width=36.0, east=24.0, north=14.0, art="art/boat.png"),
    Glass("hills", 600.0, width=110.0, east=-30.0, north=40.0, turn=4.0, art="art/hills.png"),
    Glass("sky", 100.0, width=560.0, art="art/sky.png"),
]
SCHEDULE = """\
part,axis,first,last,from,to,law,slow_out,slow_in
camera,height,1,12,1300,1240,steady,2,2
reeds,east,1,12,-22,6,steady,2,2
boat,height,1,12,850,810,steady,,
hills,turn,1,12,4,16,steady,,
sky,east,3,10,0,-40,steady,2,2
"""


def lay_out(folder: Path, *, camera: str = small_shots.PERSPECTIVE, frame_px: tuple[int, int] = (240, 180)) -> Path:
    """Lay out the shot whose frames are delivered here, each level with art of its own; return its shot.toml."""
    for number, glass in enumerate(GLASSES):
        paint_art(folder / glass.art, number)
    return small_shots.stack(folder, GLASSES, camera=camera, frame_px=frame_px, frames=FRAMES, schedule=SCHEDULE)


def lay_out_mist(folder: Path) -> Path:
    """Lay out a thin mist before a card and a sky, two frames; return its shot.toml."""
    small_shots.one_colour(folder / "art/mist.png", (200, 200, 200, 90))
    glasses = [
        Glass("mist", 600.0, width=560.0, art="art/mist.png"),
        Glass("card", 500.0, width=60.0),
        Glass("sky", 100.0, width=560.0),
    ]
    return small_shots.stack(folder, glasses, frame_px=(160, 120), frames=(1, 2))


@pytest.fixture(scope="session")
def shot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the shot.toml of four levels, twelve frames."""
    return lay_out(tmp_path_factory.mktemp("shot"))


@pytest.fixture(scope="session")
def plan(shot: Path) -> Plan:
    """Return its plan."""
    return make_plan(read_shot(shot))


@pytest.fixture(scope="session")
def clean(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder of clean frames of the whole shot, to be copied and not to be touched."""
    folder = tmp_path_factory.mktemp("clean")
    write_frames(plan, folder, making=MAKING)
    return folder


@pytest.fixture
def delivery(clean: Path, tmp_path: Path) -> Path:
    """Return a folder of clean frames of the whole shot, to do with as one likes."""
    shutil.copytree(clean, tmp_path / "frames")
    return tmp_path / "frames"


def judged(shot: Path, delivery: Path, **options: object) -> Proof:
    """Return the proof that the frames in ``delivery`` make of ``shot``; no pictures are kept."""

    def keep(frame: int, picture: np.ndarray) -> Path:
        return Path(f"{frame}.png")

    chosen = DeliveredOptions(**{"place": delivery, "pictures": False, **options})
    return prove_delivered(shot, options=chosen, keep=keep, tell=lambda *_: None)


@pytest.fixture
def proof_of(shot: Path) -> Callable[..., Proof]:
    """Return a function that proves a folder of frames of the shot; keywords are those of `DeliveredOptions`."""
    return lambda delivery, **options: judged(shot, delivery, **options)
