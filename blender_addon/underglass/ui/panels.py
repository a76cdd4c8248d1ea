"""The sidebar tab: panels in the order of the work, which draw and do nothing else; `stack_panels` are part of it."""

from typing import Any

import bpy

from ..plan.findings import NOTE, Finding
from ..proof import running
from ..shot.model import CAMERA
from . import figures, lens_panel, live, proving, save_box, shown, stack_panels, watching
from .layouts import StackPanel, Tab, wrapped

SEVERITY_ICONS = {"stop": "CANCEL", "warn": "ERROR", "note": "INFO"}
MOST_FINDINGS = 16


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
        if settings.message:
            box = layout.box()
            box.alert = settings.is_error
            wrapped(box, settings.message, room, icon="ERROR" if settings.is_error else "CHECKMARK")

    def _draw_open(self, layout: Any, scene: Any, room: shown.Room) -> None:
        now, icons = live.live(scene), shown.icons()
        title = now.shot.title if now else live.shot_path(scene).parent.name
        layout.label(text=title, icon_value=icons["CAMERA_DATA"])
        row = layout.row(align=True)
        row.operator("underglass.save_shot", icon_value=icons["FILE_TICK"])
        row.operator("underglass.reload_shot", icon_value=icons["FILE_REFRESH"])
        more = row.row(align=True)
        more.operator("underglass.save_shot_elsewhere", text="", icon_value=icons["DUPLICATE"])
        more.operator("underglass.open_shot", text="", icon_value=icons["FILE_FOLDER"])
        more.operator("underglass.new_from_art", text="", icon_value=icons["IMAGE_DATA"])
        if now and now.shot.stand.counter:
            layout.prop(scene.underglass, "to_counter")
        if live.trouble(scene):
            box = layout.box()
            box.alert = True
            wrapped(box, live.trouble(scene), room, icon="ERROR")
        if watching.is_changed_on_disk(scene):
            box = layout.box()
            box.alert = True
            wrapped(box, watching.CHANGED, room, icon="FILE_REFRESH")
        if now:
            save_box.draw(layout, now, room)


def finding_title(finding: Finding, room: shown.Room) -> str:
    """Return what stands on the button of a finding: what, where, and, if there is room for it, when."""
    name = f"{finding.code} · {finding.level or 'shot'}"
    longer = f"{name} · {figures.frames(*finding.frames, brief=True)}"
    return longer if room.fits_button(longer) else name


class UNDERGLASS_PT_findings(StackPanel, bpy.types.Panel):
    """What would go wrong; each finding is a button that goes there."""

    bl_idname = "UNDERGLASS_PT_findings"
    bl_label = "What Would Go Wrong"

    def show(self, context: Any, now: live.Live, _row: int) -> None:
        layout, icons, room = self.layout, shown.icons(), shown.room(context)
        if not now.findings:
            layout.label(text="nothing was found", icon_value=icons["CHECKMARK"])
        for finding in now.findings[:MOST_FINDINGS]:
            first = finding.frames[0]
            column = layout.column(align=True)
            icon = icons[SEVERITY_ICONS[finding.severity]]
            go = column.operator("underglass.show_level", text=finding_title(finding, room), icon_value=icon)
            go.level, go.frame, go.detail = finding.level or CAMERA, first, f"{finding.message}. {finding.remedy}"
            if finding.severity != NOTE:
                wrapped(column, finding.message, room)
        if len(now.findings) > MOST_FINDINGS:
            layout.label(text=f"and {len(now.findings) - MOST_FINDINGS} more")


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
            count = f": {said.done} of {said.of}" if said.of else ""
            layout.progress(factor=said.done / max(said.of, 1), text=f"{said.what}{count}")
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

    def _result(self, layout: Any, context: Any, said: running.Finished) -> None:
        room, icons = shown.room(context), shown.icons()
        box = layout.box()
        box.alert = said.verdict != "pass"
        box.label(
            text=f"the proof {said.verdict}es" if said.verdict == "pass" else "the proof fails",
            icon_value=icons["CHECKMARK" if said.verdict == "pass" else "CANCEL"],
        )
        for note in proving.notes(context.scene):
            wrapped(box, note, room, icon="ERROR")
        for line in said.lines:
            wrapped(box, line, room)
        table = layout.column(align=True)
        head = table.split(factor=0.42)
        head.label(text="level")
        head.label(text="worst error ± U, px")
        for one in said.rows:
            line = table.split(factor=0.42, align=True)
            icon = "CHECKMARK" if one.verdict == "pass" else "CANCEL"
            name = line.row(align=True)
            go = name.operator("underglass.show_level", text="", icon_value=icons[icon], emboss=False)
            name.label(text=one.level)
            go.level, go.frame = one.level, one.frame if one.frame is not None else -1
            error = "not measured" if one.error_px is None else f"{one.error_px:.4f} ± {one.uncertainty_px:.4f}"
            line.label(text=error)
        if said.pictures:
            flow = layout.grid_flow(columns=4, align=True)
            for frame in said.pictures:
                flow.operator("underglass.show_picture", text=str(frame), icon_value=icons["IMAGE_DATA"]).frame = frame


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


CLASSES = (
    UNDERGLASS_PT_shot,
    *stack_panels.CLASSES,
    *lens_panel.CLASSES,
    UNDERGLASS_PT_findings,
    UNDERGLASS_PT_proof,
    UNDERGLASS_PT_viewport,
)
