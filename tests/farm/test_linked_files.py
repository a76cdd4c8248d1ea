"""What a scene is linked from counts as part of it: every picture of a numbered run, not its first alone."""

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

from underglass_headless.farm.doing import _linked

folder = Path(sys.argv[1])
bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
run = bpy.data.images.load(str(folder / "plate_0001.png"))
run.source = "SEQUENCE"
still = bpy.data.images.load(str(folder / "still_7.png"))
for image in (run, still):
    image.use_fake_user = True
answer(sorted(path.name for path in _linked(folder / "scene.blend")))
"""


def test_every_picture_of_a_run_counts_and_no_neighbour_of_a_still(
    run_in_blender: Callable[..., Any], tmp_path: Path
) -> None:
    run = [f"plate_{number:04d}.png" for number in (1, 2, 3)]
    for name in (*run, "plate_0001.jpg", "plate.png", "other_0002.png", "still_7.png", "still_8.png"):
        Image.new("RGB", (4, 4)).save(tmp_path / name)
    assert run_in_blender(LINKED, tmp_path) == [*run, "still_7.png"]
