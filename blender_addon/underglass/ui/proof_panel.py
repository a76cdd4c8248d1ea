# SPDX-License-Identifier: GPL-3.0-or-later
"""The panel Proof: what is asked of it, how far it is, what it says. It draws and does nothing else."""

from typing import Any

import bpy

from ..proof import proof_beside_window
from . import column_widths, live_stack, proof_lines, proof_operators, proof_pictures, shown_words
from .column_widths import Column
from .layouts import StackPanel, fullest_title, wrapped

# The columns of what was measured; the least of a name beside them.
ERROR, UNCERTAINTY, NOT_MEASURED, LEAST_NAME = "error px", "± U", "unmeasured", "village"


class UNDERGLASS_PT_proof(StackPanel, bpy.types.Panel):
    """The proof, rendered in the background."""

    bl_idname = "UNDERGLASS_PT_proof"
    bl_label = "Proof"

    def show(self, context: Any, now: live_stack.Live, _row: int) -> None:
        layout, settings, icons = self.layout, context.scene.underglass, shown_words.icons()
        options = layout.row(align=True)
        options.prop(settings, "tolerance_px")
        options.prop(settings, "prove_pictures", text="", icon_value=icons["RENDER_STILL"])
        said = proof_operators.present(context.scene)
        if isinstance(said, proof_beside_window.Progress):
            count = f"{said.done} of {said.of}"
            titles = (f"{said.what}: {count}", count) if said.of else (said.what,)
            layout.progress(factor=said.done / max(said.of, 1), text=fullest_title(titles, shown_words.room(context)))
            layout.operator("underglass.stop_proof", icon_value=icons["X"])
            return
        button = layout.row()
        button.scale_y = 1.3
        button.operator("underglass.prove", icon_value=icons["CHECKMARK"])
        if isinstance(said, proof_beside_window.Failed):
            box = layout.box()
            box.alert = True
            wrapped(box, said.message, shown_words.room(context), icon="ERROR")
        if isinstance(said, proof_beside_window.Finished):
            self._result(layout, context, said)
        if pictures := proof_pictures.kept_with(context.scene):
            wrapped(layout, "Pictures of the last proof, by frame", shown_words.room(context))
            flow = layout.grid_flow(columns=4, align=True)
            for frame in pictures:
                flow.operator("underglass.show_picture", text=str(frame)).frame = frame

    def _result(self, layout: Any, context: Any, said: proof_beside_window.Finished) -> None:
        room, icons = shown_words.room(context), shown_words.icons()
        box = layout.box()
        title = box.row()
        title.alert = said.verdict != "pass"
        title.label(
            text=f"the proof {said.verdict}es" if said.verdict == "pass" else "the proof fails",
            icon_value=icons["CHECKMARK" if said.verdict == "pass" else "CANCEL"],
        )
        for note in proof_operators.notes(context.scene):
            wrapped(box, note, room, icon="ERROR")
        for line in proof_lines.said_once(said.lines):
            place = box.column()
            place.alert = proof_lines.is_fault(line)
            wrapped(place, line, room)
        _measured(layout, said.rows, room)


def _measured(layout: Any, rows: tuple[proof_beside_window.Row, ...], room: shown_words.Room) -> None:
    """Draw every level's worst place in the pixels, px, with its uncertainty where that has room."""
    icons, size = shown_words.icons(), {"width": room.width, "scale": room.scale}
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
