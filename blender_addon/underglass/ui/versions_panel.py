# SPDX-License-Identifier: GPL-3.0-or-later
"""The panel that shows another version of the shot beside the scene's: the saved one, or any shot file."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import bpy
from bpy_extras.io_utils import ImportHelper

from ..plan import Plan, make_plan
from ..shot import UnderglassError
from ..shot.files import read_shot
from ..shot.files.stamp import stamp
from . import column_widths, live_stack, shot_versions, shown_words
from .column_widths import Column
from .layouts import StackPanel, wrapped
from .report_operator import done, may_work, reported
from .touched_words import said_of_the_scene

LEAST_PART = "morning star"


@dataclass
class _Kept:
    """The other version: its file, the state that it was read in, its plan or why it has none; and what differs."""

    file: str
    state: str
    plan: Plan | None
    trouble: str
    now: Any = None
    at: str = ""
    parts: tuple[shot_versions.Part, ...] = ()


_kept: dict[int, _Kept] = {}


def look(scene: Any) -> None:
    """Read the other version anew where its files have changed."""
    kept = _kept.get(scene.as_pointer())
    if kept is not None and stamp(Path(kept.file)) != kept.state:
        del _kept[scene.as_pointer()]


def forget() -> None:
    """Forget what was read."""
    _kept.clear()


def _other(scene: Any) -> _Kept:
    file = bpy.path.abspath(scene.underglass_versions.file)
    kept = _kept.get(scene.as_pointer())
    if kept is None or kept.file != file:
        plan, trouble = None, ""
        try:
            plan = make_plan(read_shot(Path(file)))
        except UnderglassError as error:
            trouble = said_of_the_scene(error)
        kept = _kept[scene.as_pointer()] = _Kept(file, stamp(Path(file)), plan, trouble)
    return kept


class UnderglassVersions(bpy.types.PropertyGroup):
    """Which version is shown beside the scene's, and on which frame."""

    file: bpy.props.StringProperty(description="The shot file of the other version, empty where none is shown")
    at: bpy.props.EnumProperty(
        name="Frame",
        items=[
            (shot_versions.FIRST, "First Frame", "Compare on the first frame of each"),
            (shot_versions.LAST, "Last Frame", "Compare on the last frame of each"),
        ],
    )


class UNDERGLASS_OT_compare_saved(bpy.types.Operator):
    """Show what the shot's files say beside what the scene has"""

    bl_idname = "underglass.compare_saved"
    bl_label = "With the Saved Shot"

    @classmethod
    def poll(cls, context: Any) -> bool:
        return may_work(cls, context)

    @reported
    def execute(self, context: Any) -> set[str]:
        context.scene.underglass_versions.file = str(live_stack.shot_path(context.scene))
        return {"FINISHED"}


class UNDERGLASS_OT_compare_file(bpy.types.Operator, ImportHelper):
    """Show another shot file beside the scene; nothing of it is built"""

    bl_idname = "underglass.compare_file"
    bl_label = "With Another File"

    filepath: bpy.props.StringProperty(subtype="FILE_PATH", options={"HIDDEN", "SKIP_SAVE"})
    filename_ext = ".toml"
    filter_glob: bpy.props.StringProperty(default="*.toml", options={"HIDDEN"})

    @classmethod
    def poll(cls, context: Any) -> bool:
        return may_work(cls, context)

    @reported
    def execute(self, context: Any) -> set[str]:
        file = Path(bpy.path.abspath(self.filepath))
        read_shot(file)
        context.scene.underglass_versions.file = str(file)
        return done(self, context.scene, f"{file.parent.name} is shown beside this shot")


class UNDERGLASS_OT_compare_none(bpy.types.Operator):
    """Show no other version"""

    bl_idname = "underglass.compare_none"
    bl_label = "Close"

    def execute(self, context: Any) -> set[str]:
        context.scene.underglass_versions.file = ""
        return {"FINISHED"}


class UNDERGLASS_PT_versions(StackPanel, bpy.types.Panel):
    """Two versions side by side: what differs between the scene and another shot file."""

    bl_idname = "UNDERGLASS_PT_versions"
    bl_label = "Two Versions"
    bl_options = {"DEFAULT_CLOSED"}

    def show(self, context: Any, now: live_stack.Live, _row: int) -> None:
        layout, scene, room = self.layout, context.scene, shown_words.room(context)
        icons, said = shown_words.icons(), scene.underglass_versions
        if not said.file:
            buttons = layout.column(align=True)
            buttons.operator("underglass.compare_saved", icon_value=icons["FILE_TICK"])
            buttons.operator("underglass.compare_file", icon_value=icons["FILE_FOLDER"])
            return
        other = _other(scene)
        head = layout.row(align=True)
        saved = Path(other.file) == live_stack.shot_path(scene)
        head.label(text="saved" if saved else Path(other.file).parent.name, icon_value=icons["FILE"])
        head.operator("underglass.compare_none", text="", icon_value=icons["X"])
        if other.plan is None:
            wrapped(layout, other.trouble, room, icon="ERROR")
            return
        layout.row().prop(said, "at", expand=True)
        if other.now is not now or other.at != said.at:
            other.now, other.at = now, said.at
            other.parts = shot_versions.compare(now.plan, other.plan, at=said.at)
        if not other.parts:
            wrapped(layout, "both are the same on this frame", room)
            return
        _table(layout, other.parts, room)


def _table(layout: Any, parts: tuple[shot_versions.Part, ...], room: shown_words.Room) -> None:
    lines = [line for part in parts for line in part.lines]
    size = {"width": room.width, "scale": room.scale}
    wanted = [
        Column("here", ("scene", *(line.here for line in lines))),
        Column("there", ("other", *(line.there for line in lines))),
    ]
    there = column_widths.fitting(wanted, **size, first=LEAST_PART)
    names, here, other = column_widths.laid_out(layout, there, **size)
    here.alignment = other.alignment = "RIGHT"
    for column, heading in ((names, ""), (here, "scene"), (other, "other")):
        column.label(text=heading)
    for part in parts:
        for column, text in ((names, part.name), (here, ""), (other, "")):
            column.label(text=text)
        for line in part.lines:
            for column, text in ((names, f"    {line.word}"), (here, line.here), (other, line.there)):
                column.label(text=text)


CLASSES = (
    UnderglassVersions,
    UNDERGLASS_OT_compare_saved,
    UNDERGLASS_OT_compare_file,
    UNDERGLASS_OT_compare_none,
    UNDERGLASS_PT_versions,
)


def attach() -> None:
    """Give every scene the choice of another version."""
    bpy.types.Scene.underglass_versions = bpy.props.PointerProperty(type=UnderglassVersions)


def detach() -> None:
    """Take it from the scenes."""
    del bpy.types.Scene.underglass_versions
    forget()
