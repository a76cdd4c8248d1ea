# SPDX-License-Identifier: GPL-3.0-or-later
"""Edits of levels and of the camera: where they are, what pulls them, their meshes, and whether they are rendered."""

import math
from typing import Any

import bpy

from edits.edits import edit
from proving.wrong_scenes import MM, add, change_keys, curves, ease, level, remove_curves
from underglass import blender_versions

FERN, HILL, SKY = "fern", "hill", "sky"


def axis(name: str, kind: str = "offset") -> str:
    return f"{name}-{kind}"


# --- a level put elsewhere
@edit("a level 1 mm east", axis("east"))
def _(scene: Any) -> None:
    add(level(scene, HILL), "location", 0, 1 * MM)


@edit("a level 5 mm higher", axis("height"))
def _(scene: Any) -> None:
    add(level(scene, SKY), "location", 2, 5 * MM)


@edit("a level turned by half a degree", axis("turn"))
def _(scene: Any) -> None:
    add(level(scene, HILL), "rotation_euler", 2, math.radians(0.5))


@edit("a level tilted", axis("tilt"))
def _(scene: Any) -> None:
    add(level(scene, SKY), "rotation_euler", 0, math.radians(2))


@edit("a level scaled", axis("width"), axis("art-height"))
def _(scene: Any) -> None:
    level(scene, HILL).scale = (1.05, 1.05, 1.05)


@edit("a level one hundred nanometres east", axis("east"))
def _(scene: Any) -> None:
    add(level(scene, HILL), "location", 0, 1e-7)


@edit("a level turned by a whole turn", axis("turn"))
def _(scene: Any) -> None:
    add(level(scene, SKY), "rotation_euler", 2, 2 * math.pi)


@edit("a delta on a level", axis("north"))
def _(scene: Any) -> None:
    level(scene, SKY).delta_location[1] = 2 * MM


@edit("two levels exchanged in height", "swapped", "order-changed")
def _(scene: Any) -> None:
    one, two = level(scene, HILL), level(scene, SKY)
    one.location.z, two.location.z = two.location.z, one.location.z


@edit("all levels and the camera moved together", "stand-moved")
def _(scene: Any) -> None:
    for part in (scene.camera, *(level(scene, name) for name in (FERN, HILL, SKY))):
        add(part, "location", 0, 0.125)


# --- keys
@edit("a move one frame late", axis("east", "late"))
def _(scene: Any) -> None:
    for curve in curves(level(scene, FERN), "location", 0):
        change_keys(curve, lambda frame, value: (frame + 1, value))


@edit("a move eased by Bezier", "curve-not-linear", axis("east", "uneven"), axis("turn", "uneven"), words=("hill",))
def _(scene: Any) -> None:
    ease(level(scene, HILL), "rotation_euler", 2)


@edit("keys of Bezier on every frame of a straight line")
def _(scene: Any) -> None:
    for curve in curves(level(scene, SKY), "location", 0):
        for key in curve.keyframe_points:
            key.interpolation = "BEZIER"


@edit("a level's action unbound", axis("east", "still"), axis("east", "strays"), axis("east", "uneven"))
def _(scene: Any) -> None:
    scene.frame_set(1)
    level(scene, FERN).animation_data_clear()


@edit("noise on a curve", axis("east", "strays"), axis("east", "uneven"), "curve-not-linear")
def _(scene: Any) -> None:
    noise = curves(level(scene, FERN), "location", 0)[0].modifiers.new("NOISE")
    noise.strength, noise.scale = 4 * MM, 3.0


@edit("a key on one frame more", axis("east", "uneven"), axis("east", "strays"))
def _(scene: Any) -> None:
    curves(level(scene, FERN), "location", 0)[0].keyframe_points.insert(4, 10 * MM)


@edit("a muted curve", "curve-not-linear", axis("east", "still"), axis("east", "strays"), axis("east", "uneven"))
def _(scene: Any) -> None:
    scene.frame_set(1)
    curves(level(scene, FERN), "location", 0)[0].mute = True


