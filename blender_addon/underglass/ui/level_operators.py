# SPDX-License-Identifier: GPL-3.0-or-later
"""Operators on levels and frames: show a level, go where a finding is, hold a level's apparent size."""

from typing import Any

import bpy

from ..shot import CAMERA
from ..stage import hold_size
from . import live_stack
from .report_operator import done, failed, may_work, reported

OTHER_MODE = "Change to Object Mode first"


class NeedsStack:
    """An operator that is greyed out, with the reason, where there is no stack to work on."""

    @classmethod
    def poll(cls, context: Any) -> bool:
        if not may_work(cls, context):
            return False
        if context.mode != "OBJECT":
            cls.poll_message_set(OTHER_MODE)
            return False
        return True


class UNDERGLASS_OT_show_level(bpy.types.Operator):
    """Select this level, and go to the frame if one is given"""

    # It has no poll: some sixty of its buttons would ask one each whenever the sidebar is drawn.

    bl_idname = "underglass.show_level"
    bl_label = "Show Level"
    bl_options = {"REGISTER", "UNDO"}

    level: bpy.props.StringProperty(name="Level")
    frame: bpy.props.IntProperty(name="Frame", default=-1)
    detail: bpy.props.StringProperty(options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def description(cls, _context: Any, properties: Any) -> str:
        return properties.detail or cls.__doc__

    def execute(self, context: Any) -> set[str]:
        if context.mode != "OBJECT":
            return failed(self, context.scene, OTHER_MODE)
        if self.frame >= 0:
            context.scene.frame_set(self.frame)
        camera = self.level == CAMERA
        thing = context.scene.camera if camera else live_stack.glass_of(context.scene, self.level)
        if thing is None or thing.name not in context.view_layer.objects:
            return {"FINISHED"} if self.frame >= 0 else failed(self, context.scene, f"{self.level} is not in the scene")
        for other in context.selected_objects:
            other.select_set(False)
        thing.select_set(True)
        context.view_layer.objects.active = thing
        return {"FINISHED"}


class UNDERGLASS_OT_hold_size(NeedsStack, bpy.types.Operator):
    """Hold the apparent size that this level has on the first frame: its counter-move is keyed, and keyed anew with the camera's move. Again to let go"""  # noqa: E501

    bl_idname = "underglass.hold_size"
    bl_label = "Holds Its Size"
    bl_options = {"REGISTER", "UNDO"}

    level: bpy.props.StringProperty(name="Level")

    @reported
    def execute(self, context: Any) -> set[str]:
        scene = context.scene
        # what was touched just after a reading went unnoticed, and is to count all the same
        live_stack.refresh(scene)
        glass, now = live_stack.glass_of(scene, self.level), live_stack.live(scene)
        if glass is None or now is None or (now.trouble and not hold_size.is_held(glass)):
            return failed(self, scene, (now and now.trouble) or f"{self.level} is not in the scene")
        if hold_size.is_held(glass):
            hold_size.let_go(glass)
            live_stack.refresh(scene)
            return done(self, scene, f"{self.level} no longer holds its size; its keys stay")
        hold_size.hold(glass, now.plan, self.level)
        live_stack.refresh(scene)
        return done(self, scene, f"{self.level} holds the size it has on frame {now.plan.frames[0]}, the first")


CLASSES = (UNDERGLASS_OT_show_level, UNDERGLASS_OT_hold_size)
