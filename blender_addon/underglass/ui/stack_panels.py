"""The panels on the stack itself: the stand from the side, levels, move, readings. They draw and do nothing else."""

from typing import Any

import bpy

from ..shot.model import FrameTable
from . import column_widths, figures, live, place_fields, shown, side_view, stack_operators
from .column_widths import Column
from .layouts import StackPanel, wrapped
from .words import MoveWords

# What stands beside the title of a move where there is room for its frames, points.
MOVE_BORDER_PT = 215
# What an icon of scale 1 is high, in points, and the largest that the stand is drawn.
UNIT_PT, MOST_UNITS, LEAST_UNITS = 20, 18.0, 6.0
# The least of a level's name that is shown, and of an axis's.
LEAST_NAME, LEAST_PART = "12 villa", "morning star"
# The list of levels at its narrowest: what is dropped first has the highest rank.
LEVEL_RANKS = {"height": 0, "art": 3, "field": 2, "hold": 0, "eye": 1}
SIGN = "Choose this level. A dashed square: on this frame its art does not reach an edge of the frame that it covers"
HEADINGS = {"height": "height", "art": "art", "field": "field"}


class UNDERGLASS_PT_stand(StackPanel, bpy.types.Panel):
    """The stand from the side, to scale, on the present frame."""

    bl_idname = "UNDERGLASS_PT_stand"
    bl_label = "Stand"

    def show(self, context: Any, now: live.Live, row: int) -> None:
        layout, room = self.layout, shown.room(context)
        scale = max(LEAST_UNITS, min((room.points - column_widths.BESIDE_PT) / UNIT_PT, MOST_UNITS))
        icon = side_view.icon(context, now, row, size_px=round(scale * UNIT_PT * room.scale))
        layout.template_icon(icon_value=icon, scale=scale)
        below = layout.column(align=True)
        below.scale_y = 0.8
        for line in room.joined(now.words.lens.at(row)):
            below.label(text=line)


class UNDERGLASS_PT_levels(StackPanel, bpy.types.Panel):
    """Every level, nearest the lens first."""

    bl_idname = "UNDERGLASS_PT_levels"
    bl_label = "Levels"

    def show(self, context: Any, now: live.Live, row: int) -> None:
        layout, room = self.layout, shown.room(context)
        _list(layout, now, row, room, chosen=stack_operators.chosen_level(context))
        _buttons(layout)
        thing = place_fields.chosen_thing(context)
        if thing is not None:
            _fields(layout, context.scene, now, thing)


def _list(layout: Any, now: live.Live, row: int, room: shown.Room, *, chosen: str) -> None:
    """Draw the list of levels: a column for each kind of entry; a row for each level takes three times as long."""
    icons, widest = shown.icons(), now.words.widest
    size = {"width": room.width, "scale": room.scale}
    wanted = [
        Column(name, (widest[name], HEADINGS[name]) if name in HEADINGS else (), rank)
        for name, rank in LEVEL_RANKS.items()
    ]
    there = column_widths.fitting(wanted, **size, first=LEAST_NAME, icon=True)
    first, *columns = column_widths.laid_out(layout, there, **size)
    names = first.row(align=True)
    signs, titles = names.column(align=True), names.column(align=True)
    cells = {column.name: made for (column, _), made in zip(there, columns, strict=True)}
    for name in HEADINGS:
        if name in cells:
            cells[name].alignment = "RIGHT"
    signs.label(text="", icon_value=icons["BLANK1"])
    titles.label(text=now.shot.units)
    for name, cell in cells.items():
        cell.label(text=HEADINGS.get(name, ""), icon_value=0 if name in HEADINGS else icons["BLANK1"])
    covered, bare = icons["MATPLANE"], icons["SELECT_SET"]
    holds, free = icons["CON_SIZELIMIT"], icons["DOT"]
    seen, hidden = icons["HIDE_OFF"], icons["HIDE_ON"]
    for level in now.words.levels:
        name = level.name
        held = now.held.get(name)
        here = cells if held is not None else {key: _faint(cell) for key, cell in cells.items()}
        icon = covered if level.covered[row] else bare
        is_chosen = name == chosen
        go = signs.operator("underglass.show_level", text="", icon_value=icon, emboss=is_chosen, depress=is_chosen)
        go.level, go.detail = name, SIGN
        title = titles if held is not None else _faint(titles)
        title.label(text=level.title)
        here["height"].label(text=level.height(row))
        if "art" in here:
            here["art"].label(text=level.art)
        if "field" in here:
            here["field"].label(text=level.field(row))
        icon = holds if held else free
        here["hold"].operator(
            "underglass.hold_size", text="", icon_value=icon, emboss=bool(held), depress=bool(held)
        ).level = name
        if "eye" in here:
            icon = hidden if name in now.hidden else seen
            here["eye"].operator("underglass.hide_level", text="", icon_value=icon, emboss=False).level = name


def _buttons(layout: Any) -> None:
    """Draw what can be done with the chosen level, as beside Blender's own lists."""
    icons, row = shown.icons(), layout.row(align=True)
    row.operator("underglass.add_level", text="", icon_value=icons["ADD"])
    row.operator("underglass.delete_level", text="", icon_value=icons["REMOVE"])
    row.operator("underglass.duplicate_level", text="", icon_value=icons["DUPLICATE"])
    row.menu("UNDERGLASS_MT_levels", text="", icon="DOWNARROW_HLT")
    row.separator()
    row.operator("underglass.move_level", text="", icon_value=icons["TRIA_UP"]).nearer = True
    row.operator("underglass.move_level", text="", icon_value=icons["TRIA_DOWN"]).nearer = False


