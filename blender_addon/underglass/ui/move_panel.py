# SPDX-License-Identifier: GPL-3.0-or-later
"""The panel Move: the rows of the schedule. It draws and does nothing else."""

from typing import Any

import bpy

from ..shot.model import FrameTable
from . import figures, live_stack, shown_words
from .layouts import StackPanel, wrapped
from .panel_words import MoveWords

# What stands beside the title of a move where there is room for its frames, points.
MOVE_BORDER_PT = 215


class UNDERGLASS_PT_move(StackPanel, bpy.types.Panel):
    """What the schedule says, and where each move begins and ends."""

    bl_idname = "UNDERGLASS_PT_move"
    bl_label = "Move"

    def show(self, context: Any, now: live_stack.Live, _row: int) -> None:
        layout, shot, icons, room = self.layout, now.shot, shown_words.icons(), shown_words.room(context)
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
