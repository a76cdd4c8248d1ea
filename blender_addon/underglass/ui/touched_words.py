# SPDX-License-Identifier: GPL-3.0-or-later
"""What an artist touched, in the words of the scene: not the line of a file that was never opened. Free of Blender."""

from ..shot import ShotError, UnderglassError
from ..shot.errors import Place

UNIT_WORDS = {"in": "inches", "cm": "centimetres", "mm": "millimetres"}
AXIS_WORDS = {"focal": "lens"}
_KEY_WORDS = {
    "focal": "lens",
    "focal_mm": "lens",
    "f_stop": "stop",
    "art_width": "width of the art",
    "fps": "frame rate",
    "frame_px": "size of the frame",
}


def said_of_the_scene(error: UnderglassError) -> str:
    """Return what ``error`` says, by the thing in the scene that it is about; one about no file stays as it is."""
    if not isinstance(error, ShotError):
        return str(error)
    thing = thing_of(error.place)
    said = f"{thing}: {error.problem}" if thing and not error.problem.startswith(thing) else error.problem
    return f"{said}; {error.remedy}" if error.remedy else said


def thing_of(place: Place) -> str:
    """Return what a key of a shot's files is called in the scene: "reeds", "camera lens", "frame rate"."""
    if not place.key:
        return ""
    key = place.key.removeprefix("schedule:").partition("@")[0]
    first, _, rest = key.partition(".")
    if first == "level" and rest:
        head, dot, last = rest.rpartition(".")
        return f"{head} {_KEY_WORDS.get(last, last)}" if dot else rest
    if rest:
        return f"{first} {_KEY_WORDS.get(rest, rest)}"
    return _KEY_WORDS.get(first, first)
