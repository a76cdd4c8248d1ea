# SPDX-License-Identifier: GPL-3.0-or-later
"""Reading back: an evaluated Blender scene as plain numbers, frame by frame, whoever made it.

Nothing is judged here. `SceneReading` knows no bpy and can be saved; the proof compares it with a plan.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np

from .. import blender_versions
from ..reading.scene_reading import CameraReading, LevelReading, SceneReading
from . import (
    camera_cuts,
    level_make_up,
    materials,
    other_things,
    read_settings,
    rna_properties,
    scene_sources,
    stack_marks,
)

LINEAR = "LINEAR"
CONSTANT = "CONSTANT"
# Texture coordinates are held in single precision.
SAME_UV = 1e-6


def read_scene(
    scene: Any,
    frames: Iterable[int],
    *,
    look_at: Collection[int] = (),
    progress: Callable[[int], None] | None = None,
) -> SceneReading:
    """Return what ``scene`` evaluates to on every one of ``frames``.

    On ``look_at``, and on the first, middle and last frame, it is also noted what stands there beside the levels.
    ``progress`` is called with the number of frames read so far, about a hundred times in all.
    """
    numbers = np.fromiter(frames, dtype=np.int64)
    glasses = stack_marks.levels(scene)
    objects = [obj for _, obj in glasses]
    reached = other_things.reached_objects(bpy.context.view_layer)
    rendered = reached | other_things.held_out_objects(bpy.context.view_layer)
    gathered = other_things.Gathered(objects, rendered)
    looks = {*look_at, *numbers[[0, len(numbers) // 2, -1]].tolist()}
    step = max(1, len(numbers) // 100)
    found = read_settings.settings_of(scene)
    others = other_things.others(scene, rendered, {obj.name for obj in objects})
    has_others = other_things.has_others(scene, rendered, {obj.name for obj in objects})
    rows = Rows.empty(len(numbers), objects)
    with _in_viewport(scene), camera_cuts.one_camera(scene) as bound, _in_its_time(scene):
        cuts = camera_cuts.runs_of(bound, numbers.tolist(), scene.camera)
        filming = CameraReading.empty(len(numbers)) if cuts else None
        for row, frame in enumerate(numbers.tolist()):
            scene.frame_set(frame)
            depsgraph = bpy.context.evaluated_depsgraph_get()
            rows.read(row, objects, depsgraph)
            read_camera(rows.camera, row, scene.camera, depsgraph)
            if filming is not None:
                read_camera(filming, row, camera_cuts.camera_on(bound, frame, scene.camera), depsgraph)
            if frame in looks or (has_others and gathered.is_light(len(numbers))):
                gathered.look(frame, depsgraph, scene.camera)
            if progress is not None and row % step == 0:
                progress(row)
    return SceneReading(
        blender=blender_versions.VERSION_TEXT,
        frames=numbers,
        corners=rows.corners,
        hidden=rows.hidden,
        camera=rows.camera,
        levels=rows.levels(glasses, lambda obj: obj.name in reached),
        settings=found,
        others=others,
        camera_facts=camera_facts(camera_cuts.shot_camera(scene), cuts, [one.frame for one in bound]),
        things=gathered.things(),
        origin=scene_sources.origin_of(scene),
        filming=filming,
    )


@dataclass(frozen=True)
class Rows:
    """What is read of the levels and the camera, a row a frame; ``own`` are the corners of meshes that never bend."""

    corners: np.ndarray
    hidden: np.ndarray
    drawings: np.ndarray
    camera: CameraReading
    own: list[np.ndarray | None]
    in_layer: list[bool]

    @classmethod
    def empty(cls, count: int, objects: list[Any], *, in_layer: bool = False) -> "Rows":
        """Return ``count`` rows with nothing in them yet; ``in_layer`` where all are evaluated, come what may."""
        shape = count, len(objects)
        bent = [bool(obj.modifiers) or obj.data.shape_keys is not None for obj in objects]
        return cls(
            corners=np.full((*shape, 4, 3), np.nan),
            hidden=np.zeros(shape, dtype=bool),
            drawings=np.zeros(shape, dtype=np.int64),
            camera=CameraReading.empty(count),
            own=[None if bends else _local_corners(obj.data) for obj, bends in zip(objects, bent, strict=True)],
            # Blender does not evaluate what lies outside of the view layer: there is nothing to be read.
            in_layer=[in_layer or obj.name in bpy.context.view_layer.objects for obj in objects],
        )

    def read(self, row: int, objects: list[Any], depsgraph: Any) -> None:
        """Read every level into one row."""
        for column, obj in enumerate(objects):
            if not self.in_layer[column]:
                continue
            seen = obj.evaluated_get(depsgraph)
            own = self.own[column]
            local = _local_corners(seen.data) if own is None else own
            matrix = np.array(seen.matrix_world)
            self.corners[row, column] = local @ matrix[:3, :3].T + matrix[:3, 3]
            self.hidden[row, column] = seen.hide_render or not seen.visible_camera or seen.is_holdout
            self.drawings[row, column] = seen.get(stack_marks.DRAWING, 0)

    def levels(self, glasses: list[tuple[str, Any]], is_rendered: Callable[[Any], bool]) -> tuple[LevelReading, ...]:
        """Return what is known of the ``glasses``, as (level, object), beside their places."""
        return tuple(
            _level_facts(name, obj, in_render=is_rendered(obj), drawings=self.drawings[:, column])
            for column, (name, obj) in enumerate(glasses)
        )


@contextmanager
def _in_viewport(scene: Any) -> Iterator[None]:
    """Show everything in the viewport meanwhile as it is rendered: what is hidden there is not evaluated, though it is
    rendered, and a modifier can be on in one and off in the other.
    """
    layer = bpy.context.view_layer
    blocks = (*scene.objects, *scene.collection.children_recursive, *other_things.layers_of(layer.layer_collection))
    hidden = [block for block in blocks if block.hide_viewport]
    for block in hidden:
        block.hide_viewport = False
    # Only now: what a collection hides has no eye of its own to ask.
    closed = [obj for obj in layer.objects if obj.hide_get()]
    for obj in closed:
        obj.hide_set(False)
    modifiers = [one for obj in layer.objects for one in obj.modifiers if one.show_viewport != one.show_render]
    for one in modifiers:
        one.show_viewport = one.show_render
    try:
        yield
    finally:
        for one in modifiers:
            one.show_viewport = not one.show_render
        for obj in closed:
            obj.hide_set(True)
        for block in hidden:
            block.hide_viewport = True


@contextmanager
def _in_its_time(scene: Any) -> Iterator[None]:
    """Let every frame be itself meanwhile, though time is stretched: that is one fault, and no fault of every part."""
    render = scene.render
    stretched = render.frame_map_old, render.frame_map_new
    if stretched[0] == stretched[1]:
        yield
        return
    render.frame_map_old = render.frame_map_new = 100
    try:
        yield
    finally:
        render.frame_map_old, render.frame_map_new = stretched


def _local_corners(mesh: Any) -> np.ndarray:
    """Return where the corners of the texture lie in the mesh's own space, (4, 3), in the order of CORNERS_UV.

    The position is fitted as a linear function of the texture coordinate, so a subdivided or moved plane still
    answers; without texture coordinates there is nothing to go by: NaN.
    """
    layer = next((layer for layer in mesh.uv_layers if layer.active_render), None)
    count = len(mesh.loops)
    if layer is None or count < 3:
        return np.full((4, 3), np.nan)
    uv = np.empty(count * 2)
    layer.data.foreach_get("uv", uv)
    vertex = np.empty(count, dtype=np.int32)
    mesh.loops.foreach_get("vertex_index", vertex)
    places = np.empty(len(mesh.vertices) * 3)
    mesh.vertices.foreach_get("co", places)
    corner_at = np.array([(0, 0), (1, 0), (1, 1), (0, 1)])
    apart = np.abs(uv.reshape(-1, 1, 2) - corner_at).max(axis=2)
    if count == len(corner_at) and (apart.min(axis=0) < SAME_UV).all():
        # The plane as it was built, whose corners are there to be read: one of them may be pulled.
        return places.reshape(-1, 3)[vertex[apart.argmin(axis=0)]]
    basis = np.column_stack([np.ones(count), uv.reshape(-1, 2)])
    linear, *_ = np.linalg.lstsq(basis, places.reshape(-1, 3)[vertex], rcond=None)
    return np.array([(1, 0, 0), (1, 1, 0), (1, 1, 1), (1, 0, 1)]) @ linear


def read_camera(reading: CameraReading, row: int, camera: Any, depsgraph: Any) -> None:
    """Read ``camera`` as it is evaluated into one row; nothing where it is no camera."""
    if camera is None or camera.type != "CAMERA":
        return
    seen = camera.evaluated_get(depsgraph)
    data = seen.data
    reading.matrix[row] = seen.matrix_world
    reading.lens_mm[row] = data.lens
    reading.sensor_mm[row] = data.sensor_width, data.sensor_height
    reading.shift[row] = data.shift_x, data.shift_y
    reading.ortho_scale[row] = data.ortho_scale
    reading.parallel[row] = data.type == "ORTHO"
    reading.upright[row] = {"HORIZONTAL": 0.0, "VERTICAL": 1.0}.get(data.sensor_fit, np.nan)
    reading.clip[row] = data.clip_start, data.clip_end
    reading.f_stop[row] = data.dof.aperture_fstop
    reading.focus[row] = _focus_distance(data.dof, seen)


def _focus_distance(dof: Any, camera: Any) -> float:
    """Return how far before the lens the camera is focused: on an object, where one is named, along the axis."""
    if dof.focus_object is None:
        return float(dof.focus_distance)
    axes = np.array(camera.matrix_world)
    away = np.array(dof.focus_object.matrix_world.translation) - axes[:3, 3]
    return float(-away @ axes[:3, 2] / np.linalg.norm(axes[:3, 2]))


def _level_facts(name: str, obj: Any, *, in_render: bool, drawings: np.ndarray) -> LevelReading:
    return LevelReading(
        level=name,
        object_name=obj.name,
        in_render=in_render,
        pulls=_pulls(obj),
        curves=_loose_curves(obj),
        drawings=tuple(drawings.tolist()) if stack_marks.DRAWING in obj else None,
        missing_art=_missing_art(obj),
        paint=materials.signature(materials.paints(obj)),
    )


def _missing_art(obj: Any) -> tuple[str, ...]:
    """Return what a level lacks to be seen, in words: the files that are not there, or any picture at all."""
    shown = materials.images(obj)
    if not shown:
        return ("there is no picture in its material",)
    return tuple(
        f"{materials.file_of(image).name or image.name} is missing"
        for image in shown
        if not image.has_data and _is_missing(image)
    )


def _is_missing(image: Any) -> bool:
    return image.packed_file is None and not materials.file_of(image).is_file()


def _pulls(obj: Any) -> tuple[str, ...]:
    """Return what else than its own keys can move an object, in words: parents, constraints, drivers, modifiers."""
    found = [f"parent {obj.parent.name}"] if obj.parent is not None else []
    keyed = {curve.data_path for curve in blender_versions.fcurves_of(obj)}
    at_work = [c for c in obj.constraints if c.influence > 0 or c.path_from_id("influence") in keyed]
    found += [f"constraint {c.name}" for c in at_work if not c.mute]
    found += [f"modifier {m.name}" for m in getattr(obj, "modifiers", ()) if m.show_render]
    if obj.type == "MESH":
        found += [f"mesh {words}" for words in (level_make_up.odd_mesh(obj),) if words]
        # Of an odd mesh the map is odd as well.
        found += [
            f"UV map {words}" for words in (level_make_up.odd_map(obj),) if words and not level_make_up.odd_mesh(obj)
        ]
    for owner in (obj, obj.data):
        anim = owner.animation_data
        if anim is None:
            continue
        found += [f"driver on {curve.data_path}" for curve in anim.drivers if not curve.mute]
        found += [f"NLA track {track.name}" for track in anim.nla_tracks if not track.mute and track.strips]
    return tuple(found)


def _loose_curves(obj: Any) -> tuple[str, ...]:
    """Return the axes whose f-curves are not straight between keys, or are muted, or carry modifiers: `Location Z
    Bezier`.
    """
    found = []
    for owner in (obj, obj.data):
        for curve in blender_versions.fcurves_of(owner):
            kinds = {point.interpolation for point in curve.keyframe_points} - {LINEAR, CONSTANT}
            label = _curve_words(owner, curve)
            found += [f"{label} {kind.capitalize()}" for kind in sorted(kinds)]
            found += [f"{label} muted"] if curve.mute else []
            found += [f"{label} with modifier {m.type.capitalize()}" for m in curve.modifiers if not m.mute]
    return tuple(found)


def _curve_words(owner: Any, curve: Any) -> str:
    """Return what the interface calls the property of a curve: `Location Z`."""
    try:
        parent, key = rna_properties.owner_of(owner, curve.data_path)
        prop = parent.bl_rna.properties[key]
    except (AttributeError, KeyError, ValueError, IndexError, TypeError):
        return f"{curve.data_path}[{curve.array_index}]"
    axes = "XYZW" if prop.array_length in (3, 4) else ""
    return f"{prop.name} {axes[curve.array_index]}" if axes else str(prop.name)


def camera_facts(camera: Any, cuts: list[list[Any]], markers: Sequence[int] = ()) -> dict[str, Any]:
    """Return what is known of ``camera`` beside what is read of it on every frame."""
    if camera is None or camera.type != "CAMERA":
        return {"name": ""}
    return {
        "name": camera.name,
        "ours": stack_marks.CAMERA in camera,
        "other_data": "" if stack_marks.CAMERA in camera.data else camera.data.name,
        "type": camera.data.type,
        "depth_of_field": camera.data.dof.use_dof,
        "pulls": list(_pulls(camera)),
        "curves": list(_loose_curves(camera)),
        "cuts": cuts,
        # Frames of the markers that cut.
        "markers": [*markers],
    }
