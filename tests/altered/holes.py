# SPDX-License-Identifier: GPL-3.0-or-later
"""Parts of a frame that show nothing, one level with a hole or with too much, and foreign things in the way."""

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path

import numpy as np
import OpenEXR
from numpy.typing import NDArray

from altered.delivery import Delivery, Frame, read, write
from altered.kinds import CYCLES, Caught, Kind, Tolerated, span
from altered.shots import BIRD, BOAT, HILLS, NAMES, REEDS, SKY

Mask = NDArray[np.bool_]
Where = Callable[[tuple[int, int]], Mask]

# The frames that are spoilt, unless a kind says otherwise.
SPOILT = (4, 5, 6)
# Whoever finds a hole may call it by what is missing there.
HOLE = ("frame-hole",)
BESIDE = ("cut-off", "colours-differ", "art-not-found", "in-the-way")
PLACES = {"middle": (0.5, 0.5), "top left": (0.0, 0.0), "bottom right": (1.0, 1.0), "left edge": (0.5, 0.0)}


def tile(side: int, place: tuple[float, float]) -> Where:
    """Return where a square tile lies: ``place`` is down and across, 0 to 1."""

    def where(shape: tuple[int, int]) -> Mask:
        top, left = (round((extent - side) * share) for extent, share in zip(shape, place, strict=True))
        mask = np.zeros(shape, dtype=bool)
        mask[top : top + side, left : left + side] = True
        return mask

    return where


def lines(rows: slice | None = None, columns: slice | None = None) -> Where:
    """Return where some rows, or some columns, are."""

    def where(shape: tuple[int, int]) -> Mask:
        mask = np.zeros(shape, dtype=bool)
        mask[rows or slice(0), :] = rows is not None
        mask[:, columns or slice(0)] |= columns is not None
        return mask

    return where


def border(width: int) -> Where:
    """Return where a border of the frame is."""

    def where(shape: tuple[int, int]) -> Mask:
        mask = np.ones(shape, dtype=bool)
        mask[width:-width, width:-width] = False
        return mask

    return where


def checkers(side: int) -> Where:
    """Return where the dark squares of a board are."""

    def where(shape: tuple[int, int]) -> Mask:
        rows, columns = np.indices(shape) // side
        return np.asarray((rows + columns) % 2 == 1)

    return where


def disc(share: float) -> Where:
    """Return where a disc in the middle is that covers a ``share`` of the frame."""

    def where(shape: tuple[int, int]) -> Mask:
        rows, columns = np.indices(shape)
        away = np.hypot(rows - shape[0] * 0.45, columns - shape[1] * 0.55)
        return np.asarray(away < np.sqrt(share * shape[0] * shape[1] / np.pi))

    return where


def diagonal(shape: tuple[int, int]) -> Mask:
    """Return where all below the diagonal is."""
    rows, columns = np.indices(shape)
    return np.asarray(rows * shape[1] > columns * shape[0])


HOLES: dict[str, Where] = {
    **{f"tile of {side} px, {at}": tile(side, PLACES[at]) for side in (128, 64, 32, 16) for at in PLACES},
    **{f"border of {width} px": border(width) for width in (20, 8, 4, 2)},
    "first row": lines(rows=slice(0, 1)),
    "last row": lines(rows=slice(-1, None)),
    "first column": lines(columns=slice(0, 1)),
    "last column": lines(columns=slice(-1, None)),
    "every other row": lines(rows=slice(1, None, 2)),
    "every other column": lines(columns=slice(0, None, 2)),
    "every fourth row": lines(rows=slice(3, None, 4)),
    "one row in the middle": lines(rows=slice(90, 91)),
    "three rows in the middle": lines(rows=slice(90, 93)),
    "one column in the middle": lines(columns=slice(120, 121)),
    "lower half": lines(rows=slice(90, None)),
    "right third": lines(columns=slice(160, None)),
    "all but a strip": lines(rows=slice(12, None)),
    "a board of 8 px": checkers(8),
    "a board of 32 px": checkers(32),
    "below the diagonal": diagonal,
}


def blank(frame: Frame, names: Iterable[str], where: Where, value: float = 0.0) -> None:
    """Fill some channels where told."""
    mask = where(frame.shape)
    for name in names:
        frame.channels[name][mask] = value


def blank_all(delivery: Delivery, where: Where, frames: Iterable[int] = SPOILT) -> None:
    """Leave nothing there, in any channel."""
    delivery.edit(frames, lambda frame: blank(frame, frame.channels, where))


def blank_picture(delivery: Delivery, where: Where) -> None:
    """Leave no picture there, and the passes whole."""
    delivery.edit(SPOILT, lambda frame: blank(frame, (*frame.picture, frame.alpha), where))


def zeros_in_file(delivery: Delivery, length: int, share: float) -> None:
    """Write zeros into a file that is not compressed, ``share`` of the way into it, as a bad disk does."""
    path = delivery.file(5)
    frame = read(path)
    frame.header["compression"] = OpenEXR.NO_COMPRESSION
    write(path, frame)
    overwrite(path, length, share)


