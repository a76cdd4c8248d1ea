# SPDX-License-Identifier: GPL-3.0-or-later
"""Edits of what a level wears and is made of: faces, maps, attributes, nodes of geometry, hair, instances."""

from collections.abc import Callable
from typing import Any

import bpy

from edits.edits import edit
from edits.material_edits import between, material_of, node_of, tree_of
from edits.thing_edits import glow
from proving.wrong_scenes import MM, level

FERN, HILL, SKY = "fern", "hill", "sky"
ART, LEVEL = "art-differs", "level-changed"


def divide(mesh: Any, cuts: int = 2) -> None:
    import bmesh

    work = bmesh.new()
    work.from_mesh(mesh)
    bmesh.ops.subdivide_edges(work, edges=work.edges[:], cuts=cuts, use_grid_fill=True)
    work.to_mesh(mesh)
    work.free()


def nodes_on(obj: Any, fill: Callable[[Any, Any, Any], None], name: str = "nodes") -> Any:
    """Give an object a modifier of geometry nodes; ``fill`` gets the tree, its start and its end."""
    tree = bpy.data.node_groups.new(name, "GeometryNodeTree")
    tree.interface.new_socket("Geometry", in_out="INPUT", socket_type="NodeSocketGeometry")
    tree.interface.new_socket("Geometry", in_out="OUTPUT", socket_type="NodeSocketGeometry")
    start, end = tree.nodes.new("NodeGroupInput"), tree.nodes.new("NodeGroupOutput")
    fill(tree, start, end)
    modifier = obj.modifiers.new(name, "NODES")
    modifier.node_group = tree
    return modifier


