# SPDX-License-Identifier: GPL-3.0-or-later
"""What was typed into Blender's own fields of the lens, over keys: kept and told until it is used or left.

Blender forgets such a value with the next frame. The fields of the stand's lens, which last, stand above its own.
"""

import json
from collections.abc import Callable
from typing import Any

import bpy

from ..shot.model import Projection
from ..shot.units import METRES_PER_UNIT
from ..shot.words import number_text
from ..stage import stack_marks, typed_over
from . import lens_fields, live_stack, shown_words
from .report_operator import NeedsShot, done, failed, reported

_NAMES = {"lens": "Focal Length", "dof.aperture_fstop": "F-Stop", "dof.focus_distance": "Focus Distance"}
_KEYS = "over the keys of the stand's lens"


def notice(scene: Any) -> None:
    """Keep what stands in Blender's fields of the stand's lens and not in their keys."""
    eye = stack_marks.stand_camera(scene)
    if not scene.underglass.shot_file or eye is None:
        return
    found = typed_over.typed_over(scene, eye.data)
    if found:
        kept = _kept(scene)
        _keep(scene, {**kept, **{path: [value, scene.frame_current] for path, value in found.items()}})


def forget(scene: Any, path: str = "") -> None:
    """Keep nothing of what was typed, or nothing of one field."""
    _keep(scene, {one: said for one, said in _kept(scene).items() if path and one != path})


def paths(scene: Any) -> list[str]:
    """Return in which fields something was typed."""
    return [*_kept(scene)]


def lines(scene: Any) -> list[str]:
    """Return what was typed over keys, a line each."""
    return [
        f"{_value_text(scene, path, value)} was typed into Blender's {_NAMES[path]} on frame {frame}, {_KEYS}"
        for path, (value, frame) in _kept(scene).items()
    ]


def draw(layout: Any, scene: Any, write: Callable[[str], None]) -> None:
    """Draw what was typed, each with what there is to do about it; ``write`` writes a line."""
    icons = shown_words.icons()
    for (path, (value, _)), line in zip(_kept(scene).items(), lines(scene), strict=True):
        write(line)
        row = layout.row(align=True)
        text = f"Use {_value_text(scene, path, value)} on Every Frame"
        row.operator("underglass.use_typed_lens", text=text, icon_value=icons["CHECKMARK"]).path = path
        row.operator("underglass.leave_typed_lens", text="", icon_value=icons["X"]).path = path


def _kept(scene: Any) -> dict[str, list[float]]:
    said = scene.underglass.typed_lens
    return json.loads(said) if said else {}


def _keep(scene: Any, kept: dict[str, list[float]]) -> None:
    said = json.dumps(kept) if kept else ""
    # what is set is an edit to Blender, and would be heard again
    if said != scene.underglass.typed_lens:
        scene.underglass.typed_lens = said


def _units(scene: Any) -> str:
    now = live_stack.live(scene)
    return now.shot.units if now is not None else "mm"


def _value_text(scene: Any, path: str, value: float) -> str:
    if path == "lens":
        return f"{number_text(value, digits=4)} mm"
    if path == "dof.aperture_fstop":
        return number_text(value, digits=4)
    units = _units(scene)
    return f"{number_text(value / METRES_PER_UNIT[units], digits=6)} {units}"


def _use(scene: Any, path: str, value: float) -> None:
    fields = scene.underglass_lens
    if path == "lens":
        fields.focal_mm = value
    elif path == "dof.aperture_fstop":
        fields.f_stop = value
    else:
        fields.focus = lens_fields.AT_A_DISTANCE
        fields.distance = value / METRES_PER_UNIT[_units(scene)]


class UNDERGLASS_OT_use_typed_lens(NeedsShot, bpy.types.Operator):
    """Set what was typed as the lens of the stand: on every frame, with the law of close focus"""

    bl_idname = "underglass.use_typed_lens"
    bl_label = "Use What Was Typed"
    bl_options = {"REGISTER", "UNDO"}

    path: bpy.props.StringProperty(options={"HIDDEN"})

    @reported
    def execute(self, context: Any) -> set[str]:
        scene = context.scene
        if self.path not in _kept(scene):
            return failed(self, scene, "nothing was typed into this field")
        value = _kept(scene)[self.path][0]
        forget(scene, self.path)
        _use(scene, self.path, value)
        settings = scene.underglass
        if settings.is_error:
            return failed(self, scene, settings.message)
        return done(self, scene, f"the lens has {_value_text(scene, self.path, value)} on every frame; Save writes it")


class UNDERGLASS_OT_leave_typed_lens(NeedsShot, bpy.types.Operator):
    """Keep the lens as it is keyed, and drop what was typed"""

    bl_idname = "underglass.leave_typed_lens"
    bl_label = "Leave the Lens as It Is"
    bl_options = {"REGISTER", "UNDO"}

    path: bpy.props.StringProperty(options={"HIDDEN"})

    @reported
    def execute(self, context: Any) -> set[str]:
        scene = context.scene
        forget(scene, self.path)
        # what the keys have comes back
        scene.frame_set(scene.frame_current)
        return done(self, scene, "the lens stays as it is keyed")


def _beside(panel: Any, context: Any, *, path: str, fields: tuple[str, ...]) -> None:
    """Draw fields of the stand's lens above Blender's own, where these are keyed."""
    scene, eye = context.scene, stack_marks.stand_camera(context.scene)
    if eye is None or context.camera != eye.data or path not in typed_over.keyed_paths(eye.data):
        return
    now = live_stack.live(scene)
    if now is None or now.shot.camera.projection is not Projection.PERSPECTIVE:
        return
    box = panel.layout.box()
    box.use_property_split, box.use_property_decorate = True, False
    box.label(text="Underglass keys these fields: type here", icon="KEYFRAME")
    for name in fields:
        if name != "distance" or scene.underglass_lens.focus == lens_fields.AT_A_DISTANCE:
            box.prop(scene.underglass_lens, name)


def _beside_lens(panel: Any, context: Any) -> None:
    _beside(panel, context, path="lens", fields=("focal_mm",))


def _beside_focus(panel: Any, context: Any) -> None:
    _beside(panel, context, path="dof.focus_distance", fields=("focus", "distance", "f_stop"))


CLASSES = (UNDERGLASS_OT_use_typed_lens, UNDERGLASS_OT_leave_typed_lens)


def attach() -> None:
    """Put the fields above Blender's own."""
    bpy.types.DATA_PT_lens.prepend(_beside_lens)
    bpy.types.DATA_PT_camera_dof.prepend(_beside_focus)


def detach() -> None:
    """Take them away."""
    bpy.types.DATA_PT_lens.remove(_beside_lens)
    bpy.types.DATA_PT_camera_dof.remove(_beside_focus)
