# SPDX-License-Identifier: GPL-3.0-or-later
"""A table of wrong scenes: one thing done to a scene that was right, and what a proof must say of it.

The functions run inside Blender, on the scene of `small_shots.line_up`; run as a script, this file makes one .blend
of every row out of one clean one. The table itself is read by the tests, without Blender.
"""

import math
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

MM = 0.001
BLOCK, NOTE = "block", "note"


@dataclass(frozen=True)
class WrongScene:
    """What is done, and the fault that has to come of it.

    ``amount`` is in the fault's unit, to within ``within`` of itself, None where no number is meant. ``also`` names
    further subjects that may be blamed, where blaming them cannot be helped.
    """

    name: str
    do: Callable[[Any], None]
    code: str
    subject: str
    words: tuple[str, ...] = ()
    amount: float | None = None
    unit: str = ""
    within: float = 0.02
    severity: str = BLOCK
    also: tuple[str, ...] = ()


# --- hands: what a person, or a script of theirs, does to a scene


def level(scene: Any, name: str) -> Any:
    """Return the object of a level."""
    from underglass.stage import stack_marks

    return next(obj for said, obj in stack_marks.levels(scene) if said == name)


def exchange_art(scene: Any) -> None:
    """Let two levels wear each other's material."""
    first, second = (level(scene, name).data.materials for name in (C, D))
    first[0], second[0] = second[0], first[0]


def unlink_material(scene: Any) -> None:
    """Cut the material of a level off from what is rendered."""
    tree = level(scene, C).data.materials[0].node_tree
    tree.links.remove(next(link for link in tree.links if link.to_node.type == "OUTPUT_MATERIAL"))


def brighten(scene: Any) -> None:
    """Make a level shine twice as bright."""
    tree = level(scene, C).data.materials[0].node_tree
    next(node for node in tree.nodes if node.type == "EMISSION").inputs["Strength"].default_value = 2.0


def cut_in_half(scene: Any) -> None:
    """Leave only the western half of a level's plane, with the texture where it was."""
    mesh = level(scene, C).data
    for loop, uv in zip(mesh.loops, mesh.uv_layers.active.data, strict=True):
        if uv.uv[0] > 0.5:
            uv.uv[0] = 0.5
            mesh.vertices[loop.vertex_index].co.x = 0.0


def cut_to_parallel_camera(scene: Any) -> None:
    """Cut to a camera that sees without perspective for the last frames but one, by markers on the time line."""
    import bpy

    other = scene.camera.copy()
    other.data = scene.camera.data.copy()
    other.data.type = "ORTHO"
    other.data.ortho_scale = 0.3
    scene.collection.objects.link(other)
    for frame, camera in ((1, scene.camera), (14, other), (15, scene.camera)):
        scene.timeline_markers.new(f"cut {frame}", frame=frame).camera = camera
    assert bpy.context.scene == scene


def pull_a_corner(scene: Any) -> None:
    """Pull one corner of a level's plane out by little more than may show."""
    level(scene, C).data.vertices[2].co.x += 0.7 * TENTH_PX_OF_C * MM


def bring_far_clip_near(scene: Any) -> None:
    """Let the camera see less far than the rearmost level lies."""
    scene.camera.data.clip_end = 0.4


def lift_above_its_neighbour(scene: Any) -> None:
    """Stand the level that lies under card C above it."""
    from underglass.stage import stack_marks

    names = [name for name, _ in stack_marks.levels(scene)]
    below = names[names.index(C) + 1]
    height = level(scene, C).location.z - level(scene, below).location.z + 0.004
    add(level(scene, below), "location", 2, height)


def curves(owner: Any, path: str, index: int | None = None) -> list[Any]:
    """Return the f-curves of one property of ``owner``; an ``index`` picks one component."""
    from underglass import blender_versions

    return [
        curve
        for curve in blender_versions.fcurves_of(owner)
        if curve.data_path == path and index in (None, curve.array_index)
    ]


def add(owner: Any, path: str, index: int, by: float) -> None:
    """Shift one axis by ``by`` on every frame, keyed or not."""
    getattr(owner, path)[index] += by
    for curve in curves(owner, path, index):
        for key in curve.keyframe_points:
            key.co[1] += by
        curve.update()


def change_keys(curve: Any, change: Callable[[float, float], tuple[float, float]]) -> None:
    """Put every key of ``curve`` where ``change(frame, value)`` says."""
    for key in curve.keyframe_points:
        key.co = change(*key.co)
    curve.update()


