# SPDX-License-Identifier: GPL-3.0-or-later
"""What the sidebar keeps with a scene: storage only."""

from typing import Any

import bpy

from ..proof.tolerance import DEFAULT_TOLERANCE_PX
from . import viewport_edges
from .redraw import redraw_viewports


def _redraw(_settings: Any, _context: Any) -> None:
    redraw_viewports()


class UnderglassSettings(bpy.types.PropertyGroup):
    """The shot that a scene was built from, and what is drawn of it."""

    shot_file: bpy.props.StringProperty(name="Shot file", description="The shot.toml that this scene was built from")
    stamp: bpy.props.StringProperty(description="The state of the shot's files when they were last read or written")
    digests: bpy.props.StringProperty(description="The state of each of the shot's files at that time")
    shifted: bpy.props.IntProperty(description="Frames by which the moves were shifted along since the last save")
    draft: bpy.props.StringProperty(description="The shot as it is to be, where more than its files say was changed")
    typed_lens: bpy.props.StringProperty(description="What was typed into Blender's fields of the lens over their keys")
    message: bpy.props.StringProperty(description="What the last operation said")
    is_error: bpy.props.BoolProperty()
    to_counter: bpy.props.BoolProperty(
        name="Round to counter",
        description="Where a law of motion comes within half a counter step of a hand-made curve, write the law",
    )
    tolerance_px: bpy.props.FloatProperty(
        name="Tolerance",
        description="How far a level may be out of place, in pixels",
        default=DEFAULT_TOLERANCE_PX,
        min=0.001,
        max=10.0,
    )
    prove_pictures: bpy.props.BoolProperty(
        name="Render pictures", description="Render the picture itself on a few frames too", default=True
    )
    show_field: bpy.props.BoolProperty(
        name="Field at every level",
        description="Outline what the camera takes in on each glass",
        default=True,
        update=_redraw,
    )
    show_edges: bpy.props.BoolProperty(
        name="Uncovered edges",
        description="Mark edges of the frame that art leaves uncovered now (red) or within a second (amber)",
        default=True,
        update=_redraw,
    )
    show_paths: bpy.props.BoolProperty(
        name="Paths of the levels",
        description="Draw where each level's centre goes over the shot",
        default=True,
        update=_redraw,
    )
    show_focus: bpy.props.BoolProperty(
        name="Limits of focus", description="Draw the nearest and the farthest height that is sharp", update=_redraw
    )
    edges: bpy.props.EnumProperty(
        name="Painted edges",
        description="How soft edges of the art are shown in Material Preview and by EEVEE",
        items=viewport_edges.CHOICES,
        update=viewport_edges.changed,
    )


CLASSES = (UnderglassSettings,)


def attach() -> None:
    """Give every scene its settings."""
    bpy.types.Scene.underglass = bpy.props.PointerProperty(type=UnderglassSettings)


def detach() -> None:
    """Take the settings from the scenes."""
    del bpy.types.Scene.underglass
