# SPDX-License-Identifier: GPL-3.0-or-later
"""What frames say of themselves: taken out, changed, or of another shot."""

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from altered.delivery import ALL, Delivery, Frame
from altered.kinds import CYCLES, Caught, Kind, Tolerated, span

SPOILT = (4, 5, 6)
REC_709 = (0.64, 0.33, 0.3, 0.6, 0.15, 0.06, 0.3127, 0.329)
ACESCG = (0.713, 0.293, 0.165, 0.83, 0.128, 0.044, 0.32168, 0.33767)
OURS = ("Note", "Frame", "Scene", "Camera", "Software", "Date", "Time", "File", "RenderTime")


def say(delivery: Delivery, frames: tuple[int, ...] = SPOILT, **header: Any) -> None:
    """Let frames say something else; None takes it out."""
    delivery.edit(frames, lambda frame: None, **{key.replace("__", "."): value for key, value in header.items()})


def rewrite_note(delivery: Delivery, change: Callable[[str], str]) -> None:
    """Change the note of the shot that was built."""

    def edit(frame: Frame) -> None:
        frame.header["Note"] = change(frame.header["Note"])

    delivery.edit(SPOILT, edit)


def strip(delivery: Delivery, only: str = "") -> None:
    """Take all texts out of every frame, or those whose names begin so."""

    def edit(frame: Frame) -> None:
        for key, value in list(frame.header.items()):
            if isinstance(value, str) and key.startswith(only):
                frame.header[key] = None

    delivery.edit(ALL, edit)


def change_places(delivery: Delivery) -> None:
    """Let two frames say each what the other said."""
    headers = {number: delivery.original(number).header for number in (4, 6)}
    for number, other in ((4, 6), (6, 4)):
        delivery.edit([number], lambda frame: None, **{key: headers[other][key] for key in OURS})


def _old(note: str) -> str:
    mark = note.split("shot ")[1][:16]
    return note.replace(mark, "0123456789abcdef")


def _other(note: str) -> str:
    return _old(note).replace('"Stack"', '"Market"')


def kinds() -> Iterator[Kind]:
    """Yield the kinds of this family."""
    unmarked = Tolerated("without a note it cannot be told which shot it is; that is said", notes=("frames-unmarked",))
    silent = {
        "the note gone": partial(say, Note=None),
        "an empty note": partial(say, Note=""),
        "another program's note": partial(say, Note="approved by the director"),
        "a note cut short": partial(rewrite_note, change=lambda note: note[:40]),
        "a note with a thing twice": partial(rewrite_note, change=lambda note: note.replace("scene", "shot")),
        "every text gone": strip,
    }
    for name, change in silent.items():
        yield Kind("metadata", name, change, unmarked)
    fine = {
        "the frame's number gone": (partial(say, frames=ALL, Frame=None), "the name tells it"),
        "a frame that is no number": (partial(say, Frame="five"), "it says nothing"),
        "the number without zeros": (partial(say, frames=(5,), Frame="5"), "it is the same number"),
        "scene gone": (partial(say, Scene=None), "it says nothing"),
        "camera gone": (partial(say, Camera=None), "it says nothing"),
        "software gone": (partial(say, frames=ALL, Software=None), "the version is for the reader alone"),
        "another software": (partial(say, Software="copied by a player 3.1"), "frames may be copied by any program"),
        "date gone": (partial(say, Date=None, Time=None), "nothing is told by the day"),
        "a day in the future": (partial(say, Date="2099/01/01 00:00:00"), "nothing is told by the day"),
        "another time code": (partial(say, Time="01:00:00:00"), "frames go by their numbers"),
        "further texts": (partial(say, owner="somebody", comments="take 2"), "they say nothing of the shot"),
        "another note of a farm": (partial(say, FarmTask="17"), "it says nothing of the shot"),
        "colour space unknown": (partial(say, frames=ALL, colorInteropID="unknown"), "it says nothing of colours"),
        "colour space in capitals": (partial(say, colorInteropID="LIN_REC709_SCENE"), "it is the same"),
        "chromaticities of Rec. 709": (partial(say, chromaticities=REC_709), "they are those of the art's light"),
        "colour space gone": (partial(say, frames=ALL, colorInteropID=None), "Blender before 5.0 says none"),
        "one note of the title alone": (
            partial(rewrite_note, change=lambda note: note.replace('"scene": "Scene", ', "")),
            "what it does not say is not asked",
        ),
    }
    for name, (change, why) in fine.items():
        yield Kind("metadata", name, change, Tolerated(why))
    less = "then it is not known that there were samples enough, which makes it less certain"
    without = partial(strip, only="cycles.")
    yield Kind("metadata", "Cycles' samples gone", without, Tolerated(less), (CYCLES,))
    for samples, why in (
        ("4096", "the scatter of the pixels tells"),
        ("1", "the scatter of the pixels tells"),
        ("many", less),
    ):
        change = partial(say, frames=ALL, cycles__ViewLayer__samples=samples)
        yield Kind("metadata", f"Cycles' samples said to be {samples}", change, Tolerated(why), (CYCLES,))
    wrong = {
        "the number of another frame": (partial(say, frames=(5,), Frame="0006"), "frame-number", (5, 5)),
        "numbers one too many": (partial(_one_more), "frame-number", (4, 6)),
        "another scene": (partial(say, Scene="Scene.001"), "frame-of-another-scene", span(SPOILT)),
        "another camera": (partial(say, Camera="witness"), "frame-of-another-camera", span(SPOILT)),
        "an older state of the shot": (partial(rewrite_note, change=_old), "frame-stale", span(SPOILT)),
        "the colour space of ACEScg": (partial(say, colorInteropID="lin_ap1_scene"), "colours-differ", span(SPOILT)),
        "chromaticities of ACEScg": (partial(say, chromaticities=ACESCG), "colours-differ", span(SPOILT)),
        "another shot": (partial(rewrite_note, change=_other), "frame-of-another-shot", span(SPOILT)),
    }
    for name, (change, code, frames) in wrong.items():
        yield Kind("metadata", name, change, Caught((code,), frames, most=1))
    yield Kind("metadata", "of two frames exchanged", change_places, Caught(("frame-number",), (4, 6), most=2))


def _one_more(delivery: Delivery) -> None:
    for number in SPOILT:
        delivery.edit([number], lambda frame: None, Frame=f"{number + 1:04d}")