def shift(axis: int, by_mm: float, name: str) -> Callable[[Any], None]:
    """Return a hand that shifts the level ``name`` along an axis."""
    return lambda scene: add(level(scene, name), "location", axis, by_mm * MM)


def shift_camera(axis: int, by_mm: float) -> Callable[[Any], None]:
    """Return a hand that shifts the camera along an axis."""
    return lambda scene: add(scene.camera, "location", axis, by_mm * MM)


def turn(axis: int, degrees: float, name: str) -> Callable[[Any], None]:
    """Return a hand that turns the level ``name`` about an axis of the stand."""
    return lambda scene: add(level(scene, name), "rotation_euler", axis, math.radians(degrees))


def turn_camera(axis: int, degrees: float) -> Callable[[Any], None]:
    """Return a hand that turns the camera."""
    return lambda scene: add(scene.camera, "rotation_euler", axis, math.radians(degrees))


def set_render(**settings: Any) -> Callable[[Any], None]:
    """Return a hand that changes settings of the render."""

    def do(scene: Any) -> None:
        for name, value in settings.items():
            setattr(scene.render, name, value)

    return do


def set_lens(scene: Any, *, factor: float) -> None:
    for curve in curves(scene.camera.data, "lens"):
        change_keys(curve, lambda frame, value: (frame, value * factor))


def stop_lens(scene: Any, *, mm: float | None = None) -> None:
    """Take the keys off the lens; it then stays where it stands on the first frame, or at ``mm``."""
    scene.frame_set(1)
    lens = scene.camera.data.lens if mm is None else mm
    remove_curves(scene.camera.data, "lens")
    scene.camera.data.lens = lens


def remove_curves(owner: Any, path: str) -> None:
    """Remove the f-curves of one property."""
    action = owner.animation_data.action
    for curve in curves(owner, path):
        for layer in action.layers:
            for strip in layer.strips:
                strip.channelbag(owner.animation_data.action_slot).fcurves.remove(curve)


def late(frames: int, name: str) -> Callable[[Any], None]:
    """Return a hand that slides the keys of the level's east counter by ``frames``."""

    def do(scene: Any) -> None:
        for curve in curves(level(scene, name), "location", 0):
            change_keys(curve, lambda frame, value: (frame + frames, value))

    return do


def late_drawing(scene: Any) -> None:
    for curve in curves(level(scene, "heron"), '["drawing"]'):
        change_keys(curve, lambda frame, value: (frame + (frame > 1), value))


def mute_drawing(scene: Any) -> None:
    level(scene, "heron")["drawing"] = 0
    curves(level(scene, "heron"), '["drawing"]')[0].mute = True


def ease(owner: Any, path: str, index: int) -> None:
    """Leave only the end keys of one axis, with the eased interpolation that Blender gives new keys."""
    curve = curves(owner, path, index)[0]
    while len(curve.keyframe_points) > 2:
        curve.keyframe_points.remove(curve.keyframe_points[1])
    for key in curve.keyframe_points:
        key.interpolation = "BEZIER"
        key.handle_left_type = key.handle_right_type = "AUTO_CLAMPED"
    curve.update()


def reverse(scene: Any) -> None:
    """Let card A go west from where it begins, instead of east."""
    curve = curves(level(scene, "card A"), "location", 0)[0]
    begin = curve.keyframe_points[0].co[1]
    change_keys(curve, lambda frame, value: (frame, 2 * begin - value))


def go_too_far(scene: Any) -> None:
    curve = curves(level(scene, "card A"), "location", 0)[0]
    begin = curve.keyframe_points[0].co[1]
    change_keys(curve, lambda frame, value: (frame, begin + 1.1 * (value - begin)))


def swap(scene: Any) -> None:
    one, two = level(scene, "card B"), level(scene, "card D")
    one.location, two.location = two.location.copy(), one.location.copy()


def swap_heights(scene: Any) -> None:
    one, two = level(scene, B), level(scene, D)
    one.location.z, two.location.z = two.location.z, one.location.z


def move_stand(scene: Any) -> None:
    """Put camera and levels 50 mm higher and 3 mm west, all of them."""
    from underglass.stage import stack_marks

    for obj in (scene.camera, *(obj for _, obj in stack_marks.levels(scene))):
        add(obj, "location", 2, 50 * MM)
        add(obj, "location", 0, -3 * MM)


