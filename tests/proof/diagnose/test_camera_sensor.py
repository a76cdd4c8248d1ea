# SPDX-License-Identifier: GPL-3.0-or-later
"""When another field is laid to the sensor and not to the lens, just inside and just outside of each limit."""

from dataclasses import replace

import pytest

from proof.readings import reading_of
from report import synthetic
from underglass.proof.diagnose.camera_sensor import sensor_fault
from underglass.proof.proof_facts import BLOCK, Fault

PLAN = synthetic.plan()
OF_LENS = Fault("offset", BLOCK, "camera", "lens", (1, 48), 1.0, "mm", 5.0, "the lens is too long")


def code_of(*, lens: float = 1.0, sensor: float = 1.0) -> str:
    """Return the code of the fault, empty where there is none, of a camera whose lens and sensor are so many times."""
    reading = reading_of(PLAN)
    camera = replace(reading.camera, lens_mm=reading.camera.lens_mm * lens, sensor_mm=reading.camera.sensor_mm * sensor)
    fault = sensor_fault(PLAN, reading=replace(reading, camera=camera), fault=OF_LENS)
    return fault.code if fault else ""


@pytest.mark.parametrize(("lens", "code"), [(1.00009, "sensor-size"), (1.00011, ""), (0.99991, "sensor-size")])
def test_a_lens_that_stands_as_planned_to_a_ten_thousandth_is_not_to_blame(lens: float, code: str) -> None:
    assert code_of(lens=lens, sensor=1.1) == code


@pytest.mark.parametrize(("sensor", "code"), [(1.000009, ""), (1.000011, "sensor-size"), (0.999989, "sensor-size")])
def test_a_sensor_is_another_from_a_hundred_thousandth_on(sensor: float, code: str) -> None:
    assert code_of(sensor=sensor) == code
