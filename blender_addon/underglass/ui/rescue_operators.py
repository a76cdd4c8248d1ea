"""Operators where Save refuses: shift the moves along with the frames, save without them, or keep a copy beside."""

from typing import Any

import bpy

from ..stage import shift
from . import copies, live, stacking
from .reporting import NeedsShot, done, failed, reported


class UNDERGLASS_OT_shift_moves(NeedsShot, bpy.types.Operator):
    """Shift every key of the stack, drawings and all, so that the shot begins on the scene's first frame"""

    bl_idname = "underglass.shift_moves"
    bl_label = "Shift the Moves Along"
    bl_options = {"REGISTER", "UNDO"}

    @reported
    def execute(self, context: Any) -> set[str]:
        scene = context.scene
        shot, _ = live.shot_and_plan(scene)
        by = scene.frame_start - (shot.frames[0] + scene.underglass.shifted)
        if not by:
            return failed(self, scene, f"the shot begins on frame {scene.frame_start} already")
        shift.shift_keys(scene, by)
        scene.underglass.shifted += by
        live.refresh(scene)
        way = "later" if by > 0 else "earlier"
        return done(self, scene, f"all moves and drawings are {abs(by)} frames {way}; Save writes them")


class UNDERGLASS_OT_save_without(NeedsShot, bpy.types.Operator):
    """Save the shot over the scene's frames, without the moves that they leave out"""

    bl_idname = "underglass.save_without"
    bl_label = "Save Without Them"
    bl_options = {"REGISTER", "UNDO"}

    def invoke(self, context: Any, event: Any) -> set[str]:
        return context.window_manager.invoke_confirm(self, event)

    @reported
    def execute(self, context: Any) -> set[str]:
        return done(self, context.scene, stacking.save_shot(context.scene, cut=True))


class UNDERGLASS_OT_save_copy(NeedsShot, bpy.types.Operator):
    """Keep the scene as it is beside the shot, by a name of its own: the shot's files as far as they can say it, and the .blend"""  # noqa: E501

    bl_idname = "underglass.save_copy"
    bl_label = "Keep a Copy"
    bl_options = {"REGISTER"}

    name: bpy.props.StringProperty(name="Name", description="What the copy is called", default="copy")

    def invoke(self, context: Any, _event: Any) -> set[str]:
        self.name = copies.free_name(context.scene)
        return context.window_manager.invoke_props_dialog(self)

    @reported
    def execute(self, context: Any) -> set[str]:
        kept = copies.keep(context.scene, self.name)
        return done(self, context.scene, f"kept beside the shot: {', '.join(path.name for path in kept)}")


CLASSES = (UNDERGLASS_OT_shift_moves, UNDERGLASS_OT_save_without, UNDERGLASS_OT_save_copy)
