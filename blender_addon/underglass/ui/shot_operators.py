# SPDX-License-Identifier: GPL-3.0-or-later
"""Operators on the shot: open, start from art, reload, save, save elsewhere. Each calls `shot_and_scene`, reports."""

from pathlib import Path
from typing import Any

import bpy
from bpy_extras.io_utils import ImportHelper

from ..shot import UnderglassError
from ..stage.view_transform import view_says
from . import find_files, live_stack, shot_and_scene, unsaved_work
from .report_operator import NeedsShot, done, may_work, reported


class _NeedsScene:
    """An operator that is greyed out, with the reason, in a scene that belongs to another file."""

    @classmethod
    def poll(cls, context: Any) -> bool:
        return may_work(cls, context, needs_shot=False)


def _draw_drop(operator: Any, context: Any) -> None:
    """Draw the tick that lets work go which is not saved, where there is any."""
    if operator.drop_unsaved or unsaved_work.may_lose(context.scene):
        operator.layout.prop(operator, "drop_unsaved")


class UNDERGLASS_OT_open_shot(_NeedsScene, bpy.types.Operator, ImportHelper):
    """Open a shot file and build its stack in this scene: a plane for every level, the camera, all moves keyed"""

    bl_idname = "underglass.open_shot"
    bl_label = "Open Shot File"
    bl_options = {"REGISTER", "UNDO"}

    # kept by nobody: a path of the last time would be opened without asking
    filepath: bpy.props.StringProperty(subtype="FILE_PATH", options={"HIDDEN", "SKIP_SAVE"})
    filename_ext = ".toml"
    filter_glob: bpy.props.StringProperty(default="*.toml", options={"HIDDEN"})
    new_scene: bpy.props.BoolProperty(
        name="In a new scene", description="Leave this scene as it is and build in a scene of its own", default=False
    )

    def invoke(self, context: Any, event: Any) -> set[str]:
        # dropped onto the viewport: the file is known, nothing needs to be asked
        return self.execute(context) if self.filepath.endswith(".toml") else ImportHelper.invoke(self, context, event)

    drop_unsaved: bpy.props.BoolProperty(
        name="Drop unsaved work",
        description="Build the shot instead of a stack that has work which is not saved",
        default=False,
        options={"SKIP_SAVE"},
    )

    def draw(self, context: Any) -> None:
        self.layout.prop(self, "new_scene")
        _draw_drop(self, context)

    @reported
    def execute(self, context: Any) -> set[str]:
        # read before a scene is made for it
        loaded = shot_and_scene.load(Path(bpy.path.abspath(self.filepath)))
        if not (self.new_scene or self.drop_unsaved):
            if shot_and_scene.linked_again(context.scene, loaded):
                found = f"{loaded.shot.title} was found again in {loaded.path.parent}; edits are kept"
                return done(self, context.scene, found)
            unsaved_work.require_none(context.scene)
        scene = shot_and_scene.scene_for(context, new=self.new_scene)
        opened, remarks = shot_and_scene.open_shot(scene, loaded)
        words = f"{opened.title}: {len(opened.levels)} levels, {opened.frame_count} frames"
        return done(self, scene, "; ".join([words, *remarks, *view_says(scene)]))


class UNDERGLASS_OT_new_from_art(_NeedsScene, bpy.types.Operator, ImportHelper):
    """Start a shot from layered art: an OpenRaster file, or a folder of PNG, TIFF or EXR images, one for each level"""

    bl_idname = "underglass.new_from_art"
    bl_label = "New from Art"
    bl_options = {"REGISTER", "UNDO"}

    filepath: bpy.props.StringProperty(subtype="FILE_PATH", options={"HIDDEN", "SKIP_SAVE"})
    filename_ext = ".ora"
    filter_glob: bpy.props.StringProperty(default="*.ora;*.png;*.tif;*.tiff;*.exr", options={"HIDDEN"})
    groups: bpy.props.EnumProperty(
        name="Groups",
        description="What becomes of groups of layers",
        items=[
            ("keep", "A level for each layer", "Every layer of a group becomes a level of its own"),
            ("flatten", "A level for each group", "A group is painted onto one level"),
        ],
    )

    drop_unsaved: bpy.props.BoolProperty(
        name="Drop unsaved work",
        description="Build the new shot instead of a stack that has work which is not saved",
        default=False,
        options={"SKIP_SAVE"},
    )

    def draw(self, context: Any) -> None:
        self.layout.prop(self, "groups")
        _draw_drop(self, context)

    @reported
    def execute(self, context: Any) -> set[str]:
        if not self.drop_unsaved:
            unsaved_work.require_none(context.scene)
        source = Path(bpy.path.abspath(self.filepath))
        opened, remarks = shot_and_scene.new_from_art(context.scene, source, groups=self.groups)
        words = [
            f"{opened.title}: {len(opened.levels)} levels, written to {opened.folder.name}",
            *remarks,
            *view_says(context.scene),
        ]
        return done(self, context.scene, "; ".join(words))


