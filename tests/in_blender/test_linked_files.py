# SPDX-License-Identifier: GPL-3.0-or-later
"""What a scene is linked from counts as part of it: every picture of a numbered run and every tile, not one alone."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

pytestmark = pytest.mark.bpy

LINKED = """
import sys
from pathlib import Path

import bpy

from underglass_headless.in_blender.linked_files import Linked

folder = Path(sys.argv[1])
bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
run = bpy.data.images.load(str(folder / "plate_0001.png"))
run.source = "SEQUENCE"
tiles = bpy.data.images.load(str(folder / "tile.1001.png"))
tiles.source = "TILED"
tiles.filepath = str(folder / "tile.<UDIM>.png")
still = bpy.data.images.load(str(folder / "still_7.png"))
for image in (run, tiles, still):
    image.use_fake_user = True
scene = folder / "scene.blend"
depends, told = [], []
for added in ("still_9.png", "plate_0004.png", "tile.1011.png"):
    linked = Linked.of_open(scene)
    depends.append(sorted(linked.depends))
    before = linked.is_current()
    (folder / added).write_bytes(b"")
    told.append([before, linked.is_current()])
answer([depends[0], told])
"""


def test_every_picture_of_a_run_counts_and_whatever_joins_it_but_no_neighbour_of_a_still(
    run_in_blender: Callable[..., Any], tmp_path: Path
) -> None:
    run = [f"plate_{number:04d}.png" for number in (1, 2, 3)]
    tiles = ["tile.1001.png", "tile.1002.png"]
    for name in (*run, *tiles, "plate_0001.jpg", "plate.png", "other_0002.png", "still_7.png", "still_8.png"):
        Image.new("RGB", (4, 4)).save(tmp_path / name)
    depends, told = run_in_blender(LINKED, tmp_path)
    runs = ["numbered:plate_#.png", "numbered:tile.<UDIM>.png"]
    assert depends == sorted([*run, *tiles, *runs, "still_7.png", "tile.<UDIM>.png"])
    assert told == [[True, True], [True, False], [True, False]]
