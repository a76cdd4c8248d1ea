# SPDX-License-Identifier: GPL-3.0-or-later
"""Whatever shot can be drawn up is built so that its evaluated scene is where the plan wants it, without a remark."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from shot_strategies import make_shot_art, shots
from underglass.plan import corners_px, make_plan
from underglass.proof.audit.audit_scene import audit
from underglass.proof.diagnose.part_that_is_off import diagnose
from underglass.proof.verdict.judge_levels import scene_error_px
from underglass.reading.scene_reading import SceneReading
from underglass.shot import Shot, ShotError
from underglass.shot.files import read_shot, write_shot

pytestmark = pytest.mark.bpy

TOLERANCE_PX = 0.05
# Blender holds single precision: a corner this many pixels off the axis cannot be placed better than the tolerance.
FARTHEST_PX = 50_000
# Blender renders no smaller frame.
LEAST_SIDE_PX = 4
A_PROCESS = 12


def can_be_filmed(shot: Shot) -> bool:
    """Return whether a plan can be made of the shot, and Blender can number its frames and resolve its pixels."""
    try:
        plan = make_plan(shot)
    except ShotError:
        return False
    in_reach = bool(np.abs(corners_px(plan)).max() < FARTHEST_PX)
    return in_reach and shot.frames[0] >= 0 and min(shot.camera.frame_px) >= LEAST_SIDE_PX


def lay_out(shot: Shot, folder: Path) -> Path:
    """Write the shot and its art into ``folder``, and return that."""
    make_shot_art(shot, folder)
    write_shot(shot, folder)
    return folder


@settings(
    max_examples=3,
    # A smaller example is not worth ten minutes of Blender; the failure shows the shot as it is.
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
)
@given(
    made_up=st.lists(shots(most_levels=5, most_frames=20).filter(can_be_filmed), min_size=A_PROCESS, max_size=A_PROCESS)
)
def test_made_up_shots_stand_where_they_were_planned(
    made_up: list[Shot], tmp_path_factory: pytest.TempPathFactory, run_in_blender: Callable[..., Any]
) -> None:
    folders = [lay_out(shot, tmp_path_factory.mktemp("shot")) for shot in made_up]
    run_in_blender(Path(__file__).with_name("reading_back.py"), *folders)
    for folder in folders:
        plan = make_plan(read_shot(folder))
        reading = SceneReading.load(folder / "scene.npz")
        error = scene_error_px(plan, reading=reading)
        assert error.max() <= TOLERANCE_PX, plan.shot
        worst = dict.fromkeys(plan.names, 0.0)
        found = diagnose(plan, reading=reading, scene_error=error, tolerance=TOLERANCE_PX)
        found += audit(plan, reading=reading, level_error_px=worst, tolerance=TOLERANCE_PX)
        assert [fault.message for fault in found if fault.code != "exposures-not-built"] == []
