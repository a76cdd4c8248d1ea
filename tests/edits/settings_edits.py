# SPDX-License-Identifier: GPL-3.0-or-later
"""Edits of settings: of the scene, the render, Cycles, colour management, output, view layers, world and compositor."""

from typing import Any

import bpy

from edits.edits import edit
from proving.wrong_scenes import leaf
from underglass import blender_versions

COLOUR, SETTING = "colour-management", "setting-changed"


def put(
    path: str,
    value: Any,
    *codes: str,
    name: str = "",
    words: tuple[str, ...] = (),
    planned: bool = False,
    noise: bool = False,
) -> None:
    """Enter an edit that sets one property of the scene by its path."""

    @edit(name or f"{path} = {value}", *codes, words=words, planned=planned, noise=noise)
    def do(scene: Any) -> None:
        owner = scene
        *way, key = path.split(".")
        for step in way:
            owner = getattr(owner, step)
        setattr(owner, key, value)


# --- colour management
put("view_settings.view_transform", "AgX", COLOUR, words=("View", "AgX"))
put("view_settings.view_transform", "Filmic", COLOUR, words=("View", "Filmic"))
put("view_settings.view_transform", "Raw", COLOUR, words=("View",))
put("view_settings.view_transform", "False Color", COLOUR, words=("View",))
put("view_settings.exposure", 0.5, COLOUR, words=("Exposure is 0.5, built 0",))
put("view_settings.exposure", -0.02, COLOUR, words=("Exposure",))
put("view_settings.exposure", 1e-7, COLOUR)
put("view_settings.gamma", 1.2, COLOUR, words=("Gamma",))
put("view_settings.use_curve_mapping", True, COLOUR, name="view curves on, and straight")
put("view_settings.use_white_balance", True, COLOUR, name="white balance on, and neutral")
put("display_settings.display_device", "Display P3", COLOUR, words=("Display",))


@edit("look of high contrast", COLOUR, words=("Look",))
def _(scene: Any) -> None:
    for look in ("High Contrast", "Standard - High Contrast", "Very High Contrast"):
        try:
            scene.view_settings.look = look
            return
        except TypeError:
            continue
    raise AssertionError("no look")


@edit("view curves bent", COLOUR, words=("Use Curves",))
def _(scene: Any) -> None:
    view = scene.view_settings
    view.use_curve_mapping = True
    view.curve_mapping.curves[3].points.new(0.5, 0.7)
    view.curve_mapping.update()


@edit("view curves bent but off", COLOUR)
def _(scene: Any) -> None:
    view = scene.view_settings
    view.use_curve_mapping = True
    view.curve_mapping.curves[3].points.new(0.5, 0.7)
    view.curve_mapping.update()
    view.use_curve_mapping = False


@edit("view curves with another black level", COLOUR, words=("Use Curves",))
def _(scene: Any) -> None:
    view = scene.view_settings
    view.use_curve_mapping = True
    view.curve_mapping.black_level = (0.1, 0.0, 0.0)
    view.curve_mapping.update()


@edit("white balance of a lamp", COLOUR, words=("White Balance",))
def _(scene: Any) -> None:
    scene.view_settings.use_white_balance = True
    scene.view_settings.white_balance_temperature = 3200


@edit("white balance of a lamp, off", COLOUR)
def _(scene: Any) -> None:
    scene.view_settings.white_balance_temperature = 3200


@edit("exposure keyed on one frame", COLOUR, words=("Exposure",))
def _(scene: Any) -> None:
    for frame, value in ((1, 0.0), (4, 0.0), (5, 1.0), (6, 0.0)):
        scene.view_settings.exposure = value
        scene.view_settings.keyframe_insert("exposure", frame=frame)
    scene.frame_set(1)


# --- output
put("render.image_settings.color_mode", "BW", SETTING, words=("Output", "Color"))
put("render.image_settings.color_mode", "RGB", SETTING, words=("Output", "Color"))
put("render.image_settings.color_depth", "16", SETTING)
put("render.image_settings.compression", 90, SETTING)
put("render.dither_intensity", 2.0, SETTING, words=("Dither",))
put("render.dither_intensity", 0.0, SETTING, words=("Dither",))
put("render.use_stamp", True, SETTING, words=("Stamp",))
put("render.use_stamp_date", False, SETTING, name="another entry of the metadata")
put("render.stamp_font_size", 30, SETTING, name="the font of a stamp that is not burnt in")
put("render.filepath", "//elsewhere/", SETTING, name="where files go")
put("render.use_overwrite", False, SETTING)


