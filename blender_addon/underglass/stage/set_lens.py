# SPDX-License-Identifier: GPL-3.0-or-later
"""Setting the lens: Blender's camera gets the image distance and the stop that a focal length and a focus come to."""

from typing import Any

from ..plan import make_plan
from ..plan.plan_arrays import Plan
from ..plan.said_lens import SaidLens, with_lens
from . import bake_keys, lens_marks, stack_marks


def set_lens(scene: Any, plan: Plan, lens: SaidLens) -> None:
    """Give the stand's camera ``lens`` on every frame of ``plan``, in the place of whatever keys its lens had.

    v = f·u/(u − f), u to what is focused on frame by frame. Raises ShotError, and sets nothing, where the lens cannot
    focus so near.
    """
    eye = stack_marks.stand_camera(scene)
    shot, tracks = with_lens(plan.shot, plan.tracks, lens)
    planned = make_plan(shot, tracks=tracks)
    data, gate = eye.data, shot.camera.gate
    if gate is not None:
        data.sensor_fit = "HORIZONTAL"
        data.sensor_width = gate.width * shot.camera.squeeze * 1000.0
        data.sensor_height = gate.height * 1000.0
    bake_keys.bake_lens(eye, planned)
    data.dof.use_dof = lens.f_stop > 0
    data.dof.focus_object = None
    lens_marks.say(data, lens, frames=planned.frames, image=planned.image_distance)
