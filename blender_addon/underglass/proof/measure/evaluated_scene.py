# SPDX-License-Identifier: GPL-3.0-or-later
"""The evaluated scene in pixels: Blender's own camera, worked out from what was read, whoever set it up.

Independent of the plan's projection on purpose: it goes by sensor, fit, shift and matrices, not by gate and stand.
"""

import numpy as np
from numpy.typing import NDArray

from ...reading.scene_reading import SceneReading

Floats = NDArray[np.float64]


def scene_corners_px(reading: SceneReading) -> Floats:
    """Return where the corners of every marked object are on screen, (F, G, 4, 2) px from the frame's centre."""
    return px_from_camera(reading, local=camera_space(reading))


def px_from_camera(reading: SceneReading, *, local: Floats) -> Floats:
    """Return where points ``local`` (F, G, P, 3) of the camera's own space are on screen, (F, G, P, 2) px."""
    across, aspect = fitted_pixels(reading)
    lens, sensor = reading.camera.lens_mm, fitted_sensor(reading)
    parallel = reading.camera.parallel == 1.0
    depth = np.where(parallel[:, None, None], 1.0, -local[..., 2])
    scale = np.where(parallel, across / reading.camera.ortho_scale, across * lens / sensor)
    with np.errstate(divide="ignore", invalid="ignore"):
        px = local[..., :2] * scale[:, None, None, None] / depth[..., None]
    px = px - (reading.camera.shift * across[:, None])[:, None, None, :]
    return np.asarray(px * np.array([1.0, aspect]))


def frame_size(reading: SceneReading) -> tuple[int, int]:
    """Return the size in pixels at which the scene renders."""
    settings = reading.settings
    percent = settings["percentage"]
    return int(settings["width"] * percent / 100), int(settings["height"] * percent / 100)


def camera_space(reading: SceneReading) -> Floats:
    """Return the corners seen from the camera, (F, G, 4, 3); a camera's scale does not count in Blender."""
    matrix = reading.camera.matrix
    axes = matrix[:, :3, :3]
    axes = axes / np.linalg.norm(axes, axis=1, keepdims=True)
    offset = reading.corners - matrix[:, None, None, :3, 3]
    return np.asarray(np.einsum("fij,fgci->fgcj", axes, offset))


def fitted_pixels(reading: SceneReading) -> tuple[Floats, float]:
    """Return the pixels along the side that the sensor is fitted to, (F,), and a pixel's width over its height."""
    width, height = frame_size(reading)
    aspect = float(reading.settings["pixel_aspect"])
    upright = np.where(np.isnan(reading.camera.upright), width * aspect < height, reading.camera.upright == 1.0)
    return np.where(upright, height / aspect, float(width)), aspect


def fitted_sensor(reading: SceneReading) -> Floats:
    """Return the size of the sensor's fitted side, (F,) mm; where the longer side is fitted Blender takes the width."""
    return np.where(reading.camera.upright == 1.0, reading.camera.sensor_mm[:, 1], reading.camera.sensor_mm[:, 0])
