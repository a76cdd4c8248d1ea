# SPDX-License-Identifier: GPL-3.0-or-later
"""Edits of materials: nodes, values, images, and what of them is never rendered."""

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import bpy

from edits.edits import edit
from proving.wrong_scenes import level

HILL, SKY = "hill", "sky"
ART, LEVEL, MISSING = "art-differs", "level-changed", "art-missing"


def material_of(scene: Any, name: str = HILL) -> Any:
    return level(scene, name).data.materials[0]


def tree_of(scene: Any, name: str = HILL) -> Any:
    return material_of(scene, name).node_tree


def node_of(scene: Any, kind: str, name: str = HILL) -> Any:
    return next(node for node in tree_of(scene, name).nodes if node.type == kind)


def between(tree: Any, out: Any, kind: str, into: str | int = 0, out_of: str | int = 0) -> Any:
    """Put a new node of ``kind`` into the link that goes out of ``out``; return it."""
    link = next(link for link in tree.links if link.from_socket == out)
    target = link.to_socket
    node = tree.nodes.new(kind)
    tree.links.remove(link)
    tree.links.new(out, node.inputs[into])
    tree.links.new(node.outputs[out_of], target)
    return node


def image(what: str, *codes: str, words: tuple[str, ...] = ()) -> Callable[..., Any]:
    """Enter an edit of the node that shows the hill's image."""

    def enter(do: Callable[[Any], None]) -> None:
        edit(what, *codes, words=words)(lambda scene: do(node_of(scene, "TEX_IMAGE")))

    return enter


@image("the mapping of an image moved", ART, words=("Image Texture", "Location"))
def _(node: Any) -> None:
    node.texture_mapping.translation = (0.05, 0.0, 0.0)


@image("the mapping of an image scaled", ART, words=("Scale",))
def _(node: Any) -> None:
    node.texture_mapping.scale = (1.02, 1.0, 1.0)


@image("an image shown by its nearest pixels", ART, words=("Interpolation is Closest, built Linear",))
def _(node: Any) -> None:
    node.interpolation = "Closest"


@image("an image that repeats", ART)
def _(node: Any) -> None:
    node.extension = "REPEAT"


@image("an image's brightness in a tab of the past", ART)
def _(node: Any) -> None:
    node.color_mapping.brightness = 1.5


@image("an image read as data", ART, words=("Non-Color",))
def _(node: Any) -> None:
    node.image.colorspace_settings.name = "Non-Color"


@image("an image read as premultiplied", ART, words=("PREMUL",))
def _(node: Any) -> None:
    node.image.alpha_mode = "PREMUL"


@image("an image without its alpha", ART, words=("NONE",))
def _(node: Any) -> None:
    node.image.alpha_mode = "NONE"


@image("another image", ART, words=("sky.png",))
def _(node: Any) -> None:
    node.image = bpy.data.images.load(str(file_of(node).with_name("sky.png")))


@image("the same bytes under another name")
def _(node: Any) -> None:
    copy = file_of(node).with_name("hill, a copy.png")
    shutil.copy(file_of(node), copy)
    node.image.filepath = str(copy)


@image("the same image packed")
def _(node: Any) -> None:
    node.image.pack()


@image("an image renamed")
def _(node: Any) -> None:
    node.image.name = "a hill"


@image("an image that is missing", MISSING, words=("missing",))
def _(node: Any) -> None:
    node.image.filepath = "//nowhere/hill.png"


@image("no image at all", MISSING, words=("no picture",))
def _(node: Any) -> None:
    node.image = None


@image("an image made up", ART, MISSING)
def _(node: Any) -> None:
    made = bpy.data.images.new("made up", 8, 8)
    made.generated_type = "COLOR_GRID"
    node.image = made


@image("an image node renamed, moved, coloured")
def _(node: Any) -> None:
    node.name, node.label, node.location = "my art", "art", (500.0, 20.0)
    node.use_custom_color, node.width = True, 400.0


@image("an image node muted", ART)
def _(node: Any) -> None:
    node.mute = True


def file_of(node: Any) -> Path:
    return Path(bpy.path.abspath(node.image.filepath))


