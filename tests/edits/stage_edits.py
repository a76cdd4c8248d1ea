# SPDX-License-Identifier: GPL-3.0-or-later
"""Edits around the stack: cameras, light and film, worlds, things of every kind, compositor, libraries, actions."""

import math
from pathlib import Path
from typing import Any

import bpy
import numpy as np

from edits.edits import edit
from edits.level_edits import collection_of, layer_of
from edits.material_edits import node_of
from edits.settings_edits import SETTING, compositor, put, world_of
from edits.thing_edits import WAY, card, glow
from proving.wrong_scenes import MM, level
from underglass import blender_versions

FERN, HILL, SKY = "fern", "hill", "sky"
ART = "art-differs"

# --- settings alone
put("cycles.transparent_max_bounces", 3)
put("cycles.transparent_max_bounces", 2, "light-cut-short")
put("cycles.transparent_max_bounces", 0, "light-cut-short")
put("cycles.sample_clamp_direct", 0.0, name="clamping of direct light that is off")
put("cycles.sample_clamp_indirect", 0.01, name="clamping of indirect light")
put("cycles.sample_clamp_direct", 3.0, name="clamping of direct light that is high")
put("cycles.film_transparent_glass", True, name="clear glass")
put("cycles.filter_width", 1.6, SETTING, words=("Filter Width",))
put("cycles.pixel_filter_type", "GAUSSIAN", SETTING, words=("Filter",))
put("cycles.use_sample_subset", True, SETTING, name="a subset of the samples")
put("cycles.time_limit", 0.001, SETTING, name="a limit of time")
put("cycles.adaptive_min_samples", 2, SETTING)
put("cycles.use_fast_gi", True)
put("cycles.use_guiding", True)
put("cycles.debug_use_spatial_splits", True)
put("cycles.direct_light_sampling_type", "FORWARD_PATH_TRACING")
put("cycles.light_sampling_threshold", 0.5)
put("cycles.sampling_pattern", "BLUE_NOISE", noise=True, name="blue noise")
put("cycles.scrambling_distance", 0.2, SETTING, name="scrambling")
put("render.resolution_x", 97, "frame-size", planned=True)
put("render.pixel_aspect_y", 2.0, "pixel-aspect", planned=True)
put("render.fps_base", 1.001, "frame-rate", planned=True)
put("frame_start", 0, "frame-range", planned=True)
put("render.frame_map_old", 200, "time-stretched", planned=True)
put("render.use_simplify", True, name="Simplify alone")
put("render.use_single_layer", True)
put("render.use_sequencer", False)
put("render.use_file_extension", False)
put("render.image_settings.tiff_codec", "LZW")
put("view_settings.use_hdr_view", True, name="HDR view that may not be there") if "use_hdr_view" in dir(
    bpy.types.ColorManagedViewSettings
) else None
put("sequencer_colorspace_settings.name", "ACES2065-1", name="another colour space of the sequencer")
put("use_nodes", True, name="nodes of the scene switched on") if bpy.app.version < (5, 0) else None


@edit("Simplify that culls what is far off", SETTING, "level-changed", words=("ull",))
def _(scene: Any) -> None:
    scene.render.use_simplify = True
    scene.cycles.use_distance_cull, scene.cycles.distance_cull_margin = True, 0.5
    level(scene, SKY).cycles.use_distance_cull = True


@edit("Simplify that culls what the camera does not see", SETTING, "level-changed", words=("ull",))
def _(scene: Any) -> None:
    scene.render.use_simplify = True
    scene.cycles.use_camera_cull, scene.cycles.camera_cull_margin = True, 0.0
    for name in (FERN, HILL, SKY):
        level(scene, name).cycles.use_camera_cull = True


@edit("distance culling without Simplify")
def _(scene: Any) -> None:
    scene.cycles.use_distance_cull, scene.cycles.distance_cull_margin = True, 0.5
    level(scene, SKY).cycles.use_distance_cull = True


