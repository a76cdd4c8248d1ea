# SPDX-License-Identifier: GPL-3.0-or-later
"""The lines of the viewport as arrays: the field at every level, edges soon uncovered, limits of focus, paths.

Those of a run of frames are put together at once, one frame behind the other: a frame change only takes its part of
them. Free of Blender.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..optics.depth_of_field import far_limit, near_limit
from ..plan.findings.seen_art import EDGE_CORNERS
from ..plan.findings.soft_focus import sharp_circle
from ..plan.plan_arrays import Plan
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

# What will be bare within a second is one, what is bare now another.
_CALM, _SOON, _BARE, _FOCUS = range(4)
_INKS = np.array([CALM, SOON, BARE, FOCUS], dtype=np.float32)
# Both ends of every edge, among a level's corners.
_ENDS = np.array([end for ends in EDGE_CORNERS.values() for end in ends])
_RING = np.array([(-1, -1), (1, -1), (1, -1), (1, 1), (1, 1), (-1, 1), (-1, 1), (-1, -1)], dtype=np.float64)


@dataclass(frozen=True)
class Outlines:
    """What of a moment the lines of its frames are made from, put in order once.

    ``corners`` (F, L, 4, 2) of the field at every level; ``inks`` (F, L, 4) which ink each edge has, by whether art
    covers it; ``sharp`` (F, 2, 3) half the width, half the height and the height above the bed of the field where it
    begins and ceases to be sharp, NaN where that is nowhere.
    """

    plan: Plan
    corners: Floats
    inks: NDArray[np.intp]
    sharp: Floats


@dataclass(frozen=True)
class Run:
    """The lines of frames that follow one another: those of the n-th are ``starts[n]`` to ``starts[n + 1]``."""

    points: Points
    colours: Points
    starts: tuple[int, ...]


def outlines(plan: Plan, *, corners: Floats, reach: Mapping[str, Floats]) -> Outlines:
    """Return the outlines of a moment; ``reach`` of the art past each edge is by edge, (F, L)."""
    bare = np.stack([reach[edge] < 0 for edge in EDGE_CORNERS], axis=-1)
    for column, level in enumerate(plan.shot.levels):
        for number, edge in enumerate(EDGE_CORNERS):
            if edge not in plan.shot.edges_to_cover(level):
                bare[:, column, number] = False
    # how often it is bare up to each frame: a difference tells whether it is from one frame to another
    count = np.concatenate([np.zeros_like(bare[:1], dtype=np.intp), bare.cumsum(axis=0, dtype=np.intp)])
    rows = np.arange(len(bare))
    soon = count[np.minimum(rows + 1 + round(plan.shot.fps), len(bare))] > count[rows]
    return Outlines(plan, corners, np.where(bare, _BARE, np.where(soon, _SOON, _CALM)), _sharp(plan))


def run_lines(moment: Outlines, rows: range, *, field: bool, edges: bool, focus: bool) -> Run:
    """Return the lines of the frames of ``rows``; ``field`` draws every edge, ``edges`` those that will be bare."""
    part, count = slice(rows.start, rows.stop), len(rows)
    corners, sharp, camera = moment.corners[part], moment.sharp[part], moment.plan.tracks.camera
    inks = moment.inks[part] if edges else np.full_like(moment.inks[part], _CALM)
    levels = corners.shape[1]
    places = np.empty((count, levels + 2, 8, 3), dtype=np.float32)
    places[:, :levels, :, :2] = corners[:, :, _ENDS]
    places[:, :levels, :, 2] = moment.plan.tracks.levels["height"][part, :, None]
    middle = np.stack([camera["east"][part], camera["north"][part]], axis=-1)
    places[:, levels:, :, :2] = _RING * sharp[:, :, None, :2] + middle[:, None, None]
    places[:, levels:, :, 2] = sharp[:, :, None, 2]
    drawn = np.full((count, levels + 2, 8), _FOCUS, dtype=np.intp)
    drawn[:, :levels] = inks.repeat(2, axis=-1)
    wanted = np.empty(drawn.shape, dtype=bool)
    wanted[:, :levels] = field | (drawn[:, :levels] != _CALM)
    wanted[:, levels:] = focus & ~np.isnan(sharp[:, :, None, 2])
    starts = np.concatenate([[0], wanted.sum(axis=(1, 2)).cumsum()])
    return Run(places[wanted], _INKS[drawn[wanted]], tuple(starts.tolist()))


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
