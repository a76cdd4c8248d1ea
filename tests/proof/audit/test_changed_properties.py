# SPDX-License-Identifier: GPL-3.0-or-later
"""Which changes of a scene count as seen, and how many are named, just inside and just outside of the limits."""

from dataclasses import replace

import pytest

from proof.readings import reading_of
from report import synthetic
from underglass.proof.audit.changed_properties import change_faults, changes_pixels
from underglass.proof.proof_facts import Fault
from underglass.reading.scene_reading import NOT_RENDERED, Change

PLAN = synthetic.plan()
PROPERTY = Change("scene", "setting", "render.some_value", "Some Value", "1", "2", 9.0, 3)


def faults_of(*changes: Change) -> list[Fault]:
    return list(change_faults(PLAN, reading=replace(reading_of(PLAN), changes=changes), told=()))


@pytest.mark.parametrize(
    ("key", "shown", "seen"),
    [
        # one code of 255, and a twentieth for codes of 16 bits
        ("render.some_value", 1.04, False),
        ("render.some_value", 1.06, True),
        # what shows only in motion: the twentieth alone
        ("render.use_motion_blur", 0.04, False),
        ("render.use_motion_blur", 0.06, True),
        ("render.some_value", NOT_RENDERED, True),
    ],
)
def test_a_change_is_seen_from_one_code_on(key: str, shown: float, seen: bool) -> None:
    change = replace(PROPERTY, key=key, shown=shown)
    assert changes_pixels(change) == seen
    assert [fault.code for fault in faults_of(change)] == ["setting-changed" if seen else "harmless-changes"]


def test_five_harmless_changes_are_named_and_a_sixth_is_counted() -> None:
    quiet = [replace(PROPERTY, words=f"Value {number}", shown=0.0) for number in range(6)]
    (five,), (six,) = faults_of(*quiet[:5]), faults_of(*quiet)
    assert five.message.endswith(": Value 0, Value 1, Value 2, Value 3, Value 4")
    assert six.message.endswith(": Value 0, Value 1, Value 2, Value 3, Value 4 and 1 more")


def test_of_colour_management_five_properties_are_named() -> None:
    loud = [replace(PROPERTY, kind="colour", words=f"Value {number}") for number in range(6)]
    (fault,) = faults_of(*loud)
    assert fault.code == "colour-management"
    assert [f"Value {number}" in fault.message for number in range(6)] == [True] * 5 + [False]