def _fields(layout: Any, scene: Any, now: live.Live, thing: Any) -> None:
    """Draw the places of what is chosen as fields, each with a diamond that keys it on the present frame."""
    place, icons, frame = scene.underglass_place, shown.icons(), scene.frame_current
    column = layout.column(align=True)
    for axis in place_fields.AXES:
        row = column.row(align=True)
        unit = figures.unit_of(axis, now.shot)
        row.prop(place, axis, text=f"{axis.capitalize()} {unit}")
        icon = icons[place_fields.key_icon(thing, axis, frame)]
        row.operator("underglass.key_place", text="", icon_value=icon).axis = axis
    if thing.type == "MESH":
        column.prop(place, "width", text=f"Width {now.shot.units}")


def _faint(column: Any) -> Any:
    """Return a place in ``column`` for what is greyed out."""
    cell = column.row(align=True)
    cell.active, cell.alignment = False, column.alignment
    return cell


class UNDERGLASS_PT_move(StackPanel, bpy.types.Panel):
    """What the schedule says, and where each move begins and ends."""

    bl_idname = "UNDERGLASS_PT_move"
    bl_label = "Move"

    def show(self, context: Any, now: live.Live, _row: int) -> None:
        layout, shot, icons, room = self.layout, now.shot, shown.icons(), shown.room(context)
        wrapped(layout, f"{figures.frames(*shot.frames)} at {shot.fps:g} a second", room)
        if isinstance(shot.schedule, FrameTable):
            wrapped(layout, f"frame table: {len(shot.schedule.columns)} axes, {len(shot.schedule.frames)} rows", room)
            return
        if not shot.schedule and not now.words.charted:
            layout.label(text="everything holds")
        column = layout.column(align=True)
        is_wide = room.fits_button(now.words.widest["move"], beside=MOVE_BORDER_PT)
        for number, move in enumerate(now.words.moves):
            row = column.row(align=True)
            if is_wide:
                _go(row, move, icons)
            row.label(text=move.title)
            if not is_wide:
                # buttons have a row of their own where they would cut the title
                row = column.row(align=True)
                _go(row, move, icons)
            ends = row.row(align=True)
            ends.alignment = "RIGHT" if is_wide else "EXPAND"
            _ends(ends, move)
            ends.operator("underglass.edit_move", text="", icon_value=icons["GREASEPENCIL"]).number = number
            ends.operator("underglass.remove_move", text="", icon_value=icons["X"]).number = number
            text = column.column(align=True)
            text.active = False
            for line in room.joined((move.line, move.law)):
                text.label(text=line)
        for move in now.words.charted:
            wrapped(layout, f"{move.title}, {move.law}", room)
            text = layout.column(align=True)
            text.active = False
            for line in room.joined((move.when, move.line)):
                text.label(text=line)
        layout.operator("underglass.add_move", icon_value=icons["ADD"])


def _go(row: Any, move: MoveWords, icons: dict[str, int]) -> None:
    """Draw the button that chooses the part of a move."""
    go = row.operator("underglass.show_level", text="", icon_value=icons["RESTRICT_SELECT_OFF"], emboss=False)
    go.level = move.part


def _ends(row: Any, move: MoveWords) -> None:
    """Draw the buttons that go to the first and the last frame of a move."""
    for frame in move.frames:
        button = row.operator("underglass.show_level", text=str(frame))
        button.level, button.frame = move.part, frame


class UNDERGLASS_PT_readings(StackPanel, bpy.types.Panel):
    """What every counter reads on the present frame, and its step from the frame before."""

    bl_idname = "UNDERGLASS_PT_readings"
    bl_label = "Readings"

    def show(self, context: Any, now: live.Live, row: int) -> None:
        layout, room = self.layout, shown.room(context)
        widest = now.words.widest
        size = {"width": room.width, "scale": room.scale}
        wanted = [Column(name, (widest[name],), rank) for rank, name in enumerate(("reading", "step", "heading"))]
        there = column_widths.fitting(wanted, **size, first=LEAST_PART)
        has_steps = any(column.name == "step" for column, _ in there)
        wrapped(layout, f"Frame {now.shot.frames[0] + row}{', and the step to it' if has_steps else ''}", room)
        names, *columns = column_widths.laid_out(layout, there, **size)
        made = {column.name: cell for (column, _), cell in zip(there, columns, strict=True)}
        for name in ("reading", "step"):
            if name in made:
                made[name].alignment = "RIGHT"
        reads, steps, goes = made["reading"], made.get("step"), made.get("heading")
        for part in now.words.parts:
            if not part.moving:
                continue
            names.label(text=part.name)
            for cell in (reads, steps, goes):
                if cell is not None:
                    cell.label(text="")
            for moving in part.moving:
                reading, step, heading = moving.at(row)
                names.label(text=f"    {moving.word}")
                reads.label(text=reading)
                if steps is not None:
                    steps.label(text=step)
                if goes is not None:
                    goes.label(text=heading)
        header, body = layout.panel("underglass_still", default_closed=True)
        header.label(text="What holds still")
        if body is not None:
            for part in now.words.parts:
                if part.still:
                    wrapped(body, part.still, room)


CLASSES = (UNDERGLASS_PT_stand, UNDERGLASS_PT_levels, UNDERGLASS_PT_move, UNDERGLASS_PT_readings)
