# SPDX-License-Identifier: GPL-3.0-or-later
"""The camera's sensor: another size or fit is told as that, and not as a lens that is too long or too short."""

import numpy as np

from ...plan.plan_arrays import Plan
from ...reading.scene_reading import SceneReading
from ...shot.model import CAMERA
from ...shot.words import number_text
from ..proof_facts import BLOCK, Fault

# A lens that stands where it should, to this share of its length, is not to blame.
LENS_WITHIN = 1e-4
SIZE_WITHIN = 1e-5
_FITS = {0.0: "Horizontal", 1.0: "Vertical"}


def sensor_fault(plan: Plan, *, reading: SceneReading, fault: Fault) -> Fault | None:
    """Return a fault of the sensor in the place of ``fault``, one of the lens, where the lens stands as planned."""
    camera, gate = reading.camera, plan.shot.camera.gate
    if gate is None or (np.abs(camera.lens_mm / 1000 / plan.image_distance - 1) > LENS_WITHIN).any():
        return None
    share = f"{abs(fault.amount) / float(plan.image_distance[0] * 1000):.2%}"
    fit = float(camera.upright[0])
    if fit != 0.0:
        words = _FITS.get(fit, "Auto")
        text = f"the camera's Sensor Fit is {words}, built Horizontal: everything is {share} off in size"
        return Fault("sensor-fit", BLOCK, CAMERA, "lens", fault.frames, fault.amount, "mm", fault.error_px, text)
    planned, seen = gate.width * plan.shot.camera.squeeze * 1000, float(camera.sensor_mm[0, 0])
    if abs(seen / planned - 1) <= SIZE_WITHIN:
        return None
    here, there = (number_text(value, digits=5) for value in (seen, planned))
    text = f"the camera's sensor is {here} mm wide, planned {there} mm: everything is {share} off in size"
    return Fault("sensor-size", BLOCK, CAMERA, "lens", fault.frames, seen - planned, "mm", fault.error_px, text)
