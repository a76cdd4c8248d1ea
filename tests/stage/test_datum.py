# SPDX-License-Identifier: GPL-3.0-or-later
"""The datum: where it is put, and what it tells, however little room the camera's clipping leaves."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import small_shots
from small_shots import Glass

pytestmark = [pytest.mark.bpy, pytest.mark.render]

MEASURED = """
import sys
from pathlib import Path
import bpy
from underglass.plan import make_plan
from underglass.proof.measure.passes import measure_frame
from underglass.shot.files import read_shot
from underglass.stage import build_stack, stack_marks, render_frames

place = Path(sys.argv[1])
found = []
for text in sys.argv[2:]:
    start, end = map(float, text.split(","))
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = bpy.context.scene
    build_stack.build(make_plan(read_shot(place)), scene)
    before = {kind: len(getattr(bpy.data, kind)) for kind in ("objects", "meshes", "materials")}
    scene.camera.data.clip_start, scene.camera.data.clip_end = start, end
    with render_frames.pass_renderer(scene, threads=1) as render:
        seen = measure_frame(list(render(1, 4.0, place)))
    left = {kind: len(getattr(bpy.data, kind)) for kind in before}
    one = seen.lattice
    fits = {stack_marks.levels(scene)[n][0]: fit and [fit.pixels, fit.missing] for n, fit in seen.fits.items()}
    found.append([one.placed, one.hidden, one.spacing, fits, left == before])
answer(found)
"""


@pytest.fixture
def shot(tmp_path: Path) -> Path:
    """Return the folder of a shot with glasses 0.4 and 1.2 m before the lens."""
    small_shots.stack(tmp_path, [Glass("near", 900.0), Glass("far", 100.0, width=560.0)])
    return tmp_path


@pytest.mark.parametrize("clip", ["0.01,1000", "0.3,1.3", "0.3,1.325", "0.39,1.21", "0.001,1e6"])
def test_the_datum_stands_clear_of_every_glass_and_of_the_clipping(
    clip: str, shot: Path, run_in_blender: Callable[..., Any]
) -> None:
    """With 0.3 to 1.3 m a tenth of the room from the far end is 1.2 m, at the far glass: rays met only one."""
    ((placed, hidden, spacing, fits, cleared),) = run_in_blender(MEASURED, shot, clip)
    assert (placed, hidden, spacing) == (True, 0, 4.0)
    assert all(fit is not None and fit[1] == 0 for fit in fits.values())
    assert cleared, "what was added to the scene for the proof is still there"


def test_a_scene_without_levels_still_shows_the_datum(shot: Path, run_in_blender: Callable[..., Any]) -> None:
    unmark = "before = {kind:"
    script = MEASURED.replace(
        unmark, f"for _, glass in stack_marks.levels(scene): del glass[stack_marks.LEVEL]\n    {unmark}"
    )
    ((placed, hidden, _, fits, _),) = run_in_blender(script, shot, "0.01,1000")
    assert (placed, hidden, fits) == (True, 0, {})


def test_where_clipping_leaves_no_room_every_second_pixel_is_measured(
    shot: Path, run_in_blender: Callable[..., Any]
) -> None:
    ((placed, hidden, spacing, fits, _),) = run_in_blender(MEASURED, shot, "0.4,0.4")
    assert (placed, hidden, spacing) == (False, 0, 2.0)
    assert set(fits) == {"near", "far"}
