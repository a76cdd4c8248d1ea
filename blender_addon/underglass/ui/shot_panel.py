# SPDX-License-Identifier: GPL-3.0-or-later
"""The panel Shot: the shot's files, and what stands in the stack. It draws and does nothing else."""

from typing import Any

import bpy

from . import find_files, live_stack, put_away, save_box, scene_remarks, shown_words, touched_words, watch_changes
from .layouts import Tab, wrapped

# From this width on the buttons for files stand in one row, points.
BUTTONS_BESIDE_PT = 270


class UNDERGLASS_PT_shot(Tab, bpy.types.Panel):
    """The shot's files: open, start from art, reload, save."""

    bl_idname = "UNDERGLASS_PT_shot"
    bl_label = "Shot"

    def draw(self, context: Any) -> None:
        layout, scene, room = self.layout, context.scene, shown_words.room(context)
        settings, icons = scene.underglass, shown_words.icons()
        if not settings.shot_file:
            layout.label(text="No shot in this scene yet")
            buttons = layout.column(align=True)
            buttons.scale_y = 1.3
            buttons.operator("underglass.open_shot", icon_value=icons["FILE_FOLDER"])
            buttons.operator("underglass.new_from_art", icon_value=icons["IMAGE_DATA"])
        else:
            self._draw_open(layout, scene, room)
        # a folder that is gone is told once, above, whatever else was refused for it
        is_told = settings.is_error and find_files.is_gone(live_stack.shot_path(scene))
        if (message := scene_remarks.message(scene)) and not is_told:
            box = layout.box()
            box.alert = settings.is_error
            wrapped(box, message, room, icon="ERROR" if settings.is_error else "CHECKMARK")

    def _draw_open(self, layout: Any, scene: Any, room: shown_words.Room) -> None:
        now, icons = live_stack.live(scene), shown_words.icons()
        # takes of a shot have one title, and folders of their own
        folder = live_stack.shot_path(scene).parent.name
        title = (now.shot.title, f"in {folder}") if now and now.shot.title != folder else (folder,)
        lines = layout.column(align=True)
        lines.scale_y = 0.9
        for number, line in enumerate(room.joined(title)):
            lines.label(text=line, icon_value=icons["BLANK1" if number else "CAMERA_DATA"])
        buttons = layout.column(align=True)
        row = buttons.row(align=True)
        row.operator("underglass.save_shot", icon_value=icons["FILE_TICK"])
        row.operator("underglass.reload_shot", icon_value=icons["FILE_REFRESH"])
        # where Save would be cut they have a row of their own
        more = row.row(align=True) if room.points >= BUTTONS_BESIDE_PT else buttons.row(align=True)
        more.operator("underglass.save_shot_elsewhere", text="", icon_value=icons["DUPLICATE"])
        more.operator("underglass.open_shot", text="", icon_value=icons["FILE_FOLDER"])
        more.operator("underglass.new_from_art", text="", icon_value=icons["IMAGE_DATA"])
        if now:
            units = touched_words.UNIT_WORDS[now.shot.units]
            layout.operator_menu_enum("underglass.set_units", "units", text=f"Counts in {units}")
        if now and now.shot.stand.counter:
            layout.prop(scene.underglass, "to_counter")
        if find_files.is_gone(live_stack.shot_path(scene)):
            box = layout.box()
            box.alert = True
            wrapped(box, watch_changes.changed_words(scene), room, icon="ERROR")
            return
        if live_stack.trouble(scene):
            box = layout.box()
            box.alert = True
            wrapped(box, live_stack.trouble(scene), room, icon="ERROR")
        if watch_changes.is_changed_on_disk(scene):
            box = layout.box()
            box.alert = True
            wrapped(box, watch_changes.changed_words(scene), room, icon="FILE_REFRESH")
        others = put_away.in_the_stack(scene)
        if others:
            box = layout.box()
            wrapped(box, f"{others_said(others)} in the stack and may hide it", room, icon="INFO")
            box.operator("underglass.put_away", icon_value=icons["HIDE_ON"])
        elif put_away.away(scene) is not None:
            layout.operator("underglass.bring_back", icon_value=icons["HIDE_OFF"])
        if now:
            save_box.draw(layout, scene, now, room)


def others_said(names: tuple[str, ...]) -> str:
    """Return what stands in the stack, in a few words."""
    if len(names) > 2:
        return f"{names[0]} and {len(names) - 1} other things stand"
    return f"{' and '.join(names)} {'stand' if len(names) > 1 else 'stands'}"
