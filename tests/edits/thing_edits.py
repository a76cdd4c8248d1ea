# SPDX-License-Identifier: GPL-3.0-or-later
"""Edits that bring something: things before, in, behind and beside the stack, lamps, scripts, and what is unseen."""

from typing import Any

import bpy

from edits.edits import edit
from edits.level_edits import collection_of, layer_of
from proving.wrong_scenes import instance_in_front, leaf, let_fall, scatter_beside, scatter_in_front
from underglass import blender_versions

WAY = "in-the-way"


def glow(name: str, colour: tuple[float, float, float], *, alpha: float = 1.0) -> Any:
    """Return a material that shines, or is clear."""
    paint = bpy.data.materials.new(name)
    tree = blender_versions.node_tree(paint)
    tree.nodes.clear()
    shine, clear = tree.nodes.new("ShaderNodeEmission"), tree.nodes.new("ShaderNodeBsdfTransparent")
    mix, output = tree.nodes.new("ShaderNodeMixShader"), tree.nodes.new("ShaderNodeOutputMaterial")
    shine.inputs["Color"].default_value = (*colour, 1.0)
    mix.inputs[0].default_value = alpha
    tree.links.new(clear.outputs[0], mix.inputs[1])
    tree.links.new(shine.outputs[0], mix.inputs[2])
    tree.links.new(mix.outputs[0], output.inputs["Surface"])
    return paint


def card(scene: Any, *, up: float, size: float = 0.05, east: float = 0.0, alpha: float = 1.0) -> Any:
    mesh = bpy.data.meshes.new("card")
    half = size / 2
    mesh.from_pydata([(-half, -half, 0), (half, -half, 0), (half, half, 0), (-half, half, 0)], [], [(0, 1, 2, 3)])
    mesh.materials.append(glow("card", (1.0, 0.2, 0.1), alpha=alpha))
    obj = bpy.data.objects.new("card", mesh)
    obj.location = (east, 0.0, up)
    scene.collection.objects.link(obj)
    return obj


@edit("a card before the stack", WAY, words=("card",))
def _(scene: Any) -> None:
    card(scene, up=1.0)


@edit("a faint card before the stack", WAY)
def _(scene: Any) -> None:
    card(scene, up=1.0, alpha=0.1)


@edit("a fully clear card before the stack", WAY)
def _(scene: Any) -> None:
    card(scene, up=1.0, alpha=0.0)


@edit("a card between levels", WAY)
def _(scene: Any) -> None:
    card(scene, up=0.5)


@edit("a large card behind the stack, seen through its window", WAY, words=("behind",))
def _(scene: Any) -> None:
    card(scene, up=0.1, size=1.0)


@edit("a card behind opaque art", WAY)
def _(scene: Any) -> None:
    card(scene, up=0.1, east=-0.1)


@edit("a card beside the field", WAY)
def _(scene: Any) -> None:
    card(scene, up=0.8, east=3.0)


@edit("a card above the camera", WAY)
def _(scene: Any) -> None:
    card(scene, up=1.5)


@edit("a small card before the stack", WAY)
def _(scene: Any) -> None:
    card(scene, up=1.0, size=0.002)


@edit("a bird that crosses on two frames", WAY, words=("frames 4 to 5",))
def _(scene: Any) -> None:
    bird = card(scene, up=1.0, size=0.02, east=3.0)
    for frame, east in ((3, 3.0), (4, 0.0), (5, 0.01), (6, 3.0)):
        bird.location.x = east
        bird.keyframe_insert("location", index=0, frame=frame)
    for curve in blender_versions.fcurves_of(bird):
        for key in curve.keyframe_points:
            key.interpolation = "CONSTANT"
    scene.frame_set(1)


@edit("a card that is hidden but for one frame", WAY)
def _(scene: Any) -> None:
    flash = card(scene, up=1.0)
    for frame, hidden in ((1, True), (6, False), (7, True)):
        flash.hide_render = hidden
        flash.keyframe_insert("hide_render", frame=frame)
    scene.frame_set(1)


