# SPDX-License-Identifier: GPL-3.0-or-later
"""What a built scene puts into the frames that are rendered of it elsewhere: a note in each file, and proof passes.

A proof pass is written by the level's own material beside what it shows, so that it comes with the picture, at the
picture's own settings, and only where the level is to be seen. Cycles writes it at every surface down to the first that
lets nothing through; EEVEE at the one that is seen, so that levels share the passes of their coordinates there.
"""

import math
from typing import Any

import bpy

from .. import blender_versions
from ..image.art_digest import art_digests
from ..image.frame_note import FrameNote, note_text
from ..optics.pass_fringes import SHARED, fringe_counts, most_levels, parse_pass, pass_name
from ..plan.plan_arrays import Plan
from ..shot.errors import UnderglassError
from ..shot.model import Shot
from . import stack_marks


def stamp(scene: Any, shot: Shot, *, fingerprint: str) -> None:
    """Let every frame of ``scene`` say in its metadata which shot, art, scene, camera and frame it is of."""
    render = scene.render
    for what in ("frame", "scene", "camera", "note"):
        setattr(render, f"use_stamp_{what}", True)
    camera = "" if scene.camera is None else scene.camera.name
    note = FrameNote.of(shot=fingerprint, title=shot.title, scene=scene.name, camera=camera, art=art_digests(shot))
    render.stamp_note_text = note_text(note)


def render_with(scene: Any, engine: str) -> None:
    """Let ``scene`` be rendered with ``engine``: cycles or eevee."""
    scene.render.engine = "CYCLES" if engine == "cycles" else blender_versions.EEVEE


def add_passes(scene: Any, plan: Plan) -> None:
    """Let the material of every level write its proof pass, and the scene be rendered to EXR files that hold them.

    What an earlier build left of passes goes. With EEVEE there are fringes too, and UnderglassError where the passes
    are more than it can write.
    """
    remove_passes(scene)
    fringes = scene.render.engine != "CYCLES"
    layers = [layer for layer in scene.view_layers if layer.use]
    if fringes:
        _require_room(layers, len(plan.names))
    # Those of colour first: EEVEE in 5.2 can lose passes of one value otherwise.
    passes = dict.fromkeys(SHARED, "COLOR") if fringes else {}
    for name, glass in stack_marks.levels(scene):
        column = plan.names.index(name)
        counts = None
        if fringes:
            level = plan.shot.levels[column]
            shape = level.art_height / level.art_width * max(plan.shot.camera.squeeze, 1.0)
            counts = fringe_counts(float(plan.size_px[:, column].min()), shape=shape)
        passes[pass_name(column, counts=counts)] = "VALUE" if fringes else "COLOR"
        for slot in glass.material_slots:
            _write_passes(blender_versions.node_tree(slot.material), column, counts)
    for layer in layers:
        # At less than 1 a surface that is only partly clear would end the writing.
        layer.pass_alpha_threshold = 1.0
        for pass_, kind in passes.items():
            aov = layer.aovs.add()
            aov.name, aov.type = pass_, kind
    blender_versions.use_multilayer_exr(scene.render.image_settings, codec="ZIP")


def remove_passes(scene: Any) -> None:
    """Take the proof passes of an earlier build out of the view layers; their materials went with the levels."""
    for layer in scene.view_layers:
        for aov in [aov for aov in layer.aovs if aov.name in SHARED or parse_pass(aov.name) is not None]:
            layer.aovs.remove(aov)


def _require_room(layers: list[Any], levels: int) -> None:
    """Raise UnderglassError where EEVEE cannot write the passes of so many levels beside those that are there."""
    others = max((len(layer.aovs) for layer in layers), default=0)
    most = most_levels(others)
    if levels > most:
        beside = f" beside {others} pass{'es' if others > 1 else ''} of other materials" if others else ""
        raise UnderglassError(
            f"EEVEE can write proof passes of {most} levels{beside}, and the shot has {levels}; "
            "--engine cycles carries any number"
        )


def _write_passes(tree: Any, column: int, counts: tuple[int, int] | None) -> None:
    """Add the nodes that write (u, v, 1), or where ``counts`` are given 1, (u, cos, sin) and (v, cos, sin)."""
    uv = tree.nodes.new("ShaderNodeUVMap").outputs[0]
    if counts is None:
        _out(tree, pass_name(column), "Color", _vector(tree, "MULTIPLY_ADD", uv, (1.0, 1.0, 0.0), (0.0, 0.0, 1.0)))
        return
    phase = _vector(tree, "MULTIPLY", uv, (math.tau * counts[0], math.tau * counts[1], 0.0))
    parts = [_parts(tree, value) for value in (uv, _vector(tree, "COSINE", phase), _vector(tree, "SINE", phase))]
    for axis, name in enumerate(SHARED):
        three = tree.nodes.new("ShaderNodeCombineXYZ")
        for socket, part in zip(three.inputs, parts, strict=True):
            tree.links.new(part[axis], socket)
        _out(tree, name, "Color", three.outputs[0])
    _out(tree, pass_name(column, counts=counts), "Value", None)


def _vector(tree: Any, operation: str, value: Any, *more: tuple[float, ...]) -> Any:
    node = tree.nodes.new("ShaderNodeVectorMath")
    node.operation = operation
    tree.links.new(value, node.inputs[0])
    for socket, number in zip(node.inputs[1:], more, strict=False):
        socket.default_value = number
    return node.outputs[0]


def _parts(tree: Any, value: Any) -> Any:
    node = tree.nodes.new("ShaderNodeSeparateXYZ")
    tree.links.new(value, node.inputs[0])
    return node.outputs


def _out(tree: Any, name: str, socket: str, value: bpy.types.NodeSocket | None) -> None:
    """Add the node that writes ``value`` to the pass ``name``, or 1 where there is none."""
    node = tree.nodes.new("ShaderNodeOutputAOV")
    node.aov_name = name
    if value is None:
        node.inputs[socket].default_value = 1.0
    else:
        tree.links.new(value, node.inputs[socket])
