"""The panels on the stack itself: the stand from the side, levels, move, readings. They draw and do nothing else."""

from typing import Any

import bpy

from ..shot.model import CAMERA, FrameTable
from . import figures, live, shown, side_view
from .layouts import StackPanel, right, wrapped

# What lies beside a panel's contents in the sidebar, and what an icon of scale 1 is high, in points.
BORDERS_PT, UNIT_PT = 70, 20
UNIT_WORDS = {"in": "inches", "cm": "centimetres", "mm": "millimetres"}


class UNDERGLASS_PT_stand(StackPanel, bpy.types.Panel):
    """The stand from the side, to scale, on the present frame."""

    bl_idname = "UNDERGLASS_PT_stand"
    bl_label = "Stand"

    def show(self, context: Any, now: live.Live, row: int) -> None:
        layout, room = self.layout, shown.room(context)
        scale = max(6.0, min((room.points - BORDERS_PT) / UNIT_PT, 18.0))
        layout.template_icon(icon_value=side_view.icon(context, now, row), scale=scale)
        below = layout.column(align=True)
        for line in now.words.lens.at(row):
            wrapped(below, line, room)


class UNDERGLASS_PT_levels(StackPanel, bpy.types.Panel):
    """Every level, nearest the lens first."""

    bl_idname = "UNDERGLASS_PT_levels"
    bl_label = "Levels"

    def show(self, context: Any, now: live.Live, row: int) -> None:
        icons, table = shown.icons(), self.layout.row(align=True)
        # a column for each kind of entry: a row for each level would take three times the layouts
        go = table.column(align=True)
        split = table.split(factor=0.5, align=True)
        titles, numbers = split.column(align=True), split.row(align=True)
        columns = [right(numbers) for _ in range(3)]
        locks = table.column(align=True)
        blank = icons["BLANK1"]
        go.label(text="", icon_value=blank)
        titles.label(text="")
        for column, heading in zip(columns, ("height", "art", "field"), strict=True):
            column.label(text=heading)
        locks.label(text="", icon_value=blank)
        covered, bare = icons["MATPLANE"], icons["SELECT_SET"]
        locked, unlocked = icons["LOCKED"], icons["UNLOCKED"]
        for level in now.words.levels:
            held = now.held.get(level.name)
            cells = go, titles, *columns, locks
            if held is None:
                cells = tuple(_faint(cell) for cell in cells)
            icon = covered if level.covered[row] else bare
            cells[0].operator("underglass.show_level", text="", icon_value=icon, emboss=False).level = level.name
            cells[1].label(text=level.title)
            for cell, text in zip(cells[2:5], level.at(row), strict=True):
                cell.label(text=text)
            icon = locked if held else unlocked
            cells[5].operator("underglass.hold_size", text="", icon_value=icon, depress=bool(held)).level = level.name
        unit = UNIT_WORDS[now.shot.units]
        words = f"In {unit}. A dashed square leaves the frame uncovered; a closed lock holds the apparent size"
        wrapped(self.layout, words, shown.room(context))


def _faint(column: Any) -> Any:
    """Return a place in ``column`` for what is greyed out."""
    cell = column.row(align=True)
    cell.active, cell.alignment = False, column.alignment
    return cell


class UNDERGLASS_PT_move(StackPanel, bpy.types.Panel):
    """What the schedule says, and where each move begins and ends."""

    bl_idname = "UNDERGLASS_PT_move"
    bl_label = "Move"

    def show(self, _context: Any, now: live.Live, _row: int) -> None:
        layout, shot, icons = self.layout, now.shot, shown.icons()
        frames = figures.frames(*shot.frames)
        layout.label(text=f"{frames} at {shot.fps:g} a second", icon_value=icons["TIME"])
        if isinstance(shot.schedule, FrameTable):
            layout.label(text=f"frame table: {len(shot.schedule.columns)} axes, {len(shot.schedule.frames)} rows")
            return
        if not shot.schedule:
            layout.label(text="everything holds")
        column, select, blank = layout.column(align=True), icons["RESTRICT_SELECT_OFF"], icons["BLANK1"]
        for move in now.words.moves:
            row = column.split(factor=0.62, align=True)
            title = row.row(align=True)
            title.operator("underglass.show_level", text="", icon_value=select, emboss=False).level = move.part
            title.label(text=move.title)
            ends = row.row(align=True)
            for frame in move.frames:
                button = ends.operator("underglass.show_level", text=str(frame))
                button.level, button.frame = move.part, frame
            text = column.row()
            text.active = False
            text.label(text=move.line, icon_value=blank)


class UNDERGLASS_PT_readings(StackPanel, bpy.types.Panel):
    """What every counter reads on the present frame, and its step from the frame before."""

    bl_idname = "UNDERGLASS_PT_readings"
    bl_label = "Readings"

    def show(self, context: Any, now: live.Live, row: int) -> None:
        layout, icons, room = self.layout, shown.icons(), shown.room(context)
        layout.label(text=f"Frame {now.shot.frames[0] + row}, and the step that leads to it")
        for part in now.words.parts:
            box = layout.column(align=True)
            box.label(text=part.name, icon_value=icons["CAMERA_DATA" if part.name == CAMERA else "RENDERLAYERS"])
            for moving in part.moving:
                reading, step, heading = moving.at(row)
                line = box.split(factor=0.26, align=True)
                line.label(text=moving.word)
                place = line.split(factor=0.34, align=True)
                place.alignment = "RIGHT"
                place.label(text=reading)
                rest = place.split(factor=0.42, align=True)
                rest.alignment = "RIGHT"
                rest.label(text=step)
                rest.alignment = "EXPAND"
                rest.label(text=heading)
            if part.still:
                rest = box.column()
                rest.active = False
                wrapped(rest, part.still, room, icon="BLANK1")


CLASSES = (UNDERGLASS_PT_stand, UNDERGLASS_PT_levels, UNDERGLASS_PT_move, UNDERGLASS_PT_readings)
