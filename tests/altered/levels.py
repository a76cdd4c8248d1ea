# SPDX-License-Identifier: GPL-3.0-or-later
"""One level, or several, elsewhere than planned: shifted, scaled, turned, exchanged, held, late, taken out."""

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from altered.delivery import ALL, Delivery, Frame, plane_of
from altered.kinds import BOTH, CYCLES, Caught, Kind, Tolerated, of_axes, span
from altered.shots import BIRD, BOAT, HILLS, NAMES, REEDS, SKY

Pixels = NDArray[Any]
# The map of places (px from the frame's middle, right and up) that a level is put through.
Map = Callable[[Pixels, Pixels], tuple[Pixels, Pixels]]
SPOILT = (4, 5, 6)
PLACED = of_axes("east", "north", "height", "turn", "width", "art-height", "tilt", "shift-x", "shift-y")
# Only coordinates are moved here, or one pass is another's: where that is more than filters even out, picture and marks
# contradict them, and whoever says so beside is right.
CONTRADICTED = (
    "colours-differ",
    "cut-off",
    "see-through",
    "shows-too-much",
    "in-the-way",
    "strange-pixels",
    "frame-hole",
)


def moved(delivery: Delivery, levels: Iterable[int], back: Map, frames: Iterable[int] = ALL) -> None:
    """Let the coordinates of levels say that they lie elsewhere, where they show.

    ``back`` gives for places the places whose coordinates they get: a shift to the right looks up further left.
    """
    delivery.edit(frames, lambda frame: [_move(frame, level, back) for level in levels] and None)


def _move(frame: Frame, level: int, back: Map) -> None:
    if frame.fringes:
        _move_fringes(frame, level, back)
        return
    mark = frame.channels[frame.mark(level)]
    plane = plane_of(frame, level)
    change = _change(plane, back, *_places(frame.shape))
    for letter, by in zip("RG", change, strict=True):
        pixels = frame.channels[f"ViewLayer.proof{level}.{letter}"]
        frame.channels[f"ViewLayer.proof{level}.{letter}"] = (pixels + by * mark).astype(pixels.dtype)


def _move_fringes(frame: Frame, level: int, back: Map) -> None:
    """Turn the phase of the fringes where a level shows, and shift its coarse coordinates."""
    mark = frame.channels[frame.mark(level)].astype(np.float64)
    rows, columns = np.nonzero(mark > 0.995)
    basis = np.column_stack([np.ones(len(rows)), columns, rows])
    coarse = np.column_stack([frame.channels[f"ViewLayer.proof{c}.R"][rows, columns] for c in "uv"])
    plane = np.linalg.lstsq(basis, coarse.astype(np.float64), rcond=None)[0].T
    change = _change(plane, back, *_places(frame.shape))
    for letter, by, count in zip("uv", change, frame.fringes[level], strict=True):
        names = [f"ViewLayer.proof{letter}.{channel}" for channel in "RGB"]
        value, cosine, sine = (frame.channels[name].astype(np.float64) for name in names)
        phase = 2 * np.pi * count * by
        turned = cosine * np.cos(phase) - sine * np.sin(phase), cosine * np.sin(phase) + sine * np.cos(phase)
        for name, new, old in zip(names, (value + by * mark, *turned), (value, cosine, sine), strict=True):
            frame.channels[name] = np.where(mark > 0.5, new, old).astype(frame.channels[name].dtype)


def _places(shape: tuple[int, int]) -> tuple[Pixels, Pixels]:
    rows, columns = np.indices(shape).astype(np.float64)
    return columns + 0.5 - shape[1] / 2, shape[0] / 2 - rows - 0.5


def _change(plane: Pixels, back: Map, x: Pixels, y: Pixels) -> Pixels:
    """Return by how much the two coordinates change at every place; ``plane`` (2, 3) is of 1, column and row."""
    there_x, there_y = back(x, y)
    across, down = there_x - x, -(there_y - y)
    return np.stack([one[1] * across + one[2] * down for one in plane])