# --- values
@edit("a level that shines twice as bright", ART, words=("Emission › Strength is 2, built 1",))
def _(scene: Any) -> None:
    node_of(scene, "EMISSION").inputs["Strength"].default_value = 2.0


@edit("a level that shines by a hundred thousandth less", ART)
def _(scene: Any) -> None:
    node_of(scene, "EMISSION").inputs["Strength"].default_value = 0.99999


@edit("clear parts tinted", ART, words=("Transparent BSDF › Color",))
def _(scene: Any) -> None:
    node_of(scene, "BSDF_TRANSPARENT").inputs["Color"].default_value = (1.0, 0.5, 0.5, 1.0)


@edit("a strength keyed between", ART, words=("hill: Emission Strength is keyed",))
def _(scene: Any) -> None:
    socket = node_of(scene, "EMISSION").inputs["Strength"]
    for frame, value in ((1, 1.0), (4, 1.0), (5, 3.0), (6, 1.0)):
        socket.default_value = value
        socket.keyframe_insert("default_value", frame=frame)
    scene.frame_set(1)


@edit("a strength keyed as it is", ART)
def _(scene: Any) -> None:
    socket = node_of(scene, "EMISSION").inputs["Strength"]
    for frame in (1, 5):
        socket.keyframe_insert("default_value", frame=frame)


@edit("a strength driven by the frame", ART)
def _(scene: Any) -> None:
    node_of(scene, "EMISSION").inputs["Strength"].driver_add("default_value").driver.expression = "1 + frame / 20"


@edit("an unused socket's value")
def _(scene: Any) -> None:
    node_of(scene, "EMISSION").inputs["Color"].default_value = (1.0, 0.0, 0.0, 1.0)


# --- nodes
@edit("a node that leads nowhere")
def _(scene: Any) -> None:
    tree = tree_of(scene)
    node = tree.nodes.new("ShaderNodeBsdfPrincipled")
    tree.links.new(node_of(scene, "TEX_IMAGE").outputs["Color"], node.inputs["Base Color"])


@edit("a reroute")
def _(scene: Any) -> None:
    between(tree_of(scene), node_of(scene, "TEX_IMAGE").outputs["Color"], "NodeReroute")


@edit("a frame around nodes")
def _(scene: Any) -> None:
    frame = tree_of(scene).nodes.new("NodeFrame")
    node_of(scene, "EMISSION").parent = frame


@edit("colours turned round", ART, words=("Hue/Saturation",))
def _(scene: Any) -> None:
    node = between(tree_of(scene), node_of(scene, "TEX_IMAGE").outputs["Color"], "ShaderNodeHueSaturation", "Color")
    node.inputs["Hue"].default_value = 0.8


@edit("colours turned by nothing", ART)
def _(scene: Any) -> None:
    between(tree_of(scene), node_of(scene, "TEX_IMAGE").outputs["Color"], "ShaderNodeHueSaturation", "Color")


@edit("a muted node", ART)
def _(scene: Any) -> None:
    node = between(tree_of(scene), node_of(scene, "TEX_IMAGE").outputs["Color"], "ShaderNodeHueSaturation", "Color")
    node.inputs["Hue"].default_value = 0.8
    node.mute = True


@edit("a gamma of 1", ART)
def _(scene: Any) -> None:
    between(tree_of(scene), node_of(scene, "TEX_IMAGE").outputs["Color"], "ShaderNodeGamma")


@edit("a gamma of 1.5", ART)
def _(scene: Any) -> None:
    between(tree_of(scene), node_of(scene, "TEX_IMAGE").outputs["Color"], "ShaderNodeGamma").inputs[
        1
    ].default_value = 1.5


@edit("half of the alpha", ART)
def _(scene: Any) -> None:
    node = between(tree_of(scene), node_of(scene, "TEX_IMAGE").outputs["Alpha"], "ShaderNodeMath")
    node.operation = "MULTIPLY"
    node.inputs[1].default_value = 0.5


@edit("alpha times one", ART)
def _(scene: Any) -> None:
    node = between(tree_of(scene), node_of(scene, "TEX_IMAGE").outputs["Alpha"], "ShaderNodeMath")
    node.operation = "MULTIPLY"
    node.inputs[1].default_value = 1.0


