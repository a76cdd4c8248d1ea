# SPDX-License-Identifier: GPL-3.0-or-later
"""The panel Stand: the stand from the side. It draws and does nothing else."""

from typing import Any

import bpy

from . import column_widths, live_stack, shown_words, side_view
from .layouts import StackPanel

# What an icon of scale 1 is high, in points, and the largest that the stand is drawn.
UNIT_PT, MOST_UNITS, LEAST_UNITS = 20, 18.0, 6.0


class UNDERGLASS_PT_stand(StackPanel, bpy.types.Panel):
    """The stand from the side, to scale, on the present frame."""

    bl_idname = "UNDERGLASS_PT_stand"
    bl_label = "Stand"

    def show(self, context: Any, now: live_stack.Live, row: int) -> None:
        layout, room = self.layout, shown_words.room(context)
        scale = max(LEAST_UNITS, min((room.points - column_widths.BESIDE_PT) / UNIT_PT, MOST_UNITS))
        icon = side_view.icon(context, now, row, size_px=round(scale * UNIT_PT * room.scale))
        layout.template_icon(icon_value=icon, scale=scale)
        below = layout.column(align=True)
        below.scale_y = 0.8
        for line in room.joined(now.words.lens.at(row)):
            below.label(text=line)
