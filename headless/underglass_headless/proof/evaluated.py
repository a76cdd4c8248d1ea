"""The evaluated scene in pixels: Blender's own camera, worked out from what was read, whoever set it up.

Independent of the plan's projection on purpose: it goes by sensor, fit, shift and matrices, not by gate and stand.
"""

import numpy as np
from numpy.typing import NDArray

from underglass.plan.reading import SceneReading

Floats = NDArray[np.float64]


def scene_corners_px(reading: SceneReading) -> Floats:
    """Return where the corners of every marked object are on screen, (F, G, 4, 2) px from the frame's centre."""
    local = _camera_space(reading)
    across, aspect = _fitted_pixels(reading)
    lens, sensor = reading.camera.lens_mm, _fitted_sensor(reading)
    if reading.camera_facts.get("type") == "ORTHO":
        scale = (across / reading.camera.ortho_scale)[:, None, None, None]
        px = local[..., :2] * scale
    else:
        scale = (across * lens / sensor)[:, None, None, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            px = local[..., :2] * scale / -local[..., 2:]
    px = px - (reading.camera.shift * across)[:, None, None, :]
    return np.asarray(px * np.array([1.0, aspect]))


def frame_size(reading: SceneReading) -> tuple[int, int]:
    """Return the size in pixels at which the scene renders."""
    settings = reading.settings
    percent = settings["percentage"]
    return int(settings["width"] * percent / 100), int(settings["height"] * percent / 100)


def _camera_space(reading: SceneReading) -> Floats:
    """Return the corners seen from the camera, (F, G, 4, 3); a camera's scale does not count in Blender."""
    matrix = reading.camera.matrix
    axes = matrix[:, :3, :3]
    axes = axes / np.linalg.norm(axes, axis=1, keepdims=True)
    offset = reading.corners - matrix[:, None, None, :3, 3]
    return np.asarray(np.einsum("fij,fgci->fgcj", axes, offset))


def _is_wide(reading: SceneReading) -> bool:
    fit = reading.camera_facts.get("sensor_fit", "AUTO")
    if fit == "AUTO":
        width, height = frame_size(reading)
        return bool(width * reading.settings["pixel_aspect"] >= height)
    return bool(fit == "HORIZONTAL")


def _fitted_pixels(reading: SceneReading) -> tuple[float, float]:
    """Return the pixels along the side that the sensor is fitted to, and a pixel's width over its height."""
    width, height = frame_size(reading)
    aspect = float(reading.settings["pixel_aspect"])
    return (float(width), aspect) if _is_wide(reading) else (height / aspect, aspect)


def _fitted_sensor(reading: SceneReading) -> Floats:
    vertical = reading.camera_facts.get("sensor_fit") == "VERTICAL"
    return reading.camera.sensor_mm[:, 1 if vertical else 0]
