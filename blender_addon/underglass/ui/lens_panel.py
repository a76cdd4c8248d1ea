# SPDX-License-Identifier: GPL-3.0-or-later
"""The panel on the lens: focal length, stop, focus and format as fields."""

from typing import Any

import bpy

from ..shot.model import Projection
from . import lens_fields, live_stack, scene_remarks, shown_words, typed_lens
from .layouts import StackPanel, wrapped

_LABELS = {
    "focal_mm": "Focal length, mm",
    "f_stop": "Stop",
    "focus": "Focus",
    "distance": "Distance, {units}",
    "gate": "Format",
    "gate_mm": "Gate, mm",
}
# Fields that are there only where another one has this choice.
_ONLY_AT = {"distance": ("focus", lens_fields.AT_A_DISTANCE), "gate_mm": ("gate", lens_fields.MEASURED)}


class UNDERGLASS_PT_lens(StackPanel, bpy.types.Panel):
    """The lens as an operator names it; Blender's camera follows by the law of close focus."""

    bl_idname = "UNDERGLASS_PT_lens"
    bl_label = "Lens"

    def show(self, context: Any, now: live_stack.Live, row: int) -> None:
        layout, camera = self.layout, now.plan.shot.camera
        if camera.projection is not Projection.PERSPECTIVE:
            wrapped(layout, now.words.lens.at(row)[1], shown_words.room(context))
            return
        fields = context.scene.underglass_lens
        if own := scene_remarks.own_lens(context.scene):
            wrapped(layout, own, shown_words.room(context), icon="ERROR")
        if context.scene.underglass.typed_lens:
            box = layout.box()
            typed_lens.draw(
                box, context.scene, lambda line: wrapped(box, line, shown_words.room(context), icon="ERROR")
            )
        column = layout.column(align=True)
        beside = shown_words.room(context).fits_split(tuple(_LABELS.values()))
        for name, label in _LABELS.items():
            if name in _ONLY_AT and getattr(fields, _ONLY_AT[name][0]) != _ONLY_AT[name][1]:
                continue
            text = label.format(units=now.shot.units)
            if beside:
                row = column.row()
                row.use_property_split, row.use_property_decorate = True, False
                row.prop(fields, name, text=text)
            else:
                # a label that would be cut stands above its field
                column.label(text=text)
                column.prop(fields, name, text="")


CLASSES = (UNDERGLASS_PT_lens,)