@edit("motion blur of a slow shutter in Cycles' own settings", "setting-motion-blur")
def _(scene: Any) -> None:
    scene.render.use_motion_blur = True
    scene.render.motion_blur_shutter = 3.0
    scene.render.motion_blur_position = "START"


@edit("motion blur, off for every level", "setting-motion-blur")
def _(scene: Any) -> None:
    scene.render.use_motion_blur = True
    for name in (FERN, HILL, SKY):
        level(scene, name).cycles.use_motion_blur = False


# --- camera
@edit("a panoramic camera", "projection", "camera-changed", "lens-offset")
def _(scene: Any) -> None:
    scene.camera.data.type = "PANO"


@edit("another camera's data", "other-camera", words=("Object Data",))
def _(scene: Any) -> None:
    scene.camera.data = bpy.data.cameras.new("other")


@edit("a lens said as a field of view")
def _(scene: Any) -> None:
    scene.camera.data.lens_unit = "FOV"


@edit("a lens keyed on one frame", "lens-offset", "lens-strays", "lens-uneven", "curve-not-linear")
def _(scene: Any) -> None:
    data = scene.camera.data
    lens = data.lens
    for frame, value in ((1, lens), (4, lens), (5, lens * 1.1), (6, lens)):
        data.lens = value
        data.keyframe_insert("lens", frame=frame)
    scene.frame_set(1)


@edit("focus on an object", "focus", "focus-offset", "focus-differs")
def _(scene: Any) -> None:
    scene.camera.data.dof.focus_object = level(scene, SKY)


@edit("focus on an object that stands where the focus was")
def _(scene: Any) -> None:
    empty = bpy.data.objects.new("focus", None)
    scene.collection.objects.link(empty)
    empty.location = scene.camera.location
    empty.location.z -= scene.camera.data.dof.focus_distance
    scene.camera.data.dof.focus_object = empty


@edit("the camera's far clip before the sky", "clipped")
def _(scene: Any) -> None:
    scene.camera.data.clip_end = 1.0


@edit("a camera shift keyed", "shift_x-offset", "shift_x-strays", "shift-x-strays", "shift-x-uneven")
def _(scene: Any) -> None:
    data = scene.camera.data
    for frame, value in ((1, 0.0), (5, 0.0), (6, 0.1), (7, 0.0)):
        data.shift_x = value
        data.keyframe_insert("shift_x", frame=frame)
    scene.frame_set(1)


@edit("a camera turned right round", "turn-offset")
def _(scene: Any) -> None:
    scene.camera.rotation_mode = "XYZ"
    scene.camera.rotation_euler.z += math.pi


@edit("a camera that looks by quaternions")
def _(scene: Any) -> None:
    scene.camera.rotation_mode = "QUATERNION"


@edit("a camera that tracks a level", "has-constraint", "tilt-offset")
def _(scene: Any) -> None:
    track = scene.camera.constraints.new("TRACK_TO")
    track.target, track.track_axis, track.up_axis = level(scene, FERN), "TRACK_NEGATIVE_Z", "UP_Y"


@edit("a background picture of the camera")
def _(scene: Any) -> None:
    data = scene.camera.data
    data.show_background_images = True
    data.background_images.new()


@edit("a camera hidden from the render")
def _(scene: Any) -> None:
    scene.camera.hide_render = True


@edit("a camera in a collection that is excluded")
def _(scene: Any) -> None:
    layer_of(scene, collection_of(scene, scene.camera)).exclude = True


@edit("a camera mirrored", "turn-offset")
def _(scene: Any) -> None:
    scene.camera.scale.x = -1.0


# --- light, shadow, groups
@edit("a level that only one lamp lights")
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    hill.light_linking.receiver_collection = bpy.data.collections.new("receivers")
    hill.light_linking.blocker_collection = bpy.data.collections.new("blockers")


@edit("a plane that catches shadows, under a lamp", WAY)
def _(scene: Any) -> None:
    lamp = bpy.data.objects.new("lamp", bpy.data.lights.new("lamp", "SUN"))
    scene.collection.objects.link(lamp)
    lamp.location.z = 2.0
    floor = card(scene, up=1.0, size=0.2)
    floor.is_shadow_catcher = True
    floor.data.materials[0] = bpy.data.materials.new("floor")


