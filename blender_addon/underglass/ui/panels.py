"""The sidebar tab: panels in the order of the work. They draw and do nothing else."""

from typing import Any

import bpy
import numpy as np

from ..plan.findings import NOTE, Finding
from ..plan.headings import HOLD, heading_word
from ..proof import running
from ..shot.model import CAMERA, CAMERA_AXES, LEVEL_AXES, FrameTable, Projection
from ..stage import hold, marks
from . import live, proving, shown, side_view, watching

SEVERITY_ICONS = {"stop": "CANCEL", "warn": "ERROR", "note": "INFO"}
MOST_FINDINGS = 16
# What lies beside a panel's contents in the sidebar, and what an icon of scale 1 is high, in points.
BORDERS_PT, UNIT_PT = 70, 20
UNIT_WORDS = {"in": "inches", "cm": "centimetres", "mm": "millimetres"}
# What of a number has room in the list of levels; Readings has them to the last figure.
HEIGHT_CHARACTERS, WIDTH_CHARACTERS = 5, 4
AXIS_WORDS = {"focal": "lens"}


class _Tab:
    """A panel of the tab; those below the first are there once the scene has a shot that can be read."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Underglass"


class _StackPanel(_Tab):
    @classmethod
    def poll(cls, context: Any) -> bool:
        return live.live(context.scene) is not None

    def draw(self, context: Any) -> None:
        now = live.live(context.scene)
        if now is None:
            return
        if now.plan is None:
            self.layout.label(text="no plan: see under Shot", icon="ERROR")
            return
        self.show(context, now, live.row_of(now.plan, context.scene.frame_current))


def _wrapped(layout: Any, text: str, context: Any, *, icon: str = "NONE") -> None:
    """Write ``text`` over as many lines as it needs."""
    column = layout.column(align=True)
    column.scale_y = 0.8
    for number, line in enumerate(shown.lines(text, context, icon=icon != "NONE")):
        column.label(text=line, icon=icon if number == 0 else ("BLANK1" if icon != "NONE" else "NONE"))


class UNDERGLASS_PT_shot(_Tab, bpy.types.Panel):
    """The shot's files: open, start from art, reload, save."""

    bl_idname = "UNDERGLASS_PT_shot"
    bl_label = "Shot"

    def draw(self, context: Any) -> None:
        layout, settings = self.layout, context.scene.underglass
        if not settings.shot_file:
            layout.label(text="No shot in this scene yet")
            buttons = layout.column(align=True)
            buttons.scale_y = 1.3
            buttons.operator("underglass.open_shot", icon="FILE_FOLDER")
            buttons.operator("underglass.new_from_art", icon="IMAGE_DATA")
        else:
            self._draw_open(layout, context)
        if settings.message:
            box = layout.box()
            box.alert = settings.is_error
            _wrapped(box, settings.message, context, icon="ERROR" if settings.is_error else "CHECKMARK")

    def _draw_open(self, layout: Any, context: Any) -> None:
        settings, now = context.scene.underglass, live.live(context.scene)
        path = live.shot_path(context.scene)
        layout.label(text=now.shot.title if now else path.parent.name, icon="CAMERA_DATA")
        row = layout.row(align=True)
        row.operator("underglass.save_shot", icon="FILE_TICK")
        row.operator("underglass.reload_shot", icon="FILE_REFRESH")
        more = row.row(align=True)
        more.operator("underglass.save_shot_elsewhere", text="", icon="DUPLICATE")
        more.operator("underglass.open_shot", text="", icon="FILE_FOLDER")
        more.operator("underglass.new_from_art", text="", icon="IMAGE_DATA")
        if now and now.shot.stand.counter:
            layout.prop(settings, "to_counter")
        for trouble in (live.trouble(context.scene), now.trouble if now else ""):
            if trouble:
                box = layout.box()
                box.alert = True
                _wrapped(box, trouble, context, icon="ERROR")
        if watching.is_changed_on_disk(context.scene):
            box = layout.box()
            box.alert = True
            _wrapped(box, watching.CHANGED, context, icon="FILE_REFRESH")
        if now and now.unsaved:
            _wrapped(layout, f"Not saved yet: {', '.join(now.unsaved)}", context, icon="GREASEPENCIL")


