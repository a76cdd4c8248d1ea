# SPDX-License-Identifier: GPL-3.0-or-later
"""Operators where Save refuses, or leaves something out: shift the moves along with the frames, give the frames back,
save without the moves, put keys on whole frames, or keep a copy beside.
"""

from typing import Any

import bpy

from ..shot.words import first_of
from ..stage import shift_keys
from . import copy_beside, held_levels, live_stack, save_scene, shot_and_scene
from .report_operator import NeedsShot, done, failed, reported

# So wide is a question, points, and so many moves are listed in it; a line names a few.
_WIDE_PT, _MOST_LINES, _FEW = 340, 12, 3


class UNDERGLASS_OT_shift_moves(NeedsShot, bpy.types.Operator):
    """Shift every key of the stack, drawings and all, so that the shot begins on the scene's first frame"""

    bl_idname = "underglass.shift_moves"
    bl_label = "Shift the Moves Along"
    bl_options = {"REGISTER", "UNDO"}

    @reported
    def execute(self, context: Any) -> set[str]:
        scene = context.scene
        shot, _ = live_stack.shot_and_plan(scene)
        by = scene.frame_start - (shot.frames[0] + scene.underglass.shifted)
        if not by:
            return failed(self, scene, f"the shot begins on frame {scene.frame_start} already")
        shift_keys.shift_keys(scene, by)
        scene.underglass.shifted += by
        live_stack.refresh(scene)
        way = "later" if by > 0 else "earlier"
        return done(self, scene, f"all moves and drawings are {abs(by)} frames {way}; Save writes them")


class UNDERGLASS_OT_give_back_frames(NeedsShot, bpy.types.Operator):
    """Give the scene the frames back that its moves and drawings need, so that none of them is cut"""

    bl_idname = "underglass.give_back_frames"
    bl_label = "Give the Frames Back"
    bl_options = {"REGISTER", "UNDO"}

    @reported
    def execute(self, context: Any) -> set[str]:
        scene = context.scene
        _, (first, last) = save_scene.frames_left_out(scene)
        if (first, last) == (scene.frame_start, scene.frame_end):
            return failed(self, scene, f"no move is cut by frames {first}–{last}")
        scene.frame_start, scene.frame_end = first, last
        live_stack.refresh(scene)
        return done(self, scene, f"the frames are {first}–{last} again")


class UNDERGLASS_OT_keys_to_whole_frames(NeedsShot, bpy.types.Operator):
    """Move every key that stands between two frames to the nearer one. Where two keys meet, the nearer one stays"""

    bl_idname = "underglass.keys_to_whole_frames"
    bl_label = "Keys to Whole Frames"
    bl_options = {"REGISTER", "UNDO"}

    @reported
    def execute(self, context: Any) -> set[str]:
        scene = context.scene
        axes = shift_keys.keys_to_whole_frames(scene)
        if not axes:
            return failed(self, scene, "every key is on a whole frame")
        live_stack.refresh(scene)
        held_levels.follow(scene)
        names = first_of([f"{part} {axis}" for part, axis in axes], _FEW)
        return done(self, scene, f"keys of {names} are on whole frames; Save writes them")


class UNDERGLASS_OT_save_without(NeedsShot, bpy.types.Operator):
    """Save the shot over the scene's frames, without the moves that they leave out"""

    bl_idname = "underglass.save_without"
    bl_label = "Save Without Them"
    bl_options = {"REGISTER", "UNDO"}

    def invoke(self, context: Any, _event: Any) -> set[str]:
        return context.window_manager.invoke_props_dialog(self, width=_WIDE_PT, confirm_text=self.bl_label)

    def draw(self, context: Any) -> None:
        lost, _ = save_scene.frames_left_out(context.scene)
        self.layout.label(text="These moves leave the shot:" if lost else "No move leaves the shot")
        column = self.layout.column(align=True)
        more = len(lost) - _MOST_LINES
        for line in [*lost[:_MOST_LINES], *([f"and {more} more"] if more > 0 else [])]:
            column.label(text=line, icon="REMOVE")
        self.layout.label(text="Their keys stay in this scene until Reload")

    @reported
    def execute(self, context: Any) -> set[str]:
        return done(self, context.scene, shot_and_scene.save_shot(context.scene, cut=True))


class UNDERGLASS_OT_save_copy(NeedsShot, bpy.types.Operator):
    """Keep the scene as it is beside the shot, by a name of its own: the shot's files as far as they can say it, and the .blend"""  # noqa: E501

    bl_idname = "underglass.save_copy"
    bl_label = "Keep a Copy"
    bl_options = {"REGISTER"}

    name: bpy.props.StringProperty(name="Name", description="What the copy is called", default="copy")

    def invoke(self, context: Any, _event: Any) -> set[str]:
        self.name = copy_beside.free_name(context.scene)
        return context.window_manager.invoke_props_dialog(self)

    @reported
    def execute(self, context: Any) -> set[str]:
        kept = copy_beside.keep(context.scene, self.name)
        return done(self, context.scene, f"kept beside the shot: {', '.join(path.name for path in kept)}")


CLASSES = (
    UNDERGLASS_OT_shift_moves,
    UNDERGLASS_OT_give_back_frames,
    UNDERGLASS_OT_keys_to_whole_frames,
    UNDERGLASS_OT_save_without,
    UNDERGLASS_OT_save_copy,
)