def shift(right: float, up: float) -> Map:
    """Return a shift, px."""
    return lambda x, y: (x - right, y - up)


def scale(across: float, up: float) -> Map:
    """Return a change of size about the middle."""
    return lambda x, y: (x / across, y / up)


def turn(degrees: float) -> Map:
    """Return a turn about the middle, counter-clockwise."""
    angle = np.radians(degrees)
    return lambda x, y: (np.cos(angle) * x + np.sin(angle) * y, np.cos(angle) * y - np.sin(angle) * x)


def tilt(far: float) -> Map:
    """Return a keystone: so much farther off at the right edge."""
    return lambda x, y: (x * (1 + far * x / 120), y * (1 + far * x / 120))


# -- passes as they are in other frames, or in other levels ------------------------------------------------------------


def frozen(delivery: Delivery, level: int, at: int, frames: Iterable[int]) -> None:
    """Let a level stay as it is on one frame (of Cycles, where the passes of levels are their own)."""
    late(delivery, level, dict.fromkeys(frames, at))


def late(delivery: Delivery, level: int, other: dict[int, int]) -> None:
    """Give frames the pass that a level has on other ones."""
    for number, source in other.items():
        original = delivery.original(source)

        def change(frame: Frame, original: Frame = original) -> None:
            for name in frame.of_level(level):
                frame.channels[name] = original.channels[name]

        delivery.edit([number], change)


def exchanged(delivery: Delivery, one: int, other: int, frames: Iterable[int] = ALL) -> None:
    """Let two levels change their passes."""

    def change(frame: Frame) -> None:
        for a, b in zip(frame.of_level(one), frame.of_level(other), strict=True):
            frame.channels[a], frame.channels[b] = frame.channels[b], frame.channels[a]

    delivery.edit(frames, change)


def in_turn(delivery: Delivery, order: tuple[int, ...]) -> None:
    """Let all levels have the passes of others."""

    def change(frame: Frame) -> None:
        before = dict(frame.channels)
        for level, source in enumerate(order):
            for a, b in zip(frame.of_level(level), frame.of_level(source), strict=True):
                frame.channels[a] = before[b]

    delivery.edit(ALL, change)


def emptied(delivery: Delivery, levels: Iterable[int], frames: Iterable[int] = SPOILT) -> None:
    """Leave nothing in the passes of levels."""

    def change(frame: Frame) -> None:
        for level in levels:
            for name in frame.of_level(level):
                frame.channels[name] = np.zeros_like(frame.channels[name])

    delivery.edit(frames, change)


def dropped(delivery: Delivery, level: int, frames: Iterable[int] = SPOILT) -> None:
    """Take the channels of a level out of the file."""

    def change(frame: Frame) -> None:
        for name in frame.of_level(level):
            del frame.channels[name]

    delivery.edit(frames, change)


def held_out(delivery: Delivery, level: int, frames: Iterable[int] = SPOILT) -> None:
    """Leave a hole in the shape of a level, in the picture and in what lies behind, as a holdout does."""

    def change(frame: Frame) -> None:
        shows = frame.channels[frame.mark(level)].astype(np.float64)
        for name, pixels in frame.channels.items():
            frame.channels[name] = (pixels * (1 - np.clip(shows, 0, 1))).astype(pixels.dtype)

    delivery.edit(frames, change)


def mirrored(delivery: Delivery, level: int, letter: str) -> None:
    """Let a coordinate of a level run the other way."""

    def change(frame: Frame) -> None:
        mark = frame.channels[frame.mark(level)]
        name = f"ViewLayer.proof{level}.{letter}"
        frame.channels[name] = (mark - frame.channels[name]).astype(mark.dtype)

    delivery.edit(ALL, change)


# -- the table ---------------------------------------------------------------------------------------------------------

