# SPDX-License-Identifier: GPL-3.0-or-later
"""The places of the chosen level, or of the camera, as fields in what the stand counts in, on the present frame.

As with Blender's own fields: an axis without keys is set for the whole shot; one with keys is keyed on this frame where
automatic keying is on, and else stands so until the frame changes, unless it is keyed (the diamond beside it).
"""

import math
from typing import Any

import bpy

from .. import blender_versions
from ..shot.units import METRES_PER_UNIT
from ..stage import stack_marks
from . import live_stack
from .report_operator import done, may_work, reported

CHANNELS = {"east": ("location", 0), "north": ("location", 1), "height": ("location", 2), "turn": ("rotation_euler", 2)}
AXES = ("height", "east", "north", "turn")


def chosen_thing(context: Any) -> Any:
    """Return the active object where it is a level or the camera of the stack, else None."""
    active = context.view_layer.objects.active
    return active if active is not None and (stack_marks.LEVEL in active or stack_marks.CAMERA in active) else None


def has_keys(thing: Any, axis: str) -> bool:
    """Return whether an axis of an object has a curve."""
    return _curve(thing, axis) is not None


def is_keyed(thing: Any, axis: str, frame: int) -> bool:
    """Return whether an axis of an object has a key on ``frame``."""
    curve = _curve(thing, axis)
    return curve is not None and any(key.co[0] == frame for key in curve.keyframe_points)


def key_icon(thing: Any, axis: str, frame: int) -> str:
    """Return the sign that Blender has for an axis: keyed on this frame, on other ones, or on none."""
    if is_keyed(thing, axis, frame):
        return "KEYFRAME_HLT"
    return "KEYFRAME" if has_keys(thing, axis) else "DOT"


def key(thing: Any, axis: str, frame: int) -> None:
    """Key an axis of an object where it stands."""
    path, index = CHANNELS[axis]
    thing.keyframe_insert(path, index=index, frame=frame, group="place")


def _curve(thing: Any, axis: str) -> Any:
    path, index = CHANNELS[axis]
    curves = (one for one in blender_versions.fcurves_of(thing) if one.data_path == path and one.array_index == index)
    return next(curves, None)


def _unit(scene: Any) -> float:
    now = live_stack.live(scene)
    return METRES_PER_UNIT[now.shot.units] if now is not None else 1.0


def _reader(axis: str) -> Any:
    path, index = CHANNELS[axis]

    def read(place: Any) -> float:
        thing = chosen_thing(bpy.context)
        if thing is None:
            return 0.0
        value = getattr(thing, path)[index]
        return math.degrees(value) if axis == "turn" else value / _unit(place.id_data)

    return read


def _writer(axis: str) -> Any:
    path, index = CHANNELS[axis]

    def write(place: Any, value: float) -> None:
        thing, scene = chosen_thing(bpy.context), place.id_data
        if thing is None or thing.library is not None:
            return
        getattr(thing, path)[index] = math.radians(value) if axis == "turn" else value * _unit(scene)
        if has_keys(thing, axis) and scene.tool_settings.use_keyframe_insert_auto:
            key(thing, axis, scene.frame_current)

    return write


def _read_width(place: Any) -> float:
    thing, now = chosen_thing(bpy.context), live_stack.live(place.id_data)
    name = thing.get(stack_marks.LEVEL, "") if thing is not None else ""
    if now is None or name not in now.shot.names:
        return 0.0
    return now.shot.levels[now.shot.names.index(name)].art_width / METRES_PER_UNIT[now.shot.units]


def _write_width(place: Any, value: float) -> None:
    thing, was = chosen_thing(bpy.context), _read_width(place)
    if thing is not None and thing.library is None and was > 0 < value:
        thing.scale = [side * value / was for side in thing.scale]


def _field(name: str, axis: str, description: str) -> Any:
    return bpy.props.FloatProperty(
        name=name, description=description, precision=3, step=10, get=_reader(axis), set=_writer(axis)
    )


class UnderglassPlace(bpy.types.PropertyGroup):
    """The readings of what is chosen; they lie in the object, not here."""

    height: _field("Height", "height", "Height above the bed on this frame")
    east: _field("East", "east", "Place toward picture right on this frame")
    north: _field("North", "north", "Place toward picture top on this frame")
    turn: _field("Turn", "turn", "Turn in degrees, counter-clockwise seen from the lens, on this frame")
    width: bpy.props.FloatProperty(
        name="Width",
        description="Real width of the whole image: its height follows from its pixels",
        precision=3,
        step=10,
        min=0.0,
        get=_read_width,
        set=_write_width,
    )


class UNDERGLASS_OT_key_place(bpy.types.Operator):
    """Key this axis on the present frame, or take the key of this frame away"""

    bl_idname = "underglass.key_place"
    bl_label = "Key"
    bl_options = {"REGISTER", "UNDO"}

    axis: bpy.props.EnumProperty(name="Axis", items=[(axis, axis, "") for axis in AXES])

    @classmethod
    def poll(cls, context: Any) -> bool:
        if not may_work(cls, context):
            return False
        if chosen_thing(context) is None:
            cls.poll_message_set("Choose a level or the camera first")
            return False
        return True

    @reported
    def execute(self, context: Any) -> set[str]:
        thing, frame = chosen_thing(context), context.scene.frame_current
        if is_keyed(thing, self.axis, frame):
            path, index = CHANNELS[self.axis]
            thing.keyframe_delete(path, index=index, frame=frame)
            return done(self, context.scene, f"key of {thing.name} {self.axis} on frame {frame} removed")
        key(thing, self.axis, frame)
        return done(self, context.scene, f"{thing.name} {self.axis} keyed on frame {frame}")


CLASSES = (UnderglassPlace, UNDERGLASS_OT_key_place)


def attach() -> None:
    """Give every scene the fields."""
    bpy.types.Scene.underglass_place = bpy.props.PointerProperty(type=UnderglassPlace)


def detach() -> None:
    """Take the fields from the scenes."""
    del bpy.types.Scene.underglass_place
