# SPDX-License-Identifier: GPL-3.0-or-later
"""Operators on the stack: add, duplicate, paint anew, reorder, rename, delete, hide, units. See `stack_edits`."""

from pathlib import Path
from typing import Any

import bpy
from bpy_extras.io_utils import ImportHelper

from ..shot import CAMERA
from ..shot.units import METRES_PER_UNIT
from ..stage import stack_marks
from . import live_stack, stack_edits
from .level_operators import NeedsStack
from .report_operator import done, reported
from .touched_words import UNIT_WORDS

IMAGES = "*.png;*.tif;*.tiff;*.exr"
SAVE_TO_KEEP = "Save writes it"
UNITS = [(unit, UNIT_WORDS[unit], f"Lengths of the shot's files in {UNIT_WORDS[unit]}") for unit in METRES_PER_UNIT]


def chosen_level(context: Any) -> str:
    """Return the level whose object is active, empty where none is."""
    active = context.view_layer.objects.active
    return str(active.get(stack_marks.LEVEL, "")) if active is not None else ""


class _NeedsLevel(NeedsStack):
    """An operator on the level whose object is active; one that names a level itself does not ask for that."""

    @classmethod
    def poll(cls, context: Any) -> bool:
        if not super().poll(context):
            return False
        if not chosen_level(context):
            cls.poll_message_set("Choose a level first: click the sign before its name")
            return False
        return True


def _select(context: Any, name: str) -> None:
    """Make the object of a level the active one, and the only one that is selected."""
    glass = live_stack.glass_of(context.scene, name)
    context.view_layer.update()
    if glass is not None and glass.name in context.view_layer.objects:
        for other in context.selected_objects:
            other.select_set(False)
        glass.select_set(True)
        context.view_layer.objects.active = glass


class UNDERGLASS_OT_add_level(NeedsStack, bpy.types.Operator, ImportHelper):
    """Add a level with this image, below the chosen level, filling the frame. The image is copied into the shot's folder"""  # noqa: E501

    bl_idname = "underglass.add_level"
    bl_label = "Add Level from Image"
    bl_options = {"REGISTER", "UNDO"}

    filepath: bpy.props.StringProperty(subtype="FILE_PATH", options={"HIDDEN", "SKIP_SAVE"})
    filename_ext = ".png"
    filter_glob: bpy.props.StringProperty(default=IMAGES, options={"HIDDEN"})

    def check(self, _context: Any) -> bool:
        # any kind of image is taken by its own ending
        return False

    @reported
    def execute(self, context: Any) -> set[str]:
        file = Path(bpy.path.abspath(self.filepath))
        name = stack_edits.add_image(context.scene, file, near=chosen_level(context))
        _select(context, name)
        return done(self, context.scene, f"{name} added; {SAVE_TO_KEEP}")


class UNDERGLASS_OT_add_card(NeedsStack, bpy.types.Operator):
    """Add a level with a clear card of the frame's size, to be painted: its file lies in the shot's folder at once"""

    bl_idname = "underglass.add_card"
    bl_label = "Add Empty Card"
    bl_options = {"REGISTER", "UNDO"}

    name: bpy.props.StringProperty(name="Name", default="card")

    def invoke(self, context: Any, _event: Any) -> set[str]:
        return context.window_manager.invoke_props_dialog(self)

    @reported
    def execute(self, context: Any) -> set[str]:
        name = stack_edits.add_card(context.scene, self.name, near=chosen_level(context))
        _select(context, name)
        return done(self, context.scene, f"{name} added, an empty card; {SAVE_TO_KEEP}")


class UNDERGLASS_OT_duplicate_level(_NeedsLevel, bpy.types.Operator):
    """Copy the chosen level with its moves, half way down to the next level"""

    bl_idname = "underglass.duplicate_level"
    bl_label = "Duplicate Level"
    bl_options = {"REGISTER", "UNDO"}

    @reported
    def execute(self, context: Any) -> set[str]:
        name = chosen_level(context)
        copy = stack_edits.duplicate(context.scene, name)
        _select(context, copy)
        return done(self, context.scene, f"{copy} is a copy of {name}; {SAVE_TO_KEEP}")


class UNDERGLASS_OT_replace_painting(_NeedsLevel, bpy.types.Operator, ImportHelper):
    """Give the chosen level another painting. Its centre stays where it is; the image is copied into the shot's folder"""  # noqa: E501

    bl_idname = "underglass.replace_painting"
    bl_label = "Replace Painting"
    bl_options = {"REGISTER", "UNDO"}

    filepath: bpy.props.StringProperty(subtype="FILE_PATH", options={"HIDDEN", "SKIP_SAVE"})
    filename_ext = ".png"
    filter_glob: bpy.props.StringProperty(default=IMAGES, options={"HIDDEN"})
    keep: bpy.props.EnumProperty(
        name="Keep",
        description="What stays of the size of the old painting",
        items=[
            (stack_edits.SAME_WIDTH, "Same width", "The new painting is as wide as the old one"),
            (
                stack_edits.SAME_PIXELS,
                "Same size on screen",
                "A pixel of the painting is as large as before: what was painted to the old one's scale keeps its size",
            ),
            (stack_edits.SAME_HEIGHT, "Same height", "The new painting is as high as the old one"),
        ],
    )

    def check(self, _context: Any) -> bool:
        return False

    @reported
    def execute(self, context: Any) -> set[str]:
        name = chosen_level(context)
        file = Path(bpy.path.abspath(self.filepath))
        art = stack_edits.replace_painting(context.scene, name, file, keep=self.keep)
        return done(self, context.scene, f"{name} shows {art}; {SAVE_TO_KEEP}")


