"""The sidebar tab: panels in the order of the work, which draw and do nothing else; `stack_panels` are part of it."""

from typing import Any

import bpy

from ..proof import running
from . import (
    column_widths,
    finding_groups,
    lens_panel,
    live,
    looking,
    proof_lines,
    proof_pictures,
    proving,
    put_away,
    save_box,
    shown,
    stack_panels,
    touched,
    viewport_edges,
    watching,
    whereabouts,
)
from .column_widths import Column
from .layouts import StackPanel, Tab, wrapped

SEVERITY_ICONS = {"block": "CANCEL", "warn": "ERROR", "note": "INFO"}
# From this width on the buttons for files stand in one row, points.
BUTTONS_BESIDE_PT = 270
# The columns of what was measured; the least of a name beside them.
ERROR, UNCERTAINTY, NOT_MEASURED, LEAST_NAME = "error px", "± U", "unmeasured", "village"
# As many as a stack may have levels, and a few.
MOST_ENTRIES = 24


class UNDERGLASS_PT_shot(Tab, bpy.types.Panel):
    """The shot's files: open, start from art, reload, save."""

    bl_idname = "UNDERGLASS_PT_shot"
    bl_label = "Shot"

    def draw(self, context: Any) -> None:
        layout, scene, room = self.layout, context.scene, shown.room(context)
        settings, icons = scene.underglass, shown.icons()
        if not settings.shot_file:
            layout.label(text="No shot in this scene yet")
            buttons = layout.column(align=True)
            buttons.scale_y = 1.3
            buttons.operator("underglass.open_shot", icon_value=icons["FILE_FOLDER"])
            buttons.operator("underglass.new_from_art", icon_value=icons["IMAGE_DATA"])
        else:
            self._draw_open(layout, scene, room)
        # a folder that is gone is told once, above, whatever else was refused for it
        is_told = settings.is_error and whereabouts.is_gone(live.shot_path(scene))
        if (message := looking.message(scene)) and not is_told:
            box = layout.box()
            box.alert = settings.is_error
            wrapped(box, message, room, icon="ERROR" if settings.is_error else "CHECKMARK")

    def _draw_open(self, layout: Any, scene: Any, room: shown.Room) -> None:
        now, icons = live.live(scene), shown.icons()
        # takes of a shot have one title, and folders of their own
        folder = live.shot_path(scene).parent.name
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
            units = touched.UNIT_WORDS[now.shot.units]
            layout.operator_menu_enum("underglass.set_units", "units", text=f"Counts in {units}")
        if now and now.shot.stand.counter:
            layout.prop(scene.underglass, "to_counter")
        if whereabouts.is_gone(live.shot_path(scene)):
            box = layout.box()
            box.alert = True
            wrapped(box, watching.changed_words(scene), room, icon="ERROR")
            return
        if live.trouble(scene):
            box = layout.box()
            box.alert = True
            wrapped(box, live.trouble(scene), room, icon="ERROR")
        if watching.is_changed_on_disk(scene):
            box = layout.box()
            box.alert = True
            wrapped(box, watching.changed_words(scene), room, icon="FILE_REFRESH")
        others = put_away.in_the_stack(scene)
        if others:
            box = layout.box()
            wrapped(box, f"{others_said(others)} in the stack and may hide it", room, icon="INFO")
            box.operator("underglass.put_away", icon_value=icons["HIDE_ON"])
        elif put_away.away(scene) is not None:
            layout.operator("underglass.bring_back", icon_value=icons["HIDE_OFF"])
        if now:
            save_box.draw(layout, scene, now, room)


def _fitting(titles: tuple[str, ...], room: shown.Room) -> str:
    """Return the fullest title that a group has room for."""
    return next((one for one in titles if room.fits_button(one, beside=shown.GROUP_BORDER_PT)), titles[-1])


def others_said(names: tuple[str, ...]) -> str:
    """Return what stands in the stack, in a few words."""
    if len(names) > 2:
        return f"{names[0]} and {len(names) - 1} other things stand"
    return f"{' and '.join(names)} {'stand' if len(names) > 1 else 'stands'}"


class UNDERGLASS_PT_findings(StackPanel, bpy.types.Panel):
    """What would go wrong: a line for each kind, which opens to levels and frames; these are buttons that go there."""

    bl_idname = "UNDERGLASS_PT_findings"
    bl_label = "Findings"

    def show(self, context: Any, now: live.Live, _row: int) -> None:
        layout, icons, room = self.layout, shown.icons(), shown.room(context)
        if not now.groups:
            layout.label(text="nothing was found", icon_value=icons["CHECKMARK"])
        for group in now.groups:
            header, body = layout.panel(f"underglass_{group.severity}_{group.code}", default_closed=True)
            title = _fitting(group.titles, room)
            header.label(text=title, icon_value=icons[SEVERITY_ICONS[group.severity]])
            if body is not None:
                self._entries(body, group, room)

    def _entries(self, body: Any, group: finding_groups.Group, room: shown.Room) -> None:
        for entry in group.entries[:MOST_ENTRIES]:
            column = body.column(align=True)
            longer = f"{entry.name}, {entry.frames}"
            go = column.operator("underglass.show_level", text=longer if room.fits_button(longer) else entry.name)
            go.level, go.frame, go.detail = entry.part, entry.first, entry.detail
            wrapped(column, entry.message, room)
        if len(group.entries) > MOST_ENTRIES:
            body.label(text=f"and {len(group.entries) - MOST_ENTRIES} more")