def overwrite(path: Path, length: int, share: float, byte: bytes = b"\0") -> None:
    """Write the same byte over a part of a file."""
    data = bytearray(path.read_bytes())
    start = min(int(len(data) * share), len(data) - length)
    data[start : start + length] = byte * length
    path.write_bytes(data)


# -- one level ---------------------------------------------------------------------------------------------------------


def hole_in_level(delivery: Delivery, level: int, where: Where, frames: Iterable[int] = SPOILT) -> None:
    """Take a part of one level out of its passes."""
    delivery.edit(frames, lambda frame: blank(frame, frame.of_level(level), where))


def of_its_box(level: int, frame: Frame, part: tuple[slice, slice]) -> Where:
    """Return where a part of the box lies that a level fills: slices in tenths of it, down and across."""
    rows, columns = np.nonzero(frame.channels[frame.mark(level)] > 0.5)
    (top, bottom), (left, right) = (rows.min(), rows.max() + 1), (columns.min(), columns.max() + 1)

    def where(shape: tuple[int, int]) -> Mask:
        mask = np.zeros(shape, dtype=bool)
        tenth = (bottom - top) / 10, (right - left) / 10
        down, across = (
            slice(round(begin + (cut.start or 0) * step), round(begin + (10 if cut.stop is None else cut.stop) * step))
            for begin, step, cut in zip((top, left), tenth, part, strict=True)
        )
        mask[down, across] = True
        return mask

    return where


def part_of_level(delivery: Delivery, level: int, part: tuple[slice, slice]) -> None:
    """Take a part of the box of a level out of it."""
    delivery.edit(SPOILT, lambda frame: blank(frame, frame.of_level(level), of_its_box(level, frame, part)))


def too_much(delivery: Delivery, level: int, *, rear_gone: bool, value: float = 1.0) -> None:
    """Let a level show all over its outline, as without its alpha: marks are 1 there, and nothing of what is behind."""

    def change(frame: Frame) -> None:
        mask = of_its_box(level, frame, (slice(0, None), slice(0, None)))(frame.shape)
        blank(frame, [frame.mark(level)], lambda shape: mask, value)
        for behind in range(level + 1, len(NAMES)) if rear_gone else ():
            blank(frame, frame.of_level(behind), lambda shape: mask)

    delivery.edit(SPOILT, change)


# -- foreign things ----------------------------------------------------------------------------------------------------


def in_the_way(delivery: Delivery, where: Where, colour: tuple[float, float, float] | None) -> None:
    """Put a foreign thing before part of the frame: levels are missing there, and it has a ``colour`` or a pattern."""

    def change(frame: Frame) -> None:
        mask = where(frame.shape)
        blank(frame, frame.passes, where)
        rng = np.random.default_rng(5)
        for at, name in enumerate(frame.picture):
            frame.channels[name][mask] = rng.uniform(0, 1, mask.sum()) if colour is None else colour[at]
        frame.channels[frame.alpha][mask] = 1.0

    delivery.edit(SPOILT, change)


def held_by(delivery: Delivery, where: Where) -> None:
    """Put a foreign thing before all but the nearest level."""

    def change(frame: Frame) -> None:
        for level in range(1, len(NAMES)):
            blank(frame, frame.of_level(level), where)
        blank(frame, frame.picture, where, 0.3)

    delivery.edit(SPOILT, change)


def faded(delivery: Delivery, where: Where, share: float) -> None:
    """Fade all channels in a part of the frame."""

    def change(frame: Frame) -> None:
        mask = where(frame.shape)
        for pixels in frame.channels.values():
            pixels[mask] = (pixels[mask] * share).astype(pixels.dtype)

    delivery.edit(SPOILT, change)


THINGS = {
    "grey, 3 %": (disc(0.03), (0.2, 0.2, 0.2)),
    "grey, 1 %": (disc(0.01), (0.2, 0.2, 0.2)),
    "grey, 10 %": (disc(0.10), (0.2, 0.2, 0.2)),
    "white, 3 %": (disc(0.03), (1.0, 1.0, 1.0)),
    "speckled, 3 %": (disc(0.03), None),
    "speckled, 40 %": (disc(0.40), None),
    "a square in a corner": (tile(30, (1.0, 0.0)), (0.5, 0.1, 0.1)),
    "a wire across": (lines(rows=slice(60, 63)), (0.05, 0.05, 0.05)),
    "a rod upright": (lines(columns=slice(100, 106)), (0.4, 0.4, 0.4)),
    "a matte at the right": (lines(columns=slice(226, None)), (0.01, 0.01, 0.01)),
}