@edit("a card that becomes opaque", WAY)
def _(scene: Any) -> None:
    thing = card(scene, up=1.0, alpha=0.0)
    socket = next(n for n in thing.data.materials[0].node_tree.nodes if n.type == "MIX_SHADER").inputs[0]
    for frame, value in ((1, 0.0), (5, 0.0), (6, 1.0)):
        socket.default_value = value
        socket.keyframe_insert("default_value", frame=frame)
    scene.frame_set(1)


@edit("a falling leaf", WAY)
def _(scene: Any) -> None:
    let_fall(scene)


@edit("an instance of a collection", WAY, words=("branch",))
def _(scene: Any) -> None:
    instance_in_front(scene)


@edit("an instance by geometry nodes", WAY)
def _(scene: Any) -> None:
    scatter_in_front(scene)


@edit("an instance by geometry nodes, far off", WAY)
def _(scene: Any) -> None:
    scatter_beside(scene)


@edit("a card that the camera does not see", WAY)
def _(scene: Any) -> None:
    card(scene, up=1.0).visible_camera = False


@edit("a card that is not rendered", WAY)
def _(scene: Any) -> None:
    card(scene, up=1.0).hide_render = True


@edit("a card that only the viewport hides", WAY)
def _(scene: Any) -> None:
    card(scene, up=1.0).hide_viewport = True


@edit("a card that cuts a hole", WAY)
def _(scene: Any) -> None:
    card(scene, up=1.0).is_holdout = True


@edit("a card in a collection that is held out", WAY)
def _(scene: Any) -> None:
    layer_of(scene, collection_of(scene, card(scene, up=1.0))).holdout = True


@edit("a card in a collection that is excluded", WAY)
def _(scene: Any) -> None:
    layer_of(scene, collection_of(scene, card(scene, up=1.0))).exclude = True


@edit("a card that is indirect only", WAY)
def _(scene: Any) -> None:
    layer_of(scene, collection_of(scene, card(scene, up=1.0))).indirect_only = True


def lamp(scene: Any, kind: str) -> Any:
    obj = bpy.data.objects.new("lamp", bpy.data.lights.new("lamp", kind))
    obj.location = (0.0, 0.0, 1.1)
    scene.collection.objects.link(obj)
    return obj


@edit("a lamp")
def _(scene: Any) -> None:
    lamp(scene, "POINT")


@edit("a sun")
def _(scene: Any) -> None:
    lamp(scene, "SUN")


@edit("an area lamp that the camera sees", WAY)
def _(scene: Any) -> None:
    light = lamp(scene, "AREA")
    light.visible_camera = True
    light.data.size = 0.05


@edit("lamps in a collection that is held out")
def _(scene: Any) -> None:
    layer_of(scene, collection_of(scene, lamp(scene, "POINT"), lamp(scene, "SUN"))).holdout = True


@edit("a text", WAY)
def _(scene: Any) -> None:
    text = bpy.data.objects.new("note", bpy.data.curves.new("note", "FONT"))
    text.data.body, text.scale, text.location = "HELLO", (0.02, 0.02, 0.02), (-0.02, 0.0, 1.0)
    scene.collection.objects.link(text)


@edit("a curve with a bevel", WAY)
def _(scene: Any) -> None:
    curve = bpy.data.curves.new("rope", "CURVE")
    curve.dimensions, curve.bevel_depth = "3D", 0.004
    line = curve.splines.new("POLY")
    line.points.add(1)
    line.points[0].co, line.points[1].co = (-0.05, 0, 1.0, 1), (0.05, 0, 1.0, 1)
    scene.collection.objects.link(bpy.data.objects.new("rope", curve))


@edit("a curve without a bevel", WAY)
def _(scene: Any) -> None:
    curve = bpy.data.curves.new("path", "CURVE")
    curve.dimensions = "3D"
    line = curve.splines.new("POLY")
    line.points.add(1)
    line.points[0].co, line.points[1].co = (-0.05, 0, 1.0, 1), (0.05, 0, 1.0, 1)
    scene.collection.objects.link(bpy.data.objects.new("path", curve))


@edit("a ball of meta", WAY)
def _(scene: Any) -> None:
    ball = bpy.data.metaballs.new("ball")
    ball.resolution = ball.render_resolution = 0.01
    ball.elements.new().radius = 0.03
    obj = bpy.data.objects.new("ball", ball)
    obj.location[2] = 1.0
    scene.collection.objects.link(obj)


