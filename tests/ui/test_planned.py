# SPDX-License-Identifier: GPL-3.0-or-later
"""A plan goes through the add-on and back: the level at infinity is held where the planner put it."""

from pathlib import Path

import pytest

from desk.briefs import brief_text, level
from underglass_headless import cli
from underglass_headless.cli import Status

SCRIPT = """
import sys
import bpy
import numpy as np
from ui import extension
extension.enable()
extension.empty()
live = extension.part("ui.live_stack")
bpy.ops.underglass.open_shot(filepath=sys.argv[1])
scene = bpy.context.scene
opened = live.live(scene)
bpy.ops.underglass.save_shot()
said = scene.underglass.message
bpy.ops.underglass.hold_size(level="star")
bpy.context.view_layer.update()
held = live.live(scene)
column = held.plan.names.index("star")
answer({
    "unsaved": opened.unsaved,
    "said": said,
    "moved": float(np.abs(held.plan.tracks.levels["height"] - opened.plan.tracks.levels["height"])[:, column].max()),
    "rides": float(np.ptp(opened.plan.tracks.levels["height"][:, column])),
    "expects": [finding.code for finding in held.findings if finding.code.startswith("expect")],
})
"""
# Single precision of a height of a metre or two.
SAME_M = 5e-7


@pytest.mark.parametrize("focus", ['"infinity"', '"gate"'])
def test_what_was_planned_for_infinity_is_what_the_lock_holds(tmp_path: Path, run_in_blender, focus):
    text = brief_text(
        levels=[level("gate", 4), level("star", "infinity", covers=["left", "right", "top", "bottom"])],
        toward=[[1, 0], [49, 1]],
        across=[[1, 0], [49, 0.5]],
        camera={"height": 1000},
        stand={"level_height": [0, 800], "least_gap": 100},
    )
    said = next(line for line in text.splitlines() if line.startswith("focus"))
    (tmp_path / "brief.toml").write_text(text.replace(said, f"focus = {focus}"), encoding="utf-8")
    made = tmp_path / "planned"
    assert cli.run(["plan", str(tmp_path / "brief.toml"), "-o", str(made)]) == Status.HOLDS
    found = run_in_blender(SCRIPT, made / "shot.toml")
    assert found["unsaved"] == []
    assert found["said"] == "nothing had changed"
    assert found["rides"] > 0.01
    assert found["moved"] <= SAME_M
    assert found["expects"] == []