class UNDERGLASS_PT_proof(StackPanel, bpy.types.Panel):
    """The proof, rendered in the background."""

    bl_idname = "UNDERGLASS_PT_proof"
    bl_label = "Proof"

    def show(self, context: Any, now: live.Live, _row: int) -> None:
        layout, settings, icons = self.layout, context.scene.underglass, shown.icons()
        options = layout.row(align=True)
        options.prop(settings, "tolerance_px")
        options.prop(settings, "prove_pictures", text="", icon_value=icons["RENDER_STILL"])
        said = proving.present(context.scene)
        if isinstance(said, running.Progress):
            count = f"{said.done} of {said.of}"
            titles = (f"{said.what}: {count}", count) if said.of else (said.what,)
            layout.progress(factor=said.done / max(said.of, 1), text=_fitting(titles, shown.room(context)))
            layout.operator("underglass.stop_proof", icon_value=icons["X"])
            return
        button = layout.row()
        button.scale_y = 1.3
        button.operator("underglass.prove", icon_value=icons["CHECKMARK"])
        if isinstance(said, running.Failed):
            box = layout.box()
            box.alert = True
            wrapped(box, said.message, shown.room(context), icon="ERROR")
        if isinstance(said, running.Finished):
            self._result(layout, context, said)
        if pictures := proof_pictures.kept_with(context.scene):
            wrapped(layout, "Pictures of the last proof, by frame", shown.room(context))
            flow = layout.grid_flow(columns=4, align=True)
            for frame in pictures:
                flow.operator("underglass.show_picture", text=str(frame)).frame = frame

    def _result(self, layout: Any, context: Any, said: running.Finished) -> None:
        room, icons = shown.room(context), shown.icons()
        box = layout.box()
        title = box.row()
        title.alert = said.verdict != "pass"
        title.label(
            text=f"the proof {said.verdict}es" if said.verdict == "pass" else "the proof fails",
            icon_value=icons["CHECKMARK" if said.verdict == "pass" else "CANCEL"],
        )
        for note in proving.notes(context.scene):
            wrapped(box, note, room, icon="ERROR")
        for line in proof_lines.said_once(said.lines):
            place = box.column()
            place.alert = proof_lines.is_fault(line)
            wrapped(place, line, room)
        _measured(layout, said.rows, room)


def _measured(layout: Any, rows: tuple[running.Row, ...], room: shown.Room) -> None:
    """Draw every level's worst place in the pixels, px, with its uncertainty where that has room."""
    icons, size = shown.icons(), {"width": room.width, "scale": room.scale}
    errors = [NOT_MEASURED if row.error_px is None else f"{row.error_px:.4f}" for row in rows]
    uncertain = ["" if row.uncertainty_px is None else f"± {row.uncertainty_px:.4f}" for row in rows]
    wanted = [Column("error", (ERROR, *errors)), Column("uncertainty", (UNCERTAINTY, *uncertain), 1)]
    there = column_widths.fitting(wanted, **size, first=LEAST_NAME, icon=True)
    first, *columns = column_widths.laid_out(layout, there, **size)
    beside = first.row(align=True)
    signs, names = beside.column(align=True), beside.column(align=True)
    cells = [signs, names, *columns]
    for cell in columns:
        cell.alignment = "RIGHT"
    signs.label(text="", icon_value=icons["BLANK1"])
    for cell, text in zip(cells[1:], ("worst", ERROR, UNCERTAINTY), strict=False):
        cell.label(text=text)
    for row, error, plus in zip(rows, errors, uncertain, strict=True):
        icon = icons["CHECKMARK" if row.verdict == "pass" else "CANCEL"]
        go = signs.operator("underglass.show_level", text="", icon_value=icon, emboss=False)
        go.level, go.frame = row.level, row.frame if row.frame is not None else -1
        for cell, text in zip(cells[1:], (row.level, error, plus), strict=False):
            cell.label(text=text)


class UNDERGLASS_PT_viewport(StackPanel, bpy.types.Panel):
    """What is drawn in the viewport."""

    bl_idname = "UNDERGLASS_PT_viewport"
    bl_label = "In the Viewport"

    def show(self, context: Any, now: live.Live, _row: int) -> None:
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
        wrapped(cost, viewport_edges.COSTS[settings.edges], shown.room(context))


CLASSES = (
    UNDERGLASS_PT_shot,
    *stack_panels.CLASSES,
    *lens_panel.CLASSES,
    UNDERGLASS_PT_findings,
    UNDERGLASS_PT_proof,
    UNDERGLASS_PT_viewport,
)
