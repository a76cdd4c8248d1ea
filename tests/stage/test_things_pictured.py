"""Things that are no levels are pictured one by one only where pictures of all of them show something."""

import pytest

SCRIPT = """
import sys
from types import SimpleNamespace
from underglass.proof.changed import NOTHING
from underglass.stage.changes import _Comparing

asked = []

def pictured(base, names, frames):
    asked.append(names)
    return (float(sys.argv[1]), 3)

comparing = _Comparing.__new__(_Comparing)
comparing._seen = {"bird": {3: (0, 0, 1, 1)}, "kite": {3: (0, 0, 1, 1)}}
comparing._scene = SimpleNamespace(objects=("bird", "kite"))
comparing._frames_with = lambda name, frames: frames
comparing._with_things = pictured
told = list(comparing._told_things(None))
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
