# SPDX-License-Identifier: GPL-3.0-or-later
"""Things that are no levels are pictured one by one only where pictures of all of them show something."""

import pytest

SCRIPT = """
import sys
from types import SimpleNamespace
from underglass.proof.audit.changed_properties import NOTHING
from underglass.stage.thing_pictures import ThingPictures

asked = []

def pictured(base, names, frames):
    asked.append(names)
    return (float(sys.argv[1]), 3)

class Pictured(ThingPictures):
    def frames_with(self, name, frames):
        return frames

    def with_all(self, *asked_for):
        return pictured(*asked_for)

seen = {name: {3: (0, 0, 1, 1)} for name in ("bird", "kite")}
scene = SimpleNamespace(objects=("bird", "kite"))
told = list(Pictured(scene, None, None, seen, range(1, 9), (96, 72)).told(None))
answer({"asked": asked, "shown": [change.shown for change in told], "nothing": NOTHING})
"""
# More than a code of 255, and no more than that and what rounding adds: no pixel changes.
ROUNDED = 1.03


@pytest.mark.parametrize(("shown", "sets"), [(ROUNDED, 1), (40.0, 3)])
def test_what_rounding_adds_to_a_code_lets_nobody_look_for_the_thing(run_in_blender, shown, sets):
    found = run_in_blender(SCRIPT, shown)
    assert 1.0 < ROUNDED < found["nothing"]
    assert len(found["asked"]) == sets
    assert found["shown"] == [shown, shown]
