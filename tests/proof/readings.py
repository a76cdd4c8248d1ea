# SPDX-License-Identifier: GPL-3.0-or-later
"""Readings of scenes that are put together by hand: a scene as it was planned, without a Blender to read it from."""

import numpy as np

from underglass.optics.projection import corner_offsets
from underglass.optics.thin_lens import marked_stop
from underglass.plan.plan_arrays import Plan
from underglass.reading.scene_reading import CameraReading, LevelReading, SceneReading
from underglass.shot import Projection

SETTINGS = {
    "frame_step": 1,
    "percentage": 100,
    "border": False,
    "time_stretch": 1.0,
    "engine": "CYCLES",
    "clear_surfaces": 64,
    "view_transform": "Standard",
    "exposure": 0.0,
    "gamma": 1.0,
    "film_exposure": 1.0,
    "world_volume": False,
    "motion_blur": False,
    "stereo": False,
    "layers_rendered": 1,
    "layer_rendered": True,
    "compositor": False,
    "edited_in_sequencer": False,
}


def pose(east: float, north: float, height: float, turn: float) -> np.ndarray:
    """Return a matrix (4, 4) that turns about the vertical and then shifts."""
    cosine, sine = np.cos(turn), np.sin(turn)
    return np.array([[cosine, -sine, 0, east], [sine, cosine, 0, north], [0, 0, 1, height], [0, 0, 0, 1]])


def reading_of(plan: Plan) -> SceneReading:
    """Return what would be read of a scene that is as ``plan`` wants it; its camera is a perspective one."""
    assert plan.shot.camera.projection is Projection.PERSPECTIVE
    shot, levels, camera = plan.shot, plan.tracks.levels, plan.tracks.camera
    shape = plan.distance.shape
    width = np.broadcast_to([level.art_width for level in shot.levels], shape)
    height = np.broadcast_to([level.art_height for level in shot.levels], shape)
    east, north = corner_offsets(width, height=height, turn=levels["turn"])
    up = np.broadcast_to(levels["height"][..., None], east.shape)
    corners = np.stack([east + levels["east"][..., None], north + levels["north"][..., None], up], axis=-1)
    seen = CameraReading.empty(len(plan.frames))
    rows = zip(*(camera[axis] for axis in ("east", "north", "height", "turn")), strict=True)
    seen.matrix[:] = [pose(*row) for row in rows]
    seen.lens_mm[:] = plan.image_distance * 1000
    seen.sensor_mm[:] = shot.camera.gate.width * shot.camera.squeeze * 1000, shot.camera.gate.height * 1000
    seen.shift[:], seen.ortho_scale[:], seen.parallel[:], seen.upright[:] = 0.0, 1.0, 0.0, 0.0
    seen.clip[:] = 0.001, 1000.0
    stop = marked_stop(shot.camera.f_stop, focal=camera["focal"], image=plan.image_distance)
    seen.f_stop[:], seen.focus[:] = stop, np.minimum(plan.focus_distance, 1000.0)
    return SceneReading(
        blender="5.0.1",
        frames=plan.frames,
        corners=corners,
        hidden=np.zeros(shape, dtype=bool),
        camera=seen,
        levels=tuple(LevelReading(name, name, True, (), (), None, ()) for name in plan.names),
        settings=SETTINGS
        | {
            "frame_start": shot.frames[0],
            "frame_end": shot.frames[1],
            "fps": shot.fps,
            "width": shot.camera.frame_px[0],
            "height": shot.camera.frame_px[1],
            "pixel_aspect": shot.camera.squeeze,
        },
        others=(),
        camera_facts={
            "name": "camera",
            "ours": True,
            "type": "PERSP",
            "pulls": [],
            "curves": [],
            "cuts": [],
            "depth_of_field": True,
        },
    )
