# SPDX-License-Identifier: GPL-3.0-or-later
"""Ways of writing the same frames that have to be read alike: compressions, names of channels, parts, tiles."""

import re
from collections.abc import Callable, Iterable, Iterator
from functools import partial

import numpy as np
import OpenEXR

from altered.delivery import ALL, Delivery, Frame, read, write
from altered.kinds import CYCLES, Caught, Kind, Tolerated, span

SPOILT = (4, 5, 6)


def packed(delivery: Delivery, compression: str, frames: Iterable[int] = ALL) -> None:
    """Write frames with another compression."""
    delivery.edit(frames, lambda frame: None, compression=getattr(OpenEXR, f"{compression}_COMPRESSION"))


def respelled(delivery: Delivery, spell: Callable[[str], str], frames: Iterable[int] = ALL) -> None:
    """Name all channels otherwise."""
    delivery.edit(frames, lambda frame: _respell(frame, spell))


def _respell(frame: Frame, spell: Callable[[str], str]) -> None:
    frame.channels = {spell(name): pixels for name, pixels in frame.channels.items()}


def _last(name: str, letters: dict[str, str], within: str = "") -> str:
    stem, _, letter = name.rpartition(".")
    return f"{stem}.{letters.get(letter, letter)}" if within in name else name


def in_parts(delivery: Delivery, how: str) -> None:
    """Write a file of many parts: a part a pass, as Blender does, or a part a channel."""
    for number in ALL:
        frame = read(delivery.file(number))
        stems: dict[str, dict[str, np.ndarray]] = {}
        for name, pixels in frame.channels.items():
            key = name.rpartition(".")[0] if how == "pass" else name
            stems.setdefault(key, {})[name] = pixels
        delivery.file(number).unlink()
        parts = [OpenEXR.Part(dict(frame.header), mine, stem) for stem, mine in stems.items()]
        OpenEXR.File(parts).write(str(delivery.file(number)))


def tiled(delivery: Delivery, side: int) -> None:
    """Write frames in tiles."""
    tiles = OpenEXR.TileDescription()
    tiles.xSize = tiles.ySize = side
    delivery.edit(ALL, lambda frame: None, type=OpenEXR.tiledimage, tiles=tiles)


def of_kind(delivery: Delivery, kind: type, *, passes: bool) -> None:
    """Write channels as half floats, or as whole ones."""

    def change(frame: Frame) -> None:
        for name, pixels in frame.channels.items():
            if passes or name not in frame.passes:
                frame.channels[name] = pixels.astype(kind)

    delivery.edit(ALL, change)


def more_channels(delivery: Delivery, names: Iterable[str]) -> None:
    """Add channels that nobody asked for."""

    def change(frame: Frame) -> None:
        for at, name in enumerate(names):
            frame.channels[name] = np.full(frame.shape, 3.0 + at, dtype=np.float32)

    delivery.edit(ALL, change)


def without(delivery: Delivery, which: str, frames: Iterable[int] = SPOILT) -> None:
    """Take channels out."""

    def change(frame: Frame) -> None:
        gone = {
            "picture": [*frame.picture, frame.alpha],
            "alpha": [frame.alpha],
            "passes": frame.passes,
            "green": [frame.picture[1]],
        }[which]
        for name in gone:
            del frame.channels[name]

    delivery.edit(frames, change)


def second_picture(delivery: Delivery, layer: str) -> None:
    """Add a black picture in a layer of its own."""

    def change(frame: Frame) -> None:
        for name in (*frame.picture, frame.alpha):
            own = name.replace("ViewLayer", layer)
            frame.channels[own] = np.zeros_like(frame.channels[name])

    delivery.edit(ALL, change)


def _from_one(name: str) -> str:
    return re.sub(r"proof(\d)", lambda match: f"proof{int(match[1]) + 1}", name)


WORDS = {"R": "red", "G": "green", "B": "blue", "A": "alpha"}
SPELLED: dict[str, Callable[[str], str]] = {
    "small letters": lambda name: _last(name, {letter: letter.lower() for letter in "RGBAXVZ"}),
    "all in small letters": str.lower,
    "colours in words": lambda name: _last(name, WORDS),
    "colours in capital words": lambda name: _last(name, {key: word.upper() for key, word in WORDS.items()}),
    "passes as X, Y, Z": lambda name: _last(name, {"R": "X", "G": "Y", "B": "Z", "A": "W"}, within="proof"),
    "passes as u, v, w": lambda name: _last(name, {"R": "U", "G": "V", "B": "W"}, within="proof"),
    "no name of a layer": lambda name: name.removeprefix("ViewLayer.").removeprefix("Combined."),
    "a layer with dots": lambda name: name.replace("ViewLayer", "my.own.layer"),
    "a layer in other letters": lambda name: name.replace("ViewLayer", "Möwe"),
    "picture without a layer": lambda name: name.replace("ViewLayer.Combined.", ""),
    "picture called rgba": lambda name: name.replace("Combined", "rgba"),
}