@edit("a smoke of a volume", WAY)
def _(scene: Any) -> None:
    import bmesh

    mesh = bpy.data.meshes.new("smoke")
    work = bmesh.new()
    bmesh.ops.create_cube(work, size=0.1)
    work.to_mesh(mesh)
    work.free()
    paint = bpy.data.materials.new("smoke")
    tree = blender_versions.node_tree(paint)
    tree.nodes.clear()
    output, smoke = tree.nodes.new("ShaderNodeOutputMaterial"), tree.nodes.new("ShaderNodeVolumeAbsorption")
    smoke.inputs["Density"].default_value = 30.0
    tree.links.new(smoke.outputs[0], output.inputs["Volume"])
    mesh.materials.append(paint)
    obj = bpy.data.objects.new("smoke", mesh)
    obj.location[2] = 1.0
    scene.collection.objects.link(obj)


@edit("a mesh without faces", WAY)
def _(scene: Any) -> None:
    mesh = bpy.data.meshes.new("edges")
    mesh.from_pydata([(0, 0, 0), (0.05, 0, 0)], [(0, 1)], [])
    obj = bpy.data.objects.new("edges", mesh)
    obj.location[2] = 1.0
    scene.collection.objects.link(obj)


@edit("particles", WAY)
def _(scene: Any) -> None:
    emitter = card(scene, up=1.0, size=0.1)
    emitter.show_instancer_for_render = False
    twig = leaf(0.0, east=50.0)
    scene.collection.objects.link(twig)
    emitter.modifiers.new("seeds", "PARTICLE_SYSTEM")
    settings = emitter.particle_systems[0].settings
    settings.count, settings.frame_start, settings.frame_end = 30, -10, 0
    settings.render_type, settings.instance_object, settings.particle_size = "OBJECT", twig, 1.0
    settings.physics_type, settings.lifetime = "NO", 500


@edit("an armature, a lattice and an empty")
def _(scene: Any) -> None:
    for name, data in (
        ("rig", bpy.data.armatures.new("rig")),
        ("cage", bpy.data.lattices.new("cage")),
        ("empty", None),
    ):
        obj = bpy.data.objects.new(name, data)
        obj.location[2] = 1.0
        scene.collection.objects.link(obj)


@edit("a speaker and a light probe")
def _(scene: Any) -> None:
    obj = bpy.data.objects.new("speaker", bpy.data.speakers.new("speaker"))
    obj.location[2] = 1.0
    scene.collection.objects.link(obj)


@edit("a thing in another scene alone")
def _(scene: Any) -> None:
    other = bpy.data.scenes.new("other")
    other.collection.objects.link(leaf(1.0))


@edit("data that nothing uses")
def _(scene: Any) -> None:
    for blocks in (bpy.data.materials, bpy.data.meshes, bpy.data.worlds, bpy.data.actions):
        blocks.new("spare").use_fake_user = True


# --- scripts
@edit("a script that would move a level", "script-not-run", planned=True, words=("mover.py",))
def _(scene: Any) -> None:
    text = bpy.data.texts.new("mover.py")
    text.from_string(
        "import bpy\ndef shift(scene, *_):\n    bpy.data.objects['hill'].location.x = 0.1\n"
        "bpy.app.handlers.frame_change_post.append(shift)\n"
    )
    text.use_module = True


@edit("a script of notes", "scripts-not-run")
def _(scene: Any) -> None:
    text = bpy.data.texts.new("notes.py")
    text.from_string("# shot on twos\nTITLE = 'notes'\n")
    text.use_module = True


@edit("a script that only adds a panel", "scripts-not-run")
def _(scene: Any) -> None:
    text = bpy.data.texts.new("panel.py")
    text.from_string(
        "import bpy\nclass P(bpy.types.Panel):\n    bl_idname='X_PT_p'\n    bl_label='p'\n    bl_space_type='VIEW_3D'\n"
        "    bl_region_type='UI'\n    def draw(self, context):\n        self.layout.label(text=bpy.data.filepath)\n"
        "bpy.utils.register_class(P)\n"
    )
    text.use_module = True


@edit("a text that is not run")
def _(scene: Any) -> None:
    bpy.data.texts.new("readme").from_string("import bpy")