def freeze(scene: Any) -> None:
    level(scene, "card A").animation_data_clear()
    level(scene, "card A").location[0] = -15 * MM


def unbind(scene: Any) -> None:
    """Leave card C its action but not the slot of it, so that nothing animates."""
    card = level(scene, "card C")
    scene.frame_set(1)
    card.animation_data.action_slot = None


def one_key(scene: Any) -> None:
    curves(level(scene, "card A"), "location", 0)[0].keyframe_points.insert(12, 3 * MM)


def set_sensor(scene: Any) -> None:
    scene.camera.data.sensor_width = 20.1


def shift_lens(scene: Any) -> None:
    scene.camera.data.shift_x = 0.001


def focus_nearer(scene: Any) -> None:
    for curve in curves(scene.camera.data, "dof.focus_distance"):
        change_keys(curve, lambda frame, value: (frame, 0.75 * value))


def focus_on(name: str) -> Callable[[Any], None]:
    """Return a hand that focuses the camera on the object of a level."""

    def do(scene: Any) -> None:
        scene.camera.data.dof.focus_object = level(scene, name)

    return do


def open_up(scene: Any) -> None:
    """Open the lens by one stop."""
    for curve in curves(scene.camera.data, "dof.aperture_fstop"):
        change_keys(curve, lambda frame, value: (frame, value / 2**0.5))


def see_all_sharp(scene: Any) -> None:
    scene.camera.data.dof.use_dof = False


def hold_scripts(scene: Any) -> None:
    """Keep a script that is marked to run, one that is not, and drivers with and without Python in them."""
    import bpy

    for name, runs in (("startup.py", True), ("notes.txt", False)):
        bpy.data.texts.new(name).use_module = runs
    for key, expression in (("plain", "frame + 1"), ("python", "len(str(frame))")):
        scene[key] = 0.0
        scene.driver_add(f'["{key}"]').driver.expression = expression


def build_from_another(scene: Any) -> None:
    from underglass.stage import stack_marks

    stack_marks.collections(scene)[0][stack_marks.SHOT] = "0123456789abcdef"


def go_parallel(scene: Any) -> None:
    scene.camera.data.type = "ORTHO"
    scene.camera.data.ortho_scale = 0.1


def set_frames(scene: Any) -> None:
    scene.frame_start, scene.frame_end = 2, 25


def set_step(scene: Any) -> None:
    scene.frame_step = 2


def delete(scene: Any) -> None:
    import bpy

    bpy.data.objects.remove(level(scene, "card C"))


def delete_camera(scene: Any) -> None:
    import bpy

    bpy.data.objects.remove(scene.camera)


def double(scene: Any) -> None:
    copy = level(scene, "card C").copy()
    scene.collection.objects.link(copy)


def add_unknown(scene: Any) -> None:
    copy = level(scene, "card C").copy()
    copy["underglass_level"] = "card E"
    scene.collection.objects.link(copy)


def hide(scene: Any) -> None:
    level(scene, "card C").hide_render = True


def hide_for_a_while(scene: Any) -> None:
    card = level(scene, "card C")
    for frame, hidden in ((1, False), (20, True)):
        card.hide_render = hidden
        card.keyframe_insert("hide_render", frame=frame)


def hide_from_camera(scene: Any) -> None:
    level(scene, "card C").visible_camera = False


def hide_collection(scene: Any) -> None:
    _own_collection(scene).hide_render = True


def exclude_collection(scene: Any) -> None:
    name = _own_collection(scene).name
    found = [child for child in scene.view_layers[0].layer_collection.children if child.collection.name == name]
    found[0].exclude = True


def _own_collection(scene: Any) -> Any:
    """Put card C in a collection of its own and return that."""
    import bpy

    card = level(scene, "card C")
    own = bpy.data.collections.new("aside")
    scene.collection.children.link(own)
    for collection in card.users_collection:
        collection.objects.unlink(card)
    own.objects.link(card)
    return own


def hide_in_viewport(scene: Any) -> None:
    """Hide the camera and levels in every way that the viewport has, none of which a render minds."""
    scene.camera.hide_viewport = True
    level(scene, "card A").hide_viewport = True
    level(scene, "card B").hide_set(True)
    aside = _own_collection(scene)
    aside.hide_viewport = True
    layers = scene.view_layers[0].layer_collection.children
    next(layer for layer in layers if layer.collection != aside).hide_viewport = True