@edit("a plane that catches shadows behind the stack")
def _(scene: Any) -> None:
    floor = card(scene, up=0.1, size=1.0)
    floor.is_shadow_catcher = True


@edit("a light group")
def _(scene: Any) -> None:
    scene.view_layers[0].lightgroups.add(name="key")
    level(scene, HILL).lightgroup = "key"


@edit("a plain grey card beside, and a sun")
def _(scene: Any) -> None:
    side = card(scene, up=1.0, east=2.0)
    side.data.materials[0] = bpy.data.materials.new("grey")
    lamp = bpy.data.objects.new("lamp", bpy.data.lights.new("lamp", "SUN"))
    scene.collection.objects.link(lamp)


# --- world
@edit("a world that is a ramp, with a clear film")
def _(scene: Any) -> None:
    tree = world_of(scene).node_tree
    back = next((node for node in tree.nodes if node.type == "BACKGROUND"), None) or tree.nodes.new(
        "ShaderNodeBackground"
    )
    sky = tree.nodes.new("ShaderNodeTexEnvironment")
    tree.links.new(sky.outputs[0], back.inputs[0])


@edit("a world removed")
def _(scene: Any) -> None:
    scene.world = None


@edit("mist of the world")
def _(scene: Any) -> None:
    world_of(scene).mist_settings.use_mist = True
    scene.view_layers[0].use_pass_mist = True


@edit("fog that is keyed in", "setting-world-volume")
def _(scene: Any) -> None:
    tree = world_of(scene).node_tree
    volume = tree.nodes.new("ShaderNodeVolumeAbsorption")
    output = next((n for n in tree.nodes if n.type == "OUTPUT_WORLD"), None) or tree.nodes.new("ShaderNodeOutputWorld")
    tree.links.new(volume.outputs[0], output.inputs["Volume"])
    density = volume.inputs["Density"]
    for frame, value in ((1, 0.0), (5, 0.0), (6, 2.0), (7, 0.0)):
        density.default_value = value
        density.keyframe_insert("default_value", frame=frame)
    scene.frame_set(1)


@edit("fog in a group of the world", "setting-world-volume")
def _(scene: Any) -> None:
    group = bpy.data.node_groups.new("fog", "ShaderNodeTree")
    group.interface.new_socket("Volume", in_out="OUTPUT", socket_type="NodeSocketShader")
    volume, end = group.nodes.new("ShaderNodeVolumeAbsorption"), group.nodes.new("NodeGroupOutput")
    group.links.new(volume.outputs[0], end.inputs[0])
    tree = world_of(scene).node_tree
    node = tree.nodes.new("ShaderNodeGroup")
    node.node_tree = group
    output = next((n for n in tree.nodes if n.type == "OUTPUT_WORLD"), None) or tree.nodes.new("ShaderNodeOutputWorld")
    tree.links.new(node.outputs[0], output.inputs["Volume"])


