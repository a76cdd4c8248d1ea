# SPDX-License-Identifier: GPL-3.0-or-later
"""The only file that asks which Blender this is: functions named by intent.

Supported: 4.3 and later in a window, 4.5 to 5.2 as the module bpy. The differences were read off those versions.
"""

from typing import Any

import bpy

BLENDER = bpy.app.version[:2]
VERSION_TEXT = bpy.app.version_string
EEVEE = "BLENDER_EEVEE" if BLENDER >= (5, 0) else "BLENDER_EEVEE_NEXT"


def ensure_fcurve(owner: Any, data_path: str, *, index: int = 0, group: str = "") -> Any:
    """Return the f-curve that drives one channel of ``owner``, made and bound to its action slot if absent."""
    anim = owner.animation_data_create()
    if anim.action is None:
        anim.action = bpy.data.actions.new(f"{owner.name} moves")
    if BLENDER < (4, 4):
        curves = anim.action.fcurves
        return curves.find(data_path, index=index) or curves.new(data_path, index=index, action_group=group)
    grouped = {"group_name": group} if BLENDER >= (5, 0) else {}
    return anim.action.fcurve_ensure_for_datablock(owner, data_path, index=index, **grouped)


def fcurves_of(owner: Any) -> list[Any]:
    """Return the f-curves that drive ``owner`` now; empty when nothing does."""
    anim = owner.animation_data
    if anim is None or anim.action is None:
        return []
    if BLENDER < (4, 4):
        return list(anim.action.fcurves)
    if anim.action_slot is None:
        return []
    bags = (strip.channelbag(anim.action_slot) for layer in anim.action.layers for strip in layer.strips)
    return [curve for bag in bags if bag is not None for curve in bag.fcurves]


def remove_fcurves(owner: Any, paths: tuple[str, ...], *, index: int | None = None) -> None:
    """Remove the f-curves that drive ``paths`` of ``owner``, of one channel where ``index`` is given."""
    for curve in fcurves_of(owner):
        if curve.data_path in paths and index in (None, curve.array_index):
            _bag_of(owner, curve).remove(curve)


def _bag_of(owner: Any, curve: Any) -> Any:
    """Return the collection that ``curve`` of ``owner`` lies in."""
    anim = owner.animation_data
    if BLENDER < (4, 4):
        return anim.action.fcurves
    bags = (strip.channelbag(anim.action_slot) for layer in anim.action.layers for strip in layer.strips)
    return next(bag.fcurves for bag in bags if bag is not None and curve in list(bag.fcurves))


def copy_action(owner: Any) -> None:
    """Give ``owner`` an action of its own in place of one that it shares with what it was copied from."""
    anim = owner.animation_data
    if anim is None or anim.action is None:
        return
    slot = anim.action_slot.identifier if BLENDER >= (4, 4) and anim.action_slot is not None else ""
    anim.action = anim.action.copy()
    if slot:
        # a slot is not bound of itself where its name is another's
        anim.action_slot = anim.action.slots[slot]


def use_multilayer_exr(settings: Any, *, codec: str = "ZIPS") -> None:
    """Set image ``settings`` to a multi-layer EXR of 32-bit floats in one part. The order of assignments matters."""
    if hasattr(settings, "media_type"):
        settings.media_type = "MULTI_LAYER_IMAGE"
    settings.file_format = "OPEN_EXR_MULTILAYER"
    settings.color_depth = "32"
    settings.exr_codec = codec
    if hasattr(settings, "use_exr_interleave"):
        settings.use_exr_interleave = True


def use_exr(settings: Any, *, codec: str = "ZIPS") -> None:
    """Set image ``settings`` to a plain RGBA EXR of half floats, scene-linear."""
    if hasattr(settings, "media_type"):
        settings.media_type = "IMAGE"
    settings.file_format = "OPEN_EXR"
    settings.color_mode = "RGBA"
    settings.color_depth = "16"
    settings.exr_codec = codec


def node_tree(owner: Any) -> Any:
    """Return the node tree of a material or world."""
    if BLENDER < (5, 0):
        owner.use_nodes = True
    return owner.node_tree


def jitter_pixels(scene: Any, *, on: bool) -> None:
    """Tell Cycles whether to spread samples over the pixel, where it can be told; a tiny filter does it elsewhere."""
    if hasattr(scene.cycles, "use_pixel_jitter"):
        scene.cycles.use_pixel_jitter = on


def has_compositor(scene: Any) -> bool:
    """Return whether a compositor stands between the render and what is written."""
    if hasattr(scene, "compositing_node_group"):
        return scene.compositing_node_group is not None
    return bool(scene.use_nodes)


def compositor_of(scene: Any) -> Any:
    """Return the tree of the scene's compositor; None where it has none, in use or not."""
    if hasattr(scene, "compositing_node_group"):
        return scene.compositing_node_group
    return scene.node_tree if scene.use_nodes else None


def own_compositor(scene: Any) -> Any:
    """Give ``scene`` a compositor of its own, alike to what it has, and return its tree; None where it has none."""
    if hasattr(scene, "compositing_node_group"):
        if scene.compositing_node_group is not None:
            scene.compositing_node_group = scene.compositing_node_group.copy()
        return scene.compositing_node_group
    # There the tree belongs to the scene, and was copied with it.
    return scene.node_tree if scene.use_nodes else None


def use_png(settings: Any) -> None:
    """Set image ``settings`` to a PNG of 16 bits with clear parts, as the scene's own view shows it."""
    use_format(settings, "PNG")
    settings.color_mode = "RGBA"
    settings.color_depth = "16"
    settings.color_management = "FOLLOW_SCENE"


def use_format(settings: Any, file_format: str) -> None:
    """Set image ``settings`` to a still picture's file format; from 5.0 on the kind of medium comes first."""
    if hasattr(settings, "media_type"):
        settings.media_type = "IMAGE"
    settings.file_format = file_format


def has_strips(scene: Any) -> bool:
    """Return whether the scene's sequencer would be rendered in the place of its picture.

    Sound is heard, and what is muted, by itself or with its channel, is left out.
    """
    editor = scene.sequence_editor
    if editor is None:
        return False
    muted = {index for index, channel in enumerate(editor.channels) if channel.mute}
    strips = editor.strips if hasattr(editor, "strips") else editor.sequences
    return any(strip.type != "SOUND" and not strip.mute and strip.channel not in muted for strip in strips)


def keep_render_data(scene: Any, *, on: bool) -> None:
    """Keep what a render has set up for the next one, or let go of it.

    From 5.1 on that is four fifths of the time of a small render, before it is next to nothing.
    """
    scene.render.use_persistent_data = on and BLENDER >= (5, 1)


def identity(block: Any) -> int:
    """Return a number that a data-block keeps through undo and renaming, as long as its file is open."""
    return int(block.session_uid)