def rename(scene: Any) -> None:
    level(scene, "card C").name = "Plane.003"


def parent(scene: Any, *, east_mm: float) -> None:
    import bpy

    empty = bpy.data.objects.new("rig", None)
    empty.location[0] = east_mm * MM
    scene.collection.objects.link(empty)
    level(scene, "card D").parent = empty


def constrain(scene: Any) -> None:
    limit = level(scene, "card D").constraints.new("LIMIT_LOCATION")
    limit.use_min_x, limit.min_x = True, 5 * MM


def drive(scene: Any) -> None:
    driven = level(scene, "card D").driver_add("location", 1)
    for modifier in list(driven.modifiers):
        driven.modifiers.remove(modifier)
    driven.driver.type = "SUM"
    driven.keyframe_points.insert(0, 4 * MM)
    driven.keyframe_points.insert(1, 4 * MM)


def layer_nla(scene: Any) -> None:
    """Lower card D by 20 mm through a strip."""
    from underglass import blender_versions

    card = level(scene, "card D")
    card.location[2] = 80 * MM
    blender_versions.ensure_fcurve(card, "location", index=2).keyframe_points.insert(1, 80 * MM)
    action = card.animation_data.action
    strip = card.animation_data.nla_tracks.new().strips.new("down", 1, action)
    if hasattr(strip, "action_slot") and strip.action_slot is None:
        strip.action_slot = action.slots[0]
    card.animation_data.action = None


def bend(scene: Any) -> None:
    """Move the surface aside by a modifier: the object itself stays where it was."""
    modifier = level(scene, "card D").modifiers.new("slide", "DISPLACE")
    modifier.direction, modifier.mid_level, modifier.strength = "X", 0.0, 3 * MM


def shake(scene: Any) -> None:
    noise = curves(level(scene, "card A"), "location", 0)[0].modifiers.new("NOISE")
    noise.strength, noise.scale = 4 * MM, 3.0


def lose_art(scene: Any) -> None:
    nodes = level(scene, "card C").data.materials[0].node_tree.nodes
    image = next(node.image for node in nodes if node.type == "TEX_IMAGE")
    image.filepath = "//nowhere/card_c.png"


def hold_out(scene: Any) -> None:
    level(scene, "card C").is_holdout = True


def strip(scene: Any) -> None:
    level(scene, "card C").data.materials.clear()


def repaint(scene: Any) -> None:
    """Give the face of card C another material than the one that bears its art."""
    import bpy

    mesh = level(scene, "card C").data
    mesh.materials.append(bpy.data.materials.new("plain"))
    mesh.polygons[0].material_index = 1


def cut_light(scene: Any) -> None:
    scene.cycles.transparent_max_bounces = 2


def replace_camera(scene: Any) -> None:
    """Film through a camera that was made anew and is set the same."""
    mark = "underglass_camera"
    copy = scene.camera.copy()
    copy.data = scene.camera.data.copy()
    for block in (copy, copy.data):
        del block[mark]
    copy.name = "my camera"
    scene.collection.objects.link(copy)
    scene.camera = copy


def cut_to_other_camera(scene: Any) -> None:
    """Bind another camera to a marker at frame 14, 2 mm farther east."""
    copy = scene.camera.copy()
    add(copy, "location", 0, 2 * MM)
    scene.collection.objects.link(copy)
    for frame, camera in ((1, scene.camera), (14, copy)):
        scene.timeline_markers.new(f"cut {frame}", frame=frame).camera = camera


def mirror(scene: Any) -> None:
    layer = level(scene, "card C").data.uv_layers[0]
    for corner in layer.data:
        corner.uv = (1 - corner.uv[0], corner.uv[1])


def scale_mesh(scene: Any) -> None:
    for vertex in level(scene, "card C").data.vertices:
        vertex.co *= 1.01


def scale_object(scene: Any) -> None:
    level(scene, "card C").scale = (1.01, 1.0, 1.0)


def nudge_delta(scene: Any) -> None:
    level(scene, "card C").delta_location[1] = 2 * MM


def leaf(up: float = 0.0, *, east: float = 0.0) -> Any:
    """Return a leaf of 1 cm, lying flat; who wants it in the picture has to link it."""
    import bpy

    mesh = bpy.data.meshes.new("leaf")
    mesh.from_pydata([(0, 0, 0), (0.01, 0, 0), (0, 0.01, 0)], [], [(0, 1, 2)])
    obj = bpy.data.objects.new("leaf", mesh)
    obj.location = east, 0.0, up
    return obj


