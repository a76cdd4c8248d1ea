"""The lines of the viewport as arrays: the field at every level, edges soon uncovered, limits of focus, paths.

A frame's lines are drawn anew on every frame, so they are put together without a loop over levels. Free of Blender.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..optics.depth_of_field import far_limit, near_limit
from ..plan.findings.focus import sharp_circle
from ..plan.findings.sight import EDGE_CORNERS
from ..plan.model import Plan
from ..shot.model import PLACE_AXES

CALM = (0.35, 0.75, 0.95, 0.8)
SOON = (1.0, 0.72, 0.15, 1.0)
BARE = (1.0, 0.22, 0.18, 1.0)
PATH = (0.95, 0.95, 0.60, 0.9)
FOCUS = (0.45, 0.95, 0.50, 0.8)
# A path is drawn to this part of its length: less than a pixel in any window.
SHOWN = 1e-4

Floats = NDArray[np.float64]
Points = NDArray[np.float32]
# Places (N, 3) and colours (N, 4), two points a line.
Lines = tuple[Points, Points]

# What will be bare within a second counts once, what is bare now twice.
_INKS = np.array([CALM, SOON, BARE], dtype=np.float32)
_FOCUS_INKS = np.tile(np.float32(FOCUS), (16, 1))
# Both ends of every edge, among a level's corners.
_ENDS = np.array([end for ends in EDGE_CORNERS.values() for end in ends])
_RING = np.array([(-1, -1), (1, -1), (1, -1), (1, 1), (1, 1), (-1, 1), (-1, 1), (-1, -1)], dtype=np.float64)


@dataclass(frozen=True)
class Outlines:
    """What of a moment the lines of its frames are made from, put in order once.

    ``corners`` (F, L, 4, 2) of the field at every level; ``reach`` (F, L, 4) of the art past each edge, infinite where
    it need not cover it; ``ahead`` is how many frames are soon; ``sharp`` (F, 2, 3) half the width, half the height and
    the height above the bed of the field where it begins and ceases to be sharp, NaN where that is nowhere.
    """

    plan: Plan
    corners: Floats
    reach: Floats
    ahead: int
    sharp: Floats


def outlines(plan: Plan, *, corners: Floats, reach: Mapping[str, Floats]) -> Outlines:
    """Return the outlines of a moment; ``reach`` is by edge, (F, L)."""
    every = np.stack([reach[edge] for edge in EDGE_CORNERS], axis=-1)
    for column, level in enumerate(plan.shot.levels):
        for number, edge in enumerate(EDGE_CORNERS):
            if edge not in plan.shot.edges_to_cover(level):
                every[:, column, number] = np.inf
    return Outlines(plan, corners, every, round(plan.shot.fps), _sharp(plan))


def frame_lines(moment: Outlines, row: int, *, field: bool, edges: bool, focus: bool) -> Lines:
    """Return the lines of one frame."""
    plan, count = moment.plan, len(moment.plan.names)
    inks = np.zeros((count, 4), dtype=np.intp)
    if edges:
        near = moment.reach[row : row + 1 + moment.ahead]
        inks += near.min(axis=0) < 0
        inks += near[0] < 0
    places = np.empty((count, 8, 3), dtype=np.float32)
    places[..., :2] = moment.corners[row][:, _ENDS]
    places[..., 2] = plan.tracks.levels["height"][row][:, None]
    points, inks = places.reshape(-1, 3), inks.reshape(-1).repeat(2)
    if not field:
        points, inks = points[inks > 0], inks[inks > 0]
    colours = _INKS[inks]
    if focus and (rings := _rings(moment, row)):
        points = np.concatenate([points, *rings])
        colours = np.concatenate([colours, _FOCUS_INKS[: len(points) - len(colours)]])
    return points, colours


def path_lines(plan: Plan) -> Lines:
    """Return where the centre of every level, and the lens, goes over the whole shot, in as few lines as show it."""
    tracks = plan.tracks
    paths = [
        np.stack([tracks.levels[axis][:, column] for axis in PLACE_AXES], axis=-1) for column in range(len(plan.names))
    ]
    paths.append(np.stack([tracks.camera[axis] for axis in PLACE_AXES], axis=-1))
    bent = [bends(path) for path in paths if np.ptp(path, axis=0).any()]
    pairs = [np.stack([path[:-1], path[1:]], axis=1).reshape(-1, 3) for path in bent]
    if not pairs:
        return np.zeros((0, 3), dtype=np.float32), np.zeros((0, 4), dtype=np.float32)
    places = np.concatenate(pairs).astype(np.float32)
    return places, np.tile(np.float32(PATH), (len(places), 1))


def bends(path: Floats) -> Floats:
    """Return the points of ``path`` (N, 3) that a line through them needs to stay within `SHOWN` of all the others.

    Halved at the point that strays most (Ramer 1972, Douglas and Peucker 1973): most moves come to two points.
    """
    reach = float(np.ptp(path, axis=0).max())
    kept, waiting = {0, len(path) - 1}, [(0, len(path) - 1)]
    while waiting:
        first, last = waiting.pop()
        if last - first < 2:
            continue
        start, way = path[first], path[last] - path[first]
        along = path[first + 1 : last] - start
        share = np.clip(along @ way / max(float(way @ way), 1e-300), 0.0, 1.0)
        stray = np.linalg.norm(along - share[:, None] * way, axis=1)
        worst = int(stray.argmax())
        if stray[worst] > SHOWN * reach:
            middle = first + 1 + worst
            kept.add(middle)
            waiting += [(first, middle), (middle, last)]
    return path[sorted(kept)]


def _sharp(plan: Plan) -> Floats:
    """Return the field at the nearest and the farthest height that is sharp, over all frames; above the bed only."""
    camera, lens = plan.shot.camera, plan.tracks.camera
    found = np.full((len(plan.frames), 2, 3), np.nan)
    if not camera.f_stop or camera.gate is None:
        return found
    given = {"focal": lens["focal"], "f_stop": camera.f_stop, "circle": sharp_circle(plan)}
    for side, limit in enumerate((near_limit, far_limit)):
        distance = np.asarray(limit(plan.focus_distance, **given))
        height = lens["height"] - distance
        there = np.isfinite(distance) & (height >= 0)
        half = camera.gate.width * camera.squeeze * distance[there] / plan.image_distance[there] / 2
        tall = half * camera.frame_px[1] / camera.frame_px[0] / camera.squeeze
        found[there, side] = np.stack([half, tall, height[there]], axis=-1)
    return found


def _rings(moment: Outlines, row: int) -> list[Points]:
    """Return the outlines of the field at the limits of focus on one frame, (8, 3) each."""
    camera = moment.plan.tracks.camera
    found = []
    for half, tall, height in moment.sharp[row].tolist():
        if not math.isnan(height):
            ring = np.empty((8, 3), dtype=np.float32)
            ring[:, :2] = _RING * (half, tall) + (camera["east"][row], camera["north"][row])
            ring[:, 2] = height
            found.append(ring)
    return found