@edit("alpha cut off", ART)
def _(scene: Any) -> None:
    tree = tree_of(scene)
    out = node_of(scene, "TEX_IMAGE").outputs["Alpha"]
    tree.links.remove(next(link for link in tree.links if link.from_socket == out))


@edit("the nodes in a group", ART)
def _(scene: Any) -> None:
    group = bpy.data.node_groups.new("glow", "ShaderNodeTree")
    group.interface.new_socket("Color", in_out="INPUT", socket_type="NodeSocketColor")
    group.interface.new_socket("Color", in_out="OUTPUT", socket_type="NodeSocketColor")
    group.links.new(group.nodes.new("NodeGroupInput").outputs[0], group.nodes.new("NodeGroupOutput").inputs[0])
    tree = tree_of(scene)
    out = node_of(scene, "TEX_IMAGE").outputs["Color"]
    link = next(link for link in tree.links if link.from_socket == out)
    target = link.to_socket
    node = tree.nodes.new("ShaderNodeGroup")
    node.node_tree = group
    tree.links.new(out, node.inputs[0])
    tree.links.new(node.outputs[0], target)


@edit("a bright group", ART)
def _(scene: Any) -> None:
    group = bpy.data.node_groups.new("bright", "ShaderNodeTree")
    group.interface.new_socket("Color", in_out="INPUT", socket_type="NodeSocketColor")
    group.interface.new_socket("Color", in_out="OUTPUT", socket_type="NodeSocketColor")
    bright = group.nodes.new("ShaderNodeBrightContrast")
    bright.inputs["Bright"].default_value = 0.2
    group.links.new(group.nodes.new("NodeGroupInput").outputs[0], bright.inputs[0])
    group.links.new(bright.outputs[0], group.nodes.new("NodeGroupOutput").inputs[0])
    tree = tree_of(scene)
    out = node_of(scene, "TEX_IMAGE").outputs["Color"]
    target = next(link for link in tree.links if link.from_socket == out).to_socket
    node = tree.nodes.new("ShaderNodeGroup")
    node.node_tree = group
    tree.links.new(out, node.inputs[0])
    tree.links.new(node.outputs[0], target)


@edit("coordinates of the object", ART)
def _(scene: Any) -> None:
    tree = tree_of(scene)
    node = tree.nodes.new("ShaderNodeTexCoord")
    tree.links.new(node.outputs["Object"], node_of(scene, "TEX_IMAGE").inputs["Vector"])


@edit("coordinates said in so many words", ART)
def _(scene: Any) -> None:
    tree = tree_of(scene)
    node = tree.nodes.new("ShaderNodeUVMap")
    node.uv_map = "art"
    tree.links.new(node.outputs[0], node_of(scene, "TEX_IMAGE").inputs["Vector"])


@edit("a mapping of nothing", ART)
def _(scene: Any) -> None:
    tree = tree_of(scene)
    uv, mapping = tree.nodes.new("ShaderNodeUVMap"), tree.nodes.new("ShaderNodeMapping")
    tree.links.new(uv.outputs[0], mapping.inputs["Vector"])
    tree.links.new(mapping.outputs[0], node_of(scene, "TEX_IMAGE").inputs["Vector"])


@edit("a mapping that shifts", ART)
def _(scene: Any) -> None:
    tree = tree_of(scene)
    uv, mapping = tree.nodes.new("ShaderNodeUVMap"), tree.nodes.new("ShaderNodeMapping")
    mapping.inputs["Location"].default_value = (0.1, 0.0, 0.0)
    tree.links.new(uv.outputs[0], mapping.inputs["Vector"])
    tree.links.new(mapping.outputs[0], node_of(scene, "TEX_IMAGE").inputs["Vector"])


@edit("a volume in the material", ART)
def _(scene: Any) -> None:
    tree = tree_of(scene)
    node = tree.nodes.new("ShaderNodeVolumeAbsorption")
    tree.links.new(node.outputs[0], node_of(scene, "OUTPUT_MATERIAL").inputs["Volume"])


@edit("displacement as bump", ART)
def _(scene: Any) -> None:
    tree = tree_of(scene)
    node = tree.nodes.new("ShaderNodeDisplacement")
    tree.links.new(node_of(scene, "TEX_IMAGE").outputs["Alpha"], node.inputs["Height"])
    tree.links.new(node.outputs[0], node_of(scene, "OUTPUT_MATERIAL").inputs["Displacement"])


