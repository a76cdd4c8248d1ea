# SPDX-License-Identifier: GPL-3.0-or-later
"""As seen: where the stand would have to stand for the pixels of delivered frames to look as they do.

The way back from where corners are in the picture to readings of the stand, under the planned camera: size tells how
far a level is from the lens, place and turn the rest. A picture cannot tell a level that moved from a camera that did;
where most levels are off in one way that the camera can explain, it is the camera.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from underglass.plan.plan_arrays import Plan
from underglass.plan.planning import corners_px
from underglass.proof.measure.evaluated_scene import scene_corners_px
from underglass.proof.measure.measured_corners import Fit
from underglass.reading.scene_reading import CameraReading, LevelReading, SceneReading
from underglass.shot.model import Projection

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Seen:
    """``corners`` (F, L, 4, 2) px where they are seen, filled in where nothing was measured; ``known`` (F, L) where."""

    corners: Floats
    known: NDArray[np.bool_]


def seen_corners(plan: Plan, *, fits: Mapping[tuple[int, int], Fit]) -> Seen:
    """Return the corners that ``fits`` by (frame, level's number) saw.

    Between measured frames a level strays on the stand by a straight line, and beyond them as on the nearest one; a
    level that was never measured is where it was planned.
    """
    planned = corners_px(plan)
    known = np.zeros(planned.shape[:2], dtype=bool)
    seen = planned.copy()
    first = int(plan.frames[0])
    for (frame, column), fit in fits.items():
        known[frame - first, column] = True
        seen[frame - first, column] = fit.corners
    partly = np.flatnonzero(known.any(axis=0) & ~known.all(axis=0))
    if not len(partly):
        return Seen(seen, known)
    there = _planned_standing(plan)
    strays = _standing(plan, seen) - there
    for column in partly:
        rows = np.flatnonzero(known[:, column])
        every = strays[rows, column].reshape(len(rows), -1)
        filled = np.stack([np.interp(np.arange(len(known)), rows, track) for track in every.T], axis=-1)
        there[:, column] += filled.reshape(-1, 4, 3)
    would = scene_corners_px(_reading(plan, there, np.arange(len(plan.names)), ""))
    return Seen(np.where(known[..., None, None], seen, would), known)


def reading_as_seen(plan: Plan, *, seen: Seen, tolerance: float, blender: str) -> SceneReading:
    """Return the stand that looks as was ``seen``, without levels that were never measured; ``tolerance`` in px."""
    columns = np.flatnonzero(seen.known.any(axis=0))
    standing = _standing(plan, seen.corners)
    other_size = _is_another_size(plan, seen, standing, tolerance)
    standing = np.where(other_size[None, :, None, None], _at_planned_height(plan, seen.corners), standing)
    reading = _reading(plan, standing[:, columns], columns, blender)
    return _by_the_camera(plan, reading, seen, columns, tolerance)


def _reading(plan: Plan, standing: Floats, columns: NDArray[np.int64], blender: str) -> SceneReading:
    """Return the reading of the planned camera over levels ``columns`` that stand at ``standing`` (F, G, 4, 3) m."""
    return SceneReading(
        blender=blender,
        frames=plan.frames,
        corners=standing,
        hidden=np.zeros(standing.shape[:2], dtype=bool),
        camera=_planned_camera(plan),
        levels=tuple(LevelReading(plan.names[at], plan.names[at], True, (), (), None, ()) for at in columns),
        settings=_settings(plan),
        others=(),
        camera_facts={"name": "camera", "ours": True},
    )


def _by_the_camera(
    plan: Plan, reading: SceneReading, seen: Seen, columns: NDArray[np.int64], tolerance: float
) -> SceneReading:
    """Return the reading with what most levels share put down to the camera, by the simplest way that explains most.

    Tried are a picture that is shifted, a lens of another length, and a camera that stands or is turned elsewhere.
    """
    wanted = corners_px(plan)
    off = np.linalg.norm(seen.corners - wanted, axis=-1).max(axis=-1)
    at_fault = np.array([column for column in columns if (off[:, column] > tolerance).any()], dtype=np.int64)
    if len(columns) < 2 or 2 * len(at_fault) <= len(columns):
        return reading
    best, explained = reading, len(columns) - len(at_fault)
    for tried in (_shifted(plan, reading, seen), _lengthened(plan, reading, seen), _posed(plan, reading, seen)):
        # Levels that stand as planned under the camera that was tried are explained by it.
        under = replace(reading, camera=tried, corners=_planned_standing(plan)[:, columns])
        left = np.linalg.norm(scene_corners_px(under) - seen.corners[:, columns], axis=-1).max(axis=-1)
        kept = (np.where(seen.known[:, columns], left, 0.0) <= tolerance).all(axis=0)
        if kept.sum() > max(explained, len(columns) / 2):
            explained = int(kept.sum())
            place = _planned_standing(plan)[:, columns]
            stands = _under(plan, seen.corners, tried)[:, columns]
            best = replace(reading, camera=tried, corners=np.where(kept[None, :, None, None], place, stands))
    return best


def _shifted(plan: Plan, reading: SceneReading, seen: Seen) -> CameraReading:
    """Return the camera whose picture lies elsewhere by what is common to the centres of all levels."""
    strays = (seen.corners - corners_px(plan)).mean(axis=2)
    by = np.median(strays[:, seen.known.any(axis=0)], axis=1)
    squeeze = plan.shot.camera.squeeze
    shift = -by / np.array([1.0, squeeze]) / plan.shot.camera.frame_px[0]
    return replace(reading.camera, shift=shift)


def _lengthened(plan: Plan, reading: SceneReading, seen: Seen) -> CameraReading:
    """Return the camera with the lens, or the field, that makes all levels as large as most are."""
    ratio = np.median((_widths(seen.corners) / _widths(corners_px(plan)))[:, seen.known.any(axis=0)], axis=1)
    camera = reading.camera
    return replace(camera, lens_mm=camera.lens_mm * ratio, ortho_scale=camera.ortho_scale / ratio)


def _posed(plan: Plan, reading: SceneReading, seen: Seen) -> CameraReading:
    """Return the camera moved by the reverse of what most levels share: a turn about its axis, and a shift."""
    there, planned = _standing(plan, seen.corners), _planned_standing(plan)
    known = seen.known.any(axis=0)
    turned = np.median((_turns(there) - _turns(planned) + np.pi)[:, known] % (2 * np.pi) - np.pi, axis=1)
    matrix = reading.camera.matrix.copy()
    lens = matrix[:, None, :3, 3]
    cosine, sine = np.cos(turned), np.sin(turned)
    turn = np.tile(np.eye(3), (len(turned), 1, 1))
    turn[:, 0, 0], turn[:, 0, 1], turn[:, 1, 0], turn[:, 1, 1] = cosine, -sine, sine, cosine
    # Levels turned about the optical axis and then shifted: a camera does the reverse.
    centres = there.mean(axis=2) - lens
    would = np.einsum("fij,flj->fli", turn, planned.mean(axis=2) - lens)
    shift = np.median((centres - would)[:, known], axis=1)
    back = turn.transpose(0, 2, 1)
    matrix[:, :3, :3] = back @ matrix[:, :3, :3]
    matrix[:, :3, 3] -= np.einsum("fij,fj->fi", back, shift)
    return replace(reading.camera, matrix=matrix)


def _standing(plan: Plan, corners: Floats) -> Floats:
    """Return where corners (F, L, 4, 2) px stand under the planned camera, (F, L, 4, 3) m."""
    return _under(plan, corners, _planned_camera(plan))


def _under(plan: Plan, corners: Floats, camera: CameraReading) -> Floats:
    """Return where corners stand under ``camera``: as far off as their size says, at the planned height if parallel."""
    frame = np.array(plan.shot.camera.frame_px, dtype=float)
    squeeze = plan.shot.camera.squeeze
    across = corners / np.array([1.0, squeeze]) + (camera.shift * frame[0])[:, None, None, :]
    if plan.shot.camera.projection is Projection.ORTHOGRAPHIC:
        scale = np.broadcast_to((frame[0] / camera.ortho_scale)[:, None], plan.distance.shape)
        depth = plan.distance + (camera.matrix[:, 2, 3] - plan.tracks.camera["height"])[:, None]
    else:
        # Width and height of art tell its distance together; a level of another shape then shows as that.
        widths = np.array([level.art_width for level in plan.shot.levels])
        heights = np.array([level.art_height for level in plan.shot.levels])
        size = (_widths(across) / widths + _widths(np.roll(across, -1, axis=2)) / heights) / 2
        scale = size
        depth = (frame[0] * camera.lens_mm / camera.sensor_mm[:, 0])[:, None] / size
    local = np.concatenate(
        [across / scale[..., None, None], np.broadcast_to(-depth[..., None, None], (*across.shape[:3], 1))], axis=-1
    )
    turned = np.einsum("fij,flcj->flci", camera.matrix[:, :3, :3], local)
    return np.asarray(turned + camera.matrix[:, None, None, :3, 3])


def _is_another_size(plan: Plan, seen: Seen, standing: Floats, tolerance: float) -> NDArray[np.bool_]:
    """Return which levels, (L,), bear art of another size: larger or smaller, with their centre where it should be.

    One that is nearer or farther off would have its centre elsewhere too, where that is not on the axis.
    """
    strays = np.linalg.norm((seen.corners - corners_px(plan)).mean(axis=2), axis=-1)
    aside = np.linalg.norm((standing - _planned_standing(plan)).mean(axis=2)[..., :2], axis=-1) * plan.scale
    within = np.where(seen.known, strays, 0.0).max(axis=0) <= tolerance
    return np.asarray(within & (np.where(seen.known, aside, 0.0).max(axis=0) > tolerance))


def _at_planned_height(plan: Plan, corners: Floats) -> Floats:
    """Return where corners (F, L, 4, 2) px stand on levels at their planned heights, (F, L, 4, 3) m."""
    camera = _planned_camera(plan)
    across = corners / np.array([1.0, plan.shot.camera.squeeze]) / plan.scale[..., None, None]
    depth = np.broadcast_to(-plan.distance[..., None, None], (*across.shape[:3], 1))
    turned = np.einsum("fij,flcj->flci", camera.matrix[:, :3, :3], np.concatenate([across, depth], axis=-1))
    return np.asarray(turned + camera.matrix[:, None, None, :3, 3])


def _planned_standing(plan: Plan) -> Floats:
    return _standing(plan, corners_px(plan))


def _widths(corners: Floats) -> Floats:
    """Return how long the edge from the first to the second corner is, and the one over against it, on average."""
    edge = (corners[..., 1, :] - corners[..., 0, :] + corners[..., 2, :] - corners[..., 3, :]) / 2
    return np.asarray(np.hypot(edge[..., 0], edge[..., 1]))


def _turns(corners: Floats) -> Floats:
    edge = corners[..., 1, :] - corners[..., 0, :] + corners[..., 2, :] - corners[..., 3, :]
    return np.asarray(np.arctan2(edge[..., 1], edge[..., 0]))


def _planned_camera(plan: Plan) -> CameraReading:
    """Return the camera of the plan, read as if from a scene."""
    shot, tracks = plan.shot.camera, plan.tracks.camera
    camera = CameraReading.empty(len(plan.frames))
    cosine, sine = np.cos(tracks["turn"]), np.sin(tracks["turn"])
    camera.matrix[:] = np.eye(4)
    camera.matrix[:, 0, 0], camera.matrix[:, 0, 1] = cosine, -sine
    camera.matrix[:, 1, 0], camera.matrix[:, 1, 1] = sine, cosine
    camera.matrix[:, :3, 3] = np.stack([tracks["east"], tracks["north"], tracks["height"]], axis=-1)
    parallel = shot.projection is Projection.ORTHOGRAPHIC or shot.gate is None
    camera.parallel[:], camera.upright[:], camera.shift[:] = float(parallel), 0.0, 0.0
    camera.lens_mm[:] = 50.0 if parallel else plan.image_distance * 1000
    camera.sensor_mm[:] = 36.0 if shot.gate is None else shot.gate.width * shot.squeeze * 1000
    camera.ortho_scale[:] = shot.field_width if parallel else 1.0
    camera.clip[:] = 0.0, np.inf
    return camera


def _settings(plan: Plan) -> dict[str, float | int]:
    width, height = plan.shot.camera.frame_px
    return {"width": width, "height": height, "percentage": 100, "pixel_aspect": plan.shot.camera.squeeze}