class UNDERGLASS_PT_stand(_StackPanel, bpy.types.Panel):
    """The stand from the side, to scale, on the present frame."""

    bl_idname = "UNDERGLASS_PT_stand"
    bl_label = "Stand"

    def show(self, context: Any, now: live.Live, row: int) -> None:
        layout, camera = self.layout, now.plan.tracks.camera
        width = context.region.width / context.preferences.system.ui_scale
        layout.template_icon(
            icon_value=side_view.icon(context, now), scale=max(6.0, min((width - BORDERS_PT) / UNIT_PT, 18.0))
        )
        parts = [f"lens at {shown.length(camera['height'][row], now.shot)} {now.shot.units}"]
        if now.shot.camera.projection is Projection.PERSPECTIVE:
            parts.append(f"{camera['focal'][row] * 1000:.4g} mm")
            focus = float(now.plan.focus_distance[row])
            far = "infinity" if np.isinf(focus) else f"{shown.length(focus, now.shot)} {now.shot.units}"
            parts.append(f"focused at {far}")
        else:
            parts.append(f"field {shown.length(now.shot.camera.field_width, now.shot)} {now.shot.units}")
        _wrapped(layout, ", ".join(parts), context)


class UNDERGLASS_PT_levels(_StackPanel, bpy.types.Panel):
    """Every level, nearest the lens first."""

    bl_idname = "UNDERGLASS_PT_levels"
    bl_label = "Levels"

    def show(self, context: Any, now: live.Live, row: int) -> None:
        column, shot = self.layout.column(align=True), now.shot
        standing = dict(marks.levels(context.scene))
        fields = shot.camera.frame_px[0] / now.plan.scale[row]
        covered = np.min([reach[row] for reach in now.reach.values()], axis=0) >= 0
        self._row(column, "", ("height", "art", "field"), icon="BLANK1").label(text="", icon="BLANK1")
        for index, level in enumerate(shot.levels):
            height = shown.length(now.plan.tracks.levels["height"][row, index], shot, most=HEIGHT_CHARACTERS)
            widths = (shown.length(value, shot, most=WIDTH_CHARACTERS) for value in (level.art_width, fields[index]))
            icon = "MATPLANE" if covered[index] else "SELECT_SET"
            line = self._row(column, f"{index + 1} {level.name}", (height, *widths), icon=icon, level=level.name)
            glass = standing.get(level.name)
            line.active = glass is not None
            held = glass is not None and hold.is_held(glass)
            toggle = line.operator("underglass.hold_size", text="", icon="LOCKED" if held else "UNLOCKED", depress=held)
            toggle.level = level.name
        unit = UNIT_WORDS[shot.units]
        words = f"In {unit}. A dashed square leaves the frame uncovered; a closed lock holds the apparent size"
        _wrapped(self.layout, words, context)

    def _row(self, column: Any, name: str, cells: tuple[str, ...], *, icon: str, level: str = "") -> Any:
        """Write a line of the list, the heading where there is no ``level``; returns it, for what stands at its end."""
        line = column.row(align=True)
        if level:
            line.operator("underglass.show_level", text="", icon=icon, emboss=False).level = level
        else:
            line.label(text="", icon=icon)
        split = line.split(factor=0.54, align=True)
        split.label(text=name)
        numbers = split.row(align=True)
        for cell in cells:
            _right(numbers, cell)
        return line