# --- faces and slots
@edit("one face of a divided plane wears red", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    divide(mesh)
    mesh.materials.append(glow("red", (1.0, 0.0, 0.0)))
    mesh.polygons[4].material_index = 1


@edit("one face of a divided plane wears a copy of the material")
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    divide(mesh)
    mesh.materials.append(mesh.materials[0].copy())
    mesh.polygons[4].material_index = 1


@edit("a divided plane whose first face alone wears red", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    divide(mesh)
    mesh.materials.append(glow("red", (1.0, 0.0, 0.0)))
    mesh.polygons[0].material_index = 1


@edit("a slot before the art's", ART, LEVEL, "art-missing", words=("hill",))
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    own = mesh.materials[0]
    mesh.materials.clear()
    mesh.materials.append(glow("red", (1.0, 0.0, 0.0)))
    mesh.materials.append(own)
    mesh.polygons[0].material_index = 0


@edit("a slot before the art's, which the face does not wear")
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    own = mesh.materials[0]
    mesh.materials.clear()
    mesh.materials.append(glow("red", (1.0, 0.0, 0.0)))
    mesh.materials.append(own)
    mesh.polygons[0].material_index = 1


@edit("a face that wears a slot which is not there")
def _(scene: Any) -> None:
    level(scene, HILL).data.polygons[0].material_index = 5


@edit("an empty slot that a face wears", ART, LEVEL, "art-missing", words=("hill",))
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    mesh.materials.append(None)
    mesh.polygons[0].material_index = 1


@edit("another material linked to the object", ART, LEVEL, "art-missing", words=("hill",))
def _(scene: Any) -> None:
    slot = level(scene, HILL).material_slots[0]
    slot.link = "OBJECT"
    slot.material = glow("red", (1.0, 0.0, 0.0))


@edit("a slot of the object without a material", ART, LEVEL, "art-missing", words=("hill",))
def _(scene: Any) -> None:
    slot = level(scene, HILL).material_slots[0]
    slot.link = "OBJECT"
    slot.material = None


# --- maps of coordinates and attributes
def tinted(scene: Any, colour: tuple[float, float, float, float], kind: str = "GEOMETRY", name: str = "tint") -> Any:
    """Multiply the hill's strength by an attribute."""
    tree = tree_of(scene)
    emission = node_of(scene, "EMISSION")
    attribute = tree.nodes.new("ShaderNodeAttribute")
    attribute.attribute_type, attribute.attribute_name = kind, name
    tree.links.new(attribute.outputs["Fac"], emission.inputs["Strength"])
    layer = level(scene, HILL).data.color_attributes
    if kind == "GEOMETRY":
        tint = layer.new(name, "FLOAT_COLOR", "POINT")
        for point in tint.data:
            point.color = colour
    return attribute


@edit("a strength from white colours of vertices")
def _(scene: Any) -> None:
    tinted(scene, (1.0, 1.0, 1.0, 1.0))


@edit("a strength from grey colours of vertices", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    tinted(scene, (0.5, 0.5, 0.5, 1.0))


@edit("a strength from a property of the object that is 1")
def _(scene: Any) -> None:
    level(scene, HILL)["glow"] = 1.0
    tinted(scene, (1.0, 1.0, 1.0, 1.0), "OBJECT", "glow")


@edit("a strength from a property of the object that is keyed", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    tinted(scene, (1.0, 1.0, 1.0, 1.0), "OBJECT", "glow")
    for frame, value in ((1, 1.0), (4, 1.0), (5, 0.2), (6, 1.0)):
        hill["glow"] = value
        hill.keyframe_insert('["glow"]', frame=frame)
    scene.frame_set(1)


@edit("a strength from a property of the scene", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    scene["glow"] = 0.3
    tinted(scene, (1.0, 1.0, 1.0, 1.0), "VIEW_LAYER", "glow")


@edit("a strength from a property of the scene that is 1")
def _(scene: Any) -> None:
    scene["glow"] = 1.0
    tinted(scene, (1.0, 1.0, 1.0, 1.0), "VIEW_LAYER", "glow")


@edit("a strength from an attribute that is nowhere", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    tinted(scene, (1.0, 1.0, 1.0, 1.0), "OBJECT", "nowhere")


@edit("the image placed by a copy of the map")
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    mesh.uv_layers.new(name="second")
    mesh.uv_layers[0].active_render = True
    tree, texture = tree_of(scene), node_of(scene, "TEX_IMAGE")
    uv = tree.nodes.new("ShaderNodeUVMap")
    uv.uv_map = "second"
    tree.links.new(uv.outputs[0], texture.inputs[0])


@edit("the image placed by another map", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    second = mesh.uv_layers.new(name="second")
    for corner in second.data:
        corner.uv = (corner.uv[0] * 0.5, corner.uv[1])
    mesh.uv_layers[0].active_render = True
    tree, texture = tree_of(scene), node_of(scene, "TEX_IMAGE")
    uv = tree.nodes.new("ShaderNodeUVMap")
    uv.uv_map = "second"
    tree.links.new(uv.outputs[0], texture.inputs[0])


@edit("the map renamed")
def _(scene: Any) -> None:
    level(scene, HILL).data.uv_layers[0].name = "my map"


@edit("the map deleted", "has-mesh", words=("hill",))
def _(scene: Any) -> None:
    layers = level(scene, HILL).data.uv_layers
    layers.remove(layers[0])


@edit("a second map that is rendered", "has-uv", words=("hill", "UV map second"))
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    second = mesh.uv_layers.new(name="second")
    for corner in second.data:
        corner.uv = (corner.uv[0] * 0.9, corner.uv[1])
    second.active_render = True


@edit("the map moved at one point within a divided plane", "has-uv", words=("hill", "UV map"))
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    divide(mesh, 3)
    inner = next(v for v in mesh.vertices if abs(v.co.x) < 0.01 and abs(v.co.y) < 0.02)
    for loop in mesh.loops:
        if loop.vertex_index == inner.index:
            uv = mesh.uv_layers[0].data[loop.index]
            uv.uv = (uv.uv[0] + 0.05, uv.uv[1])


@edit("the plane bent out of its own flatness", "has-mesh", words=("hill",))
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    divide(mesh, 3)
    for vertex in mesh.vertices:
        vertex.co.z += vertex.co.x**2 * 2


@edit("normals of the plane turned over")
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    mesh.flip_normals()


@edit("custom normals that lie aslant")
def _(scene: Any) -> None:
    level(scene, HILL).data.normals_split_custom_set([(0.5, 0.0, 0.8)] * 4)


@edit("a face more, behind the first", "has-mesh", words=("hill",))
def _(scene: Any) -> None:
    import bmesh

    mesh = level(scene, HILL).data
    work = bmesh.new()
    work.from_mesh(mesh)
    copy = bmesh.ops.duplicate(work, geom=work.faces[:])["geom"]
    for vertex in (one for one in copy if isinstance(one, bmesh.types.BMVert)):
        vertex.co.z -= 20 * MM
        vertex.co.x += 3 * MM
    work.to_mesh(mesh)
    work.free()


@edit("a small face more, beside the art", "has-mesh", "has-uv", words=("fern",))
def _(scene: Any) -> None:
    import bmesh

    mesh = level(scene, FERN).data
    work = bmesh.new()
    work.from_mesh(mesh)
    copy = bmesh.ops.duplicate(work, geom=work.faces[:])["geom"]
    layer = work.loops.layers.uv.active
    for vertex in (one for one in copy if isinstance(one, bmesh.types.BMVert)):
        vertex.co.x = vertex.co.x * 0.1 + 33 * MM
        vertex.co.y *= 0.1
    for face in (one for one in copy if isinstance(one, bmesh.types.BMFace)):
        for loop in face.loops:
            loop[layer].uv = (0.5, 0.5)
    work.to_mesh(mesh)
    work.free()


@edit("a loose edge in the plane's mesh")
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    mesh.vertices.add(2)
    mesh.vertices[4].co, mesh.vertices[5].co = (0, 0, 0.05), (0.02, 0, 0.05)
    mesh.edges.add(1)
    mesh.edges[-1].vertices = (4, 5)
    mesh.update()


@edit("a mesh without a face", "has-mesh", words=("hill",))
def _(scene: Any) -> None:
    level(scene, HILL).data.clear_geometry()


# --- geometry nodes
@edit("geometry nodes that hand the plane through")
def _(scene: Any) -> None:
    nodes_on(level(scene, HILL), lambda tree, start, end: tree.links.new(start.outputs[0], end.inputs[0]))


@edit("geometry nodes that set another material", "has-modifier", ART, LEVEL, words=("hill", "nodes"))
def _(scene: Any) -> None:
    red = glow("red", (1.0, 0.0, 0.0))

    def fill(tree: Any, start: Any, end: Any) -> None:
        node = tree.nodes.new("GeometryNodeSetMaterial")
        node.inputs["Material"].default_value = red
        tree.links.new(start.outputs[0], node.inputs[0])
        tree.links.new(node.outputs[0], end.inputs[0])

    nodes_on(level(scene, HILL), fill)


@edit("geometry nodes that set the same material")
def _(scene: Any) -> None:
    own = material_of(scene)

    def fill(tree: Any, start: Any, end: Any) -> None:
        node = tree.nodes.new("GeometryNodeSetMaterial")
        node.inputs["Material"].default_value = own
        tree.links.new(start.outputs[0], node.inputs[0])
        tree.links.new(node.outputs[0], end.inputs[0])

    nodes_on(level(scene, HILL), fill)


@edit("geometry nodes that move the plane", "has-modifier", words=("hill", "nodes"))
def _(scene: Any) -> None:
    def fill(tree: Any, start: Any, end: Any) -> None:
        node = tree.nodes.new("GeometryNodeTransform")
        node.inputs["Translation"].default_value = (6 * MM, 0.0, 0.0)
        tree.links.new(start.outputs[0], node.inputs[0])
        tree.links.new(node.outputs[0], end.inputs[0])

    nodes_on(level(scene, HILL), fill)


@edit("geometry nodes that give nothing", "has-modifier", words=("hill", "nodes"))
def _(scene: Any) -> None:
    nodes_on(level(scene, HILL), lambda tree, start, end: None)


@edit(
    "geometry nodes that add a bird to the level", "has-modifier", "two-surfaces", "in-the-way", words=("hill", "nodes")
)
def _(scene: Any) -> None:
    red = glow("red", (1.0, 0.0, 0.0))

    def fill(tree: Any, start: Any, end: Any) -> None:
        grid, join = tree.nodes.new("GeometryNodeMeshGrid"), tree.nodes.new("GeometryNodeJoinGeometry")
        grid.inputs[0].default_value = grid.inputs[1].default_value = 0.01
        paint, up = tree.nodes.new("GeometryNodeSetMaterial"), tree.nodes.new("GeometryNodeTransform")
        paint.inputs["Material"].default_value = red
        up.inputs["Translation"].default_value = (0.0, 0.03, 0.1)
        tree.links.new(grid.outputs[0], paint.inputs[0])
        tree.links.new(paint.outputs[0], up.inputs[0])
        tree.links.new(up.outputs[0], join.inputs[0])
        tree.links.new(start.outputs[0], join.inputs[0])
        tree.links.new(join.outputs[0], end.inputs[0])

    nodes_on(level(scene, HILL), fill)


@edit(
    "geometry nodes that add a bird on one frame", "has-modifier", "two-surfaces", "in-the-way", words=("hill", "nodes")
)
def _(scene: Any) -> None:
    red = glow("red", (1.0, 0.0, 0.0))

    def fill(tree: Any, start: Any, end: Any) -> None:
        grid, join = tree.nodes.new("GeometryNodeMeshGrid"), tree.nodes.new("GeometryNodeJoinGeometry")
        grid.inputs[0].default_value = grid.inputs[1].default_value = 0.01
        paint, up = tree.nodes.new("GeometryNodeSetMaterial"), tree.nodes.new("GeometryNodeTransform")
        paint.inputs["Material"].default_value = red
        for frame, east in ((4, 3.0), (5, 0.06), (6, 3.0)):
            up.inputs["Translation"].default_value = (east, 0.03, 0.1)
            up.inputs["Translation"].keyframe_insert("default_value", frame=frame)
        tree.links.new(grid.outputs[0], paint.inputs[0])
        tree.links.new(paint.outputs[0], up.inputs[0])
        tree.links.new(up.outputs[0], join.inputs[0])
        tree.links.new(start.outputs[0], join.inputs[0])
        tree.links.new(join.outputs[0], end.inputs[0])

    nodes_on(level(scene, HILL), fill)
    scene.frame_set(1)


@edit("geometry nodes that store another map", "has-modifier", words=("hill", "nodes"))
def _(scene: Any) -> None:
    def fill(tree: Any, start: Any, end: Any) -> None:
        store = tree.nodes.new("GeometryNodeStoreNamedAttribute")
        store.data_type, store.domain = "FLOAT2", "CORNER"
        name = level(scene, HILL).data.uv_layers[0].name
        store.inputs["Name"].default_value = name
        place, scale = tree.nodes.new("GeometryNodeInputNamedAttribute"), tree.nodes.new("ShaderNodeVectorMath")
        place.data_type = "FLOAT_VECTOR"
        place.inputs[0].default_value = name
        scale.operation = "ADD"
        scale.inputs[1].default_value = (0.05, 0.0, 0.0)
        tree.links.new(place.outputs[0], scale.inputs[0])
        tree.links.new(start.outputs[0], store.inputs[0])
        tree.links.new(scale.outputs[0], next(s for s in store.inputs if s.name == "Value" and s.enabled))
        tree.links.new(store.outputs[0], end.inputs[0])

    nodes_on(level(scene, HILL), fill)


@edit("geometry nodes that turn the plane into an instance of itself")
def _(scene: Any) -> None:
    def fill(tree: Any, start: Any, end: Any) -> None:
        node = tree.nodes.new("GeometryNodeGeometryToInstance")
        tree.links.new(start.outputs[0], node.inputs[0])
        tree.links.new(node.outputs[0], end.inputs[0])

    nodes_on(level(scene, HILL), fill)


# --- modifiers
@edit("a map warped by a modifier", "has-modifier", words=("hill", "warp"))
def _(scene: Any) -> None:
    level(scene, HILL).modifiers.new("warp", "UV_WARP").offset = (0.05, 0.0)


@edit("a solid plane", "has-modifier", "two-surfaces", words=("hill", "thick"))
def _(scene: Any) -> None:
    level(scene, HILL).modifiers.new("thick", "SOLIDIFY").thickness = 0.01


@edit("weighted normals")
def _(scene: Any) -> None:
    level(scene, HILL).modifiers.new("normals", "WEIGHTED_NORMAL")


@edit("a mask that hides all", "has-modifier", "not-seen", words=("hill", "mask"))
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    hill.vertex_groups.new(name="none")
    mask = hill.modifiers.new("mask", "MASK")
    mask.vertex_group = "none"


@edit("planes built over time", "has-modifier", "not-seen", words=("hill", "build"))
def _(scene: Any) -> None:
    build = level(scene, HILL).modifiers.new("build", "BUILD")
    build.frame_start, build.frame_duration = 4, 1


@edit("an armature that bends the plane", "has-modifier", words=("sky",))
def _(scene: Any) -> None:
    rig = bpy.data.objects.new("rig", bpy.data.armatures.new("rig"))
    scene.collection.objects.link(rig)
    layer = bpy.context.view_layer
    layer.objects.active = rig
    bpy.ops.object.mode_set(mode="EDIT")
    bone = rig.data.edit_bones.new("bone")
    bone.tail = (0, 0, 1)
    bpy.ops.object.mode_set(mode="OBJECT")
    sky = level(scene, SKY)
    sky.vertex_groups.new(name="bone").add(range(len(sky.data.vertices)), 1.0, "REPLACE")
    sky.modifiers.new("bend", "ARMATURE").object = rig
    rig.pose.bones["bone"].location = (6 * MM, 0.0, 0.0)


@edit("a hook on two corners", "has-modifier", words=("hill",))
def _(scene: Any) -> None:
    empty = bpy.data.objects.new("hook", None)
    scene.collection.objects.link(empty)
    hook = level(scene, HILL).modifiers.new("hook", "HOOK")
    hook.object = empty
    hook.vertex_indices_set([2, 3])
    empty.location.y = 5 * MM


@edit("a decimated plane", "has-modifier", "cut-off", "not-seen", words=("hill",))
def _(scene: Any) -> None:
    divide(level(scene, HILL).data)
    level(scene, HILL).modifiers.new("fewer", "DECIMATE").ratio = 0.2


# --- what grows on a level, and what it is copied by
@edit("hair on a level", "has-particle", "in-the-way", "has-modifier", LEVEL, words=("hill",))
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    hill.modifiers.new("grass", "PARTICLE_SYSTEM")
    settings = hill.particle_systems[0].settings
    settings.type, settings.count, settings.hair_length = "HAIR", 60, 0.03
    settings.root_radius, settings.tip_radius, settings.radius_scale = 1.0, 1.0, 0.002


@edit("hair on a level that is not rendered", LEVEL)
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    hill.modifiers.new("grass", "PARTICLE_SYSTEM").show_render = False
    settings = hill.particle_systems[0].settings
    settings.type, settings.count, settings.hair_length = "HAIR", 60, 0.03


@edit("a level that is copied at the points of another mesh", "in-the-way", "not-seen", words=("hill",))
def _(scene: Any) -> None:
    mesh = bpy.data.meshes.new("points")
    mesh.from_pydata([(0, 0, 0), (0.03, 0.02, 0.01)], [], [])
    bearer = bpy.data.objects.new("bearer", mesh)
    scene.collection.objects.link(bearer)
    bearer.instance_type = "VERTS"
    level(scene, HILL).parent = bearer


@edit("a level that bears copies of a card", "level-remade", words=("hill", "Instancing"))
def _(scene: Any) -> None:
    mesh = bpy.data.meshes.new("card")
    mesh.from_pydata([(-0.01, -0.01, 0), (0.01, -0.01, 0), (0.01, 0.01, 0), (-0.01, 0.01, 0)], [], [(0, 1, 2, 3)])
    mesh.materials.append(glow("red", (1.0, 0.0, 0.0)))
    card = bpy.data.objects.new("card", mesh)
    scene.collection.objects.link(card)
    card.location.z = 0.05
    hill = level(scene, HILL)
    card.parent = hill
    hill.instance_type = "VERTS"


@edit("a level that bears copies and is not seen itself", "hidden", "not-seen", LEVEL, "in-the-way", words=("hill",))
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    hill.instance_type = "FACES"
    hill.show_instancer_for_render = False


@edit("an instance of the stack's own collection", "in-the-way")
def _(scene: Any) -> None:
    stack = level(scene, HILL).users_collection[0]
    empty = bpy.data.objects.new("again", None)
    empty.instance_type, empty.instance_collection = "COLLECTION", stack
    empty.location = (0.05, 0.03, 0.02)
    scene.collection.objects.link(empty)


@edit("an instance of the stack's own collection, not rendered")
def _(scene: Any) -> None:
    stack = level(scene, HILL).users_collection[0]
    empty = bpy.data.objects.new("again", None)
    empty.instance_type, empty.instance_collection = "COLLECTION", stack
    empty.hide_render = True
    scene.collection.objects.link(empty)


# --- nodes of a material
@edit("a mix with itself")
def _(scene: Any) -> None:
    tree, texture = tree_of(scene), node_of(scene, "TEX_IMAGE")
    mix = tree.nodes.new("ShaderNodeMix")
    mix.data_type = "RGBA"
    emission = node_of(scene, "EMISSION")
    for number in (6, 7):
        tree.links.new(texture.outputs[0], mix.inputs[number])
    tree.links.new(mix.outputs[2], emission.inputs[0])


@edit("light that falls off by the ray's length", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    tree, emission = tree_of(scene), node_of(scene, "EMISSION")
    path = tree.nodes.new("ShaderNodeLightPath")
    tree.links.new(path.outputs["Ray Length"], emission.inputs["Strength"])


@edit("light for camera rays alone")
def _(scene: Any) -> None:
    tree, emission = tree_of(scene), node_of(scene, "EMISSION")
    path = tree.nodes.new("ShaderNodeLightPath")
    tree.links.new(path.outputs["Is Camera Ray"], emission.inputs["Strength"])


@edit("light by how often a ray went through", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    tree, emission = tree_of(scene), node_of(scene, "EMISSION")
    path = tree.nodes.new("ShaderNodeLightPath")
    tree.links.new(path.outputs["Transparent Depth"], emission.inputs["Strength"])


@edit("light by the distance from the camera", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    tree, emission = tree_of(scene), node_of(scene, "EMISSION")
    data = tree.nodes.new("ShaderNodeCameraData")
    tree.links.new(data.outputs["View Z Depth"], emission.inputs["Strength"])


@edit("light by the place in the world", ART, LEVEL, words=("fern",))
def _(scene: Any) -> None:
    tree, emission = tree_of(scene, FERN), node_of(scene, "EMISSION", FERN)
    place, apart = tree.nodes.new("ShaderNodeNewGeometry"), tree.nodes.new("ShaderNodeSeparateXYZ")
    tree.links.new(place.outputs["Position"], apart.inputs[0])
    tree.links.new(apart.outputs[0], emission.inputs["Strength"])


@edit("light by the object's random number", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    tree, emission = tree_of(scene), node_of(scene, "EMISSION")
    info = tree.nodes.new("ShaderNodeObjectInfo")
    tree.links.new(info.outputs["Random"], emission.inputs["Strength"])


@edit("the backface wears something else")
def _(scene: Any) -> None:
    tree, mix = tree_of(scene), node_of(scene, "MIX_SHADER")
    output = node_of(scene, "OUTPUT_MATERIAL")
    back, other = tree.nodes.new("ShaderNodeNewGeometry"), tree.nodes.new("ShaderNodeEmission")
    both = tree.nodes.new("ShaderNodeMixShader")
    tree.links.new(back.outputs["Backfacing"], both.inputs[0])
    tree.links.new(mix.outputs[0], both.inputs[1])
    tree.links.new(other.outputs[0], both.inputs[2])
    tree.links.new(both.outputs[0], output.inputs[0])


@edit("a glossy coat", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    tree, mix = tree_of(scene), node_of(scene, "MIX_SHADER")
    output = node_of(scene, "OUTPUT_MATERIAL")
    add, gloss = tree.nodes.new("ShaderNodeAddShader"), tree.nodes.new("ShaderNodeEmission")
    gloss.inputs[0].default_value = (0.1, 0.1, 0.1, 1.0)
    tree.links.new(mix.outputs[0], add.inputs[0])
    tree.links.new(gloss.outputs[0], add.inputs[1])
    tree.links.new(add.outputs[0], output.inputs[0])


@edit("a noise in the alpha", ART, LEVEL, words=("sky",))
def _(scene: Any) -> None:
    tree = tree_of(scene, SKY)
    texture = node_of(scene, "TEX_IMAGE", SKY)
    node = between(tree, texture.outputs["Alpha"], "ShaderNodeMath")
    node.operation = "MULTIPLY"
    noise = tree.nodes.new("ShaderNodeTexNoise")
    tree.links.new(noise.outputs[0], node.inputs[1])


@edit("a nested group whose inner value is keyed", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    inner = bpy.data.node_groups.new("inner", "ShaderNodeTree")
    inner.interface.new_socket("Value", in_out="OUTPUT", socket_type="NodeSocketFloat")
    value, end = inner.nodes.new("ShaderNodeValue"), inner.nodes.new("NodeGroupOutput")
    for frame, strength in ((1, 1.0), (6, 1.0), (7, 0.1), (8, 1.0)):
        value.outputs[0].default_value = strength
        value.outputs[0].keyframe_insert("default_value", frame=frame)
    inner.links.new(value.outputs[0], end.inputs[0])
    tree = tree_of(scene)
    group = tree.nodes.new("ShaderNodeGroup")
    group.node_tree = inner
    tree.links.new(group.outputs[0], node_of(scene, "EMISSION").inputs["Strength"])
    scene.frame_set(1)


@edit("an image node set to box", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    node_of(scene, "TEX_IMAGE").projection = "BOX"


@edit("a material output for EEVEE beside that for all", ART)
def _(scene: Any) -> None:
    tree = tree_of(scene)
    other = tree.nodes.new("ShaderNodeOutputMaterial")
    other.target = "EEVEE"
    tree.links.new(tree.nodes.new("ShaderNodeEmission").outputs[0], other.inputs[0])


@edit("a material output for Cycles beside that for all", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    tree = tree_of(scene)
    other = tree.nodes.new("ShaderNodeOutputMaterial")
    other.target = "CYCLES"
    tree.links.new(tree.nodes.new("ShaderNodeEmission").outputs[0], other.inputs[0])


@edit("one material on two levels", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    level(scene, HILL).data.materials[0] = level(scene, SKY).data.materials[0]


@edit("one mesh on two levels", "has-mesh", words=("hill",))
def _(scene: Any) -> None:
    level(scene, HILL).data = level(scene, SKY).data


@edit("another action on the nodes of a material", ART, LEVEL, words=("hill",))
def _(scene: Any) -> None:
    tree = tree_of(scene)
    strength = node_of(scene, "EMISSION").inputs["Strength"]
    for frame, value in ((1, 1.0), (8, 0.4)):
        strength.default_value = value
        strength.keyframe_insert("default_value", frame=frame)
    action = tree.animation_data.action
    strip = tree.animation_data.nla_tracks.new().strips.new("fade", 1, action)
    if hasattr(strip, "action_slot") and strip.action_slot is None:
        strip.action_slot = action.slots[0]
    tree.animation_data.action = None
    strength.default_value = 1.0
    scene.frame_set(1)


@edit("keys on a material in an action without a slot")
def _(scene: Any) -> None:
    tree = tree_of(scene)
    strength = node_of(scene, "EMISSION").inputs["Strength"]
    for frame, value in ((1, 1.0), (8, 0.4)):
        strength.default_value = value
        strength.keyframe_insert("default_value", frame=frame)
    tree.animation_data.action_slot = None
    strength.default_value = 1.0
    scene.frame_set(1)
