# SPDX-License-Identifier: GPL-3.0-or-later
"""What becomes of the picture when axes stand where counters put them, and not where they were planned."""

import numpy as np

from underglass.optics import projection, thin_lens
from underglass.plan.plan_arrays import Floats, Plan, Tracks
from underglass.plan.planning import corners_px
from underglass.shot.model import Projection


def out_of_place_px(plan: Plan, *, tracks: Tracks) -> Floats:
    """Return how far each level's picture is from its planned place at most, within the frame, (F, L) pixels.

    ``tracks`` are where the axes stand; the lens is focused at the planned distance. 0 where nothing of a level is in
    the frame, inf where a counter is so coarse that the level would stand at the lens or above it. The map from the
    planned picture to the other is affine, so the farthest point is a corner of what is seen: of the box about the
    art, cut at the frame's edges.
    """
    x, y, seen = _seen_corners(plan)
    squeeze, turn = plan.shot.camera.squeeze, plan.tracks.camera["turn"][:, None, None]
    # to the stand: where on the level each of the points lies, from where the centre of the art is planned
    east, north = _turned(x / plan.scale[..., None], y / (squeeze * plan.scale[..., None]), turn)
    from_axis = {axis: _from_axis(plan.tracks, axis) for axis in ("east", "north")}
    east, north = _turned(
        east - from_axis["east"],
        north - from_axis["north"],
        (tracks.levels["turn"] - plan.tracks.levels["turn"])[..., None],
    )
    there_x, there_y = projection.px_from_stand(
        east + _from_axis(tracks, "east"),
        north=north + _from_axis(tracks, "north"),
        camera_turn=tracks.camera["turn"][:, None, None],
        scale=(plan.scale * _growth(plan, tracks))[..., None],
        squeeze=squeeze,
    )
    off = np.hypot(there_x - x, there_y - y).max(axis=-1)
    return np.asarray(np.where(seen, np.where(np.isnan(off), np.inf, off), 0.0))


def _seen_corners(plan: Plan) -> tuple[Floats, Floats, Floats]:
    """Return the corners of what is seen of each level, x and y (F, L, 4) px, and whether anything is, (F, L)."""
    half = np.array(plan.shot.camera.frame_px) / 2
    corners = corners_px(plan)
    low, high = (np.clip(edge, -half, half) for edge in (corners.min(axis=-2), corners.max(axis=-2)))
    seen = (low < high).all(axis=-1)
    x = np.stack([low[..., 0], high[..., 0], high[..., 0], low[..., 0]], axis=-1)
    y = np.stack([low[..., 1], low[..., 1], high[..., 1], high[..., 1]], axis=-1)
    return x, y, seen


def _from_axis(tracks: Tracks, axis: str) -> Floats:
    """Return where levels are as seen from the optical axis, (F, L, 1) m."""
    return np.asarray((tracks.levels[axis] - tracks.camera[axis][:, None])[..., None])


def _turned(east: Floats, north: Floats, turn: Floats) -> tuple[Floats, Floats]:
    cos, sin = np.cos(turn), np.sin(turn)
    return np.asarray(cos * east - sin * north), np.asarray(sin * east + cos * north)


def _growth(plan: Plan, tracks: Tracks) -> Floats:
    """Return how many times larger each level looks than planned, (F, L): (d/d′)·(v′/v)."""
    if plan.shot.camera.projection is Projection.ORTHOGRAPHIC:
        return np.ones_like(plan.distance)
    distance = tracks.camera["height"][:, None] - tracks.levels["height"]
    image = thin_lens.image_distance(tracks.camera["focal"], focus=plan.focus_distance)
    above = np.where(distance > 0, distance, np.nan)
    return np.asarray(plan.distance / above * (image / plan.image_distance)[:, None])
