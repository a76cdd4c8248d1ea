# SPDX-License-Identifier: GPL-3.0-or-later
"""What the panels say of a scene before anybody saves: another camera is looked through, the lens is not the said one.

These hang on the present frame or on settings of Blender's, and are asked whenever a panel is drawn; what moves
materials is asked once the artist rests.
"""

from typing import Any

import numpy as np

from ..proof.audit.paint_differences import moving_words
from ..shot.model import Projection
from ..stage import lens_marks, materials, stack_marks
from . import live_stack, typed_lens

_SAVED = ("saved: ", "nothing had changed")


def other_camera(scene: Any) -> str:
    """Return that ``scene`` is looked at through a camera that is not the stand's; empty where it is."""
    if scene.camera is None or stack_marks.CAMERA in scene.camera or stack_marks.stand_camera(scene) is None:
        return ""
    return f"the scene looks through {scene.camera.name!r}; the stand's own camera is saved"


def own_lens(scene: Any) -> str:
    """Return that the lens was changed in Blender's own field, and what would be right; empty where it was not."""
    eye, now = stack_marks.stand_camera(scene), live_stack.live(scene)
    if "lens" in typed_lens.paths(scene):
        return ""
    if eye is None or now is None or now.shot.camera.projection is not Projection.PERSPECTIVE:
        return ""
    _, plan = live_stack.shot_and_plan(scene)
    frame = scene.frame_current
    planned = float(plan.image_distance[live_stack.row_of(plan, frame - scene.underglass.shifted)]) * 1000.0
    mm = None if np.isnan(planned) else lens_marks.own_lens_mm(eye.data, frame=frame, planned_mm=planned)
    if mm is None:
        return ""
    return f"the camera's own field says {mm:.5g} mm, which is not the lens of the stand; set the lens under Lens"


def here(scene: Any) -> tuple[str, ...]:
    """Return what is to be said of ``scene`` on the present frame: it may be otherwise on the next."""
    return tuple(line for line in (other_camera(scene), own_lens(scene)) if line)


def moving_paints(scene: Any) -> list[str]:
    """Return what keys and drivers change of the materials of the levels, which no file of a shot says; a line each."""
    return [
        f"{name}: {said}; Save leaves that out, and a proof fails where it shows"
        for name, glass in stack_marks.levels(scene)
        if (said := moving_words(materials.moving(glass)))
    ]


def message(scene: Any) -> str:
    """Return what was said last, but for what Save said of a stack that is another by now."""
    said = scene.underglass.message
    if scene.underglass.is_error or not said.startswith(_SAVED):
        return str(said)
    now = live_stack.live(scene)
    return "" if now is not None and now.unsaved else str(said)
