"""The panel on the lens: focal length, stop, focus and format as fields."""

from typing import Any

import bpy

from ..shot.model import Projection
from . import lens_fields, live, looking, shown, typed_lens
from .layouts import StackPanel, wrapped


class UNDERGLASS_PT_lens(StackPanel, bpy.types.Panel):
    """The lens as an operator names it; Blender's camera follows by the law of close focus."""

    bl_idname = "UNDERGLASS_PT_lens"
    bl_label = "Lens"

    def show(self, context: Any, now: live.Live, row: int) -> None:
        layout, camera = self.layout, now.plan.shot.camera
        if camera.projection is not Projection.PERSPECTIVE:
            wrapped(layout, now.words.lens.at(row)[1], shown.room(context))
            return
        fields = context.scene.underglass_lens
        if own := looking.own_lens(context.scene):
            wrapped(layout, own, shown.room(context), icon="ERROR")
        if context.scene.underglass.typed_lens:
            box = layout.box()
            typed_lens.draw(box, context.scene, lambda line: wrapped(box, line, shown.room(context), icon="ERROR"))
        layout.use_property_split, layout.use_property_decorate = True, False
        column = layout.column(align=True)
        column.prop(fields, "focal_mm", text="Focal length, mm")
        column.prop(fields, "f_stop")
        column = layout.column(align=True)
        column.prop(fields, "focus")
        if fields.focus == lens_fields.AT_A_DISTANCE:
            column.prop(fields, "distance", text=f"Distance, {now.shot.units}")
        column = layout.column(align=True)
        column.prop(fields, "gate")
        if fields.gate == lens_fields.MEASURED:
            column.prop(fields, "gate_mm", text="Gate, mm")


CLASSES = (UNDERGLASS_PT_lens,)