@edit("a second output that is not active")
def _(scene: Any) -> None:
    tree = tree_of(scene)
    first = node_of(scene, "OUTPUT_MATERIAL")
    second = tree.nodes.new("ShaderNodeOutputMaterial")
    tree.links.new(tree.nodes.new("ShaderNodeBsdfDiffuse").outputs[0], second.inputs["Surface"])
    first.is_active_output, second.is_active_output = True, False


@edit("another output that is active", ART, MISSING)
def _(scene: Any) -> None:
    tree = tree_of(scene)
    first = node_of(scene, "OUTPUT_MATERIAL")
    second = tree.nodes.new("ShaderNodeOutputMaterial")
    tree.links.new(tree.nodes.new("ShaderNodeBsdfDiffuse").outputs[0], second.inputs["Surface"])
    first.is_active_output, second.is_active_output = False, True


@edit("the surface unlinked", ART)
def _(scene: Any) -> None:
    tree = tree_of(scene)
    tree.links.remove(next(link for link in tree.links if link.to_node.type == "OUTPUT_MATERIAL"))


@edit("another material on the face", ART, MISSING, words=("no picture",))
def _(scene: Any) -> None:
    mesh = level(scene, HILL).data
    mesh.materials.append(bpy.data.materials.new("plain"))
    mesh.polygons[0].material_index = 1


@edit("a material in a slot that no face wears", ART)
def _(scene: Any) -> None:
    level(scene, HILL).data.materials.append(bpy.data.materials.new("spare"))


@edit("the material linked to the object", ART)
def _(scene: Any) -> None:
    slot = level(scene, HILL).material_slots[0]
    kept = slot.material
    slot.link = "OBJECT"
    slot.material = kept


@edit("a copy of the material")
def _(scene: Any) -> None:
    hill = level(scene, HILL)
    hill.data.materials[0] = hill.data.materials[0].copy()


@edit("two materials exchanged", ART)
def _(scene: Any) -> None:
    one, two = level(scene, HILL).data.materials, level(scene, SKY).data.materials
    one[0], two[0] = two[0], one[0]


@edit("no material", MISSING, words=("no picture",))
def _(scene: Any) -> None:
    level(scene, HILL).data.materials.clear()


@edit("the colour of a material in the viewport", "harmless-changes")
def _(scene: Any) -> None:
    paint = material_of(scene)
    paint.diffuse_color, paint.roughness = (1.0, 0.0, 0.0, 1.0), 0.1
    paint.use_backface_culling = True


@edit("a material's number", "harmless-changes")
def _(scene: Any) -> None:
    material_of(scene).pass_index = 4


@edit("true displacement of a material without any", LEVEL)
def _(scene: Any) -> None:
    material_of(scene).displacement_method = "DISPLACEMENT"


@edit("a strength driven without blanks", ART, words=("hill: Emission Strength is driven by 1+frame*0.1",))
def _(scene: Any) -> None:
    node_of(scene, "EMISSION").inputs["Strength"].driver_add("default_value").driver.expression = "1+frame*0.1"


@edit("a keyed gamma", ART, words=("hill: Gamma Gamma is keyed",))
def _(scene: Any) -> None:
    node = between(tree_of(scene), node_of(scene, "TEX_IMAGE").outputs["Color"], "ShaderNodeGamma")
    for frame, value in ((1, 1.0), (8, 2.0)):
        node.inputs["Gamma"].default_value = value
        node.inputs["Gamma"].keyframe_insert("default_value", frame=frame)


@edit("a driven gamma", ART, words=("hill: Gamma Gamma is driven",))
def _(scene: Any) -> None:
    node = between(tree_of(scene), node_of(scene, "TEX_IMAGE").outputs["Color"], "ShaderNodeGamma")
    node.inputs["Gamma"].driver_add("default_value").driver.expression = "1+frame*0.1"


def keyed(owner: Any, path: str, *places: tuple[int, float]) -> None:
    """Key a property of ``owner`` at places, (frame, value)."""
    for frame, value in places:
        setattr(owner, path, value)
        owner.keyframe_insert(path, frame=frame)