@edit("a group of curves renamed")
def _(scene: Any) -> None:
    action = level(scene, FERN).animation_data.action
    action.name = "my action"


# --- what pulls a level
def rig(scene: Any, east_mm: float) -> Any:
    empty = bpy.data.objects.new("rig", None)
    empty.location[0] = east_mm * MM
    scene.collection.objects.link(empty)
    return empty


@edit("a parent that moves", "has-parent", words=("rig",))
def _(scene: Any) -> None:
    level(scene, SKY).parent = rig(scene, 3.0)


@edit("a parent that stands still", "has-parent")
def _(scene: Any) -> None:
    level(scene, SKY).parent = rig(scene, 0.0)


@edit("a constraint", "has-constraint", words=("Limit Location",))
def _(scene: Any) -> None:
    limit = level(scene, SKY).constraints.new("LIMIT_LOCATION")
    limit.use_min_x, limit.min_x = True, 5 * MM


@edit("a constraint that is muted", "has-constraint")
def _(scene: Any) -> None:
    limit = level(scene, SKY).constraints.new("LIMIT_LOCATION")
    limit.use_min_x, limit.min_x, limit.mute = True, 5 * MM, True


@edit("a driver of a plain sum", "has-driver", words=("driver",))
def _(scene: Any) -> None:
    level(scene, SKY).driver_add("location", 1).driver.expression = "0.004"


@edit("a driver that runs Python", "scripts-not-run", "script-not-run", "has-driver", planned=True)
def _(scene: Any) -> None:
    level(scene, SKY).driver_add("location", 1).driver.expression = "len(str(frame)) * 0.01"


@edit("a strip of the NLA", "has-nla")
def _(scene: Any) -> None:
    sky = level(scene, SKY)
    blender_versions.ensure_fcurve(sky, "location", index=0).keyframe_points.insert(1, 6 * MM)
    action = sky.animation_data.action
    strip = sky.animation_data.nla_tracks.new().strips.new("aside", 1, action)
    if hasattr(strip, "action_slot") and strip.action_slot is None:
        strip.action_slot = action.slots[0]
    sky.animation_data.action = None


# --- modifiers
def slide(scene: Any, mm: float) -> Any:
    modifier = level(scene, SKY).modifiers.new("slide", "DISPLACE")
    modifier.direction, modifier.mid_level, modifier.strength = "X", 0.0, mm * MM
    return modifier


@edit("a modifier in viewport and render", "has-modifier", words=("slide",))
def _(scene: Any) -> None:
    slide(scene, 6.0)


@edit("a modifier that only renders", "has-modifier", words=("slide",))
def _(scene: Any) -> None:
    slide(scene, 6.0).show_viewport = False


@edit("a modifier that only the viewport shows", "has-modifier")
def _(scene: Any) -> None:
    slide(scene, 6.0).show_render = False


@edit("a modifier that is off", "has-modifier")
def _(scene: Any) -> None:
    modifier = slide(scene, 6.0)
    modifier.show_render = modifier.show_viewport = False


@edit("a modifier that divides the plane", "has-modifier")
def _(scene: Any) -> None:
    modifier = level(scene, SKY).modifiers.new("divide", "SUBSURF")
    modifier.subdivision_type = "SIMPLE"


@edit("a modifier that rounds the plane", "has-modifier", "cut-off", "not-flat", "pixels-differ", words=("hill",))
def _(scene: Any) -> None:
    level(scene, HILL).modifiers.new("round", "SUBSURF").levels = 2


@edit("a wave", "has-modifier", words=("wave",))
def _(scene: Any) -> None:
    wave = level(scene, HILL).modifiers.new("wave", "WAVE")
    wave.height, wave.width = 0.05, 0.05


@edit("an array of planes", "has-modifier", "two-surfaces", "unknown-level", words=("hill",))
def _(scene: Any) -> None:
    array = level(scene, HILL).modifiers.new("row", "ARRAY")
    array.use_relative_offset = False
    array.use_constant_offset = True
    array.constant_offset_displace = (0.0, 0.03, 0.0)


