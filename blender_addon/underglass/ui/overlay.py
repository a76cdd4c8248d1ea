"""In the viewport: the field at every level, edges soon uncovered, paths, limits of focus. Drawn, never computed twice.

What does not change from frame to frame is kept, and the rest is a few dozen points.
"""

from typing import Any

import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader
from numpy.typing import NDArray

from ..optics.depth_of_field import far_limit, near_limit
from ..plan.findings.focus import sharp_circle
from ..plan.findings.sight import EDGE_CORNERS
from ..plan.model import Plan
from ..stage.bake import PLACE
from . import live

CALM = (0.35, 0.75, 0.95, 0.8)
SOON = (1.0, 0.72, 0.15, 1.0)
BARE = (1.0, 0.22, 0.18, 1.0)
PATH = (0.95, 0.95, 0.60, 0.9)
FOCUS = (0.45, 0.95, 0.50, 0.8)
WIDTH = 1.6

Points = NDArray[np.float32]
Lines = tuple[Points, Points]

_handle: Any = None
# The lines that hold over the frames, and of which moment they are.
_paths: dict[int, tuple[Any, Lines]] = {}


def attach() -> None:
    """Begin to draw in every 3D viewport."""
    global _handle
    _handle = bpy.types.SpaceView3D.draw_handler_add(_draw, (), "WINDOW", "POST_VIEW")


def detach() -> None:
    """Draw no longer."""
    global _handle
    if _handle is not None:
        bpy.types.SpaceView3D.draw_handler_remove(_handle, "WINDOW")
        _handle = None
    _paths.clear()


def _draw() -> None:
    context = bpy.context
    settings = context.scene.underglass
    if not settings.shot_file or not context.space_data.overlay.show_overlays:
        return
    now = live.live(context.scene)
    if now is None or now.plan is None:
        return
    row = live.row_of(now.plan, context.scene.frame_current)
    shader = gpu.shader.from_builtin("POLYLINE_FLAT_COLOR")
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_test_set("LESS_EQUAL")
    shader.bind()
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    shader.uniform_float("lineWidth", WIDTH * context.preferences.system.ui_scale)
    lines = frame_lines(now, row, field=settings.show_field, edges=settings.show_edges, focus=settings.show_focus)
    if settings.show_paths:
        lines = tuple(np.concatenate(pair) for pair in zip(lines, _paths_of(context.scene, now), strict=True))
    if len(lines[0]):
        # one batch for all: each drawing costs more than its points
        batch_for_shader(shader, "LINES", {"pos": lines[0], "color": lines[1]}).draw(shader)
    gpu.state.depth_test_set("NONE")
    gpu.state.blend_set("NONE")


def _paths_of(scene: Any, now: live.Live) -> Lines:
    """Return the paths of this moment, which no frame changes."""
    kept = _paths.get(scene.as_pointer())
    if kept is None or kept[0] is not now:
        kept = _paths[scene.as_pointer()] = now, path_lines(now.plan)
    return kept[1]


def frame_lines(now: live.Live, row: int, *, field: bool, edges: bool, focus: bool) -> Lines:
    """Return the lines of one frame as (N, 3) places and (N, 4) colours, two points a line."""
    plan, points, colours = now.plan, [], []
    heights = plan.tracks.levels["height"][row]
    for column, level in enumerate(plan.shot.levels):
        to_cover = plan.shot.edges_to_cover(level)
        for edge, ends in EDGE_CORNERS.items():
            colour = edge_colour(now, row, column, edge, covered=edges and edge in to_cover)
            if colour == CALM and not field:
                continue
            for end in ends:
                points.append((*now.corners[row, column, end], heights[column]))
                colours.append(colour)
    if focus:
        for limit in _sharp(plan, row):
            points += limit
            colours += [FOCUS] * len(limit)
    return np.array(points, dtype=np.float32).reshape(-1, 3), np.array(colours, dtype=np.float32).reshape(-1, 4)


def edge_colour(now: live.Live, row: int, column: int, edge: str, *, covered: bool) -> tuple[float, ...]:
    """Return the colour of one edge of the field: whether art leaves it bare now, or within a second, or not."""
    if not covered:
        return CALM
    reach = now.reach[edge][:, column]
    if reach[row] < 0:
        return BARE
    ahead = reach[row : row + 1 + round(now.shot.fps)]
    return SOON if ahead.min() < 0 else CALM


def path_lines(plan: Plan) -> Lines:
    """Return where the centre of every level, and the lens, goes over the whole shot."""
    tracks = plan.tracks
    points = [
        np.stack([tracks.levels[axis][:, column] for axis in PLACE], axis=-1) for column in range(len(plan.names))
    ]
    points.append(np.stack([tracks.camera[axis] for axis in PLACE], axis=-1))
    pairs = [np.stack([path[:-1], path[1:]], axis=1).reshape(-1, 3) for path in points if np.ptp(path, axis=0).any()]
    if not pairs:
        return np.zeros((0, 3), dtype=np.float32), np.zeros((0, 4), dtype=np.float32)
    places = np.concatenate(pairs).astype(np.float32)
    return places, np.tile(np.float32(PATH), (len(places), 1))


def _sharp(plan: Plan, row: int) -> list[list[tuple[float, float, float]]]:
    """Return the field's outline at the nearest and the farthest height that is sharp, as lines; above the bed only."""
    camera = plan.shot.camera
    if not camera.f_stop or camera.gate is None:
        return []
    focus, focal = float(plan.focus_distance[row]), float(plan.tracks.camera["focal"][row])
    given = {"focal": focal, "f_stop": camera.f_stop, "circle": sharp_circle(plan)}
    limits = float(near_limit(focus, **given)), float(far_limit(focus, **given))
    lens = plan.tracks.camera
    found = []
    for distance in limits:
        height = float(lens["height"][row]) - distance
        if not np.isfinite(distance) or height < 0:
            continue
        half = camera.gate.width * camera.squeeze * distance / float(plan.image_distance[row]) / 2
        tall = half * camera.frame_px[1] / camera.frame_px[0] / camera.squeeze
        east, north = float(lens["east"][row]), float(lens["north"][row])
        ring = [(east + a * half, north + b * tall, height) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
        found.append([point for index in range(4) for point in (ring[index], ring[(index + 1) % 4])])
    return found


CLASSES: tuple[type, ...] = ()
