# SPDX-License-Identifier: GPL-3.0-or-later
"""Building: the stack of levels and the camera, in metres at real spacings, in a Blender scene."""

from typing import Any

import bpy
import numpy as np

from .. import blender_versions
from ..plan.plan_arrays import Plan
from ..shot.model import Level, Projection
from . import bake_keys, delivered_passes, materials, stack_marks, view_transform

# A ray passes through every level in turn; Cycles stops at 8 by default, which would cut a tall stack short.
SPARE_BOUNCES = 8


def build(plan: Plan, scene: Any, *, fingerprint: str = "", engine: str = "cycles", proof_passes: bool = False) -> None:
    """Build the stack of ``plan`` in ``scene``, in the place of any stack that an earlier build left there.

    With ``proof_passes`` frames rendered of it, with ``engine`` (cycles or eevee), can be proved by themselves.
    Everything else in the scene stays as it is, except what the shot itself decides: frame range, rate and step, size
    of the frame and all of it, active camera, Cycles on the CPU with no view transform, and what frames say in their
    metadata. See `others_say`.
    """
    stack_marks.remove_stack(scene)
    collection = bpy.data.collections.new(plan.shot.title or "Underglass")
    collection[stack_marks.SHOT] = fingerprint or plan.shot.title
    scene.collection.children.link(collection)
    for column in range(len(plan.shot.levels)):
        collection.objects.link(level_object(plan, column))
    camera = _camera(plan)
    collection.objects.link(camera)
    scene.camera = camera
    _set_up_scene(scene, plan)
    delivered_passes.stamp(scene, plan.shot, fingerprint=fingerprint)
    delivered_passes.render_with(scene, engine)
    delivered_passes.remove_passes(scene)
    if proof_passes:
        delivered_passes.add_passes(scene, plan)


def planned_paints(plan: Plan) -> dict[str, tuple[str, ...]]:
    """Return the signature of every level's material as it would be built now; nothing of it stays in the file."""
    paints = {}
    for column, level in enumerate(plan.shot.levels):
        paint = materials.paint(level, plan.shot, plan.drawings[column])
        paints[level.name] = materials.signature([paint])
        bpy.data.batch_remove([paint, *materials.images_of(paint)])
    return paints


def level_object(plan: Plan, column: int) -> Any:
    """Return a new object of the level in ``column``, keyed and painted; it is in no collection yet."""
    level = plan.shot.levels[column]
    mesh = bpy.data.meshes.new(level.name)
    mesh.from_pydata([(0.0, 0.0, 0.0)] * 4, [], [(0, 1, 2, 3)])
    shape(mesh, level)
    mesh.uv_layers.new(name="art").data.foreach_set("uv", [0, 0, 1, 0, 1, 1, 0, 1])
    mesh.materials.append(materials.paint(level, plan.shot, plan.drawings[column]))
    mesh[stack_marks.LEVEL] = level.name
    glass = bpy.data.objects.new(level.name, mesh)
    glass[stack_marks.LEVEL] = level.name
    bake_keys.bake_level(glass, plan, column)
    return glass


def shape(mesh: Any, level: Level) -> None:
    """Make the four corners of a level's mesh as far apart as its art is large."""
    half_width, half_height = level.art_width / 2, level.art_height / 2
    corners = [(-1, -1), (1, -1), (1, 1), (-1, 1)]
    mesh.vertices.foreach_set("co", [c for x, y in corners for c in (x * half_width, y * half_height, 0.0)])
    mesh.update()


def _camera(plan: Plan) -> Any:
    shot = plan.shot
    data = bpy.data.cameras.new("stand camera")
    data[stack_marks.CAMERA] = 1
    data.sensor_fit = "HORIZONTAL"
    if shot.camera.projection is Projection.ORTHOGRAPHIC or shot.camera.gate is None:
        data.type = "ORTHO"
        data.ortho_scale = shot.camera.field_width
    else:
        data.type = "PERSP"
        data.sensor_width = shot.camera.gate.width * shot.camera.squeeze * 1000.0
        data.sensor_height = shot.camera.gate.height * 1000.0
        data.dof.use_dof = shot.camera.f_stop > 0
    data.clip_start = max(float(plan.distance.min()) * 0.5, 1e-4)
    data.clip_end = float(plan.distance.max()) * 2.0
    camera = bpy.data.objects.new("stand camera", data)
    camera[stack_marks.CAMERA] = 1
    bake_keys.bake_camera(camera, plan)
    return camera


def light_through(scene: Any, count: int) -> None:
    """Let every ray pass ``count`` levels whole.

    Below its least number of clear surfaces Cycles ends none at random, which would pepper soft edges with black.
    """
    cycles = scene.cycles
    cycles.transparent_max_bounces = max(cycles.transparent_max_bounces, count + SPARE_BOUNCES)
    cycles.min_transparent_bounces = max(cycles.min_transparent_bounces, count + SPARE_BOUNCES)


def others_say(scene: Any) -> list[str]:
    """Return what changes the picture of ``scene`` and was left as it is, each in words: other people's, or colours."""
    cuts = sorted(m.frame for m in scene.timeline_markers if m.camera not in (None, *stack_marks.cameras(scene)))
    found = []
    if cuts:
        found.append(f"a marker on frame {cuts[0]} cuts to another camera")
    if scene.render.use_compositing and blender_versions.has_compositor(scene):
        found.append("a compositor stands between the stack and the frame")
    if scene.render.use_sequencer and blender_versions.has_strips(scene):
        found.append("the sequencer's strips are rendered instead of the stack")
    return found + view_transform.view_says(scene)


def _set_up_scene(scene: Any, plan: Plan) -> None:
    shot = plan.shot
    scene.frame_start, scene.frame_end = shot.frames
    scene.frame_step = 1
    # As many new frames as old ones: time is not stretched.
    scene.render.frame_map_old = scene.render.frame_map_new = 100
    scene.render.use_border = False
    scene.frame_set(shot.frames[0])
    # Blender's rate is a whole number over a base: 23.976 becomes 24 over 1.001.
    whole = max(1, int(np.ceil(shot.fps)))
    scene.render.fps, scene.render.fps_base = whole, whole / shot.fps
    scene.render.resolution_x, scene.render.resolution_y = shot.camera.frame_px
    scene.render.resolution_percentage = 100
    scene.render.pixel_aspect_x, scene.render.pixel_aspect_y = (
        max(shot.camera.squeeze, 1.0),
        max(1.0 / shot.camera.squeeze, 1.0),
    )
    scene.render.film_transparent = True
    scene.render.engine = "CYCLES"
    scene.cycles.samples = 64
    scene.cycles.use_denoising = False
    light_through(scene, len(shot.levels))
    view_transform.view_plainly(scene)