@edit("a shape key at work", axis("east"), "corner-moved", "has-driver")
def _(scene: Any) -> None:
    sky = level(scene, SKY)
    sky.shape_key_add(name="Basis")
    key = sky.shape_key_add(name="aside")
    for point in key.data:
        point.co.x += 8 * MM
    key.value = 1.0


@edit("a shape key at rest", axis("east"))
def _(scene: Any) -> None:
    sky = level(scene, SKY)
    sky.shape_key_add(name="Basis")
    key = sky.shape_key_add(name="aside")
    for point in key.data:
        point.co.x += 8 * MM
    key.value = 0.0


# --- the plane itself
@edit("a pulled corner", "corner-moved", words=("upper right",))
def _(scene: Any) -> None:
    level(scene, HILL).data.vertices[2].co.x += 6 * MM


@edit("a pulled edge", "corner-moved", "width-offset", "art-height-offset", "east-offset", "north-offset")
def _(scene: Any) -> None:
    for index in (2, 3):
        level(scene, HILL).data.vertices[index].co.y += 6 * MM


@edit("a plane divided", "harmless-changes")
def _(scene: Any) -> None:
    import bmesh

    mesh = level(scene, SKY).data
    work = bmesh.new()
    work.from_mesh(mesh)
    bmesh.ops.subdivide_edges(work, edges=work.edges[:], cuts=2, use_grid_fill=True)
    work.to_mesh(mesh)
    work.free()


@edit("a hole in a plane", "cut-off", "not-flat")
def _(scene: Any) -> None:
    import bmesh

    mesh = level(scene, SKY).data
    work = bmesh.new()
    work.from_mesh(mesh)
    bmesh.ops.subdivide_edges(work, edges=work.edges[:], cuts=4, use_grid_fill=True)
    middle = min(work.faces, key=lambda face: face.calc_center_median().length)
    bmesh.ops.delete(work, geom=[middle], context="FACES")
    work.to_mesh(mesh)
    work.free()


@edit("texture coordinates mirrored", "mirrored")
def _(scene: Any) -> None:
    for corner in level(scene, HILL).data.uv_layers[0].data:
        corner.uv = (1 - corner.uv[0], corner.uv[1])


@edit("texture coordinates shifted", "has-uv", axis("east"), axis("north"), "cut-off", "not-flat", "pixels-differ")
def _(scene: Any) -> None:
    for corner in level(scene, HILL).data.uv_layers[0].data:
        corner.uv = (corner.uv[0] + 0.05, corner.uv[1])


@edit("a second set of coordinates that is not rendered")
def _(scene: Any) -> None:
    layers = level(scene, HILL).data.uv_layers
    layers.new(name="other")
    layers[0].active_render = True


@edit("colours of vertices", "harmless-changes")
def _(scene: Any) -> None:
    level(scene, HILL).data.color_attributes.new("tint", "FLOAT_COLOR", "POINT")


@edit("smooth shading and turned normals")
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    for polygon in mesh.polygons:
        polygon.use_smooth = True


@edit("vertex groups and a renamed mesh")
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    hill.vertex_groups.new(name="all")
    hill.data.name = "my plane"


# --- whether it is rendered
@edit("a level hidden", "hidden")
def _(scene: Any) -> None:
    level(scene, HILL).hide_render = True


@edit("a level hidden on two frames", "hidden")
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    for frame, hidden in ((1, False), (4, True), (6, False)):
        hill.hide_render = hidden
        hill.keyframe_insert("hide_render", frame=frame)
    scene.frame_set(1)


@edit("a level unseen by the camera", "hidden")
def _(scene: Any) -> None:
    level(scene, HILL).visible_camera = False


@edit("a level held out", "hidden")
def _(scene: Any) -> None:
    level(scene, HILL).is_holdout = True


@edit("a level that catches shadows", "level-changed", words=("Shadow Catcher",))
def _(scene: Any) -> None:
    level(scene, HILL).is_shadow_catcher = True


@edit("a level hidden in the viewport")
def _(scene: Any) -> None:
    level(scene, HILL).hide_viewport = True
    level(scene, SKY).hide_set(True)


