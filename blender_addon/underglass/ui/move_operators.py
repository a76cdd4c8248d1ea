# SPDX-License-Identifier: GPL-3.0-or-later
"""Operators on the rows of the schedule: add, edit and remove a move. See `move_edits`."""

from typing import Any

import bpy

from ..shot import CAMERA, FrameTable, Law, Shot
from ..shot.model import SLOWED_LAWS
from . import figures, live_stack, move_edits
from .level_operators import OTHER_MODE, NeedsStack
from .report_operator import done, failed, reported
from .stack_operators import SAVE_TO_KEEP, chosen_level
from .touched_words import AXIS_WORDS

LAWS = [
    (Law.STEADY.value, "steady", "Constant speed, with as many steps to leave rest and to come to rest as you say"),
    (Law.SINE.value, "sine", "Half a cosine wave: slow, fast, slow"),
    (
        Law.BEZIER.value,
        "bezier",
        "The ease of two keys: a cubic curve that is level at both ends",
    ),
    (Law.RATIO.value, "ratio", "Equal ratios a step, so that growth on screen is steady: heights and the lens"),
]
# Blender keeps no hold of the texts of items that are made anew.
_items: dict[str, list[tuple[str, str, str]]] = {}


class _NeedsRows(NeedsStack):
    """An operator that is greyed out, with the reason, where the schedule has no rows."""

    @classmethod
    def poll(cls, context: Any) -> bool:
        if not super().poll(context):
            return False
        now = live_stack.live(context.scene)
        if now is None or now.plan is None:
            cls.poll_message_set("The stack has no plan: see under Shot")
            return False
        if isinstance(now.shot.schedule, FrameTable):
            cls.poll_message_set("The schedule is a frame table: it has no rows of moves")
            return False
        return True


def _shot(context: Any) -> Shot | None:
    now = live_stack.live(context.scene)
    return None if now is None else now.shot


def _parts(_operator: Any, context: Any) -> list[tuple[str, str, str]]:
    shot = _shot(context)
    _items["parts"] = [(name, name, "") for name in (CAMERA, *(shot.names if shot else ()))]
    return _items["parts"]


def _levels(_operator: Any, context: Any) -> list[tuple[str, str, str]]:
    shot = _shot(context)
    _items["levels"] = [(name, name, "") for name in (shot.names if shot else ("-",))]
    return _items["levels"]


def _axes(operator: Any, context: Any) -> list[tuple[str, str, str]]:
    shot = _shot(context)
    found = move_edits.axes_of(shot, operator.part) if shot else move_edits.LEVEL_ROWS
    _items["axes"] = [(axis, AXIS_WORDS.get(axis, axis), "") for axis in found]
    return _items["axes"]


class _Row:
    """The fields of a row, in what the stand counts in."""

    part: bpy.props.EnumProperty(name="Part", items=_parts)
    axis: bpy.props.EnumProperty(name="Axis", items=_axes)
    first: bpy.props.IntProperty(name="First frame", min=0)
    last: bpy.props.IntProperty(name="Last frame", min=0)
    start: bpy.props.FloatProperty(name="From", precision=3)
    end: bpy.props.FloatProperty(name="To", precision=3)
    law: bpy.props.EnumProperty(name="Law", items=LAWS)
    slow_out: bpy.props.FloatProperty(name="Slow out", description="Steps to leave rest", min=0.0, precision=1)
    slow_in: bpy.props.FloatProperty(name="Slow in", description="Steps to come to rest", min=0.0, precision=1)
    about: bpy.props.EnumProperty(name="About", description="The level that grows by equal ratios", items=_levels)

    def _row(self, shot: Shot, *, like: Any = None) -> Any:
        return move_edits.made(
            shot,
            self.part,
            self.axis,
            start=self.start,
            end=self.end,
            first=self.first,
            last=self.last,
            law=Law(self.law),
            slow_out=self.slow_out,
            slow_in=self.slow_in,
            about=self.about,
            like=like,
        )

    def _draw(self, context: Any, *, may_choose: bool, begins: bool) -> None:
        layout, shot = self.layout, _shot(context)
        layout.use_property_split, layout.use_property_decorate = True, False
        if may_choose:
            layout.prop(self, "part")
            layout.prop(self, "axis")
        frames = layout.column(align=True)
        frames.prop(self, "first")
        frames.prop(self, "last")
        unit = figures.unit_of(self.axis, shot) if shot else ""
        places = layout.column(align=True)
        place = places.row()
        place.enabled = begins
        place.prop(self, "start", text=f"From, {unit}")
        places.prop(self, "end", text=f"To, {unit}")
        layout.prop(self, "law")
        if self.law in {law.value for law in SLOWED_LAWS}:
            slows = layout.column(align=True)
            slows.prop(self, "slow_out")
            slows.prop(self, "slow_in")
        if self.law == Law.RATIO.value and (self.part, self.axis) == (CAMERA, "height"):
            layout.prop(self, "about")


