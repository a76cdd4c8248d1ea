# SPDX-License-Identifier: GPL-3.0-or-later
"""Redrawing: every 3D viewport, with its sidebar, is drawn anew when it next can be."""

import bpy

# A panel that has grown is laid out when it is drawn, and those below it move when that is drawn again, s.
_SETTLES_AFTER_S = (0.05, 0.3)


def redraw_till_settled() -> None:
    """Have every 3D viewport drawn again a moment later, so that panels below one that grew make room for it."""
    for after in _SETTLES_AFTER_S:
        bpy.app.timers.register(redraw_viewports, first_interval=after)


def redraw_viewports() -> None:
    """Have every 3D viewport drawn anew; without windows there is nothing to do."""
    manager = bpy.context.window_manager
    for window in manager.windows if manager else ():
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()
