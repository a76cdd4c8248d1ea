# SPDX-License-Identifier: GPL-3.0-or-later
"""Whole frames: cropped, of another frame, torn, flipped, turned, scaled, shifted, and windows that moved."""

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from altered.delivery import ALL, Delivery, Frame, windowed
from altered.holes import checkers, diagonal, lines, tile
from altered.kinds import Caught, Kind, Tolerated, of_axes, span
from altered.shots import FRAME_PX

Pixels = NDArray[Any]
SPOILT = (4, 5, 6)
WIDTH, HEIGHT = FRAME_PX
# Whoever knows that the whole frame lies wrongly may say of it too that its picture does.
LIES = ("colours-differ", "art-not-found", "frame-hole", "mirrored", "cut-off")


# -- windows -----------------------------------------------------------------------------------------------------------


def crop(delivery: Delivery, left: int, top: int, right: int, bottom: int) -> None:
    """Cut so many pixels off the frames' data; negative ones are added beyond, as overscan is."""

    def change(frame: Frame) -> None:
        pad = [(max(0, -top), max(0, -bottom)), (max(0, -left), max(0, -right))]
        for name, pixels in frame.channels.items():
            rows = slice(max(0, top), pixels.shape[0] - max(0, bottom))
            columns = slice(max(0, left), pixels.shape[1] - max(0, right))
            frame.channels[name] = np.pad(pixels[rows, columns], pad)
        frame.header["dataWindow"] = windowed((left, top), (WIDTH - 1 - right, HEIGHT - 1 - bottom))

    delivery.edit(SPOILT, change)


def move_data(delivery: Delivery, across: int, down: int) -> None:
    """Move the window of the data, and not the picture in it."""
    window = windowed((across, down), (WIDTH - 1 + across, HEIGHT - 1 + down))
    delivery.edit(SPOILT, lambda frame: None, dataWindow=window)


def display(delivery: Delivery, first: tuple[int, int], last: tuple[int, int], *, both: bool = False) -> None:
    """Set the display window, with ``both`` that of the data too."""
    more = {"dataWindow": windowed(first, last)} if both else {}
    delivery.edit(SPOILT, lambda frame: None, displayWindow=windowed(first, last), **more)


def set_header(delivery: Delivery, **header: Any) -> None:
    """Set what headers say beside."""
    delivery.edit(ALL, lambda frame: None, **header)


# -- of another frame --------------------------------------------------------------------------------------------------


def of_another(delivery: Delivery, what: str, by: int, frames: tuple[int, ...] = (5,)) -> None:
    """Put the picture, the passes or both of the frame ``by`` frames later in the place of a frame's own."""

    def change(number: int, frame: Frame) -> None:
        other = delivery.original(number + by)
        wanted = {"picture": [*frame.picture, frame.alpha], "passes": frame.passes, "both": list(frame.channels)}[what]
        for name in wanted:
            frame.channels[name] = other.channels[name]

    for number in frames:
        delivery.edit([number], partial(change, number))


def exchanged(delivery: Delivery, what: str) -> None:
    """Let two frames change places, and keep what they say of themselves."""
    of_another(delivery, what, 4, (3,))
    of_another(delivery, what, -4, (7,))


def torn(delivery: Delivery, where: Callable[[tuple[int, int]], NDArray[np.bool_]], by: int = -1) -> None:
    """Make part of a frame that of another frame, picture and passes."""

    def change(frame: Frame) -> None:
        other, mask = delivery.original(5 + by), where(frame.shape)
        for name, pixels in frame.channels.items():
            pixels[mask] = other.channels[name][mask]

    delivery.edit([5], change)


TEARS = {
    "lower half": lines(rows=slice(90, None)),
    "upper quarter": lines(rows=slice(0, 45)),
    "last ten rows": lines(rows=slice(170, None)),
    "right half": lines(columns=slice(120, None)),
    "every other row": lines(rows=slice(0, None, 2)),
    "a tile of 64 px": tile(64, (0.4, 0.4)),
    "a board of 32 px": checkers(32),
    "below the diagonal": diagonal,
}


# -- geometry ----------------------------------------------------------------------------------------------------------