@edit("output overridden by AgX", SETTING, words=("Color Management",))
def _(scene: Any) -> None:
    settings = scene.render.image_settings
    settings.color_management = "OVERRIDE"
    settings.view_settings.view_transform = "AgX"


@edit("output overridden by what it is", SETTING)
def _(scene: Any) -> None:
    settings = scene.render.image_settings
    settings.color_management = "OVERRIDE"
    settings.view_settings.view_transform = "Standard"
    settings.view_settings.look = "None"
    settings.view_settings.exposure, settings.view_settings.gamma = 0.0, 1.0


@edit("output as JPEG of poor quality", SETTING, words=("Output",))
def _(scene: Any) -> None:
    scene.render.image_settings.file_format = "JPEG"
    scene.render.image_settings.quality = 10


# --- film, sampling, Cycles
put("render.film_transparent", False, SETTING, words=("Transparent is off, built on",))
put("cycles.film_exposure", 1.5, "setting-film-exposure")
put("cycles.filter_width", 8.0, SETTING, words=("Filter Width",))
put("cycles.pixel_filter_type", "BOX", SETTING, words=("Filter",))
put("cycles.samples", 1, SETTING, words=("Samples",))
put("cycles.samples", 7, SETTING, words=("Samples",))
put("cycles.seed", 12, noise=True)
put("cycles.use_animated_seed", True, noise=True)
put("cycles.adaptive_threshold", 0.8, SETTING, words=("Threshold",))
put("cycles.use_denoising", True, SETTING, words=("Denois",))
put("cycles.transparent_max_bounces", 1, "light-cut-short")
put("cycles.transparent_max_bounces", 100, SETTING)
put("cycles.min_transparent_bounces", 0, SETTING, words=("Min Transparent Bounces",))
put("cycles.max_bounces", 0, SETTING)
put("cycles.use_adaptive_sampling", False, SETTING)
put("cycles.sample_clamp_direct", 0.2, SETTING, words=("Clamp",))
put("cycles.preview_samples", 3, SETTING)
put("cycles.tile_size", 64, SETTING)
put("cycles.use_light_tree", False, SETTING)
put("cycles.blur_glossy", 0.0, SETTING)


@edit("film exposure keyed between", "setting-film-exposure", SETTING, words=("xposure",))
def _(scene: Any) -> None:
    for frame, value in ((1, 1.0), (5, 1.0), (6, 2.0), (7, 1.0)):
        scene.cycles.film_exposure = value
        scene.keyframe_insert("cycles.film_exposure", frame=frame)
    scene.frame_set(1)


@edit("two settings keyed", SETTING, words=("Dither", "Filter Width", "are keyed; together they change pixels"))
def _(scene: Any) -> None:
    for frame, width, dither in ((1, 1.5, 1.0), (8, 4.0, 2.0)):
        scene.cycles.filter_width, scene.render.dither_intensity = width, dither
        scene.keyframe_insert("cycles.filter_width", frame=frame)
        scene.keyframe_insert("render.dither_intensity", frame=frame)


@edit("a keyed filter beside what changes nothing", SETTING, words=("Filter Width is keyed;",))
def _(scene: Any) -> None:
    scene.cycles.sample_clamp_indirect, scene.cycles.max_bounces = 7.0, 5
    for frame, width in ((1, 1.5), (8, 4.0)):
        scene.cycles.filter_width = width
        scene.keyframe_insert("cycles.filter_width", frame=frame)


# --- render
put("render.use_motion_blur", True, "setting-motion-blur")
put("render.motion_blur_shutter", 2.0, SETTING, name="the shutter of motion blur that is off")
put("render.use_persistent_data", True, SETTING)
put("render.use_simplify", True, SETTING, name="Simplify that simplifies nothing")
put("render.use_freestyle", True, SETTING, words=("Freestyle",))
put("render.engine", "BLENDER_WORKBENCH", "setting-engine", planned=True)
put("render.resolution_percentage", 50, "frame-size", planned=True)
put("render.pixel_aspect_x", 1.2, "pixel-aspect", planned=True)
put("render.fps", 30, "frame-rate", planned=True)
put("render.frame_map_new", 150, "time-stretched", planned=True)
put("frame_end", 6, "frame-range", planned=True)
put("frame_step", 2, "frame-step", planned=True)
put("render.use_multiview", True, "setting-stereo", planned=True)
put("render.line_thickness", 3.0, SETTING)
put("render.threads_mode", "FIXED", SETTING)
put("render.use_border", True, "border", name="a region of the whole frame")
put("render.use_high_quality_normals", True, SETTING)


@edit("a region of a part of the frame", "border")
def _(scene: Any) -> None:
    render = scene.render
    render.use_border = True
    render.border_min_x, render.border_max_x = 0.25, 0.75