class UNDERGLASS_OT_move_level(_NeedsLevel, bpy.types.Operator):
    """Exchange the chosen level with the next one: their heights and the moves of these change places"""

    bl_idname = "underglass.move_level"
    bl_label = "Move Level"
    bl_options = {"REGISTER", "UNDO"}

    nearer: bpy.props.BoolProperty(name="Nearer the lens", options={"HIDDEN"})
    keep_size: bpy.props.BoolProperty(
        name="Keep size on screen",
        description="Scale both paintings so that they look as large as before on the first frame",
        default=True,
    )

    @classmethod
    def description(cls, _context: Any, properties: Any) -> str:
        way = "nearer the lens" if properties.nearer else "farther from the lens"
        return f"Take the chosen level one place {way}: it swaps heights, and their moves, with the next level"

    @reported
    def execute(self, context: Any) -> set[str]:
        name = chosen_level(context)
        other = stack_edits.move(context.scene, name, nearer=self.nearer, keep_size=self.keep_size)
        return done(self, context.scene, f"{name} and {other} have changed places; {SAVE_TO_KEEP}")


class UNDERGLASS_OT_rename_level(_NeedsLevel, bpy.types.Operator):
    """Give the chosen level another name, in its moves, drawings and expectations too"""

    bl_idname = "underglass.rename_level"
    bl_label = "Rename Level"
    bl_options = {"REGISTER", "UNDO"}

    name: bpy.props.StringProperty(name="Name", options={"SKIP_SAVE"})

    def invoke(self, context: Any, _event: Any) -> set[str]:
        self.name = chosen_level(context)
        return context.window_manager.invoke_props_dialog(self)

    @reported
    def execute(self, context: Any) -> set[str]:
        was = chosen_level(context)
        name = stack_edits.rename(context.scene, was, self.name)
        return done(self, context.scene, f"{was} is called {name}; {SAVE_TO_KEEP}")


class UNDERGLASS_OT_delete_level(_NeedsLevel, bpy.types.Operator):
    """Take the chosen level out of the shot, with its moves and what is said of it. Its image stays in the folder"""

    bl_idname = "underglass.delete_level"
    bl_label = "Delete Level"
    bl_options = {"REGISTER", "UNDO"}

    @reported
    def execute(self, context: Any) -> set[str]:
        name = chosen_level(context)
        stack_edits.delete(context.scene, name)
        return done(self, context.scene, f"{name} deleted; {SAVE_TO_KEEP}")


class UNDERGLASS_OT_hide_level(bpy.types.Operator):
    """Hide this level in the viewport, or show it again. Renders and the proof have it still"""

    # It has no poll, for the same reason as show_level.

    bl_idname = "underglass.hide_level"
    bl_label = "Hide in Viewport"
    bl_options = {"REGISTER", "UNDO"}

    level: bpy.props.StringProperty(name="Level")

    @reported
    def execute(self, context: Any) -> set[str]:
        glass = context.scene.camera if self.level == CAMERA else live_stack.glass_of(context.scene, self.level)
        if glass is None or glass.name not in context.view_layer.objects:
            return {"CANCELLED"}
        glass.hide_set(not glass.hide_get())
        live_stack.refresh(context.scene)
        return {"FINISHED"}


class UNDERGLASS_OT_set_units(NeedsStack, bpy.types.Operator):
    """Let the shot count in other units: numbers in its panels and files change, no level moves"""

    bl_idname = "underglass.set_units"
    bl_label = "Units of the Shot"
    bl_options = {"REGISTER", "UNDO"}

    units: bpy.props.EnumProperty(name="Units", items=UNITS)

    @reported
    def execute(self, context: Any) -> set[str]:
        stack_edits.use_units(context.scene, self.units)
        return done(self, context.scene, f"the shot counts in {UNIT_WORDS[self.units]}; {SAVE_TO_KEEP}")


class UNDERGLASS_MT_levels(bpy.types.Menu):
    """What else can be done with the chosen level"""

    bl_idname = "UNDERGLASS_MT_levels"
    bl_label = "Level"

    def draw(self, context: Any) -> None:
        layout = self.layout
        layout.operator("underglass.add_level", icon="IMAGE_DATA")
        layout.operator("underglass.add_card", icon="SELECT_SET")
        layout.separator()
        layout.operator("underglass.duplicate_level", icon="DUPLICATE")
        layout.operator("underglass.rename_level", icon="GREASEPENCIL")
        layout.operator("underglass.replace_painting", icon="FILE_IMAGE")
        # the eye in the list goes where the sidebar is narrow
        level, now = chosen_level(context), live_stack.live(context.scene)
        if level and now is not None:
            is_hidden = level in now.hidden
            text, icon = ("Show in the Viewport", "HIDE_OFF") if is_hidden else ("Hide in the Viewport", "HIDE_ON")
            layout.operator("underglass.hide_level", text=text, icon=icon).level = level
        layout.separator()
        layout.operator_menu_enum("underglass.set_units", "units", icon="DRIVER_DISTANCE")


CLASSES = (
    UNDERGLASS_OT_add_level,
    UNDERGLASS_OT_add_card,
    UNDERGLASS_OT_duplicate_level,
    UNDERGLASS_OT_replace_painting,
    UNDERGLASS_OT_move_level,
    UNDERGLASS_OT_rename_level,
    UNDERGLASS_OT_delete_level,
    UNDERGLASS_OT_hide_level,
    UNDERGLASS_OT_set_units,
    UNDERGLASS_MT_levels,
)