class UNDERGLASS_PT_move(_StackPanel, bpy.types.Panel):
    """What the schedule says, and where each move begins and ends."""

    bl_idname = "UNDERGLASS_PT_move"
    bl_label = "Move"

    def show(self, context: Any, now: live.Live, _row: int) -> None:
        layout, shot = self.layout, now.shot
        first, last = shot.frames
        layout.label(text=f"{shown.frames(first, last)} at {shot.fps:g} a second", icon="TIME")
        if isinstance(shot.schedule, FrameTable):
            layout.label(text=f"frame table: {len(shot.schedule.columns)} axes, {len(shot.schedule.frames)} rows")
            return
        if not shot.schedule:
            layout.label(text="everything holds")
        column = layout.column(align=True)
        for move in shot.schedule:
            row = column.split(factor=0.62, align=True)
            name = f"{move.part} {AXIS_WORDS.get(move.axis, move.axis)}"
            title = row.row(align=True)
            title.operator("underglass.show_level", text="", icon="RESTRICT_SELECT_OFF", emboss=False).level = move.part
            title.label(text=name)
            ends = row.row(align=True)
            for frame in (move.first, move.last):
                button = ends.operator("underglass.show_level", text=str(frame))
                button.level, button.frame = move.part, frame
            begin, end = (shown.reading(value, move.axis, shot) for value in (move.start, move.end))
            text = column.row()
            text.active = False
            text.label(text=f"{begin} to {end} {shown.unit_of(move.axis, shot)}, {move.law.value}", icon="BLANK1")


class UNDERGLASS_PT_readings(_StackPanel, bpy.types.Panel):
    """What every counter reads on the present frame, and its step from the frame before."""

    bl_idname = "UNDERGLASS_PT_readings"
    bl_label = "Readings"

    def show(self, context: Any, now: live.Live, row: int) -> None:
        layout, shot = self.layout, now.shot
        layout.label(text=f"Frame {int(now.plan.frames[row])}, and the step that leads to it")
        for part in (CAMERA, *now.plan.names):
            axes = _axes(now, part)
            moving = {axis: track for axis, track in axes.items() if track.min() != track.max()}
            box = layout.column(align=True)
            box.label(text=part, icon="CAMERA_DATA" if part == CAMERA else "RENDERLAYERS")
            for axis, track in moving.items():
                step = float(track[row] - track[row - 1]) if row else 0.0
                line = box.split(factor=0.26, align=True)
                line.label(text=AXIS_WORDS.get(axis, axis))
                figures = line.split(factor=0.34, align=True)
                _right(figures, shown.reading(float(track[row]), axis, shot))
                rest = figures.split(factor=0.42, align=True)
                word = heading_word(axis, step, least=1e-9)
                _right(rest, "" if word == HOLD else shown.reading(step, axis, shot, step=True))
                rest.label(text=word)
            still = [
                f"{AXIS_WORDS.get(axis, axis)} {shown.reading(float(track[row]), axis, shot)}"
                for axis, track in axes.items()
                if axis not in moving and (axis in ("height", "focal") or track[row])
            ]
            if still:
                rest = box.column()
                rest.active = False
                _wrapped(rest, f"still: {', '.join(still)}", context, icon="BLANK1")


def _axes(now: live.Live, part: str) -> dict[str, Any]:
    """Return the tracks of a part's axes."""
    plan = now.plan
    if part == CAMERA:
        perspective = now.shot.camera.projection is Projection.PERSPECTIVE
        return {axis: plan.tracks.camera[axis] for axis in CAMERA_AXES if perspective or axis != "focal"}
    column = plan.names.index(part)
    return {axis: plan.tracks.levels[axis][:, column] for axis in LEVEL_AXES}


def _right(layout: Any, text: str) -> None:
    cell = layout.row()
    cell.alignment = "RIGHT"
    cell.label(text=text)


def finding_title(finding: Finding, context: Any) -> str:
    """Return what stands on the button of a finding: what, where, and, if there is room for it, when."""
    name = f"{finding.code} · {finding.level or 'shot'}"
    longer = f"{name} · {shown.frames(*finding.frames, brief=True)}"
    return longer if shown.fits_button(longer, context) else name