TOLERANCE_PX = 0.1
WAYS = {"right": (1, 0), "up": (0, 1), "left and down": (-0.7, -0.7)}
WITHIN = "less than the tolerance with the uncertainty counted against it"


def kinds() -> Iterator[Kind]:
    """Yield the kinds of this family."""
    for level in (REEDS, BIRD, BOAT, HILLS, SKY):
        for px in (0.02, 0.2, 0.5, 1.0, 5.0, 40.0):
            way, (right, up) = list(WAYS.items())[(level + int(px)) % len(WAYS)]
            expected = Tolerated(WITHIN) if px < TOLERANCE_PX / 2 else _of(level)
            change = partial(moved, levels=[level], back=shift(px * right, px * up))
            yield Kind("level elsewhere", f"{NAMES[level]} {px:g} px {way}", change, expected)
    more: dict[str, tuple[int, Map]] = {
        "boat larger by 0.1 %": (BOAT, scale(1.005, 1.005)),
        "hills larger by 1 %": (HILLS, scale(1.01, 1.01)),
        "sky smaller by 10 %": (SKY, scale(0.9, 0.9)),
        "bird wider by 2 %": (BIRD, scale(1.02, 1.0)),
        "sky taller by 1 %": (SKY, scale(1.0, 1.01)),
        "boat turned by 0.5°": (BOAT, turn(0.5)),
        "sky turned by −0.2°": (SKY, turn(-0.2)),
        "hills turned by 5°": (HILLS, turn(5.0)),
        "bird turned by 180°": (BIRD, turn(180.0)),
        "sky tilted": (SKY, tilt(0.02)),
        "hills tilted": (HILLS, tilt(0.05)),
    }
    for name, (level, back) in more.items():
        expected = _of(level)
        if "tilted" in name:
            codes = ("not-flat", "tilt-offset", *PLACED)
            expected = Caught(codes, None, subject=NAMES[level], also=CONTRADICTED, most=12)
        yield Kind("level elsewhere", name, partial(moved, levels=[level], back=back), expected)
    for level, frames in ((BOAT, (6,)), (SKY, (1,)), (BIRD, (10,)), (HILLS, (3, 4, 5))):
        change = partial(moved, levels=[level], back=shift(1.0, 0.0), frames=frames)
        expected = Caught(PLACED, span(frames), subject=NAMES[level], most=3)
        yield Kind("level elsewhere", f"{NAMES[level]} on frames {frames} alone", change, expected)
    yield from _several()
    yield from _of_passes()


def _of(level: int) -> Caught:
    return Caught(PLACED, (1, 10), subject=NAMES[level], also=CONTRADICTED, most=12)


def _several() -> Iterator[Kind]:
    two = partial(moved, levels=[BOAT, SKY], back=shift(2.0, 0.0))
    yield Kind("level elsewhere", "boat and sky 2 px right", two, _of(BOAT))
    most = partial(moved, levels=[BIRD, BOAT, HILLS, SKY], back=shift(2.0, 0.0))
    camera = Caught((*PLACED, *of_axes("lens")), (1, 10), also=CONTRADICTED, most=12)
    yield Kind("level elsewhere", "all but the reeds 2 px right", most, camera)
    every = partial(moved, levels=range(5), back=shift(0.0, 1.5))
    as_one = Caught((*PLACED, "frame-shifted", "colours-differ"), (1, 10), most=5)
    yield Kind("level elsewhere", "all levels 1.5 px up", every, as_one)