def put_in_front(scene: Any) -> None:
    scene.collection.objects.link(leaf(1.05))


def hide_in_front(scene: Any) -> None:
    """Put leaves before the lens that the viewport does not show and a render does, each hidden in another way."""
    import bpy

    aside = bpy.data.collections.new("aside")
    scene.collection.children.link(aside)
    for name, place in (("eye", scene.collection), ("screen", scene.collection), ("folder", aside)):
        hidden = leaf(1.05)
        hidden.name = name
        place.objects.link(hidden)
        hidden.hide_viewport = name == "screen"
        hidden.hide_set(name == "eye")
    scene.view_layers[0].layer_collection.children["aside"].hide_viewport = True


def scatter_beside(scene: Any) -> None:
    """Let an object before the lens bring forth nothing but an instance far off."""
    scatter_in_front(scene)
    scattering = next(obj for obj in scene.objects if obj.name == "leaf")
    scattering.location = (0.0, 0.0, 1.05)


def let_fall(scene: Any) -> None:
    """Let a leaf come into the field from the side, half-way through the shot, between cards B and C."""
    falling = leaf(0.6)
    scene.collection.objects.link(falling)
    for frame, east in ((1, 3.0), (12, 3.0), (13, 0.0)):
        falling.location[0] = east
        falling.keyframe_insert("location", index=0, frame=frame)


def instance_in_front(scene: Any) -> None:
    """Bring a leaf before the lens that lies in no collection of the scene: an empty shows its collection."""
    import bpy

    twigs = bpy.data.collections.new("twigs")
    twigs.objects.link(leaf(0.05))
    branch = bpy.data.objects.new("branch", None)
    branch.instance_type, branch.instance_collection, branch.location = "COLLECTION", twigs, (0, 0, 1.0)
    scene.collection.objects.link(branch)


def scatter_in_front(scene: Any) -> None:
    """Let geometry nodes put an instance of a leaf before the lens; the leaf itself lies far off."""
    import bpy

    far_off = leaf(0.0, east=100.0)
    scene.collection.objects.link(far_off)
    group = bpy.data.node_groups.new("scatter", "GeometryNodeTree")
    for way in ("INPUT", "OUTPUT"):
        group.interface.new_socket("Geometry", in_out=way, socket_type="NodeSocketGeometry")
    names = ("NodeGroupInput", "GeometryNodeGeometryToInstance", "GeometryNodeTranslateInstances", "NodeGroupOutput")
    chain = [group.nodes.new(name) for name in names]
    for one, two in pairwise(chain):
        group.links.new(one.outputs[0], two.inputs[0])
    chain[2].inputs["Translation"].default_value = (-100.0, 0.0, 1.05)
    far_off.modifiers.new("scatter", "NODES").node_group = group


def stand_about(scene: Any) -> None:
    """Put things where they spoil nothing: behind the stack, beside the field, a room around it all, a lamp."""
    import bpy

    for aside in (leaf(0.05), leaf(1.0, east=1.0)):
        scene.collection.objects.link(aside)
    unseen = leaf(1.05)
    unseen.visible_camera = False
    scene.collection.objects.link(unseen)
    corners = [(x, y, z) for x in (-5, 5) for y in (-5, 5) for z in (-5, 5)]
    walls = [(0, 1, 3, 2), (4, 5, 7, 6), (0, 1, 5, 4), (2, 3, 7, 6), (0, 2, 6, 4), (1, 3, 7, 5)]
    room = bpy.data.meshes.new("room")
    room.from_pydata(corners, [], walls)
    scene.collection.objects.link(bpy.data.objects.new("room", room))
    lamp = bpy.data.objects.new("lamp", bpy.data.lights.new("lamp", "POINT"))
    lamp.location[2] = 1.05
    scene.collection.objects.link(lamp)


def fill_with_fog(scene: Any) -> None:
    """Fill the world with a volume."""
    import bpy

    from underglass import blender_versions

    scene.world = scene.world or bpy.data.worlds.new("fog")
    tree = blender_versions.node_tree(scene.world)
    fog = tree.nodes.new("ShaderNodeVolumePrincipled")
    output = next((node for node in tree.nodes if node.type == "OUTPUT_WORLD"), None)
    output = output or tree.nodes.new("ShaderNodeOutputWorld")
    tree.links.new(fog.outputs[0], output.inputs["Volume"])


