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

from .. import compat
from . import build, marks

SMALLEST_FILTER = 0.01
# Every pixel of a smaller frame is rendered: a level in a corner of it may have too few to be measured by.
LEAST_SIDE_FOR_GRID = 200
PASS_NAME = "level{}"


@dataclass(frozen=True)
class Batch:
    """Some of the levels, proved in one render: a pass is a whole frame of floats, so memory sets a limit."""

    view_layer: Any
    names: tuple[str, ...]

    def select(self) -> None:
        """Make the passes of these levels, and no others, the ones that the next render writes."""
        aovs = self.view_layer.aovs
        while len(aovs):
            aovs.remove(aovs[0])
        for name in self.names:
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
    build.light_through(scene, len(marks.levels(scene)))
    for layer in scene.view_layers:
        layer.use = layer == bpy.context.view_layer


@contextmanager
def passes(scene: Any, *, step: int, batch: int) -> Iterator[list[Batch]]:
    """Set ``scene`` up for proof passes on every ``step``-th pixel; on leaving, the levels look as before.

    Yields the batches, each with the pass names it writes: ``level0`` is the first object of marks.levels. ``step``
    has to divide the frame, see `fitting_step`.
    """
    layer = bpy.context.view_layer
    camera = scene.camera.data
    glasses = [obj for _, obj in marks.levels(scene)]
    kept = [(slot, slot.link, slot.material) for obj in glasses for slot in obj.material_slots]
    kept_size = scene.render.resolution_x, scene.render.resolution_y
    kept_focus, kept_worlds = camera.dof.use_dof, (scene.world, layer.world_override)
    names = [PASS_NAME.format(index) for index in range(len(glasses))]
    _prepare_passes(scene, layer, step)
    others = _hide_others(scene, glasses)
    # A world may be filled with fog, in which rays end.
    scene.world = layer.world_override = None
    for obj, name in zip(glasses, names, strict=True):
        _wear(obj, name)
    try:
        yield [Batch(layer, tuple(names[start : start + batch])) for start in range(0, len(names), batch)]
    finally:
        for slot, link, material in kept:
            slot.link = link
            if link == "OBJECT":
                slot.material = material
        for obj in others:
            obj.hide_render = False
        scene.world, layer.world_override = kept_worlds
        camera.dof.use_dof = kept_focus
        scene.render.resolution_x, scene.render.resolution_y = kept_size


def fitting_step(scene: Any, wanted: int) -> int:
    """Return ``wanted`` where it divides the frame's width and height, else 1: a grid must not change the field.

    A small frame has no pixels to spare.
    """
    render = scene.render
    small = min(render.resolution_x, render.resolution_y) < LEAST_SIDE_FOR_GRID
    return 1 if small or render.resolution_x % wanted or render.resolution_y % wanted else wanted


def prepare_picture(scene: Any, *, samples: int, depth_of_field: bool) -> None:
    """Set ``scene`` up for the picture itself, ``samples`` a pixel; without depth of field it needs few.

    A single sample stays at the pixel's centre: spread, it would shift the picture by a good part of a pixel.
    """
    cycles = scene.cycles
    cycles.samples = samples
    single = samples == 1
    compat.jitter_pixels(scene, on=not single)
    cycles.pixel_filter_type = "BOX" if single else "BLACKMAN_HARRIS"
    cycles.filter_width = SMALLEST_FILTER if single else 1.5
    scene.camera.data.dof.use_dof = depth_of_field
    compat.use_exr(scene.render.image_settings)


def _prepare_passes(scene: Any, layer: Any, step: int) -> None:
    cycles = scene.cycles
    cycles.samples = 1
    compat.jitter_pixels(scene, on=False)
    cycles.pixel_filter_type = "BOX"
    cycles.filter_width = SMALLEST_FILTER
    scene.camera.data.dof.use_dof = False
    layer.pass_alpha_threshold = 1.0
    for name in ("use_pass_z", "use_pass_uv", "use_pass_vector", "use_pass_normal"):
        setattr(layer, name, False)
    scene.render.resolution_x //= step
    scene.render.resolution_y //= step
    compat.use_multilayer_exr(scene.render.image_settings)


def _hide_others(scene: Any, glasses: list[Any]) -> list[Any]:
    """Hide from render what is not a level: it would only stand in the way of the rays."""
    hidden = [obj for obj in scene.objects if obj not in glasses and not obj.hide_render and obj.type != "CAMERA"]
    for obj in hidden:
        obj.hide_render = True
    return hidden


def _wear(obj: Any, pass_name: str) -> None:
    """Put on ``obj`` a clear material that writes (u, v, 1) to the pass ``pass_name``; 1 tells where it was hit."""
    material = bpy.data.materials.new(f"proof {pass_name}")
    tree = compat.node_tree(material)
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