# --- things
@edit("hair curves before the stack", WAY, words=("tuft",))
def _(scene: Any) -> None:
    curves = bpy.data.hair_curves.new("tuft")
    curves.add_curves([2] * 20)
    places = [(0.002 * (i // 2) - 0.02, 0.03 * (i % 2), 0.0) for i in range(40)]
    curves.points.foreach_set("position", np.array(places, dtype=np.float32).ravel())
    radius = curves.attributes.get("radius") or curves.attributes.new("radius", "FLOAT", "POINT")
    radius.data.foreach_set("value", np.full(40, 0.001, dtype=np.float32))
    curves.materials.append(glow("red", (1.0, 0.0, 0.0)))
    obj = bpy.data.objects.new("tuft", curves)
    obj.location.z = 1.0
    scene.collection.objects.link(obj)


@edit("a cloud of points before the stack", WAY, words=("drops",))
def _(scene: Any) -> None:
    mesh = bpy.data.meshes.new("drops")
    mesh.from_pydata([(0.001 * i, 0.0, 0.0) for i in range(10)], [], [])
    obj = bpy.data.objects.new("drops", mesh)
    obj.location.z = 1.0
    scene.collection.objects.link(obj)
    tree = bpy.data.node_groups.new("points", "GeometryNodeTree")
    tree.interface.new_socket("Geometry", in_out="INPUT", socket_type="NodeSocketGeometry")
    tree.interface.new_socket("Geometry", in_out="OUTPUT", socket_type="NodeSocketGeometry")
    start, end = tree.nodes.new("NodeGroupInput"), tree.nodes.new("NodeGroupOutput")
    points, paint = tree.nodes.new("GeometryNodeMeshToPoints"), tree.nodes.new("GeometryNodeSetMaterial")
    points.inputs["Radius"].default_value = 0.003
    paint.inputs["Material"].default_value = glow("red", (1.0, 0.0, 0.0))
    tree.links.new(start.outputs[0], points.inputs[0])
    tree.links.new(points.outputs[0], paint.inputs[0])
    tree.links.new(paint.outputs[0], end.inputs[0])
    obj.modifiers.new("points", "NODES").node_group = tree


@edit("a thing of an empty mesh that nodes make solid", WAY, words=("maker",))
def _(scene: Any) -> None:
    obj = bpy.data.objects.new("maker", bpy.data.meshes.new("maker"))
    obj.location.z = 1.0
    scene.collection.objects.link(obj)
    tree = bpy.data.node_groups.new("make", "GeometryNodeTree")
    tree.interface.new_socket("Geometry", in_out="OUTPUT", socket_type="NodeSocketGeometry")
    grid, paint = tree.nodes.new("GeometryNodeMeshGrid"), tree.nodes.new("GeometryNodeSetMaterial")
    grid.inputs[0].default_value = grid.inputs[1].default_value = 0.02
    paint.inputs["Material"].default_value = glow("red", (1.0, 0.0, 0.0))
    end = tree.nodes.new("NodeGroupOutput")
    tree.links.new(grid.outputs[0], paint.inputs[0])
    tree.links.new(paint.outputs[0], end.inputs[0])
    obj.modifiers.new("make", "NODES").node_group = tree


@edit("a thing displaced far from its own box", WAY, words=("card",))
def _(scene: Any) -> None:
    obj = card(scene, up=1.0, east=3.0)
    obj.modifiers.new("aside", "DISPLACE").direction = "X"
    obj.modifiers["aside"].mid_level, obj.modifiers["aside"].strength = 0.0, -3.0


@edit("a thing that an empty mesh's parent brings in", WAY, words=("card",))
def _(scene: Any) -> None:
    obj = card(scene, up=1.0, east=3.0)
    rig = bpy.data.objects.new("rig", None)
    scene.collection.objects.link(rig)
    obj.parent = rig
    for frame, east in ((1, 0.0), (5, 0.0), (6, -3.0), (7, 0.0)):
        rig.location.x = east
        rig.keyframe_insert("location", index=0, frame=frame)
    for curve in blender_versions.fcurves_of(rig):
        for key in curve.keyframe_points:
            key.interpolation = "CONSTANT"
    scene.frame_set(1)


@edit("a thing that two nested collections bring", WAY)
def _(scene: Any) -> None:
    inner, outer = bpy.data.collections.new("inner"), bpy.data.collections.new("outer")
    obj = card(scene, up=0.0)
    scene.collection.objects.unlink(obj)
    inner.objects.link(obj)
    one = bpy.data.objects.new("one", None)
    one.instance_type, one.instance_collection = "COLLECTION", inner
    outer.objects.link(one)
    two = bpy.data.objects.new("two", None)
    two.instance_type, two.instance_collection = "COLLECTION", outer
    two.location.z = 1.0
    scene.collection.objects.link(two)


@edit("a thing that only an instance shows, its own collection not rendered", WAY)
def _(scene: Any) -> None:
    obj = card(scene, up=0.0)
    kept = collection_of(scene, obj)
    kept.hide_render = True
    one = bpy.data.objects.new("one", None)
    one.instance_type, one.instance_collection = "COLLECTION", kept
    one.location.z = 1.0
    scene.collection.objects.link(one)


@edit("an empty that shows a picture")
def _(scene: Any) -> None:
    empty = bpy.data.objects.new("reference", None)
    empty.empty_display_type = "IMAGE"
    empty.data = node_of(scene, "TEX_IMAGE").image
    empty.location.z = 1.0
    scene.collection.objects.link(empty)


@edit("a card whose alpha a picture takes away")
def _(scene: Any) -> None:
    obj = card(scene, up=1.0)
    obj.data.materials.clear()
    paint = bpy.data.materials.new("clear")
    tree = blender_versions.node_tree(paint)
    tree.nodes.clear()
    tree.links.new(
        tree.nodes.new("ShaderNodeBsdfTransparent").outputs[0], tree.nodes.new("ShaderNodeOutputMaterial").inputs[0]
    )
    obj.data.materials.append(paint)


@edit("six fully clear cards before the stack", WAY, "light-cut-short", SETTING)
def _(scene: Any) -> None:
    for number in range(6):
        card(scene, up=1.0 + 0.01 * number, alpha=0.0)


@edit("thirty fully clear cards before the stack", WAY, "light-cut-short", SETTING)
def _(scene: Any) -> None:
    for number in range(30):
        card(scene, up=1.0 + 0.005 * number, alpha=0.0)


@edit("a glass before the stack", WAY)
def _(scene: Any) -> None:
    obj = card(scene, up=1.0)
    tree = obj.data.materials[0].node_tree
    tree.nodes.clear()
    tree.links.new(
        tree.nodes.new("ShaderNodeBsdfGlass").outputs[0], tree.nodes.new("ShaderNodeOutputMaterial").inputs[0]
    )


@edit("a dark card before the stack", WAY)
def _(scene: Any) -> None:
    card(scene, up=1.0).data.materials[0] = bpy.data.materials.new("grey")


@edit("a mirror behind the stack that shows nothing", WAY)
def _(scene: Any) -> None:
    card(scene, up=0.1, size=1.0).data.materials[0] = bpy.data.materials.new("grey")


@edit("a thing keyed to be seen by the camera on one frame", WAY)
def _(scene: Any) -> None:
    obj = card(scene, up=1.0)
    for frame, seen in ((1, False), (6, True), (7, False)):
        obj.visible_camera = seen
        obj.keyframe_insert("visible_camera", frame=frame)
    scene.frame_set(1)


@edit("a holdout in the material of a card behind the stack", WAY)
def _(scene: Any) -> None:
    obj = card(scene, up=0.1, size=1.0)
    tree = obj.data.materials[0].node_tree
    tree.nodes.clear()
    tree.links.new(tree.nodes.new("ShaderNodeHoldout").outputs[0], tree.nodes.new("ShaderNodeOutputMaterial").inputs[0])


@edit("a large ball of smoke all around", WAY, words=("smoke",))
def _(scene: Any) -> None:
    import bmesh

    mesh = bpy.data.meshes.new("smoke")
    work = bmesh.new()
    bmesh.ops.create_cube(work, size=6.0)
    work.to_mesh(mesh)
    work.free()
    paint = bpy.data.materials.new("smoke")
    tree = blender_versions.node_tree(paint)
    tree.nodes.clear()
    output, smoke = tree.nodes.new("ShaderNodeOutputMaterial"), tree.nodes.new("ShaderNodeVolumeAbsorption")
    smoke.inputs["Density"].default_value = 0.5
    tree.links.new(smoke.outputs[0], output.inputs["Volume"])
    mesh.materials.append(paint)
    scene.collection.objects.link(bpy.data.objects.new("smoke", mesh))


@edit("a grease pencil drawing")
def _(scene: Any) -> None:
    kind = bpy.data.grease_pencils_v3 if hasattr(bpy.data, "grease_pencils_v3") else bpy.data.grease_pencils
    drawing = kind.new("sketch")
    obj = bpy.data.objects.new("sketch", drawing)
    obj.location.z = 1.0
    scene.collection.objects.link(obj)


@edit("a room around everything", WAY)
def _(scene: Any) -> None:
    import bmesh

    mesh = bpy.data.meshes.new("room")
    work = bmesh.new()
    bmesh.ops.create_cube(work, size=6.0)
    work.to_mesh(mesh)
    work.free()
    mesh.materials.append(glow("wall", (0.3, 0.3, 0.3)))
    scene.collection.objects.link(bpy.data.objects.new("room", mesh))


# --- compositor
def through(scene: Any, kind: str, into: str | int = 0) -> Any:
    tree, start, end = compositor(scene)
    node = tree.nodes.new(kind)
    tree.links.new(start.outputs["Image"], node.inputs[into])
    tree.links.new(node.outputs[0], end.inputs[0])
    return node


@edit("a compositor that gives nothing", "setting-compositor")
def _(scene: Any) -> None:
    tree, _, _ = compositor(scene)
    tree.links.remove(tree.links[0])


@edit("a compositor that flips", "setting-compositor")
def _(scene: Any) -> None:
    node = through(scene, "CompositorNodeFlip")
    if hasattr(node, "axis"):
        node.axis = "X"


@edit("a compositor that moves the picture", "setting-compositor")
def _(scene: Any) -> None:
    node = through(scene, "CompositorNodeTranslate")
    node.inputs["X"].default_value = 4.0


@edit("a compositor that acts on one frame", "setting-compositor")
def _(scene: Any) -> None:
    node = through(scene, "CompositorNodeExposure")
    socket = node.inputs["Exposure"]
    for frame, value in ((1, 0.0), (6, 0.0), (7, 1.0), (8, 0.0)):
        socket.default_value = value
        socket.keyframe_insert("default_value", frame=frame)
    scene.frame_set(1)


@edit("a compositor that lays one colour over all", "setting-compositor")
def _(scene: Any) -> None:
    tree, _, end = compositor(scene)
    colour = tree.nodes.new("CompositorNodeRGB")
    colour.outputs[0].default_value = (0.2, 0.4, 0.6, 1.0)
    tree.links.new(colour.outputs[0], end.inputs[0])


@edit("a compositor that shows a pass", "setting-compositor")
def _(scene: Any) -> None:
    scene.view_layers[0].use_pass_z = True
    tree, start, end = compositor(scene)
    depth = next(s for s in start.outputs if s.name in ("Depth", "Z"))
    tree.links.new(depth, end.inputs[0])


@edit("a compositor that shows another scene", "setting-compositor")
def _(scene: Any) -> None:
    other = bpy.data.scenes.new("other")
    other.camera = scene.camera
    _, start, _ = compositor(scene)
    start.scene = other


@edit("a compositor that multiplies by one", "setting-compositor")
def _(scene: Any) -> None:
    node = through(scene, "CompositorNodeExposure")
    node.inputs["Exposure"].default_value = 0.0


@edit("a compositor with a muted inverting node", "setting-compositor")
def _(scene: Any) -> None:
    node = through(scene, "CompositorNodeInvert", "Color")
    node.mute = True


# --- libraries, overrides, actions
def exported(scene: Any, blocks: set[Any]) -> Path:
    path = Path(bpy.data.filepath).with_name("library.blend")
    bpy.data.libraries.write(str(path), blocks, fake_user=True)
    return path


@edit("a level's mesh and material linked from a library")
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    path = exported(scene, {hill.data})
    name = hill.data.name
    with bpy.data.libraries.load(str(path), link=True) as (there, here):
        here.meshes = [name]
        assert name in there.meshes
    hill.data = here.meshes[0]


@edit("a level's material linked from a library, and bright there", ART, "level-changed", words=("hill",))
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    paint = hill.data.materials[0]
    strength = node_of(scene, "EMISSION").inputs["Strength"]
    strength.default_value = 2.0
    path = exported(scene, {paint})
    strength.default_value = 1.0
    name = paint.name
    with bpy.data.libraries.load(str(path), link=True) as (_, here):
        here.materials = [name]
    hill.data.materials[0] = here.materials[0]


@edit("the stack linked as a collection")
def _(scene: Any) -> None:
    stack = level(scene, HILL).users_collection[0]
    path = exported(scene, {stack})
    name = stack.name
    scene.collection.children.unlink(stack)
    for obj in list(stack.objects):
        bpy.data.objects.remove(obj)
    bpy.data.collections.remove(stack)
    with bpy.data.libraries.load(str(path), link=True) as (_, here):
        here.collections = [name]
    scene.collection.children.link(here.collections[0])
    scene.camera = next(obj for obj in here.collections[0].objects if obj.type == "CAMERA")


@edit("a move in a slot of another name")
def _(scene: Any) -> None:
    fern = level(scene, FERN)
    if hasattr(fern.animation_data, "action_slot"):
        fern.animation_data.action_slot.name_display = "my slot"


@edit("another slot of the action", "east-offset", "east-still", "east-strays", "east-uneven", words=("fern",))
def _(scene: Any) -> None:
    scene.frame_set(1)
    data = level(scene, FERN).animation_data
    data.action_slot = data.action.slots.new("OBJECT", "other")


@edit("actions of two levels exchanged", "east-offset", "east-still", "turn-offset", "east-strays", "swapped")
def _(scene: Any) -> None:
    fern, hill = level(scene, FERN).animation_data, level(scene, HILL).animation_data
    one, two = fern.action, hill.action
    fern.action, hill.action = two, one
    for data in (fern, hill):
        if data.action_slot is None:
            data.action_slot = data.action.slots[0]


@edit("a strip of the NLA that says what the action says", "has-nla")
def _(scene: Any) -> None:
    fern = level(scene, FERN)
    data = fern.animation_data
    action, slot = data.action, data.action_slot
    strip = data.nla_tracks.new().strips.new("move", 1, action)
    if strip.action_slot is None:
        strip.action_slot = slot
    data.action = None


@edit("a strip of the NLA that runs at half speed", "has-nla")
def _(scene: Any) -> None:
    fern = level(scene, FERN)
    data = fern.animation_data
    action, slot = data.action, data.action_slot
    strip = data.nla_tracks.new().strips.new("move", 1, action)
    if strip.action_slot is None:
        strip.action_slot = slot
    strip.scale = 2.0
    data.action = None


@edit(
    "an action influence of a half",
    "east-offset",
    "east-strays",
    "east-late",
    "east-uneven",
    "has-nla",
    words=("fern",),
)
def _(scene: Any) -> None:
    scene.frame_set(1)
    level(scene, FERN).animation_data.action_influence = 0.5


@edit("a curve cycled by a modifier")
def _(scene: Any) -> None:
    blender_versions.fcurves_of(level(scene, FERN))[0].modifiers.new("CYCLES")


@edit("a curve extrapolated in a line")
def _(scene: Any) -> None:
    blender_versions.fcurves_of(level(scene, FERN))[0].extrapolation = "LINEAR"


@edit("keys on half frames", "east-strays", "east-uneven", "east-late", "east-offset", words=("fern",))
def _(scene: Any) -> None:
    for curve in blender_versions.fcurves_of(level(scene, FERN)):
        for key in curve.keyframe_points:
            key.co.x += 0.5
        curve.update()


@edit("a constraint of no influence, driven in", "has-constraint", "has-driver", words=("sky",))
def _(scene: Any) -> None:
    limit = level(scene, SKY).constraints.new("LIMIT_LOCATION")
    limit.use_min_x, limit.min_x, limit.influence = True, 5 * MM, 0.0
    for frame, value in ((1, 0.0), (5, 0.0), (6, 1.0), (7, 0.0)):
        limit.influence = value
        limit.keyframe_insert("influence", frame=frame)
    scene.frame_set(1)


@edit("a level that copies another's place", "has-constraint", words=("hill",))
def _(scene: Any) -> None:
    copy = level(scene, HILL).constraints.new("COPY_LOCATION")
    copy.target, copy.use_y, copy.use_z = level(scene, FERN), False, False


@edit("a level whose rotation is by quaternions", "turn-offset", "turn-still", "turn-strays", words=("hill",))
def _(scene: Any) -> None:
    scene.frame_set(1)
    level(scene, HILL).rotation_mode = "QUATERNION"


@edit("a still level whose rotation is by quaternions")
def _(scene: Any) -> None:
    level(scene, SKY).rotation_mode = "QUATERNION"


@edit("a level whose scale is -1", "mirrored", "turn-offset", "width-offset", words=("sky",))
def _(scene: Any) -> None:
    level(scene, SKY).scale.x = -1.0


@edit("a level turned right over", "mirrored", "tilt-offset", words=("sky",))
def _(scene: Any) -> None:
    level(scene, SKY).rotation_euler.y = math.pi


@edit("a level's visibility driven", "hidden", "has-driver", words=("hill",))
def _(scene: Any) -> None:
    level(scene, HILL).driver_add("hide_render").driver.expression = "frame > 5"


@edit("a view layer's collection excluded and shown by another")
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    extra = bpy.data.collections.new("extra")
    scene.collection.children.link(extra)
    extra.objects.link(hill)
    layer_of(scene, extra).exclude = True


@edit("cryptomatte and denoising data")
def _(scene: Any) -> None:
    layer = scene.view_layers[0]
    layer.use_pass_cryptomatte_object = layer.use_pass_cryptomatte_material = True
    layer.cycles.denoising_store_passes = True


@edit("the alpha threshold and the environment of the layer")
def _(scene: Any) -> None:
    layer = scene.view_layers[0]
    layer.use_sky = layer.use_ao = layer.use_strand = False


@edit("markers, notes of the time line and a preview range")
def _(scene: Any) -> None:
    scene.use_preview_range = True
    scene.frame_preview_start, scene.frame_preview_end = 2, 4
    scene.timeline_markers.new("beat", frame=3)


@edit("an image packed")
def _(scene: Any) -> None:
    node_of(scene, "TEX_IMAGE").image.pack()


@edit("an image packed, its pixels brighter", ART, words=("hill",))
def _(scene: Any) -> None:
    image = node_of(scene, "TEX_IMAGE").image
    pixels = np.array(image.pixels[:])
    pixels[::4] = np.minimum(pixels[::4] + 0.2, 1.0)
    image.pixels[:] = pixels.tolist()
    image.update()
    image.pack()


@edit("an image scaled to half its size and packed", ART, words=("hill",))
def _(scene: Any) -> None:
    image = node_of(scene, "TEX_IMAGE").image
    image.scale(32, 24)
    image.pack()


@edit("an image of half precision")
def _(scene: Any) -> None:
    node_of(scene, "TEX_IMAGE").image.use_half_precision = not node_of(scene, "TEX_IMAGE").image.use_half_precision


@edit("an image made in Blender", ART, "art-missing", words=("hill",))
def _(scene: Any) -> None:
    image = bpy.data.images.new("made", 64, 48)
    image.pack()
    node_of(scene, "TEX_IMAGE").image = image


@edit("an image as a sequence that begins late", ART, words=("hill",))
def _(scene: Any) -> None:
    node = node_of(scene, "TEX_IMAGE")
    node.image.source = "SEQUENCE"
    node.image_user.frame_duration, node.image_user.frame_start = 1, 100


@edit("an image shown as render")
def _(scene: Any) -> None:
    node_of(scene, "TEX_IMAGE").image.use_view_as_render = True


@edit("the file beside the shot painted over, not packed", planned=False)
def _(scene: Any) -> None:
    node_of(scene, "TEX_IMAGE").image.reload()