def kinds() -> Iterator[Kind]:
    """Yield the kinds of this family."""
    for compression in ("NO", "RLE", "ZIPS", "ZIP", "PIZ", "ZSTD", "HTJ2K32", "HTJ2K256"):
        fine = Tolerated("it loses nothing")
        yield Kind("compression", compression, partial(packed, compression=compression), fine)
    yield Kind(
        "compression",
        "PXR24",
        partial(packed, compression="PXR24"),
        Tolerated("it rounds to 24 bits, which is counted"),
    )
    for compression in ("B44", "B44A"):
        yield from _b44(compression)
    lossy = Caught(("not-proved",), span(SPOILT), words="compress", most=1)
    # LJ2K: "lossy coding, producing smaller files at the cost of distortion" (OpenEXR 3.5.0, release notes).
    for compression in ("DWAA", "DWAB", "LJ2K"):
        yield Kind("compression", compression, partial(packed, compression=compression, frames=SPOILT), lossy)
    for name, spell in SPELLED.items():
        yield Kind("dialects", name, partial(respelled, spell=spell), Tolerated("it is another way to name the same"))
    for how in ("pass", "channel"):
        why = "parts are put together again"
        yield Kind("dialects", f"a part a {how}", partial(in_parts, how=how), Tolerated(why))
    for side in (16, 64, 512):
        why = "tiles are put together again"
        yield Kind("dialects", f"tiles of {side} px", partial(tiled, side=side), Tolerated(why))
    for order in ("DECREASING_Y",):
        change = partial(_ordered, order=order)
        yield Kind("dialects", "lines from the bottom", change, Tolerated("lines know where they belong"))
    halves = partial(of_kind, kind=np.float16, passes=False)
    yield Kind("dialects", "picture in half floats", halves, Tolerated("passes stay as they were"))
    for names in (("ViewLayer.Depth.Z",), ("ViewLayer.Normal.X", "ViewLayer.Normal.Y", "ViewLayer.Normal.Z"), ("N.x",)):
        added = partial(more_channels, names=names)
        yield Kind("dialects", f"{names[0]} added", added, Tolerated("it says nothing of levels"))
    for layer in ("Composite", "A.stage"):
        added = partial(second_picture, layer=layer)
        why = "the picture that counts is in the layer of the passes"
        yield Kind("dialects", f"a black picture in {layer} too", added, Tolerated(why))
    anew = Caught(("frame-of-another-shot",), span(SPOILT), words="pass of level 6", most=1)
    yield Kind(
        "dialects", "passes numbered from 1", partial(respelled, spell=_from_one, frames=SPOILT), anew, (CYCLES,)
    )
    yield Kind(
        "channels gone", "the passes", partial(without, which="passes"), Caught(("not-proved",), span(SPOILT), most=1)
    )
    yield Kind("channels gone", "alpha", partial(without, which="alpha"), Tolerated("levels are told by their passes"))
    for which in ("picture", "green"):
        # Passes without a picture prove the levels; that there is none has to be said, if only as a note.
        expected = Caught(("not-proved", "colours-differ", "frame-refused", "frame-black"), span(SPOILT), most=2)
        yield Kind("channels gone", f"the {which}", partial(without, which=which), expected)


def _b44(compression: str) -> Iterator[Kind]:
    lossless = Tolerated("it leaves 32-bit floats as they are")
    yield Kind(
        "compression",
        f"{compression} of 32-bit floats",
        partial(packed, compression=compression),
        lossless,
        ("cycles",),
    )
    lossy = Caught(("not-proved",), (1, 10), words="compress", most=1)

    def halves(delivery: Delivery) -> None:
        of_kind(delivery, np.float16, passes=True)
        packed(delivery, compression)

    yield Kind("compression", f"{compression} of half floats", halves, lossy)


def _ordered(delivery: Delivery, order: str) -> None:
    for number in ALL:
        frame = read(delivery.file(number))
        frame.header["lineOrder"] = getattr(OpenEXR, order)
        write(delivery.file(number), frame)
