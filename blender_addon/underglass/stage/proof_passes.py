# SPDX-License-Identifier: GPL-3.0-or-later
"""Passes for a proof: every level's texture coordinates as the camera sees them, hidden levels too, in one render.

Each marked object is given, in memory only, a clear material that writes its UV to a pass of its own. With the pass
alpha threshold at 1 a clear surface does not end the writing, so a ray that meets eight levels writes eight passes.
One sample under the smallest box filter puts that sample at the pixel's centre.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import bpy

from .. import blender_versions
from ..proof.measure.passes import DATUM
from . import build_stack, camera_cuts, datum, other_things, stack_marks

SMALLEST_FILTER = 0.01
PASS_NAME = "level{}"


@dataclass(frozen=True)
class Batch:
    """Some of the levels, proved in one render: a pass is a whole frame of floats, so memory sets a limit."""

    view_layer: Any
    names: tuple[str, ...]

    def select(self) -> None:
        """Make the passes of these levels, and no others, the ones that the next render writes."""
        aovs, wanted = self.view_layer.aovs, [*self.names, DATUM]
        if [aov.name for aov in aovs] == wanted:
            # Another list, though it were the same, would have Cycles begin anew.
            return
        while len(aovs):
            aovs.remove(aovs[0])
        for name in wanted:
            aov = aovs.add()
            aov.name = name
            aov.type = "COLOR"


def quiet(scene: Any, *, threads: int) -> None:
    """Take out of the render whatever is not the picture: compositor, sequencer, stamps, border, lines, layers."""
    render = scene.render
    render.use_compositing = render.use_sequencer = render.use_stamp = render.use_border = False
    render.use_motion_blur = render.use_multiview = False
    # Freestyle's style modules are Python of the file's own, and Blender runs them whether it trusts the file or not.
    render.use_freestyle = False
    render.resolution_x = int(render.resolution_x * render.resolution_percentage / 100)
    render.resolution_y = int(render.resolution_y * render.resolution_percentage / 100)
    render.resolution_percentage = 100
    render.engine = "CYCLES"
    render.film_transparent = True
    render.use_persistent_data = False
    render.threads_mode = "FIXED" if threads else "AUTO"
    if threads:
        render.threads = threads
    cycles = scene.cycles
    cycles.device = "CPU"
    cycles.use_denoising = cycles.use_adaptive_sampling = False
    cycles.max_bounces = 0
    # the datum too
    build_stack.light_through(scene, len(stack_marks.levels(scene)) + 1)
    cycles.use_camera_cull = cycles.use_distance_cull = False
    # Each of these is one fault, which is told: it would else be told of every level.
    render.frame_map_old = render.frame_map_new = 100
    scene.background_set = None
    camera_cuts.unbind(scene)
    for layer in scene.view_layers:
        layer.use = layer == bpy.context.view_layer
    layer = bpy.context.view_layer
    layer.material_override = None
    layer.use_solid = True
    for child in other_things.layers_of(layer.layer_collection):
        child.holdout = False
    for _, glass in stack_marks.levels(scene):
        glass.is_holdout = glass.is_shadow_catcher = False


@dataclass(frozen=True)
class Passes:
    """A scene that is set up for proof passes: its levels by the names of their passes, and the datum."""

    glasses: dict[str, Any]
    datum: Any
    view_layer: Any

    def batches(self, most: int) -> list[Batch]:
        """Return the levels in renders of ``most`` at the most; ``level0`` is the first object of marks.levels.

        A scene without levels has a render of the datum alone.
        """
        names = tuple(self.glasses)
        return [Batch(self.view_layer, names[start : start + most]) for start in range(0, max(1, len(names)), most)]


@contextmanager
def passes(scene: Any) -> Iterator[Passes]:
    """Set ``scene`` up for proof passes; on leaving, the levels look as before and the datum is gone."""
    layer = bpy.context.view_layer
    # those that markers cut to as well
    lenses = [obj.data for obj in scene.objects if obj.type == "CAMERA"]
    glasses = [obj for _, obj in stack_marks.levels(scene)]
    kept = [(slot, slot.link, slot.material) for obj in glasses for slot in obj.material_slots]
    kept_size = scene.render.resolution_x, scene.render.resolution_y
    kept_focus, kept_worlds = [lens.dof.use_dof for lens in lenses], (scene.world, layer.world_override)
    by_name = {PASS_NAME.format(index): glass for index, glass in enumerate(glasses)}
    _prepare_passes(scene, layer)
    for lens in lenses:
        lens.dof.use_dof = False
    others = _hide_others(scene, glasses)
    # A world may be filled with fog, in which rays end.
    scene.world = layer.world_override = None
    with datum.added(scene) as triangle:
        worn = [_wear(obj, name) for name, obj in [*by_name.items(), (DATUM, triangle)]]
        try:
            yield Passes(by_name, triangle, layer)
        finally:
            for slot, link, material in kept:
                slot.link = link
                if link == "OBJECT":
                    slot.material = material
            for obj, hidden, visible in others:
                obj.hide_render, obj.visible_camera = hidden, visible
            scene.world, layer.world_override = kept_worlds
            for lens, is_soft in zip(lenses, kept_focus, strict=True):
                lens.dof.use_dof = is_soft
            scene.render.resolution_x, scene.render.resolution_y = kept_size
            for material in worn:
                bpy.data.materials.remove(material)


def prepare_picture(scene: Any, *, samples: int, depth_of_field: bool) -> None:
    """Set ``scene`` up for the picture itself, ``samples`` a pixel; without depth of field it needs few.

    A single sample stays at the pixel's centre: spread, it would shift the picture by a good part of a pixel.
    """
    cycles = scene.cycles
    cycles.samples = samples
    single = samples == 1
    blender_versions.jitter_pixels(scene, on=not single)
    cycles.pixel_filter_type = "BOX" if single else "BLACKMAN_HARRIS"
    cycles.filter_width = SMALLEST_FILTER if single else 1.5
    for obj in scene.objects:
        if obj.type == "CAMERA":
            obj.data.dof.use_dof = depth_of_field
    blender_versions.use_exr(scene.render.image_settings)


def _prepare_passes(scene: Any, layer: Any) -> None:
    cycles = scene.cycles
    cycles.samples = 1
    blender_versions.jitter_pixels(scene, on=False)
    cycles.pixel_filter_type = "BOX"
    cycles.filter_width = SMALLEST_FILTER
    layer.pass_alpha_threshold = 1.0
    for name in ("use_pass_z", "use_pass_uv", "use_pass_vector", "use_pass_normal"):
        setattr(layer, name, False)
    # A file that is read at once and then removed is not worth packing.
    blender_versions.use_multilayer_exr(scene.render.image_settings, codec="NONE")


def _hide_others(scene: Any, glasses: list[Any]) -> list[tuple[Any, bool, bool]]:
    """Hide from render what is not a level: it would only stand in the way of the rays. Return it as it was.

    The camera too is kept from seeing it, for a key can bring back what is hidden.
    """
    others = [obj for obj in scene.objects if obj not in glasses and obj.type != "CAMERA"]
    kept = [(obj, obj.hide_render, obj.visible_camera) for obj in others]
    for obj in others:
        obj.hide_render, obj.visible_camera = True, False
    return kept


def _wear(obj: Any, pass_name: str) -> Any:
    """Put on ``obj`` a clear material that writes (u, v, 1) to the pass ``pass_name``; 1 tells where it was hit.

    Returns the material.
    """
    material = bpy.data.materials.new(f"proof {pass_name}")
    tree = blender_versions.node_tree(material)
    tree.nodes.clear()
    clear = tree.nodes.new("ShaderNodeBsdfTransparent")
    output = tree.nodes.new("ShaderNodeOutputMaterial")
    tree.links.new(clear.outputs[0], output.inputs["Surface"])
    uv = tree.nodes.new("ShaderNodeUVMap")
    mark = tree.nodes.new("ShaderNodeVectorMath")
    mark.operation = "MULTIPLY_ADD"
    mark.inputs[1].default_value = (1.0, 1.0, 0.0)
    mark.inputs[2].default_value = (0.0, 0.0, 1.0)
    tree.links.new(uv.outputs[0], mark.inputs[0])
    aov = tree.nodes.new("ShaderNodeOutputAOV")
    aov.aov_name = pass_name
    tree.links.new(mark.outputs[0], aov.inputs["Color"])
    if not obj.material_slots:
        obj.data.materials.append(None)
    for slot in obj.material_slots:
        # On the object: levels may share a mesh, and each needs a pass of its own.
        slot.link = "OBJECT"
        slot.material = material
    return material
