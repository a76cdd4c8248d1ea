# SPDX-License-Identifier: GPL-3.0-or-later
"""What is wrong with a camera apart from its place, just inside and just outside of what counts as the same."""

from dataclasses import replace

import pytest

from proof.readings import reading_of
from report import synthetic
from underglass.optics.thin_lens import marked_stop
from underglass.proof.audit.camera_faults import camera_faults
from underglass.reading.scene_reading import SceneReading

PLAN = synthetic.plan()


def codes(reading: SceneReading) -> list[str]:
    return [fault.code for fault in camera_faults(PLAN, reading=reading)]


@pytest.mark.parametrize(
    ("factor", "found"), [(1.00009, []), (1.00011, ["focus"]), (0.99991, []), (0.99989, ["focus"])]
)
def test_a_lens_focused_elsewhere_by_more_than_a_ten_thousandth(factor: float, found: list[str]) -> None:
    reading = reading_of(PLAN)
    assert codes(replace(reading, camera=replace(reading.camera, focus=reading.camera.focus * factor))) == found


@pytest.mark.parametrize(("factor", "found"), [(1.00009, []), (1.00011, ["f-stop"])])
def test_a_lens_stopped_otherwise_by_more_than_a_ten_thousandth(factor: float, found: list[str]) -> None:
    reading = reading_of(PLAN)
    assert codes(replace(reading, camera=replace(reading.camera, f_stop=reading.camera.f_stop * factor))) == found


@pytest.mark.parametrize(("metres", "found"), [(999.0, ["focus"]), (1001.0, []), (1e6, [])])
def test_a_kilometre_is_as_good_as_infinity_to_a_lens(metres: float, found: list[str]) -> None:
    far = replace(PLAN, focus_distance=PLAN.focus_distance * 0 + float("inf"))
    reading = reading_of(far)
    camera = replace(reading.camera, focus=reading.camera.focus * 0 + metres)
    stop = marked_stop(far.shot.camera.f_stop, focal=far.tracks.camera["focal"], image=far.image_distance)
    camera = replace(camera, f_stop=reading.camera.f_stop * 0 + stop)
    assert [fault.code for fault in camera_faults(far, reading=replace(reading, camera=camera))] == found