def _refused(operator: Any, context: Any) -> bool:
    """Return whether a row cannot be worked on now, and say why. A poll would be asked for each row that is drawn."""
    shot = _shot(context)
    if context.mode != "OBJECT":
        failed(operator, context.scene, OTHER_MODE)
    elif shot is None or operator.number >= len(move_edits.rows_of(shot)):
        failed(operator, context.scene, "there is no such move: the schedule has changed")
    else:
        return False
    return True


class UNDERGLASS_OT_edit_move(_Row, bpy.types.Operator):
    """Change this move: frames, from, to, law. Its axis is keyed anew; only the first move of an axis says where it starts"""  # noqa: E501

    bl_idname = "underglass.edit_move"
    bl_label = "Edit Move"
    bl_options = {"REGISTER", "UNDO"}

    number: bpy.props.IntProperty(options={"HIDDEN", "SKIP_SAVE"})

    def invoke(self, context: Any, _event: Any) -> set[str]:
        if _refused(self, context):
            return {"CANCELLED"}
        shot = _shot(context)
        row = move_edits.rows_of(shot)[self.number]
        self.part = row.part
        self.axis, self.first, self.last = row.axis, row.first, row.last
        self.start = move_edits.reading(shot, row.axis, row.start)
        self.end = move_edits.reading(shot, row.axis, row.end)
        self.law, self.slow_out, self.slow_in = row.law.value, row.slow_out, row.slow_in
        if row.about:
            self.about = row.about
        return context.window_manager.invoke_props_dialog(
            self, title=f"{row.part} {AXIS_WORDS.get(row.axis, row.axis)}"
        )

    def draw(self, context: Any) -> None:
        self._draw(context, may_choose=False, begins=move_edits.is_first(_shot(context), self.number))

    @reported
    def execute(self, context: Any) -> set[str]:
        if _refused(self, context):
            return {"CANCELLED"}
        shot, word = _shot(context), AXIS_WORDS.get(self.axis, self.axis)
        was = move_edits.rows_of(shot)[self.number]
        row = self._row(shot, like=was)
        if row == was:
            return done(self, context.scene, f"the move of {self.part} {word} is as it was")
        move_edits.change(context.scene, self.number, row)
        return done(self, context.scene, f"{self.part} {word} keyed for its move; {SAVE_TO_KEEP}")


class UNDERGLASS_OT_add_move(_Row, _NeedsRows, bpy.types.Operator):
    """Add a move of the camera or of a level, from where the axis stands. Its axis is keyed for it"""

    bl_idname = "underglass.add_move"
    bl_label = "Add Move"
    bl_options = {"REGISTER", "UNDO"}

    def invoke(self, context: Any, _event: Any) -> set[str]:
        shot = _shot(context)
        self.part = chosen_level(context) or CAMERA
        self.first, self.last = shot.frames
        stands = move_edits.standing(shot, self.part, self.axis, self.first)
        self.start = self.end = move_edits.reading(shot, self.axis, stands)
        return context.window_manager.invoke_props_dialog(self, title="Add Move")

    def draw(self, context: Any) -> None:
        self._draw(context, may_choose=True, begins=True)

    @reported
    def execute(self, context: Any) -> set[str]:
        move_edits.add(context.scene, self._row(_shot(context)))
        return done(self, context.scene, f"a move of {self.part} added and keyed; {SAVE_TO_KEEP}")


class UNDERGLASS_OT_remove_move(bpy.types.Operator):
    """Take this move out of the schedule: its axis is keyed without it"""

    bl_idname = "underglass.remove_move"
    bl_label = "Remove Move"
    bl_options = {"REGISTER", "UNDO"}

    number: bpy.props.IntProperty(options={"HIDDEN", "SKIP_SAVE"})

    @reported
    def execute(self, context: Any) -> set[str]:
        if _refused(self, context):
            return {"CANCELLED"}
        row = move_edits.remove(context.scene, self.number)
        return done(self, context.scene, f"a move of {row.part} removed; {SAVE_TO_KEEP}")


CLASSES = (UNDERGLASS_OT_edit_move, UNDERGLASS_OT_add_move, UNDERGLASS_OT_remove_move)