def kinds() -> Iterator[Kind]:
    """Yield the kinds of this family."""
    caught = Caught(HOLE, span(SPOILT), also=BESIDE, most=3, some=True)
    for name, where in HOLES.items():
        yield Kind("hole in all channels", name, partial(blank_all, where=where), caught)
    one = Caught(HOLE, (7, 7), also=BESIDE, most=3)
    yield Kind("hole in all channels", "one frame", partial(blank_all, where=tile(48, (0.3, 0.6)), frames=[7]), one)
    for length, share in ((4096, 0.97), (4096, 0.5), (16384, 0.8), (512, 0.6), (65536, 0.3), (4096, 1.0)):
        # Zeros of a part of a row are of one channel: of a level's mark, or of its coordinates.
        expected = Caught((*HOLE, "frame-cut-short", "strange-pixels", "cut-off"), (5, 5), also=BESIDE, most=4)
        name = f"{length} bytes of zeros at {share:.0%} of an uncompressed file"
        yield Kind("hole in all channels", name, partial(zeros_in_file, length=length, share=share), expected)
    in_picture = Caught((*HOLE, "colours-differ", "art-not-found"), span(SPOILT), most=3, some=True)
    for name in ("tile of 64 px, middle", "tile of 32 px, top left", "tile of 16 px, middle", "lower half",
                 "every other row", "last row", "border of 8 px"):  # fmt: skip
        yield Kind("hole in the picture alone", name, partial(blank_picture, where=HOLES[name]), in_picture)
    yield from _of_levels()
    foreign = Caught(("in-the-way",), span(SPOILT), also=("cut-off", "colours-differ", "art-not-found"), most=3)
    for name, (where, colour) in THINGS.items():
        yield Kind("foreign thing", name, partial(in_the_way, where=where, colour=colour), foreign)
    for share in (0.7, 0.4):
        name = f"half clear: {share:g} of what is behind it shows"
        yield Kind("foreign thing", name, partial(faded, where=tile(48, (0.5, 0.5)), share=share), foreign)
    behind = Caught(("in-the-way", "cut-off", "not-seen"), span(SPOILT), also=("colours-differ",), most=5)
    yield Kind("foreign thing", "behind the nearest level", partial(held_by, where=disc(0.2)), behind)


def _of_levels() -> Iterator[Kind]:
    def cut(level: int) -> Caught:
        return Caught(("cut-off",), span(SPOILT), subject=NAMES[level], also=("frame-hole", "in-the-way"), most=2)

    holes = {
        "tile of 64 px in the sky": (SKY, tile(64, (0.05, 0.5))),
        "tile of 32 px in the sky": (SKY, tile(32, (0.05, 0.3))),
        "tile of 16 px in the sky": (SKY, tile(16, (0.05, 0.9))),
        "tile of 32 px in the hills": (HILLS, tile(32, (0.9, 0.05))),
        "every other row of the sky": (SKY, lines(rows=slice(0, None, 2))),
        "every other row of the hills": (HILLS, lines(rows=slice(0, None, 2))),
        "lower half of the hills": (HILLS, lines(rows=slice(135, None))),
        "right half of the sky": (SKY, lines(columns=slice(120, None))),
        "last column of the hills": (HILLS, lines(columns=slice(-1, None))),
    }
    for name, (level, where) in holes.items():
        yield Kind("hole in one level", name, partial(hole_in_level, level=level, where=where), cut(level))
    every = slice(0, None)
    parts = {
        "lower half": (slice(5, None), every),
        "right half": (every, slice(5, None)),
        "a corner": (slice(6, None), slice(6, None)),
        "a stripe in the middle": (slice(4, 6), every),
    }
    for level in (BIRD, BOAT):
        for name, part in parts.items():
            label = f"{name} of the {NAMES[level]}"
            yield Kind("hole in one level", label, partial(part_of_level, level=level, part=part), cut(level))
    part = parts["right half"]
    yield Kind("hole in one level", "right half of reeds", partial(part_of_level, level=REEDS, part=part), cut(REEDS))
    yield Kind(
        "hole in one level",
        "a hole as the art has one is none",
        partial(hole_in_level, level=BIRD, where=tile(20, (1.0, 0.0))),
        Tolerated("nothing of that level shows there"),
    )
    for level in (BIRD, BOAT, REEDS):
        expected = Caught(
            ("shows-too-much", "strange-pixels"),
            span(SPOILT),
            subject=NAMES[level],
            # Beside marks that were made up neither coordinates nor colours fit; where what is behind still shows, that
            # is all there is to tell.
            also=("cut-off", "in-the-way", "frame-hole", "not-seen", "colours-differ"),
            most=12,
            some=True,
        )
        for rear_gone in (True, False):
            name = f"{NAMES[level]} all over its box{', what is behind gone' if rear_gone else ''}"
            yield Kind("shows too much", name, partial(too_much, level=level, rear_gone=rear_gone), expected)
    half = Caught(
        ("shows-too-much", "passes-recoloured"), span(SPOILT), also=("cut-off", "in-the-way", "strange-pixels"), most=6
    )
    yield Kind(
        "shows too much",
        "bird thinly all over its box",
        partial(too_much, level=BIRD, rear_gone=False, value=0.5),
        half,
        engines=(CYCLES,),
    )
