# SPDX-License-Identifier: GPL-3.0-or-later
"""Making: what a level is made of beside its art and its place, such as modifiers, and letting it stand in the stack.

`odd_mesh` and `odd_map` say what is odd about a plane; `remade` in what a level is more than a bare plane.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import bpy
import numpy as np

from ..reading.scene_reading import Change
from . import materials, stack_marks

REMADE = "remade"
# Single precision, as a share of the plane's size; texture coordinates run from 0 to 1.
SAME = 1e-5
# What has more corners than these is no plane that somebody divided by hand.
MOST_CORNERS = 200_000
CORNERS = np.array([(0, 0), (1, 0), (1, 1), (0, 1)])
# Faces that have so much more area than what they cover lie on each other.
MORE_AREA = 1e-3


def remade(name: str, here: Any) -> Iterator[Change]:
    """Yield in what the object of a level is more than a plane that wears one material."""
    modifiers = [modifier.name for modifier in here.modifiers if modifier.show_render]
    if modifiers:
        yield Change(name, REMADE, "Object.modifiers", "Modifiers", ", ".join(modifiers), "none")
    if here.instance_type != "NONE":
        said = here.bl_rna.properties["instance_type"].enum_items[here.instance_type].name
        yield Change(name, REMADE, "Object.instance_type", "Instancing", said, "None")
    if len(here.data.polygons) > 1:
        worn = len(materials.worn_by(here))
        words = f"a mesh of {len(here.data.polygons)} faces that wear {worn} materials"
        yield Change(name, REMADE, "Mesh.polygons", "Object Data", words, "one face")


@contextmanager
def in_place_of(fresh: Any, here: Any) -> Iterator[None]:
    """Let ``here``, with all that is on it, stand in the place of the fresh object of a level meanwhile."""
    homes = list(fresh.users_collection)
    # What is instanced on it has to be in the scene.
    brought = [here, *(here.children if here.instance_type != "NONE" else ())]
    for home in homes:
        home.objects.unlink(fresh)
        for one in brought:
            home.objects.link(one)
    try:
        yield
    finally:
        for home in homes:
            for one in brought:
                home.objects.unlink(one)
            home.objects.link(fresh)


def take_values(scene: Any, stack: Any) -> None:
    """Give the fresh ``stack`` the custom properties of ``scene``: materials can read them."""
    for key, value in scene.items():
        if key not in stack and isinstance(value, (bool, int, float, str)):
            stack[key] = value


def odd_mesh(obj: Any) -> str:
    """Return what is odd about the mesh of a level, as `without faces`; nothing of a plane, which may be divided."""
    mesh = obj.data
    if mesh.users > 1:
        # Which of them it was built for, its mark says.
        of = mesh.get(stack_marks.LEVEL, "")
        others = {name for name, one in stack_marks.levels(bpy.context.scene) if one.data == mesh}
        if of in others - {obj.get(stack_marks.LEVEL)}:
            return f"that is the one of {of}"
    if not len(mesh.polygons):
        return "without faces"
    if not len(mesh.uv_layers):
        return "without a UV map"
    if len(mesh.loops) > MOST_CORNERS:
        return ""
    _, places = _corners(mesh)
    extent = np.ptp(places, axis=0)
    if extent[2] > SAME * extent.max():
        return "that is not flat"
    area = sum(polygon.area for polygon in mesh.polygons)
    return "whose faces lie on each other" if area > extent[0] * extent[1] * (1 + MORE_AREA) else ""


def odd_map(obj: Any) -> str:
    """Return what is odd about the UV map that a level is rendered by: `art that does not run evenly over its plane`.

    Where the plane has four corners, and each is a corner of the art, the corners are judged where they are.
    """
    mesh = obj.data
    layer = next((one for one in mesh.uv_layers if one.active_render), None)
    if layer is None or not 0 < len(mesh.loops) <= MOST_CORNERS:
        return ""
    uv, places = _corners(mesh)
    if len(uv) == len(CORNERS) and (np.abs(uv[:, None] - CORNERS).max(axis=2).min(axis=0) < SAME).all():
        return ""
    size = float(np.ptp(places, axis=0).max()) or 1.0
    if not _follows(uv, places[:, :2] / size):
        return f"{layer.name} that does not run evenly over its plane"
    ends = np.concatenate([uv.min(axis=0), uv.max(axis=0) - 1])
    return f"{layer.name} that does not run from 0 to 1 over its plane" if np.abs(ends).max() > SAME else ""


def _corners(mesh: Any) -> tuple[np.ndarray, np.ndarray]:
    """Return the texture coordinates (N, 2) and the place (N, 3) of each corner of each face."""
    count = len(mesh.loops)
    uv, places = np.empty(count * 2), np.empty(len(mesh.vertices) * 3)
    vertex = np.empty(count, dtype=np.int32)
    layer = next((one for one in mesh.uv_layers if one.active_render), mesh.uv_layers[0])
    layer.data.foreach_get("uv", uv)
    mesh.loops.foreach_get("vertex_index", vertex)
    mesh.vertices.foreach_get("co", places)
    return uv.reshape(-1, 2), places.reshape(-1, 3)[vertex]


def _follows(uv: np.ndarray, places: np.ndarray) -> bool:
    """Return whether coordinates are a linear function of the places."""
    basis = np.column_stack([np.ones(len(places)), places])
    linear, *_ = np.linalg.lstsq(basis, uv, rcond=None)
    return bool(np.abs(basis @ linear - uv).max() < SAME)
