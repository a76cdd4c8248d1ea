# SPDX-License-Identifier: GPL-3.0-or-later
"""The panel Findings: what would go wrong, a line for each kind. It draws and does nothing else."""

from typing import Any

import bpy

from . import finding_groups, live_stack, shown_words
from .layouts import StackPanel, fullest_title, wrapped

SEVERITY_ICONS = {"block": "CANCEL", "warn": "ERROR", "note": "INFO"}
# As many as a stack may have levels, and a few.
MOST_ENTRIES = 24


class UNDERGLASS_PT_findings(StackPanel, bpy.types.Panel):
    """What would go wrong: a line for each kind, which opens to levels and frames; these are buttons that go there."""

    bl_idname = "UNDERGLASS_PT_findings"
    bl_label = "Findings"

    def show(self, context: Any, now: live_stack.Live, _row: int) -> None:
        layout, icons, room = self.layout, shown_words.icons(), shown_words.room(context)
        if not now.groups:
            layout.label(text="nothing was found", icon_value=icons["CHECKMARK"])
        for group in now.groups:
            header, body = layout.panel(f"underglass_{group.severity}_{group.code}", default_closed=True)
            title = fullest_title(group.titles, room)
            header.label(text=title, icon_value=icons[SEVERITY_ICONS[group.severity]])
            if body is not None:
                self._entries(body, group, room)

    def _entries(self, body: Any, group: finding_groups.Group, room: shown_words.Room) -> None:
        for entry in group.entries[:MOST_ENTRIES]:
            column = body.column(align=True)
            longer = f"{entry.name}, {entry.frames}"
            go = column.operator("underglass.show_level", text=longer if room.fits_button(longer) else entry.name)
            go.level, go.frame, go.detail = entry.part, entry.first, entry.detail
            wrapped(column, entry.message, room)
        if len(group.entries) > MOST_ENTRIES:
            body.label(text=f"and {len(group.entries) - MOST_ENTRIES} more")
