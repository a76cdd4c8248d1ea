# SPDX-License-Identifier: GPL-3.0-or-later
"""Things: what else than the levels a render shows, and where, instances of collections, particles and nodes included.

Whether a thing is in the way is the proof's question.
"""

from collections.abc import Iterator
from typing import Any

import numpy as np

from ..reading.scene_reading import Things

# Kinds of objects that leave something in a picture. Cycles shows no lamp to the camera.
SOLID = {"MESH", "CURVE", "SURFACE", "META", "FONT", "VOLUME", "GREASEPENCIL", "CURVES", "POINTCLOUD"}
# A scene of more than these would fill the memory; what comes after them is not looked at.
MOST_HULLS = 200_000
# A thing of more triangles than these is taken for its box.
MOST_TRIANGLES = 50_000


class Gathered:
    """Gathers the things of a scene frame by frame; ``reached`` names what a render gets to."""

    def __init__(self, levels: list[Any], reached: set[str]) -> None:
        self._levels = set(levels)
        self._reached = reached
        self._names: dict[str, int] = {}
        self._hulls: list[tuple[int, int, np.ndarray]] = []
        self._looked = 0

    def is_light(self, frames: int) -> bool:
        """Return whether as much again can be looked at on each of so many frames."""
        return not self._looked or len(self._hulls) / self._looked * frames < MOST_HULLS / 4

    def look(self, frame: int, depsgraph: Any, camera: Any) -> None:
        """Add what is there on ``frame``, to which ``depsgraph`` has been evaluated."""
        self._looked += 1
        lens = np.array(camera.evaluated_get(depsgraph).matrix_world.translation) if camera is not None else None
        for instance in depsgraph.object_instances:
            name = self._name(instance)
            if not name:
                continue
            for hull in _hulls(instance.object, np.array(instance.matrix_world), lens):
                if len(self._hulls) < MOST_HULLS:
                    self._hulls.append((frame, self._names.setdefault(name, len(self._names)), hull))

    def things(self) -> Things:
        """Return what was gathered."""
        if not self._hulls:
            return Things.none()
        frames, which, hulls = zip(*self._hulls, strict=True)
        return Things(tuple(self._names), np.array(frames), np.array(which), np.stack(hulls))

    def _name(self, instance: Any) -> str:
        """Return what the thing goes by, an instance by what brings it; nothing for a level or what is not rendered."""
        obj = instance.object
        seen = obj.type in SOLID and not obj.hide_render and obj.visible_camera
        if not seen or (not instance.is_instance and obj.original in self._levels):
            return ""
        shown = instance.parent if instance.is_instance else obj
        unseen_itself = not instance.is_instance and obj.is_instancer and not obj.show_instancer_for_render
        if shown.hide_render or shown.name not in self._reached or unseen_itself:
            return ""
        return str(shown.name)


def _hulls(obj: Any, matrix: np.ndarray, lens: np.ndarray | None) -> Iterator[np.ndarray]:
    """Yield hulls, (8, 3) in the world, that the object lies in: its box, or each triangle where the lens is in that.

    What is built around a stand, such as a room, would else stand before everything.
    """
    if obj.type == "MESH" and not len(obj.data.polygons):
        # What bears only instances has an empty mesh; loose edges leave nothing in a picture.
        return
    box = np.array([tuple(corner) for corner in obj.bound_box])
    world = box @ matrix[:3, :3].T + matrix[:3, 3]
    inside = lens is not None and (world.min(axis=0) < lens).all() and (lens < world.max(axis=0)).all()
    if not inside or obj.type != "MESH" or _is_filled(obj):
        yield world
        return
    mesh = obj.data
    mesh.calc_loop_triangles()
    count = len(mesh.loop_triangles)
    if not 0 < count <= MOST_TRIANGLES:
        yield world
        return
    corner = np.empty(count * 3, dtype=np.int32)
    mesh.loop_triangles.foreach_get("vertices", corner)
    places = np.empty(len(mesh.vertices) * 3)
    mesh.vertices.foreach_get("co", places)
    triangles = places.reshape(-1, 3)[corner.reshape(-1, 3)] @ matrix[:3, :3].T + matrix[:3, 3]
    # As many corners as a box has, some of them said again.
    yield from triangles[:, [0, 1, 2, 0, 0, 0, 0, 0]]


def _is_filled(obj: Any) -> bool:
    """Return whether a material fills an object with a volume: that dims what lies behind it, wherever its faces."""
    paints = [slot.material for slot in obj.material_slots if slot.material is not None]
    outputs = [
        node for one in paints if one.node_tree for node in one.node_tree.nodes if node.type == "OUTPUT_MATERIAL"
    ]
    return any(node.inputs["Volume"].is_linked for node in outputs)


def others(scene: Any, reached: set[str], levels: set[str]) -> tuple[str, ...]:
    """Return the names of the things and lamps in the render that are no levels."""
    kinds = {*SOLID, "LIGHT"}
    found = (obj for obj in scene.objects if obj.type in kinds and not obj.hide_render)
    instancers = (obj for obj in scene.objects if obj.instance_type == "COLLECTION" and not obj.hide_render)
    return tuple(sorted({obj.name for obj in (*found, *instancers)} & reached - levels))


def has_others(scene: Any, reached: set[str], levels: set[str]) -> bool:
    """Return whether there is anything that could be in the picture of some frame beside the levels."""
    return any(
        (obj.type in SOLID or obj.instance_type == "COLLECTION") and obj.name in reached and obj.name not in levels
        for obj in scene.objects
    )


def reached_objects(view_layer: Any) -> set[str]:
    """Return the names of the objects that a render shows: in a collection that is not kept out of it, or cut out."""
    names = {obj.name for layer, _ in _reached_layers(view_layer) for obj in layer.collection.objects}
    return names - held_out_objects(view_layer)


def held_out_objects(view_layer: Any) -> set[str]:
    """Return the names of the objects that a render cuts out of the picture, by the collection that they are in."""
    return {obj.name for layer, cuts in _reached_layers(view_layer) if cuts for obj in layer.collection.objects}


def _reached_layers(view_layer: Any) -> Iterator[tuple[Any, bool]]:
    """Yield every collection that a render gets to, as the view layer has it, and whether it is cut out of the picture.

    What is cut out is so with all that is in it.
    """
    stack = [(view_layer.layer_collection, False)]
    while stack:
        layer, cut = stack.pop()
        if layer.exclude or layer.collection.hide_render or layer.indirect_only:
            continue
        cut = cut or layer.holdout
        stack.extend((child, cut) for child in layer.children)
        yield layer, cut


def layers_of(layer: Any) -> Iterator[Any]:
    """Yield every collection below ``layer`` as the view layer has it."""
    for child in layer.children:
        yield child
        yield from layers_of(child)


def has_volume(world: Any) -> bool:
    """Return whether a world is filled with a volume, which dims what lies behind it."""
    if world is None or world.node_tree is None:
        return False
    outputs = (node for node in world.node_tree.nodes if node.type == "OUTPUT_WORLD")
    return any(node.inputs["Volume"].is_linked for node in outputs)