# --- the table

D, C, A, B = "card D", "card C", "card A", "card B"
EVERYTHING = ("camera", D, C, A, B, "heron")
# How far east or west shows as 0.1 px: k = 400·v/(20·d), v = 55.81 mm on frame 25.
TENTH_PX_OF_C = 0.1 / (400 * 55.814 / (20 * 750))

WRONG_SCENES = (
    # a level's counters
    WrongScene("height", shift(2, 6.0, D), "height-offset", D, ("6 mm too high",), 6.0, "mm"),
    WrongScene("height-low", shift(2, -3.0, C), "height-offset", C, ("3 mm too low",), -3.0, "mm"),
    WrongScene("east", shift(0, TENTH_PX_OF_C, C), "east-offset", C, ("too far east", "0.10 px"), TENTH_PX_OF_C, "mm"),
    WrongScene("west", shift(0, -2.0, A), "east-offset", A, ("2 mm too far west",), -2.0, "mm"),
    WrongScene("north", shift(1, 1.0, B), "north-offset", B, ("1 mm too far north",), 1.0, "mm"),
    WrongScene("south", shift(1, -1.0, C), "north-offset", C, ("1 mm too far south",), -1.0, "mm"),
    WrongScene("turn", turn(2, 0.2, D), "turn-offset", D, ("turned 0.2° too far counter-clockwise",), 0.2, "degrees"),
    WrongScene("turn-moving", turn(2, -0.5, B), "turn-offset", B, ("turned 0.5° too far clockwise",), -0.5, "degrees"),
    WrongScene("tilt", turn(0, 1.0, D), "tilt-offset", D, ("1° out of square",), 1.0, "degrees"),
    WrongScene("delta", nudge_delta, "north-offset", C, ("2 mm too far north",), 2.0, "mm"),
    WrongScene("swap", swap, "swapped", B, ("card B and card D have changed places",)),
    WrongScene("swapped-heights", swap_heights, "swapped", B, ("card B and card D", "places in height")),
    # a level's moves
    WrongScene("late", late(1, A), "east-late", A, ("east move", "1 frame late"), 1.0, "frames"),
    WrongScene("early", late(-2, A), "east-early", A, ("2 frames early",), 2.0, "frames"),
    WrongScene("reversed", reverse, "east-reversed", A, ("goes west where east was planned",)),
    WrongScene("too-far", go_too_far, "east-too-far", A, ("1.1 times",), 1.1, "times"),
    WrongScene("frozen", freeze, "east-still", A, ("does not make its east move",), -30.0, "mm"),
    WrongScene("unbound", unbind, "height-still", C, ("does not make its height move",), 120.0, "mm"),
    WrongScene(
        "eased",
        lambda scene: ease(level(scene, B), "rotation_euler", 2),
        "turn-uneven",
        B,
        ("runs unevenly",),
        None,
        "degrees",
    ),
    WrongScene("one-key", one_key, "east-uneven", A, ("on frame 12", "too far east")),
    WrongScene("shaken", shake, "east-strays", A, ("is off from frame",)),
    # the camera
    WrongScene("camera-height", shift_camera(2, 2.0), "height-offset", "camera", ("2 mm too high",), 2.0, "mm"),
    WrongScene("camera-east", shift_camera(0, -0.5), "east-offset", "camera", ("too far west",), -0.5, "mm"),
    WrongScene("camera-turn", turn_camera(2, 0.1), "turn-offset", "camera", ("counter-clockwise",), 0.1, "degrees"),
    WrongScene("camera-tilt", turn_camera(0, 0.05), "tilt-offset", "camera", ("0.05° out of square",), 0.05, "degrees"),
    WrongScene(
        "camera-shift",
        shift_lens,
        "shift-x-offset",
        "camera",
        ("lens shifted 0.001 frame widths east",),
        0.001,
        "frame widths",
    ),
    WrongScene(
        "camera-eased",
        lambda scene: ease(scene.camera, "location", 2),
        "height-uneven",
        "camera",
        ("runs unevenly",),
        None,
        "mm",
    ),
    WrongScene("cut", cut_to_other_camera, "marker-camera", "camera", ("frames 14 to 25",), 12.0, "frames"),
    WrongScene("lens", lambda scene: set_lens(scene, factor=1.0005), "lens-offset", "camera", ("too long", "0.05 %")),
    WrongScene("sensor", set_sensor, "sensor-size", "camera", ("20.1 mm wide, planned 20 mm",), 0.1, "mm"),
    WrongScene(
        "marked-lens",
        lambda scene: stop_lens(scene, mm=50.0),
        "no-breathing",
        "camera",
        ("leaves out focus breathing", "marked 50 mm"),
    ),
    WrongScene("constant-lens", stop_lens, "no-breathing", "camera", ("stays at 54.545 mm",)),
    # card B is 600 mm off at first and 480 mm at the end
    WrongScene("focus", focus_nearer, "focus", "camera", ("at 450 mm where the shot has 600 mm",), -150.0, "mm"),
    WrongScene("focus-on-d", focus_on("card D"), "focus", "camera", ("at 1080 mm where the shot has 480 mm",)),
    WrongScene("stop", open_up, "f-stop", "camera", ("f/45.25 where the shot has f/64",), 45.25),
    WrongScene("sharp", see_all_sharp, "no-depth-of-field", "camera", ("f/64",)),
    WrongScene("parallel", go_parallel, "projection", "camera", ("ortho",), also=("camera",)),
    WrongScene("no-camera", delete_camera, "no-camera", "camera", ("no active camera",)),
    # what else is there
    WrongScene("in-front", put_in_front, "in-the-way", "scene", ("leaf stands before card A on frames 1 to 25",)),
    WrongScene("eye", hide_in_front, "in-the-way", "scene", ("stands before card A",)),
    WrongScene("falling", let_fall, "in-the-way", "scene", ("leaf stands before card C on frames 13 to 25",)),
    WrongScene("instance", instance_in_front, "in-the-way", "scene", ("branch stands before card A",)),
    WrongScene("scattered", scatter_in_front, "in-the-way", "scene", ("leaf stands before card A",)),
    # settings of the render
    WrongScene(
        "frame-size", set_render(resolution_x=380), "frame-size", "scene", ("380 × 300", "400 × 300"), 380.0, "px"
    ),
    WrongScene("half-size", set_render(resolution_percentage=50), "frame-size", "scene", ("200 × 150",), 200.0, "px"),
    WrongScene("fps", set_render(fps=25), "frame-rate", "scene", ("25", "planned 24"), 25.0, "fps"),
    WrongScene("frames", set_frames, "frame-range", "scene", ("2 to 25", "1 to 25"), 2.0, "frames"),
    WrongScene("every-second", set_step, "frame-step", "scene", ("one frame in 2",), 2.0, "frames"),
    WrongScene("aspect", set_render(pixel_aspect_x=1.1), "pixel-aspect", "scene", ("1.1 times as wide",), 1.1),
    WrongScene(
        "stretched",
        set_render(frame_map_new=110),
        "time-stretched",
        "scene",
        ("1.1",),
        1.1,
    ),
    # what is there at all
    WrongScene("deleted", delete, "missing", C, ("not in the scene",)),
    WrongScene("doubled", double, "doubled", C, ("2 times",), 2.0, "times"),
    # it stands exactly where card C does, so that a ray meets only one of the two
    WrongScene("unknown", add_unknown, "unknown-level", "card E", ("no level of the shot",), also=(C,)),
    WrongScene("hidden", hide, "hidden", C, ("frames 1 to 25",), 25.0, "frames"),
    WrongScene("hidden-later", hide_for_a_while, "hidden", C, ("frames 20 to 25",), 6.0, "frames"),
    WrongScene("unseen-by-camera", hide_from_camera, "hidden", C, ("frames 1 to 25",)),
    WrongScene("hidden-collection", hide_collection, "hidden", C, ("frames 1 to 25",)),
    WrongScene("excluded-collection", exclude_collection, "hidden", C, ("frames 1 to 25",)),
    WrongScene("holdout", hold_out, "hidden", C, ("frames 1 to 25",), also=(D,)),
    WrongScene("art-missing", lose_art, "art-missing", C, ("card_c.png is missing",)),
    WrongScene("bare", strip, "art-missing", C, ("no picture",)),
    WrongScene("repainted", repaint, "art-missing", C, ("no picture",)),
    WrongScene("bounces", cut_light, "light-cut-short", "scene", ("through 2 levels", "has 5"), 2.0, "levels"),
    WrongScene(
        "drawing-late", late_drawing, "drawing", "heron", ("frame 9", "shows drawing red", "blue"), 2.0, "frames"
    ),
    WrongScene("drawing-muted", mute_drawing, "drawing", "heron", ("frame 9",), 17.0, "frames"),
    # what pulls a level
    WrongScene("parent", lambda scene: parent(scene, east_mm=3.0), "has-parent", D, ("3 mm too far east",), 3.0, "mm"),
    WrongScene("constraint", constrain, "has-constraint", D, ("constraint Limit Location", "too far east")),
    WrongScene("driver", drive, "has-driver", D, ("driver on location", "too far north")),
    WrongScene("nla", layer_nla, "has-nla", D, ("NLA track", "too low")),
    WrongScene("modifier", bend, "has-modifier", D, ("modifier slide", "3 mm too far east"), 3.0, "mm"),
    # the art on its glass
    WrongScene("mirrored", mirror, "mirrored", C, ("mirrored",)),
    WrongScene("scaled-mesh", scale_mesh, "width-offset", C, ("too wide", "1 %"), 0.6, "mm"),
    WrongScene("scaled", scale_object, "width-offset", C, ("too wide", "1 %"), 0.6, "mm"),
    WrongScene(
        "pulled-corner", pull_a_corner, "corner-moved", C, ("upper right",), 0.7 * TENTH_PX_OF_C, "mm", within=0.1
    ),
    # what no corner tells
    WrongScene("art-exchanged", exchange_art, "art-differs", C, ("card_d.png", "planned card_c.png"), also=(D,)),
    WrongScene("unlinked", unlink_material, "art-differs", C, ("no picture", "changes pixels")),
    WrongScene("brighter", brighten, "art-differs", C, ("another material", "changes pixels")),
    WrongScene("half", cut_in_half, "has-uv", C, ("only", "of it is in the pixels")),
    WrongScene("parallel-cut", cut_to_parallel_camera, "marker-camera", "camera", ("frame 14",)),
    WrongScene("clipped", bring_far_clip_near, "clipped", D, ("clip distances",), also=EVERYTHING),
    WrongScene("region", set_render(use_border=True, border_max_x=0.5), "border", "scene", ("render region",)),
    WrongScene("fog", fill_with_fog, "setting-world-volume", "scene", ("volume", "changes pixels")),
    WrongScene("blur", set_render(use_motion_blur=True), "setting-motion-blur", "scene", ("motion blur",)),
)

