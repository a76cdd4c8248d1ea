# SPDX-License-Identifier: GPL-3.0-or-later
"""The panel In the Viewport: what is drawn there. It draws and does nothing else."""

from typing import Any

import bpy

from . import live_stack, shown_words, viewport_edges
from .layouts import StackPanel, wrapped


class UNDERGLASS_PT_viewport(StackPanel, bpy.types.Panel):
    """What is drawn in the viewport."""

    bl_idname = "UNDERGLASS_PT_viewport"
    bl_label = "In the Viewport"

    def show(self, context: Any, now: live_stack.Live, _row: int) -> None:
        settings = context.scene.underglass
        column = self.layout.column(align=True)
        for name in ("show_field", "show_edges", "show_paths"):
            column.prop(settings, name)
        focus = column.row()
        focus.active = bool(now.shot.camera.f_stop)
        focus.prop(settings, "show_focus")
        layout = self.layout.column(align=True)
        layout.label(text="Painted edges")
        layout.row(align=True).prop(settings, "edges", expand=True)
        cost = layout.column()
        cost.active = False
        wrapped(cost, viewport_edges.COSTS[settings.edges], shown_words.room(context))
