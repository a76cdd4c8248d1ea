# SPDX-License-Identifier: GPL-3.0-or-later
"""What Blender spells differently from version to version is asked for by intent, and never by a deprecated name."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import small_shots

pytestmark = pytest.mark.bpy

CURVES = """
import bpy
from underglass import blender_versions

thing = bpy.data.objects.new("thing", None)
nothing = [len(blender_versions.fcurves_of(thing))]
for _ in range(3):
    blender_versions.ensure_fcurve(thing, "location", index=1, group="place")
blender_versions.ensure_fcurve(thing, "location", index=2, group="place")
curves = [[c.data_path, c.array_index, c.group.name if c.group else ""] for c in blender_versions.fcurves_of(thing)]
# An action that is bound without a slot drives nothing.
other = bpy.data.objects.new("other", None)
other.animation_data_create().action = thing.animation_data.action
if hasattr(other.animation_data, "action_slot"):
    other.animation_data.action_slot = None
    nothing.append(len(blender_versions.fcurves_of(other)))
answer({"nothing": nothing, "curves": curves, "actions": len(bpy.data.actions)})
"""

BUILD = """
import sys
import warnings
from pathlib import Path

warnings.simplefilter("error")
import bpy
from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.stage import build_stack, proof_passes, read_scene

scene = bpy.context.scene
plan = make_plan(read_shot(Path(sys.argv[1])))
# 4.5 warns of none of this; from 5.0 on Blender marks what is to go in 6.0
build_stack.build(plan, scene)
build_stack.build(plan, scene)
reading = read_scene.read_scene(scene, plan.frames)
proof_passes.quiet(scene, threads=0)
with proof_passes.passes(scene) as levels:
    levels.batches(8)[0].select()
proof_passes.prepare_picture(scene, samples=2, depth_of_field=False)
answer(len(reading.levels))
"""


def test_a_curve_is_made_once_and_bound(run_in_blender: Callable[..., Any]) -> None:
    said = run_in_blender(CURVES)
    assert [curve[:2] for curve in said["curves"]] == [["location", 1], ["location", 2]]
    assert said["actions"] == 1
    assert not any(said["nothing"])


def test_building_reading_and_preparing_a_proof_use_nothing_deprecated(
    tmp_path: Path, run_in_blender: Callable[..., Any]
) -> None:
    assert run_in_blender(BUILD, small_shots.line_up(tmp_path / "shot")) == 5