# Worth a note, and no more: the picture is right.
HARMLESS_SCENES = (
    WrongScene("renamed", rename, "renamed", C, ("'Plane.003'",), severity=NOTE),
    WrongScene(
        "idle-parent",
        lambda scene: parent(scene, east_mm=0.0),
        "has-parent",
        D,
        ("without moving it",),
        severity=NOTE,
    ),
    WrongScene("other-camera", replace_camera, "other-camera", "camera", ("'my camera'",), severity=NOTE),
    WrongScene(
        "stood-about",
        stand_about,
        "other-things",
        "scene",
        ("not in its way: lamp, leaf, leaf.001, leaf.002, room",),
        severity=NOTE,
    ),
    WrongScene("scattered-beside", scatter_beside, "other-things", "scene", ("leaf",), severity=NOTE),
    WrongScene("focus-on-b", focus_on("card B"), "", "", severity=NOTE),
    WrongScene(
        "scripts",
        hold_scripts,
        "scripts-not-run",
        "scene",
        ("scripts (startup.py) and 1 driver with Python in them; they were not run",),
        severity=NOTE,
    ),
    WrongScene("other-state", build_from_another, "built-from-another", "scene", ("another state",), severity=NOTE),
    WrongScene("moved-stand", move_stand, "stand-moved", "scene", ("moved together",), severity=NOTE),
    WrongScene("viewport", hide_in_viewport, "", "", severity=NOTE),
)


def make_all(clean: Path, folder: Path) -> Iterator[str]:
    """Save a .blend of every row into ``folder``, each made out of the clean one; yields their names."""
    import bpy

    for row in (*WRONG_SCENES, *HARMLESS_SCENES):
        bpy.ops.wm.open_mainfile(filepath=str(clean), load_ui=False)
        row.do(bpy.context.scene)
        bpy.ops.wm.save_as_mainfile(filepath=str(folder / f"{row.name}.blend"), check_existing=False)
        yield row.name


if __name__ == "__main__":
    answer({"made": list(make_all(Path(sys.argv[1]), Path(sys.argv[2])))})  # type: ignore[name-defined]  # noqa: F821