def on_all(
    delivery: Delivery, change: Callable[[Pixels], Pixels], *, passes: bool = True, picture: bool = True
) -> None:
    """Do the same to the pixels of every channel that is meant."""

    def edit(frame: Frame) -> None:
        for name, pixels in frame.channels.items():
            if passes if name in frame.passes else picture:
                frame.channels[name] = change(pixels).astype(pixels.dtype)

    delivery.edit(SPOILT, edit)


def mapped(
    pixels: Pixels, scale: tuple[float, float] = (1.0, 1.0), turn: float = 0.0, by: tuple[float, float] = (0.0, 0.0)
) -> Pixels:
    """Return pixels scaled (down, across) and turned, degrees, about the middle and moved ``by`` (down, across) px."""
    middle = (np.array(pixels.shape) - 1) / 2
    angle = np.radians(turn)
    rotation = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    back = np.diag(1 / np.array(scale)) @ rotation.T
    offset = middle - back @ (middle + np.array(by))
    return np.asarray(ndimage.affine_transform(pixels.astype(np.float64), back, offset=offset, order=1))


def rolled(pixels: Pixels, down: int, across: int) -> Pixels:
    """Return pixels moved round the frame."""
    return np.roll(pixels, (down, across), axis=(0, 1))


FLIPS: dict[str, tuple[Callable[[Pixels], Pixels], str]] = {
    "left to right": (lambda p: p[:, ::-1], "frame-flipped"),
    "upside down": (lambda p: p[::-1], "frame-flipped"),
    "half a turn": (lambda p: p[::-1, ::-1], "frame-turned"),
    "turned by 0.5°": (partial(mapped, turn=0.5), "frame-turned"),
    "turned by 2°": (partial(mapped, turn=2.0), "frame-turned"),
    "turned by −10°": (partial(mapped, turn=-10.0), "frame-turned"),
    "a quarter turn, cut to fit": (lambda p: mapped(p, turn=90.0), "frame-turned"),
    "squeezed to 83 % across": (partial(mapped, scale=(1.0, 0.83)), "frame-scaled"),
    "squeezed to 75 % down, letterboxed": (partial(mapped, scale=(0.75, 1.0)), "frame-scaled"),
    "scaled to 50 %": (partial(mapped, scale=(0.5, 0.5)), "frame-scaled"),
    "scaled to 99 %": (partial(mapped, scale=(0.99, 0.99)), "frame-scaled"),
    "scaled to 110 %": (partial(mapped, scale=(1.1, 1.1)), "frame-scaled"),
    "scaled to 200 %": (partial(mapped, scale=(2.0, 2.0)), "frame-scaled"),
    "shifted by 1 px right": (partial(mapped, by=(0.0, 1.0)), "frame-shifted"),
    "shifted by 1 px up": (partial(mapped, by=(-1.0, 0.0)), "frame-shifted"),
    "shifted by half a pixel": (partial(mapped, by=(0.5, 0.5)), "frame-shifted"),
    "shifted by 20 px left": (partial(mapped, by=(0.0, -20.0)), "frame-shifted"),
    "shifted round by 7 px": (partial(rolled, down=3, across=7), "frame-shifted"),
    "shifted round by half the width": (partial(rolled, down=0, across=WIDTH // 2), "frame-shifted"),
}


def doubled(pixels: Pixels, by: int) -> Pixels:
    """Return pixels as a smaller picture has them that was made larger by doubling its own."""
    height, width = pixels.shape
    small = pixels[::by, ::by].repeat(by, axis=0).repeat(by, axis=1)
    return np.asarray(small[:height, :width])


def repeated(pixels: Pixels, first: int, count: int) -> Pixels:
    """Return pixels whose rows after one are the same as that one."""
    pixels[first : first + count] = pixels[first]
    return pixels


def part_rolled(pixels: Pixels, rows: slice, columns: slice, by: tuple[int, int]) -> Pixels:
    """Return pixels of which a part was moved (down, across) within itself, round its edges."""
    pixels[rows, columns] = np.roll(pixels[rows, columns], by, axis=(0, 1))
    return pixels


def leant(pixels: Pixels, by: float) -> Pixels:
    """Return pixels whose upright lines lean, by so much of their height."""
    middle = (np.array(pixels.shape) - 1) / 2
    lean = np.array([(1.0, 0.0), (by, 1.0)])
    return np.asarray(ndimage.affine_transform(pixels.astype(np.float64), lean, middle - lean @ middle, order=1))


ALL_ALONG = slice(None)
TORN: dict[str, tuple[Callable[[Pixels], Pixels], str]] = {
    "made larger from half the size": (partial(doubled, by=2), "frame-scaled"),
    "made larger from a quarter": (partial(doubled, by=4), "frame-scaled"),
    "the last rows are one": (partial(repeated, first=130, count=50), "frame-torn"),
    "a row there nine times": (partial(repeated, first=100, count=9), "frame-torn"),
    "upper part moved by 4 px": (partial(part_rolled, rows=slice(80), columns=ALL_ALONG, by=(0, 4)), "frame-torn"),
    "a band moved by 5 px": (partial(part_rolled, rows=slice(90, 120), columns=ALL_ALONG, by=(0, 5)), "frame-torn"),
    "columns moved by 5 px": (partial(part_rolled, rows=ALL_ALONG, columns=slice(60, 100), by=(5, 0)), "frame-torn"),
    "upright lines lean": (partial(leant, by=0.03), "frame-scaled"),
}
# A camera that stood elsewhere looks the same as a frame that was put elsewhere: either name is right.
AS_CAMERA = of_axes("east", "north", "height", "turn", "lens", "shift-x", "shift-y")
# Of a picture of which only the part beyond the frame's edge is gone, that part is a hole.
PICTURE_ALONE = ("colours-differ", "frame-flipped", "frame-turned", "frame-scaled", "frame-shifted", "art-not-found")


def kinds() -> Iterator[Kind]:
    """Yield the kinds of this family."""
    yield from _windows()
    yield from _of_others()
    for name, (change, code) in FLIPS.items():
        expected = Caught((code, *AS_CAMERA), span(SPOILT), also=LIES, most=4)
        yield Kind("frame laid wrongly", name, partial(on_all, change=change), expected)
    for name, (change, code) in TORN.items():
        # Where no level is off its place, gaps tell of it.
        expected = Caught((code, "cut-off", "strange-pixels"), span(SPOILT), also=(*LIES, "shows-too-much"), most=4)
        yield Kind("moved in itself", name, partial(on_all, change=change), expected)
    for name in ("left to right", "upside down", "squeezed to 83 % across", "shifted by 20 px left", "turned by 2°",
                 "scaled to 50 %", "half a turn"):  # fmt: skip
        change, code = FLIPS[name]
        alone = Caught((*PICTURE_ALONE, "frame-hole"), span(SPOILT), most=3)
        yield Kind("picture alone laid wrongly", name, partial(on_all, change=change, passes=False), alone)
        passes = Caught((code, *AS_CAMERA), span(SPOILT), also=LIES, most=4)
        yield Kind("passes alone laid wrongly", name, partial(on_all, change=change, picture=False), passes)


def _windows() -> Iterator[Kind]:
    cropped = Caught(("frame-cropped",), span(SPOILT), also=("frame-hole",), most=2)
    crops = {
        "1 px off the left": (1, 0, 0, 0),
        "1 px off the bottom": (0, 0, 0, 1),
        "2 px all round": (2, 2, 2, 2),
        "a third off the right": (0, 0, 80, 0),
        "the upper half": (0, 0, 0, 90),
        "a box in the middle": (80, 60, 80, 60),
        "all but one row": (0, 90, 0, 89),
    }
    for name, sides in crops.items():
        yield Kind("cropped", name, partial(_crop, sides), cropped)
    moved = Caught(("frame-cropped", "frame-shifted"), span(SPOILT), also=(*AS_CAMERA, *LIES), most=3)
    for across, down in ((1, 0), (0, 1), (-1, 0), (0, -1), (10, 10), (-60, 0), (300, 0)):
        change = partial(move_data, across=across, down=down)
        yield Kind("data window moved", f"by {across}, {down} px", change, moved)
    sizes = Caught(("frame-size",), span(SPOILT), also=("frame-cropped",), most=2)
    for name, first, last in (
        ("1 px wider", (0, 0), (WIDTH, HEIGHT - 1)),
        ("1 px less high", (0, 0), (WIDTH - 1, HEIGHT - 2)),
        ("twice as large", (0, 0), (2 * WIDTH - 1, 2 * HEIGHT - 1)),
        ("1 px wider at the left", (-1, 0), (WIDTH - 1, HEIGHT - 1)),
    ):
        yield Kind("display window", name, partial(display, first=first, last=last), sizes)
    for across, down in ((1, 0), (0, 2), (-30, 0)):
        first, last = (across, down), (WIDTH - 1 + across, HEIGHT - 1 + down)
        yield Kind("display window", f"moved by {across}, {down} px", partial(display, first=first, last=last), moved)
    where = {"first": (100, 50), "last": (WIDTH + 99, HEIGHT + 49), "both": True}
    fine = Tolerated("both windows are moved alike: the picture lies where it did in the frame")
    yield Kind("display window", "moved with the data", partial(display, **where), fine)
    for name, sides in {
        "16 px all round": (-16, -16, -16, -16),
        "8 px on the right": (0, 0, -8, 0),
        "1 px at the top": (0, -1, 0, 0),
    }.items():
        why = "what lies beyond the frame is no part of it"
        yield Kind("overscan", name, partial(_crop, sides), Tolerated(why))
    for name, header in {
        "pixel aspect of 2": {"pixelAspectRatio": 2.0},
        "another screen window": {"screenWindowWidth": 3.0},
        "another screen centre": {"screenWindowCenter": np.array([0.5, 0.1], dtype=np.float32)},
    }.items():
        why = "it tells how the picture is to be shown; the pixels are the same"
        yield Kind("display window", name, partial(set_header, **header), Tolerated(why))


def _crop(sides: tuple[int, int, int, int], delivery: Delivery) -> None:
    crop(delivery, *sides)


def _of_others() -> Iterator[Kind]:
    for by in (-1, 1, 2, 5, -4):
        # Named may be the frame alone, or with it the one that it is the same as.
        both = Caught(("frame-shows-another", "frames-identical"), None, most=2)
        yield Kind("of another frame", f"picture and passes, {by:+d}", partial(of_another, what="both", by=by), both)
        # Of a picture alone it may be said that both are the same, or that its colours are not those of its passes.
        codes = ("frames-identical", "frame-shows-another", "colours-differ")
        alone = Caught(codes, None, also=("passes-of-another-frame",), most=2)
        yield Kind("of another frame", f"picture alone, {by:+d}", partial(of_another, what="picture", by=by), alone)
        passes = Caught(("passes-of-another-frame",), (5, 5), also=("colours-differ",), most=2)
        yield Kind("of another frame", f"passes alone, {by:+d}", partial(of_another, what="passes", by=by), passes)
    codes = {
        "both": ("frame-shows-another",),
        "picture": ("frame-shows-another", "colours-differ", "passes-of-another-frame"),
        "passes": ("passes-of-another-frame",),
    }
    for what in ("both", "picture", "passes"):
        expected = Caught(codes[what], (3, 7), also=("colours-differ",), most=4)
        yield Kind("of another frame", f"two exchanged, {what}", partial(exchanged, what=what), expected)
    late = partial(of_another, what="both", by=-1, frames=tuple(range(2, 11)))
    # The first frame is itself: that another shows it too does not make it wrong.
    codes_late = ("frame-shows-another", "frames-identical")
    yield Kind(
        "of another frame", "all a frame late", late, Caught(codes_late, (2, 10), also=("frame-number",), most=10)
    )
    mixed = Caught(("frame-torn",), (5, 5), also=("cut-off", "colours-differ"), most=2)
    for name, where in TEARS.items():
        yield Kind("torn", f"{name} of the frame before", partial(torn, where=where), mixed)
    yield Kind("torn", "lower half of a frame far off", partial(torn, where=TEARS["lower half"], by=5), mixed)
