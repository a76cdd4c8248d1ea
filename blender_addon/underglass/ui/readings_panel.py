# SPDX-License-Identifier: GPL-3.0-or-later
"""The panel Readings: what every counter reads on the present frame. It draws and does nothing else."""

from typing import Any

import bpy

from . import column_widths, live_stack, shown_words
from .column_widths import Column
from .layouts import StackPanel, wrapped

LEAST_PART = "morning star"


class UNDERGLASS_PT_readings(StackPanel, bpy.types.Panel):
    """What every counter reads on the present frame, and its step from the frame before."""

    bl_idname = "UNDERGLASS_PT_readings"
    bl_label = "Readings"

    def show(self, context: Any, now: live_stack.Live, row: int) -> None:
        layout, room = self.layout, shown_words.room(context)
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