@edit("textures limited to few pixels", SETTING, words=("Texture Limit",))
def _(scene: Any) -> None:
    scene.render.use_simplify = True
    for limit in ("128", "256"):
        scene.cycles.texture_limit_render = limit


@edit("motion blur of no shutter", "setting-motion-blur")
def _(scene: Any) -> None:
    scene.render.use_motion_blur = True
    scene.render.motion_blur_shutter = 0.0


@edit("freestyle on in the view layer alone", SETTING)
def _(scene: Any) -> None:
    scene.view_layers[0].use_freestyle = True


# --- world
def world_of(scene: Any) -> Any:
    scene.world = scene.world or bpy.data.worlds.new("world")
    blender_versions.node_tree(scene.world)
    return scene.world


def fog(scene: Any, density: float) -> None:
    tree = world_of(scene).node_tree
    volume = tree.nodes.new("ShaderNodeVolumePrincipled")
    volume.inputs["Density"].default_value = density
    output = next((node for node in tree.nodes if node.type == "OUTPUT_WORLD"), None)
    tree.links.new(volume.outputs[0], (output or tree.nodes.new("ShaderNodeOutputWorld")).inputs["Volume"])


@edit("a world that shines red", SETTING)
def _(scene: Any) -> None:
    tree = world_of(scene).node_tree
    back = next((node for node in tree.nodes if node.type == "BACKGROUND"), None)
    if back is None:
        back = tree.nodes.new("ShaderNodeBackground")
        output = next((n for n in tree.nodes if n.type == "OUTPUT_WORLD"), None) or tree.nodes.new(
            "ShaderNodeOutputWorld"
        )
        tree.links.new(back.outputs[0], output.inputs["Surface"])
    back.inputs[0].default_value = (1.0, 0.0, 0.0, 1.0)
    back.inputs[1].default_value = 3.0


@edit("fog", "setting-world-volume")
def _(scene: Any) -> None:
    fog(scene, 1.0)


@edit("fog of no density", "setting-world-volume")
def _(scene: Any) -> None:
    fog(scene, 0.0)


@edit("an opaque film and a red world", SETTING, words=("Transparent",))
def _(scene: Any) -> None:
    world_of(scene).color = (1.0, 0.0, 0.0)
    scene.render.film_transparent = False


# --- view layers
@edit("material override", SETTING, words=("Material Override",))
def _(scene: Any) -> None:
    scene.view_layers[0].material_override = bpy.data.materials.new("clay")


@edit("world override", SETTING)
def _(scene: Any) -> None:
    scene.view_layers[0].world_override = bpy.data.worlds.new("other")


@edit("samples of the view layer", SETTING, words=("Samples",))
def _(scene: Any) -> None:
    scene.view_layers[0].samples = 1


@edit("surfaces left out of the view layer", SETTING, words=("Solid",))
def _(scene: Any) -> None:
    scene.view_layers[0].use_solid = False


@edit("volumes left out of the view layer", SETTING)
def _(scene: Any) -> None:
    scene.view_layers[0].use_volumes = False


@edit("more passes", SETTING)
def _(scene: Any) -> None:
    layer = scene.view_layers[0]
    layer.use_pass_z = layer.use_pass_mist = layer.use_pass_cryptomatte_object = True
    layer.aovs.add().name = "mine"
    layer.pass_alpha_threshold = 0.9


@edit("a second view layer that is not rendered", "setting-layers-rendered")
def _(scene: Any) -> None:
    scene.view_layers.new("second").use = False


@edit("the view layer renamed", SETTING)
def _(scene: Any) -> None:
    scene.view_layers[0].name = "hero"


@edit("the view layer not rendered", "layer-off", planned=True)
def _(scene: Any) -> None:
    scene.view_layers.new("second")
    scene.view_layers[0].use = False


# --- compositor, sequencer
def compositor(scene: Any) -> tuple[Any, Any, Any]:
    """Give the scene a compositor that hands the picture through; return its tree, and both ends."""
    if hasattr(scene, "compositing_node_group"):
        tree = bpy.data.node_groups.new("grade", "CompositorNodeTree")
        tree.interface.new_socket("Image", in_out="OUTPUT", socket_type="NodeSocketColor")
        scene.compositing_node_group = tree
        end = tree.nodes.new("NodeGroupOutput")
    else:
        scene.use_nodes = True
        tree = scene.node_tree
        tree.nodes.clear()
        end = tree.nodes.new("CompositorNodeComposite")
    start = tree.nodes.new("CompositorNodeRLayers")
    tree.links.new(start.outputs["Image"], end.inputs[0])
    return tree, start, end