@edit("a level without shadows", "harmless-changes")
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    hill.visible_shadow = hill.visible_diffuse = False


@edit("a level's number and colour", "harmless-changes")
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    hill.pass_index, hill.color = 3, (1.0, 0.0, 0.0, 1.0)


@edit("a level renamed", "renamed")
def _(scene: Any) -> None:
    level(scene, HILL).name = "Plane.003"


@edit("a level deleted", "missing")
def _(scene: Any) -> None:
    bpy.data.objects.remove(level(scene, HILL))


def collection_of(scene: Any, *objects: Any) -> Any:
    own = bpy.data.collections.new("aside")
    scene.collection.children.link(own)
    for obj in objects:
        for collection in obj.users_collection:
            collection.objects.unlink(obj)
        own.objects.link(obj)
    return own


def layer_of(scene: Any, collection: Any) -> Any:
    return scene.view_layers[0].layer_collection.children[collection.name]


@edit("a level in a collection of its own")
def _(scene: Any) -> None:
    collection_of(scene, level(scene, HILL))


@edit("a level in a collection that is not rendered", "hidden")
def _(scene: Any) -> None:
    collection_of(scene, level(scene, HILL)).hide_render = True


@edit("a level in a collection that is excluded", "hidden")
def _(scene: Any) -> None:
    layer_of(scene, collection_of(scene, level(scene, HILL))).exclude = True


@edit("a level in a collection that is held out", "hidden")
def _(scene: Any) -> None:
    layer_of(scene, collection_of(scene, level(scene, HILL))).holdout = True


@edit("a level in a collection that is indirect only", "hidden")
def _(scene: Any) -> None:
    layer_of(scene, collection_of(scene, level(scene, HILL))).indirect_only = True


@edit("a copy of a level in another place", "doubled", words=("2 times",))
def _(scene: Any) -> None:
    copy = level(scene, HILL).copy()
    copy.animation_data_clear()
    copy.location.x += 0.03
    copy.name = "a copy"
    scene.collection.objects.link(copy)


@edit("a copy of a level far beside the field", "doubled", planned=True)
def _(scene: Any) -> None:
    copy = level(scene, HILL).copy()
    copy.animation_data_clear()
    copy.location.x += 30.0
    scene.collection.objects.link(copy)


# --- the camera
@edit("the camera 1 mm east", axis("east"))
def _(scene: Any) -> None:
    add(scene.camera, "location", 0, 1 * MM)


@edit("the camera tilted", axis("tilt"))
def _(scene: Any) -> None:
    add(scene.camera, "rotation_euler", 0, math.radians(0.3))


@edit("a longer lens", axis("lens"))
def _(scene: Any) -> None:
    data = scene.camera.data
    remove_curves(data, "lens") if data.animation_data is not None else None
    data.lens *= 1.02


@edit("a wider sensor", "sensor-size", words=("20.4 mm",))
def _(scene: Any) -> None:
    scene.camera.data.sensor_width = 20.4


@edit("a sensor fitted to the height", "sensor-fit", words=("Vertical",))
def _(scene: Any) -> None:
    scene.camera.data.sensor_fit = "VERTICAL"
    scene.camera.data.sensor_height = 16.0


@edit("a sensor fitted by itself")
def _(scene: Any) -> None:
    scene.camera.data.sensor_fit = "AUTO"


@edit("another height of a sensor fitted to the width")
def _(scene: Any) -> None:
    scene.camera.data.sensor_height = 33.0


@edit("a shifted lens", axis("shift-x"))
def _(scene: Any) -> None:
    scene.camera.data.shift_x = 0.02


@edit("a near clip behind the fern", "clipped", words=("fern",))
def _(scene: Any) -> None:
    scene.camera.data.clip_start = 0.5


@edit("a clip that is farther yet")
def _(scene: Any) -> None:
    scene.camera.data.clip_end = 100.0


@edit("an orthographic camera", "projection")
def _(scene: Any) -> None:
    scene.camera.data.type = "ORTHO"
    scene.camera.data.ortho_scale = 0.3