class UNDERGLASS_PT_findings(_StackPanel, bpy.types.Panel):
    """What would go wrong; each finding is a button that goes there."""

    bl_idname = "UNDERGLASS_PT_findings"
    bl_label = "What Would Go Wrong"

    def show(self, context: Any, now: live.Live, _row: int) -> None:
        layout = self.layout
        if not now.findings:
            layout.label(text="nothing was found", icon="CHECKMARK")
        for finding in now.findings[:MOST_FINDINGS]:
            first = finding.frames[0]
            column = layout.column(align=True)
            icon = SEVERITY_ICONS[finding.severity]
            go = column.operator("underglass.show_level", text=finding_title(finding, context), icon=icon)
            go.level, go.frame, go.detail = finding.level or CAMERA, first, f"{finding.message}. {finding.remedy}"
            if finding.severity != NOTE:
                _wrapped(column, finding.message, context)
        if len(now.findings) > MOST_FINDINGS:
            layout.label(text=f"and {len(now.findings) - MOST_FINDINGS} more")


class UNDERGLASS_PT_proof(_StackPanel, bpy.types.Panel):
    """The proof from test frames, rendered in the background."""

    bl_idname = "UNDERGLASS_PT_proof"
    bl_label = "Proof"

    def show(self, context: Any, now: live.Live, _row: int) -> None:
        layout, settings = self.layout, context.scene.underglass
        options = layout.row(align=True)
        options.prop(settings, "tolerance_px")
        options.prop(settings, "prove_pictures", text="", icon="RENDER_STILL")
        said = proving.present(context.scene)
        if isinstance(said, running.Progress):
            count = f": {said.done} of {said.of}" if said.of else ""
            layout.progress(factor=said.done / max(said.of, 1), text=f"{said.what}{count}")
            layout.operator("underglass.stop_proof", icon="X")
            return
        button = layout.row()
        button.scale_y = 1.3
        button.operator("underglass.prove", icon="CHECKMARK")
        if isinstance(said, running.Failed):
            box = layout.box()
            box.alert = True
            _wrapped(box, said.message, context, icon="ERROR")
        if isinstance(said, running.Finished):
            self._result(layout, context, said)

    def _result(self, layout: Any, context: Any, said: running.Finished) -> None:
        box = layout.box()
        box.alert = said.verdict != "pass"
        box.label(
            text=f"the proof {said.verdict}es" if said.verdict == "pass" else "the proof fails",
            icon="CHECKMARK" if said.verdict == "pass" else "CANCEL",
        )
        for line in said.lines:
            _wrapped(box, line, context)
        table = layout.column(align=True)
        head = table.split(factor=0.42)
        head.label(text="level")
        head.label(text="worst error ± U, px")
        for one in said.rows:
            line = table.split(factor=0.42, align=True)
            icon = "CHECKMARK" if one.verdict == "pass" else "CANCEL"
            name = line.row(align=True)
            go = name.operator("underglass.show_level", text="", icon=icon, emboss=False)
            name.label(text=one.level)
            go.level, go.frame = one.level, one.frame if one.frame is not None else -1
            figures = "not measured" if one.error_px is None else f"{one.error_px:.4f} ± {one.uncertainty_px:.4f}"
            line.label(text=figures)
        if said.pictures:
            flow = layout.grid_flow(columns=4, align=True)
            for frame in said.pictures:
                flow.operator("underglass.show_picture", text=str(frame), icon="IMAGE_DATA").frame = frame


class UNDERGLASS_PT_viewport(_StackPanel, bpy.types.Panel):
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
    UNDERGLASS_PT_stand,
    UNDERGLASS_PT_levels,
    UNDERGLASS_PT_move,
    UNDERGLASS_PT_readings,
    UNDERGLASS_PT_findings,
    UNDERGLASS_PT_proof,
    UNDERGLASS_PT_viewport,
)
