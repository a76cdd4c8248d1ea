# SPDX-License-Identifier: GPL-3.0-or-later
"""The datum: a triangle of known coordinates, fixed to the camera and rendered into the passes of the levels.

Its coordinate in a pixel is the place of that pixel's sample in the frame, whatever the filter does. A triangle, since
rays that meet the seam between two can meet both. It is of this proof alone, and leaves the scene with it.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix

from ..proof.measure.measured_corners import Rounding
from ..proof.measure.passes import DATUM, Datum

# The triangle's corner of right angles lies beyond the frame's lower left by so much of its sides, and its legs are so
# many times as long as those: it covers the frame and as much all round it.
BEYOND = 0.13
LEGS = 2.55
# At so many times the camera's distance from the origin the rounding of places hardly counts.
TIMES_AS_FAR = 4.0
NEAREST_M = 1.0
# Of the room that the camera's clipping leaves, this share is kept free at either end; less room than that is none.
CLEAR_OF_CLIPPING = 0.1
# It stays so far off every glass, as a share of its distance; so many places are tried.
CLEAR_OF_GLASS = 1e-3
PLACES_TRIED = 101
# Half a last bit of single precision is 2⁻²⁴ of a number just above a power of two and 2⁻²⁵ of one just below the next.
# Not all of them show at once: that so much of it will do was measured, on renders of random shots.
HALF_BIT = 0.43 * 2.0**-24


@contextmanager
def added(scene: Any) -> Iterator[Any]:
    """Add the datum to ``scene`` and yield its object; on leaving it is gone."""
    mesh = bpy.data.meshes.new(DATUM)
    mesh.from_pydata([(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)], [], [(0, 1, 2)])
    mesh.uv_layers.new(name="UVMap").data.foreach_set("uv", (0.0, 0.0, 1.0, 0.0, 0.0, 1.0))
    datum = bpy.data.objects.new(DATUM, mesh)
    scene.collection.objects.link(datum)
    try:
        yield datum
    finally:
        bpy.data.objects.remove(datum)
        bpy.data.meshes.remove(mesh)


def place(datum: Any, scene: Any, *, glasses: Iterable[Any]) -> Datum | None:
    """Put ``datum`` before the camera as it stands now, and return how its coordinates turn into places.

    ``scene`` is set to the size of the delivered frame. It keeps clear of the ``glasses``: of two surfaces in one place
    a ray may meet one alone. None where the camera's clipping leaves no room for it.
    """
    depsgraph = bpy.context.evaluated_depsgraph_get()
    camera = scene.camera.evaluated_get(depsgraph)
    size = scene.render.resolution_x, scene.render.resolution_y
    eye = np.array(_unscaled(camera.matrix_world))
    depths = [(_box(glass.evaluated_get(depsgraph)) - eye[:3, 3]) @ -eye[:3, 2] for glass in glasses]
    taken = [(float(depth.min()), float(depth.max())) for depth in depths]
    away = _distance(camera.data, max(NEAREST_M, TIMES_AS_FAR * float(np.abs(eye[:3, 3]).max())), taken)
    if away is None:
        return None
    low, side = _field(camera.data, scene, away)
    start, legs = -0.5 - BEYOND, LEGS
    right_angle = low - BEYOND * side
    corners = right_angle + np.array([(0.0, 0.0), (legs, 0.0), (0.0, legs)]) * side
    datum.data.vertices.foreach_set("co", [number for x, y in corners for number in (x, y, -away)])
    datum.data.update()
    datum.matrix_world = _unscaled(camera.matrix_world)
    places = np.array([(*corner, -away) for corner in corners]) @ eye[:3, :3].T + eye[:3, 3]
    return Datum(
        start=(start * size[0], start * size[1]),
        span=(legs * size[0], legs * size[1]),
        rounding=_rounding(places, eye, scene, camera.data),
    )


def roundings(glasses: Mapping[str, Any], scene: Any) -> dict[str, Rounding]:
    """Return how far single precision may displace each glass in the picture of the camera as it stands now."""
    depsgraph = bpy.context.evaluated_depsgraph_get()
    camera = scene.camera.evaluated_get(depsgraph)
    eye = np.array(_unscaled(camera.matrix_world))
    boxes = {name: _box(glass.evaluated_get(depsgraph)) for name, glass in glasses.items()}
    return {name: _rounding(box, eye, scene, camera.data) for name, box in boxes.items()}


def _rounding(places: Any, eye: Any, scene: Any, lens: Any) -> Rounding:
    """Return the half-widths for what lies at ``places`` (N, 3) m, seen from a camera with the matrix ``eye`` (4, 4).

    Each coordinate of place and camera is out by half a bit: what of that lies across the camera's axis shows by the
    scale of the picture there, what lies along it by how the picture grows. So does half a bit of the lens, and half a
    bit of a turn makes it turn.
    """
    axis = -eye[:3, 2]
    away = float(((places - eye[:3, 3]) @ axis).mean())
    if away <= 0.0:
        return Rounding()
    bits = HALF_BIT * np.hypot(np.abs(places).max(axis=0), np.abs(eye[:3, 3]))
    across = float(np.sqrt((bits**2 * (1.0 - np.minimum(axis**2, 1.0))).sum()))
    along = float(np.linalg.norm(bits * axis))
    _, side = _field(lens, scene, away)
    grows = along / away if lens.type == "PERSP" else 0.0
    return Rounding(across * scene.render.resolution_x / float(side[0]), grows + 2.0 * HALF_BIT)


def _box(glass: Any) -> Any:
    """Return the corners of an evaluated object's box in the world, (8, 3) m."""
    matrix = np.array(glass.matrix_world)
    return np.array(glass.bound_box) @ matrix[:3, :3].T + matrix[:3, 3]


def _distance(lens: Any, wanted: float, taken: Sequence[tuple[float, float]]) -> float | None:
    """Return a distance near ``wanted`` that lies well within the clipping, clear of what is ``taken`` from and to.

    None where there is no room.
    """
    room = lens.clip_end - lens.clip_start
    if not room > CLEAR_OF_CLIPPING * lens.clip_start:
        return None
    nearest, farthest = lens.clip_start + CLEAR_OF_CLIPPING * room, lens.clip_end - CLEAR_OF_CLIPPING * room
    first = min(max(wanted, min(nearest, 2.0 * lens.clip_start)), farthest)
    tried = [first, *sorted(np.linspace(nearest, farthest, PLACES_TRIED), key=lambda away: abs(away - wanted))]
    for away in tried:
        if all(away < near * (1 - CLEAR_OF_GLASS) or away > far * (1 + CLEAR_OF_GLASS) for near, far in taken):
            return float(away)
    return None


def _field(lens: Any, scene: Any, away: float) -> tuple[Any, Any]:
    """Return the field at ``away`` metres: its lower left corner (2,) and its sides (2,) in the camera's axes, m."""
    frame = np.array(lens.view_frame(scene=scene))
    if lens.type == "PERSP":
        frame = frame * (away / -frame[:, 2:])
    low = frame[:, :2].min(axis=0)
    return low, frame[:, :2].max(axis=0) - low


def _unscaled(matrix: Any) -> Any:
    """Return a camera's matrix without its scale, which does not count in Blender."""
    place = Matrix.Translation(matrix.translation)
    axes = matrix.to_3x3()
    for column in range(3):
        axes.col[column].normalize()
    return place @ axes.to_4x4()