def _of_passes() -> Iterator[Kind]:
    wrong = (
        *PLACED,
        "mirrored",
        "not-seen",
        "cut-off",
        "passes-exchanged",
        "passes-of-another-frame",
        "shows-too-much",
    )
    for one, other in ((BIRD, BOAT), (REEDS, HILLS), (HILLS, SKY), (REEDS, SKY)):
        expected = Caught(("passes-exchanged",), (1, 10), also=("colours-differ",), most=2)
        name = f"{NAMES[one]} and {NAMES[other]}"
        yield Kind("level exchanged", name, partial(exchanged, one=one, other=other), expected, engines=(CYCLES,))
        codes = ("passes-exchanged", "not-seen", *PLACED, "cut-off", "shows-too-much")
        marks = Caught(codes, (1, 10), also=("order-changed", *CONTRADICTED), most=12)
        yield Kind(
            "level exchanged", f"{name}, marks", partial(exchanged, one=one, other=other), marks, engines=BOTH[1:]
        )
    once = Caught(("passes-exchanged",), span(SPOILT), also=("colours-differ",), most=2)
    some = partial(exchanged, one=BOAT, other=SKY, frames=SPOILT)
    yield Kind("level exchanged", "boat and sky, some frames", some, once, engines=(CYCLES,))
    for name, order in {"all moved on by one": (1, 2, 3, 4, 0), "all in reverse": (4, 3, 2, 1, 0)}.items():
        expected = Caught(("passes-exchanged",), (1, 10), also=("colours-differ",), most=3)
        yield Kind("level exchanged", name, partial(in_turn, order=order), expected, engines=(CYCLES,))
    for level in (BIRD, BOAT, HILLS, SKY, REEDS):
        gone = Caught(("not-seen",), span(SPOILT), subject=NAMES[level], also=("frame-hole", "in-the-way"), most=2)
        yield Kind("level gone", f"pass of {NAMES[level]} empty", partial(emptied, levels=[level]), gone)
        missing = Caught(("not-proved",), span(SPOILT), subject=NAMES[level], most=2)
        yield Kind("level gone", f"no pass of {NAMES[level]}", partial(dropped, level=level), missing)
        holed = Caught(
            ("not-seen", "cut-off", "frame-hole"), span(SPOILT), also=("colours-differ", "frame-hole"), most=6
        )
        yield Kind("level gone", f"{NAMES[level]} held out", partial(held_out, level=level), holed)
    all_gone = Caught(("not-proved", "in-the-way", "frame-hole"), span(SPOILT), most=2)
    yield Kind("level gone", "passes of all empty", partial(emptied, levels=range(5)), all_gone)
    two = Caught(("not-seen",), span(SPOILT), subject="bird", also=("frame-hole", "in-the-way"), most=3)
    yield Kind("level gone", "passes of bird and boat empty", partial(emptied, levels=[BIRD, BOAT]), two)
    for level in (BIRD, BOAT, HILLS, SKY):
        expected = Caught(wrong, (2, 10), subject=NAMES[level], also=CONTRADICTED, most=12)
        hold = partial(frozen, level=level, at=1, frames=range(2, 11))
        yield Kind("level held or late", f"{NAMES[level]} held from the first frame", hold, expected, engines=(CYCLES,))
        one = Caught(wrong, (6, 6), subject=NAMES[level], also=CONTRADICTED, most=12)
        hold = partial(frozen, level=level, at=5, frames=[6])
        yield Kind("level held or late", f"{NAMES[level]} held for a frame", hold, one, engines=(CYCLES,))
        behind = partial(late, level=level, other={frame: frame - 1 for frame in range(2, 11)})
        yield Kind("level held or late", f"{NAMES[level]} a frame late", behind, expected, engines=(CYCLES,))
        ahead = partial(late, level=level, other={frame: frame + 2 for frame in range(1, 9)})
        early = Caught(wrong, (1, 8), subject=NAMES[level], also=CONTRADICTED, most=12)
        yield Kind("level held or late", f"{NAMES[level]} two frames early", ahead, early, engines=(CYCLES,))
    for letter, name in (("R", "left to right"), ("G", "upside down")):
        expected = Caught(wrong, (1, 10), subject="boat", also=CONTRADICTED, most=12)
        yield Kind(
            "level elsewhere",
            f"boat flipped {name}",
            partial(mirrored, level=BOAT, letter=letter),
            expected,
            engines=(CYCLES,),
        )