@edit("another focus", "focus")
def _(scene: Any) -> None:
    scene.camera.data.dof.focus_distance = 0.3


@edit("another stop", "f-stop")
def _(scene: Any) -> None:
    scene.camera.data.dof.aperture_fstop = 1.0


@edit("no depth of field", "no-depth-of-field")
def _(scene: Any) -> None:
    scene.camera.data.dof.use_dof = False


@edit("an aperture of three blades", "camera-changed", words=("Blades",))
def _(scene: Any) -> None:
    scene.camera.data.dof.aperture_blades = 3


@edit("an anamorphic aperture", "camera-changed", words=("Ratio",))
def _(scene: Any) -> None:
    scene.camera.data.dof.aperture_ratio = 2.0


@edit("guides, limits and a passepartout")
def _(scene: Any) -> None:
    data = scene.camera.data
    data.show_composition_thirds = data.show_limits = True
    data.passepartout_alpha, data.display_size = 1.0, 3.0


@edit("a scaled camera")
def _(scene: Any) -> None:
    scene.camera.scale = (2.0, 2.0, 2.0)


def other_camera(scene: Any, east_mm: float) -> Any:
    copy = scene.camera.copy()
    copy.data = scene.camera.data.copy()
    copy.name = "witness"
    for block in (copy, copy.data):
        del block["underglass_camera"]
    add(copy, "location", 0, east_mm * MM)
    scene.collection.objects.link(copy)
    return copy


@edit("a witness camera that does not film")
def _(scene: Any) -> None:
    other_camera(scene, 20.0)


@edit("another camera that stands elsewhere", "other-camera", words=("witness",))
def _(scene: Any) -> None:
    scene.camera = other_camera(scene, 20.0)


@edit("another camera with the same view", "other-camera")
def _(scene: Any) -> None:
    scene.camera = other_camera(scene, 0.0)


@edit("a marker that cuts to another camera", "marker-camera", words=("witness", "frames 4 to 8"))
def _(scene: Any) -> None:
    for frame, camera in ((1, scene.camera), (4, other_camera(scene, 20.0))):
        scene.timeline_markers.new(f"cut {frame}", frame=frame).camera = camera


@edit("one marker that cuts to another camera", "marker-camera", words=("witness", "marker"))
def _(scene: Any) -> None:
    scene.timeline_markers.new("cut", frame=4).camera = other_camera(scene, 20.0)


@edit("one marker that cuts to another camera, which is active", "marker-camera", words=("witness", "marker"))
def _(scene: Any) -> None:
    scene.camera = other_camera(scene, 20.0)
    scene.timeline_markers.new("cut", frame=4).camera = scene.camera
    scene.frame_set(5)


@edit("a marker that cuts to another camera, and the built one is gone", "marker-camera", words=("frame 4", "witness"))
def _(scene: Any) -> None:
    built = scene.camera
    scene.timeline_markers.new("cut", frame=4).camera = other_camera(scene, 20.0)
    bpy.data.objects.remove(built)


@edit("a marker that cuts to a copy of the camera", "marker-camera", words=("stand camera.001", "frames 4 to 8"))
def _(scene: Any) -> None:
    copy = scene.camera.copy()
    add(copy, "location", 0, 20 * MM)
    scene.collection.objects.link(copy)
    for frame, camera in ((1, scene.camera), (4, copy)):
        scene.timeline_markers.new(f"cut {frame}", frame=frame).camera = camera
    scene.frame_set(6)


@edit("a marker that cuts to a camera with the same view")
def _(scene: Any) -> None:
    for frame, camera in ((1, scene.camera), (4, other_camera(scene, 0.0))):
        scene.timeline_markers.new(f"cut {frame}", frame=frame).camera = camera


@edit("a camera with a parent that moves", "has-parent", words=("rig", "too far east"))
def _(scene: Any) -> None:
    scene.camera.parent = rig(scene, 4.0)


@edit("no camera", "no-camera")
def _(scene: Any) -> None:
    scene.camera = None
