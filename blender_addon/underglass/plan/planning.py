# SPDX-License-Identifier: GPL-3.0-or-later
"""Planning: from the readings of every axis to how every level must look, for all frames and levels at once."""

import numpy as np

from ..optics import projection, thin_lens
from ..shot.errors import ShotError
from ..shot.model import NO_DRAWING, Projection, Shot
from ..shot.units import in_units
from ..shot.words import number_text
from .plan_arrays import Floats, Ints, Plan, Tracks
from .tracks import make_tracks


def make_plan(shot: Shot, *, tracks: Tracks | None = None) -> Plan:
    """Return the plan of ``shot``; its cost is linear in frames × levels.

    ``tracks`` take the place of what the schedule says, as where a scene is looked at while it is edited. Raises
    ShotError where a stand could not do it: a level at or above the lens, two levels that meet or cross, a lens asked
    to focus nearer than its focal length.
    """
    tracks = make_tracks(shot) if tracks is None else tracks
    distance = tracks.camera["height"][:, None] - tracks.levels["height"]
    _require_levels_in_order(shot, tracks, distance)
    focus, image = _focus(shot, tracks, distance)
    scale = _scale(shot, distance, image)
    x, y = projection.px_from_stand(
        tracks.levels["east"] - tracks.camera["east"][:, None],
        north=tracks.levels["north"] - tracks.camera["north"][:, None],
        camera_turn=tracks.camera["turn"][:, None],
        scale=scale,
        squeeze=shot.camera.squeeze,
    )
    drawings = tuple(shot.drawings.of(level.name) if level.has_drawings else () for level in shot.levels)
    return Plan(
        shot=shot,
        tracks=tracks,
        distance=distance,
        image_distance=image,
        focus_distance=focus,
        scale=scale,
        size_px=scale * np.array([level.art_width for level in shot.levels]),
        x=x,
        y=y,
        turn=tracks.levels["turn"] - tracks.camera["turn"][:, None],
        drawing=_drawing_indices(shot, drawings),
        drawings=drawings,
    )


def corners_px(plan: Plan) -> Floats:
    """Return where the four corners of every level's art must be, (F, L, 4, 2) pixels, in the order of CORNERS_UV."""
    shot, tracks = plan.shot, plan.tracks
    shape = plan.distance.shape
    width = np.broadcast_to([level.art_width for level in shot.levels], shape)
    height = np.broadcast_to([level.art_height for level in shot.levels], shape)
    east, north = projection.corner_offsets(width, height=height, turn=tracks.levels["turn"])
    x, y = projection.px_from_stand(
        (tracks.levels["east"] - tracks.camera["east"][:, None])[..., None] + east,
        north=(tracks.levels["north"] - tracks.camera["north"][:, None])[..., None] + north,
        camera_turn=tracks.camera["turn"][:, None, None],
        scale=plan.scale[..., None],
        squeeze=shot.camera.squeeze,
    )
    return np.stack([x, y], axis=-1)


def _require_levels_in_order(shot: Shot, tracks: Tracks, distance: Floats) -> None:
    """Raise unless, on every frame, all levels lie below the lens and in the order they are listed in."""
    unit = shot.units
    bad = np.argwhere(distance <= 0)
    if len(bad):
        frame, column = bad[0]
        name = shot.names[column]
        raise ShotError(
            shot.place(f"level.{name}.height"),
            f"on frame {tracks.frames[frame]} it stands at {_show(tracks.levels['height'][frame, column], unit)},"
            f" at or above the lens at {_show(tracks.camera['height'][frame], unit)}",
            "keep every level below the camera",
        )
    gaps = np.argwhere(np.diff(distance, axis=1) <= 0)
    if len(gaps):
        frame, column = gaps[0]
        above, below = shot.names[column], shot.names[column + 1]
        heights = tracks.levels["height"][frame]
        raise ShotError(
            shot.place(f"level.{below}.height"),
            f"on frame {tracks.frames[frame]} the level meets {above!r}, which is listed nearer the lens"
            f" ({_show(heights[column + 1], unit)} against {_show(heights[column], unit)})",
            "keep levels apart and in the order they are listed in, nearest the lens first",
        )


def _focus(shot: Shot, tracks: Tracks, distance: Floats) -> tuple[Floats, Floats]:
    """Return u and v, (F,) each; NaN for an orthographic camera."""
    camera = shot.camera
    if camera.projection is Projection.ORTHOGRAPHIC:
        nothing = np.full(shot.frame_count, np.nan)
        return nothing, nothing
    if camera.focus.level:
        focus = distance[:, shot.names.index(camera.focus.level)].copy()
    else:
        focus = np.full(shot.frame_count, camera.focus.distance)
    image = thin_lens.image_distance(tracks.camera["focal"], focus=focus)
    too_near = np.flatnonzero(np.isnan(image))
    if len(too_near):
        frame = too_near[0]
        raise ShotError(
            shot.place("camera.focus"),
            f"on frame {tracks.frames[frame]} the lens is focused at {_show(focus[frame], shot.units)}, not beyond its"
            f" focal length of {_show(tracks.camera['focal'][frame], 'mm')}",
            "focus farther away, raise the camera or take a shorter lens",
        )
    return focus, image


def _scale(shot: Shot, distance: Floats, image: Floats) -> Floats:
    camera = shot.camera
    if camera.gate is None or camera.projection is Projection.ORTHOGRAPHIC:
        return projection.px_per_metre_parallel(
            distance, frame_width=camera.frame_px[0], field_width=camera.field_width
        )
    return projection.px_per_metre(
        distance,
        frame_width=camera.frame_px[0],
        gate_width=camera.gate.width,
        squeeze=camera.squeeze,
        image=image[:, None],
    )


def _drawing_indices(shot: Shot, drawings: tuple[tuple[str, ...], ...]) -> Ints:
    """Return which drawing each level shows on each frame, (F, L): nothing before a run's first row."""
    shown = np.zeros((shot.frame_count, len(shot.levels)), dtype=np.int64)
    for column, level in enumerate(shot.levels):
        if not level.has_drawings:
            continue
        shown[:, column] = -1
        cell = shot.drawings.levels.index(level.name)
        for frame, row in zip(shot.drawings.frames, shot.drawings.rows, strict=True):
            name = row[cell]
            if name is not None:
                index = -1 if name == NO_DRAWING else drawings[column].index(name)
                shown[max(frame - shot.frames[0], 0) :, column] = index
    return shown


def _show(metres: float, unit: str) -> str:
    return f"{number_text(in_units(metres, unit))} {unit}"