def grouped_gamma(scene: Any) -> Any:
    """Put a gamma into a group within a group, between the hill's image and its light; return its node."""
    inner, outer = (bpy.data.node_groups.new(name, "ShaderNodeTree") for name in ("my gamma", "my glow"))
    for tree in (inner, outer):
        for way in ("INPUT", "OUTPUT"):
            tree.interface.new_socket("Color", in_out=way, socket_type="NodeSocketColor")
    gamma, nested = inner.nodes.new("ShaderNodeGamma"), outer.nodes.new("ShaderNodeGroup")
    nested.node_tree = inner
    for tree, node in ((inner, gamma), (outer, nested)):
        begin, end = tree.nodes.new("NodeGroupInput"), tree.nodes.new("NodeGroupOutput")
        tree.links.new(begin.outputs[0], node.inputs[0])
        tree.links.new(node.outputs[0], end.inputs[0])
    group = tree_of(scene).nodes.new("ShaderNodeGroup")
    group.node_tree = outer
    colour = node_of(scene, "TEX_IMAGE").outputs["Color"]
    target = next(link for link in tree_of(scene).links if link.from_socket == colour).to_socket
    tree_of(scene).links.new(colour, group.inputs[0])
    tree_of(scene).links.new(group.outputs[0], target)
    gamma.inputs["Gamma"].default_value = 1.0
    return gamma


@edit("a gamma keyed in a group within a group", ART, words=("hill: Gamma Gamma in my gamma is keyed",))
def _(scene: Any) -> None:
    keyed(grouped_gamma(scene).inputs["Gamma"], "default_value", (1, 1.0), (4, 1.0), (5, 2.0), (6, 1.0))
    scene.frame_set(1)


@edit("a gamma driven in a group", ART, words=("hill: Gamma Gamma in my gamma is driven by 1+frame*0.1",))
def _(scene: Any) -> None:
    grouped_gamma(scene).inputs["Gamma"].driver_add("default_value").driver.expression = "1+frame*0.1"


@edit("a group whose keys change nothing", ART)
def _(scene: Any) -> None:
    keyed(grouped_gamma(scene).inputs["Gamma"], "default_value", (1, 1.0), (8, 1.0))


@edit("a keyed number of the material that shines", ART, words=("hill: Pass Index is keyed",))
def _(scene: Any) -> None:
    tree, info = tree_of(scene), tree_of(scene).nodes.new("ShaderNodeObjectInfo")
    tree.links.new(info.outputs["Material Index"], node_of(scene, "EMISSION").inputs["Strength"])
    keyed(material_of(scene), "pass_index", (1, 1), (8, 3))


@edit("a keyed number of the material that nothing reads", ART)
def _(scene: Any) -> None:
    keyed(material_of(scene), "pass_index", (1, 1), (8, 3))


@edit("a gamma and a strength keyed", ART, words=("hill: Emission Strength and Gamma Gamma are keyed;",))
def _(scene: Any) -> None:
    gamma = between(tree_of(scene), node_of(scene, "TEX_IMAGE").outputs["Color"], "ShaderNodeGamma")
    keyed(gamma.inputs["Gamma"], "default_value", (1, 1.0), (8, 1.5))
    keyed(node_of(scene, "EMISSION").inputs["Strength"], "default_value", (1, 1.0), (8, 1.5))


@edit("many things that change nothing", ART)
def _(scene: Any) -> None:
    for name in (*(one.name for one in scene.objects if one.type == "MESH"),):
        tree = scene.objects[name].data.materials[0].node_tree
        art = next(node for node in tree.nodes if node.type == "TEX_IMAGE")
        between(tree, art.outputs["Color"], "ShaderNodeGamma")
        between(tree, art.outputs["Color"], "ShaderNodeHueSaturation", "Color")
        scene.objects[name].pass_index = 3
    view = scene.view_settings
    view.use_curve_mapping = True
    scene.render.dither_intensity = 0.0
    scene.cycles.filter_width = 1.5001
    scene.cycles.film_exposure = 1.0001
    scene.cycles.use_adaptive_sampling = False
    scene.cycles.sample_clamp_direct = 1000.0
    scene.camera.data.dof.aperture_blades = 0