@edit("a compositor that changes nothing", "setting-compositor")
def _(scene: Any) -> None:
    compositor(scene)


@edit("a compositor that inverts", "setting-compositor")
def _(scene: Any) -> None:
    tree, start, end = compositor(scene)
    node = tree.nodes.new("CompositorNodeInvert")
    image = next(socket for socket in node.inputs if socket.name in ("Color", "Image"))
    tree.links.new(start.outputs["Image"], image)
    tree.links.new(node.outputs[0], end.inputs[0])


@edit("a compositor that blurs", "setting-compositor")
def _(scene: Any) -> None:
    tree, start, end = compositor(scene)
    node = tree.nodes.new("CompositorNodeBlur")
    if hasattr(node, "size_x"):
        node.size_x = node.size_y = 4
    if "Size" in node.inputs:
        socket = node.inputs["Size"]
        try:
            socket.default_value = (4.0, 4.0)
        except TypeError:
            socket.default_value = 1.0
    tree.links.new(start.outputs["Image"], node.inputs[0])
    tree.links.new(node.outputs[0], end.inputs[0])


@edit("a compositor with a node that leads nowhere", "setting-compositor")
def _(scene: Any) -> None:
    tree, start, _ = compositor(scene)
    node = tree.nodes.new("CompositorNodeInvert")
    tree.links.new(start.outputs["Image"], node.inputs[0])


@edit("a compositor that inverts, switched off", "setting-compositor")
def _(scene: Any) -> None:
    tree, start, end = compositor(scene)
    node = tree.nodes.new("CompositorNodeInvert")
    tree.links.new(start.outputs["Image"], next(s for s in node.inputs if s.name in ("Color", "Image")))
    tree.links.new(node.outputs[0], end.inputs[0])
    scene.render.use_compositing = False


def colour_strip(scene: Any) -> Any:
    editor = scene.sequence_editor_create()
    strips = editor.strips if hasattr(editor, "strips") else editor.sequences
    try:
        strip = strips.new_effect(name="red", type="COLOR", channel=1, frame_start=1, frame_end=9)
    except TypeError:
        strip = strips.new_effect(name="red", type="COLOR", channel=1, frame_start=1, length=8)
    strip.color = (1.0, 0.0, 0.0)
    return strip


@edit("a strip in the sequencer", "setting-edited-in-sequencer")
def _(scene: Any) -> None:
    colour_strip(scene)


@edit("a strip in the sequencer, which is off", "setting-edited-in-sequencer")
def _(scene: Any) -> None:
    colour_strip(scene)
    scene.render.use_sequencer = False


@edit("a strip in the sequencer that is muted", "setting-edited-in-sequencer")
def _(scene: Any) -> None:
    colour_strip(scene).mute = True


@edit("a strip in a channel that is muted", "setting-edited-in-sequencer")
def _(scene: Any) -> None:
    scene.sequence_editor_create().channels[colour_strip(scene).channel].mute = True


@edit("a strip in the sequencer that lies after the shot", "setting-edited-in-sequencer")
def _(scene: Any) -> None:
    strip = colour_strip(scene)
    strip.channel = 2
    strip.frame_start = 100


@edit("white balance, curves and three small things", COLOUR, words=("Use Curves",))
def _(scene: Any) -> None:
    view = scene.view_settings
    view.use_white_balance = True
    view.use_curve_mapping = True
    view.curve_mapping.curves[3].points.new(0.5, 0.7)
    view.curve_mapping.update()
    scene.cycles.filter_width = 1.5001
    scene.cycles.film_exposure = 1.0001
    scene.render.dither_intensity = 0.5


# --- other matters of the scene
@edit("a scene in the background", SETTING, words=("Background",))
def _(scene: Any) -> None:
    other = bpy.data.scenes.new("set")
    thing = leaf(1.0)
    thing.scale = (8.0, 8.0, 8.0)
    other.collection.objects.link(thing)
    scene.background_set = other


@edit("an empty scene in the background", SETTING)
def _(scene: Any) -> None:
    scene.background_set = bpy.data.scenes.new("set")


@edit("units, gravity and a note", SETTING)
def _(scene: Any) -> None:
    scene.unit_settings.scale_length = 0.01
    scene.gravity = (0.0, 0.0, -1.0)
    scene["note"] = "mine"
    scene.tool_settings.use_snap = True


@edit("the open frame", SETTING)
def _(scene: Any) -> None:
    scene.frame_set(5)
    scene.cursor.location = (1.0, 2.0, 3.0)


@edit("a marker without a camera", SETTING)
def _(scene: Any) -> None:
    scene.timeline_markers.new("beat", frame=4)