class UNDERGLASS_OT_reload_shot(NeedsShot, bpy.types.Operator):
    """Read the shot's files again and build the stack anew; what was changed in the scene and not saved is lost"""

    bl_idname = "underglass.reload_shot"
    bl_label = "Reload"
    bl_options = {"REGISTER", "UNDO"}

    def invoke(self, context: Any, event: Any) -> set[str]:
        return context.window_manager.invoke_confirm(self, event)

    @reported
    def execute(self, context: Any) -> set[str]:
        path = live_stack.shot_path(context.scene)
        if not path.is_file():
            raise UnderglassError(f"{path}: {find_files.GONE}")
        opened, remarks = shot_and_scene.open_shot(context.scene, shot_and_scene.load(path))
        said = [f"{opened.title} read again", *remarks, *view_says(context.scene)]
        return done(self, context.scene, "; ".join(said))


class UNDERGLASS_OT_save_shot(NeedsShot, bpy.types.Operator):
    """Read the scene back into the shot's files: levels, camera, moves, frame range. Comments and order stay"""

    bl_idname = "underglass.save_shot"
    bl_label = "Save"
    bl_options = {"REGISTER", "UNDO"}

    @reported
    def execute(self, context: Any) -> set[str]:
        saved = shot_and_scene.save_shot(context.scene)
        return done(self, context.scene, saved)


class UNDERGLASS_OT_save_shot_elsewhere(NeedsShot, bpy.types.Operator):
    """Write the scene as a shot of its own into another folder, with its art; the files it was read from stay"""

    bl_idname = "underglass.save_shot_elsewhere"
    bl_label = "Save Elsewhere"
    bl_options = {"REGISTER", "UNDO"}

    directory: bpy.props.StringProperty(subtype="DIR_PATH")
    filter_folder: bpy.props.BoolProperty(default=True, options={"HIDDEN"})

    def invoke(self, context: Any, _event: Any) -> set[str]:
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    @reported
    def execute(self, context: Any) -> set[str]:
        written = shot_and_scene.save_elsewhere(context.scene, Path(bpy.path.abspath(self.directory)))
        return done(self, context.scene, f"written to {written}")


class UNDERGLASS_FH_shot(bpy.types.FileHandler):
    """A shot file dropped onto the viewport is opened"""

    bl_idname = "UNDERGLASS_FH_shot"
    bl_label = "Underglass shot"
    bl_import_operator = "underglass.open_shot"
    bl_file_extensions = ".toml"

    @classmethod
    def poll_drop(cls, context: Any) -> bool:
        return context.area is not None and context.area.type == "VIEW_3D"


def _in_import_menu(menu: Any, _context: Any) -> None:
    menu.layout.operator(UNDERGLASS_OT_open_shot.bl_idname, text="Underglass shot (.toml)")


CLASSES = (
    UNDERGLASS_OT_open_shot,
    UNDERGLASS_OT_new_from_art,
    UNDERGLASS_OT_reload_shot,
    UNDERGLASS_OT_save_shot,
    UNDERGLASS_OT_save_shot_elsewhere,
    UNDERGLASS_FH_shot,
)


def attach() -> None:
    """Put the shot file into the import menu."""
    bpy.types.TOPBAR_MT_file_import.append(_in_import_menu)


def detach() -> None:
    """Take it out of the menu."""
    bpy.types.TOPBAR_MT_file_import.remove(_in_import_menu)
