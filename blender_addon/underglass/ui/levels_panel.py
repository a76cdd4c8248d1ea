# SPDX-License-Identifier: GPL-3.0-or-later
"""The panel Levels: the list, its buttons, and the places of the chosen level. It draws and does nothing else."""

from typing import Any

import bpy

from . import column_widths, figures, live_stack, place_fields, shown_words, stack_operators
from .column_widths import Column
from .layouts import StackPanel

# The least of a level's name that is shown, and of an axis's.
LEAST_NAME = "12 villa"
# The list of levels at its narrowest: what is dropped first has the highest rank.
LEVEL_RANKS = {"height": 0, "art": 3, "field": 2, "hold": 0, "eye": 1}
SIGN = "Choose this level. A dashed square: on this frame its art does not reach an edge of the frame that it covers"
HEADINGS = {"height": "height", "art": "art", "field": "field"}


class UNDERGLASS_PT_levels(StackPanel, bpy.types.Panel):
    """Every level, nearest the lens first."""

    bl_idname = "UNDERGLASS_PT_levels"
    bl_label = "Levels"

    def show(self, context: Any, now: live_stack.Live, row: int) -> None:
        layout, room = self.layout, shown_words.room(context)
        _list(layout, now, row, room, chosen=stack_operators.chosen_level(context))
        _buttons(layout)
        thing = place_fields.chosen_thing(context)
        if thing is not None:
            _fields(layout, context.scene, now, thing)


def _list(layout: Any, now: live_stack.Live, row: int, room: shown_words.Room, *, chosen: str) -> None:
    """Draw the list of levels: a column for each kind of entry; a row for each level takes three times as long."""
    icons, widest = shown_words.icons(), now.words.widest
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
    icons, row = shown_words.icons(), layout.row(align=True)
    row.operator("underglass.add_level", text="", icon_value=icons["ADD"])
    row.operator("underglass.delete_level", text="", icon_value=icons["REMOVE"])
    row.operator("underglass.duplicate_level", text="", icon_value=icons["DUPLICATE"])
    row.menu("UNDERGLASS_MT_levels", text="", icon="DOWNARROW_HLT")
    row.separator()
    row.operator("underglass.move_level", text="", icon_value=icons["TRIA_UP"]).nearer = True
    row.operator("underglass.move_level", text="", icon_value=icons["TRIA_DOWN"]).nearer = False


def _fields(layout: Any, scene: Any, now: live_stack.Live, thing: Any) -> None:
    """Draw the places of what is chosen as fields, each with a diamond that keys it on the present frame."""
    place, icons, frame = scene.underglass_place, shown_words.icons(), scene.frame_current
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
