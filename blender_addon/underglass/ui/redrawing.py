"""Redrawing: every 3D viewport, with its sidebar, is drawn anew when it next can be."""

import bpy


def redraw_viewports() -> None:
    """Have every 3D viewport drawn anew; without windows there is nothing to do."""
    manager = bpy.context.window_manager
    for window in manager.windows if manager else ():
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()
