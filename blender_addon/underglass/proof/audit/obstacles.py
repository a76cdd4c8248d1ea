# SPDX-License-Identifier: GPL-3.0-or-later
"""Obstacles: things that are no levels and change the picture: before the stack, in it, or seen through clear art.

Goes by hulls of the things on the frames that were looked at, and by pictures where there are any.
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from ...plan.plan_arrays import Plan
from ...reading.scene_reading import NOT_RENDERED, CameraReading, Change, SceneReading
from ..measure.evaluated_scene import camera_space, frame_size, px_from_camera
from ..proof_facts import BLOCK, Fault
from ..wording import span
from .changed_properties import changed_by, changes_pixels

Floats = NDArray[np.float64]

# What lies this share of its distance before the rearmost level, or less, lies on it.
ON_IT = 1e-6
# More things than these are told of in one line.
MOST_ALONE = 6
# A part of the frame: left, lower, right and upper edge as shares of it, from its lower left corner.
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class _Sight:
    """A thing in the picture of one frame: the nearest level that it stands before, or nothing, and where it is."""

    frame: int
    before: str
    box: Box


def obstacles(plan: Plan, *, reading: SceneReading) -> dict[str, Fault]:
    """Return a fault for each thing that is in the way, by its name.

    Where pictures told what a thing changes, they decide; else what stands before the rearmost level is in the way.
    """
    shown = {change.subject: change for change in reading.changes if change.kind == "thing"}
    faults = {}
    for name, seen in _seen(plan, reading).items():
        change = shown.get(name)
        before = [sight for sight in seen if sight.before]
        if change is not None and change.shown != NOT_RENDERED:
            if changes_pixels(change):
                faults[name] = _fault(name, before or seen, change)
        elif before:
            faults[name] = _fault(name, before, None)
    if len(faults) > MOST_ALONE:
        # One line of so many, by the first of them.
        first = next(iter(faults))
        many = replace(
            faults[first],
            message=f"{len(faults)} things that are not in the shot are in the way, such as: {faults[first].message}",
        )
        return dict.fromkeys(faults, many)
    return faults


def in_view(plan: Plan, *, reading: SceneReading) -> dict[str, dict[int, Box]]:
    """Return the frames on which each thing can be in the picture, by its name, and where: by its hull, whatever
    covers it.
    """
    return {name: {sight.frame: sight.box for sight in seen} for name, seen in _seen(plan, reading).items()}


def _seen(plan: Plan, reading: SceneReading) -> dict[str, list[_Sight]]:
    """Return on which frames each thing is in the picture, and the nearest level that it stands before, if any."""
    found: dict[str, list[_Sight]] = {}
    if reading.camera_facts["name"]:
        for frame in np.unique(reading.things.frame).tolist():
            for name, sight in _on_frame(plan, reading, frame):
                found.setdefault(name, []).append(sight)
    return found


def _fault(name: str, seen: list[_Sight], change: Change | None) -> Fault:
    first, last = seen[0].frame, seen[-1].frame
    where = f"stands before {seen[0].before}" if seen[0].before else "can be seen behind the stack"
    text = f"{name} {where} on {span((first, last))} and is not in the shot"
    if change is not None:
        text += f": {changed_by(change)}"
    amount = change.shown if change is not None else float("nan")
    return Fault("in-the-way", BLOCK, "scene", "", (first, last), amount, "codes", float("nan"), text)


def _on_frame(plan: Plan, reading: SceneReading, frame: int) -> Iterator[tuple[str, _Sight]]:
    """Yield each thing that is in the picture of one frame."""
    row = frame - int(reading.frames[0])
    levels = [number for number, level in enumerate(reading.levels) if level.level in plan.names]
    depth = -camera_space(_rows(reading, np.array([row]), reading.corners[[row]]))[0, ..., 2].mean(axis=1)[levels]
    if not np.isfinite(depth).any():
        return
    chosen = np.flatnonzero(reading.things.frame == frame)
    sub = _rows(reading, np.full(len(chosen), row), reading.things.corners[chosen][:, None])
    near, far = reading.camera.clip[row]
    rearmost = np.nanmax(depth) * (1 - ON_IT)
    points = _clipped(camera_space(sub)[:, 0], max(near, 1e-6), far)
    px = px_from_camera(sub, local=points[:, None])[:, 0]
    half = np.array(frame_size(reading)) / 2
    low, high = _least(px), -_least(-px)
    seen = ((low < half) & (high > -half)).all(axis=1)
    whole_low, whole_high = low, high
    # What of a hull lies before the rearmost level need not be what of it is in the frame.
    before = _clipped(camera_space(sub)[:, 0], max(near, 1e-6), min(far, rearmost))
    px = px_from_camera(sub, local=before[:, None])[:, 0]
    low, high = _least(px), -_least(-px)
    in_front = ((low < half) & (high > -half)).all(axis=1)
    nearest = _least(-before[..., 2])
    which = reading.things.which[chosen]
    for thing in np.unique(which[seen]).tolist():
        of_it = seen & (which == thing)
        corners = np.concatenate([whole_low[of_it].min(axis=0), whole_high[of_it].max(axis=0)]) / np.tile(2 * half, 2)
        left, low_edge, right, high_edge = np.clip(corners + 0.5, 0.0, 1.0).tolist()
        box = left, low_edge, right, high_edge
        mine = in_front & (which == thing)
        before_level = ""
        if mine.any():
            behind = np.where(depth > nearest[mine].min(), depth, np.inf)
            before_level = reading.levels[levels[int(behind.argmin())]].level
        yield reading.things.names[thing], _Sight(frame, before_level, box)


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
