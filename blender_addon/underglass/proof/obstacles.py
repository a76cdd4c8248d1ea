"""Obstacles: things that are no levels and stand between the lens and the rearmost level, inside the frame.

Goes by hulls of the things on the frames that were looked at; a thing behind the stack or beside the field is none.
"""

from collections.abc import Iterator
from dataclasses import fields, replace

import numpy as np
from numpy.typing import NDArray

from ..plan.model import Plan
from ..plan.reading import CameraReading, SceneReading
from .evaluated import camera_space, frame_size, px_from_camera
from .facts import STOP, Fault
from .wording import span

Floats = NDArray[np.float64]

# What lies this share of its distance before the rearmost level, or less, lies on it.
ON_IT = 1e-6


def obstacles(plan: Plan, *, reading: SceneReading) -> dict[str, Fault]:
    """Return a fault for each thing that is in the way, by its name."""
    found: dict[str, list[tuple[int, str]]] = {}
    if reading.camera_facts["name"]:
        for frame in np.unique(reading.things.frame).tolist():
            for name, level in _in_the_way(plan, reading, frame):
                found.setdefault(name, []).append((frame, level))
    return {name: _fault(name, seen) for name, seen in found.items()}


def _fault(name: str, seen: list[tuple[int, str]]) -> Fault:
    first, last = seen[0][0], seen[-1][0]
    text = f"{name} stands before {seen[0][1]} on {span((first, last))} and is not in the shot"
    return Fault("in-the-way", STOP, "scene", "", (first, last), float("nan"), "", float("nan"), text)


def _in_the_way(plan: Plan, reading: SceneReading, frame: int) -> Iterator[tuple[str, str]]:
    """Yield each thing that is in the way on one frame, with the nearest level that it stands before."""
    row = frame - int(reading.frames[0])
    levels = [number for number, level in enumerate(reading.levels) if level.level in plan.names]
    depth = -camera_space(_rows(reading, np.array([row]), reading.corners[[row]]))[0, ..., 2].mean(axis=1)[levels]
    if not np.isfinite(depth).any():
        return
    chosen = np.flatnonzero(reading.things.frame == frame)
    sub = _rows(reading, np.full(len(chosen), row), reading.things.corners[chosen][:, None])
    near, far = reading.camera.clip[row]
    points = _clipped(camera_space(sub)[:, 0], max(near, 1e-6), min(far, np.nanmax(depth) * (1 - ON_IT)))
    px = px_from_camera(sub, local=points[:, None])[:, 0]
    half = np.array(frame_size(reading)) / 2
    low, high = _least(px), -_least(-px)
    nearest = _least(-points[..., 2])
    seen = ((low < half) & (high > -half)).all(axis=1)
    which = reading.things.which[chosen]
    for thing in np.unique(which[seen]).tolist():
        before = nearest[seen & (which == thing)].min()
        behind = np.where(depth > before, depth, np.inf)
        yield reading.things.names[thing], reading.levels[levels[int(behind.argmin())]].level


def _rows(reading: SceneReading, rows: NDArray[np.int64], corners: Floats) -> SceneReading:
    """Return the reading of ``rows``, one after the other, with ``corners`` in the place of the levels'."""
    camera = CameraReading(**{f.name: getattr(reading.camera, f.name)[rows] for f in fields(CameraReading)})
    return replace(reading, camera=camera, corners=corners)


def _clipped(hulls: Floats, near: float, far: float) -> Floats:
    """Return corners of the part of each hull (N, 8, 3) that lies from ``near`` to ``far`` before the lens.

    (N, P, 3), NaN where a corner is not: hulls are convex, so each pair of corners is taken for an edge.
    """
    depth = -hulls[..., 2]
    one, two = np.triu_indices(hulls.shape[1], k=1)
    within = (depth >= near) & (depth <= far)
    points = [np.where(within[..., None], hulls, np.nan)]
    for plane in (near, far):
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (plane - depth[:, one]) / (depth[:, two] - depth[:, one])
        share = np.where((share > 0) & (share < 1), share, np.nan)[..., None]
        points.append(hulls[:, one] + share * (hulls[:, two] - hulls[:, one]))
    return np.concatenate(points, axis=1)


def _least(values: Floats) -> Floats:
    """Return the least along the second axis, of nothing but NaN infinity."""
    return np.asarray(np.where(np.isnan(values), np.inf, values).min(axis=1))
