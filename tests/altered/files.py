# SPDX-License-Identifier: GPL-3.0-or-later
"""Files: kinds that are not judged, cut, damaged, misnamed, doubled, missing."""

import io
import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path

import numpy as np
import OpenEXR
from PIL import Image

from altered.delivery import ALL, Delivery, Frame, read
from altered.holes import overwrite
from altered.kinds import ERROR, Caught, Kind, Tolerated, span
from altered.shots import FRAME_PX

SPOILT = (4, 5, 6)
# Where in a file the compressed pixels surely are, in shares of it.
PLACES = (0.08, 0.3, 0.55, 0.8, 0.98)
UNREADABLE = ("frame-cut-short", "frame-refused")
# A flipped bit may leave a file readable: then it has to be told by what it did to the pixels.
BY_PIXELS = ("frame-hole", "cut-off", "frame-nan", "colours-differ", "passes-recoloured", "strange-pixels")

# -- kinds of file that are not judged ---------------------------------------------------------------------------------


def make_deep(delivery: Delivery) -> None:
    """Write frames as deep pixels, one sample each."""

    def deep(path: Path) -> None:
        frame = read(path)
        header = {"compression": OpenEXR.ZIPS_COMPRESSION, "type": OpenEXR.deepscanline}
        channels = {}
        for name, pixels in frame.channels.items():
            samples = np.empty(pixels.shape, dtype=object)
            for at, value in np.ndenumerate(pixels.astype(np.float32)):
                samples[at] = np.array([value], dtype=np.float32)
            channels[name] = samples
        path.unlink()
        OpenEXR.File(header, channels).write(str(path))

    for number in SPOILT[:1]:
        deep(delivery.file(number))


def make_luminance_chroma(delivery: Delivery, *, with_passes: bool) -> None:
    """Write the picture as luminance and two chroma channels of half the size."""

    def change(frame: Frame) -> None:
        red, green, blue = (frame.channels.pop(name).astype(np.float32) for name in frame.picture)
        frame.channels.pop(frame.alpha)
        luminance = 0.2126 * red + 0.7152 * green + 0.0722 * blue
        safe = np.where(luminance == 0, 1, luminance)
        if not with_passes:
            frame.channels.clear()
        frame.channels["Y"] = luminance
        for name, colour in (("RY", red), ("BY", blue)):
            frame.channels[name] = OpenEXR.Channel(np.ascontiguousarray((colour - luminance) / safe), 2, 2)

    for number in SPOILT:
        frame = read(delivery.file(number))
        change(frame)
        delivery.file(number).unlink()
        OpenEXR.File(frame.header, frame.channels).write(str(delivery.file(number)))


# -- damage ------------------------------------------------------------------------------------------------------------


def cut(delivery: Delivery, share: float) -> None:
    """Cut a file off."""
    path = delivery.file(5)
    os.truncate(path, int(path.stat().st_size * share))


def cut_by(delivery: Delivery, size: int) -> None:
    """Cut some bytes off a file."""
    path = delivery.file(5)
    os.truncate(path, path.stat().st_size - size)


def zeroed(delivery: Delivery, share: float, length: int) -> None:
    """Write zeros into the compressed pixels."""
    overwrite(delivery.file(5), length, share)


def flip_bits(delivery: Delivery, seed: int, count: int) -> None:
    """Flip bits in the compressed pixels."""
    path = delivery.file(5)
    data = bytearray(path.read_bytes())
    rng = np.random.default_rng(seed)
    for at in rng.integers(len(data) // 10, len(data), count):
        data[at] ^= 1 << int(rng.integers(8))
    path.write_bytes(data)


def contents(delivery: Delivery, data: Callable[[bytes], bytes]) -> None:
    """Put other bytes into a file."""
    path = delivery.file(5)
    path.write_bytes(data(path.read_bytes()))


def picture_as(kind: str) -> bytes:
    """Return a picture of another kind of file."""
    held = io.BytesIO()
    Image.new("RGB", FRAME_PX, (90, 60, 30)).save(held, kind)
    return held.getvalue()


def shuffled(data: bytes) -> bytes:
    """Return a file whose second half stands before its first."""
    return data[:2000] + data[len(data) // 2 :] + data[2000 : len(data) // 2]


DAMAGE: dict[str, Callable[[bytes], bytes]] = {
    "empty": lambda data: b"",
    "one byte": lambda data: data[:1],
    "text": lambda data: b"frame 5 comes tomorrow\n",
    "wrong magic": lambda data: b"\0\0\0\0" + data[4:],
    "another version": lambda data: data[:4] + b"\x09" + data[5:],
    "a PNG under the name": lambda data: picture_as("PNG"),
    "a JPEG under the name": lambda data: picture_as("JPEG"),
    "zeros of its length": lambda data: bytes(len(data)),
    "text of its length": lambda data: (b"lost " * len(data))[: len(data)],
    "halves exchanged": shuffled,
    "line ends as of text": lambda data: data.replace(b"\n", b"\r\n"),
    "zeros for the table of lines": lambda data: data[:1400] + bytes(1000) + data[2400:],
}


# -- names -------------------------------------------------------------------------------------------------------------


def renamed(delivery: Delivery, name: Callable[[int], str | bytes]) -> None:
    """Give every file another name."""
    for number in ALL:
        wanted = name(number)
        # A name that is no UTF-8 is text with stand-ins for its bytes, as Python has it.
        delivery.file(number).rename(delivery.folder / os.fsdecode(wanted))


NAMES: dict[str, tuple[Callable[[int], str | bytes], str]] = {
    "without padding": (lambda n: f"beauty.{n}.exr", "a number needs no zeros"),
    "padded to six": (lambda n: f"beauty.{n:06d}.exr", "a number may have more zeros"),
    "with an underscore": (lambda n: f"beauty_{n:04d}.exr", "the number is what stands last"),
    "the number alone": (lambda n: f"{n:04d}.exr", "no name is needed"),
    "suffix in capitals": (lambda n: f"beauty.{n:04d}.EXR", "file names of some systems are so"),
    "with spaces": (lambda n: f"my film take 2 {n:04d}.exr", "spaces are part of a name"),
    "letters of many tongues": (lambda n: f"Möwe 鷺.{n:04d}.exr", "names are Unicode"),
    "not UTF-8": (lambda n: b"beaut\xe9." + b"%04d.exr" % n, "it can be in a name of old disks"),
    "version behind": (lambda n: f"a.{n:04d}.v2.exr", "the number is the one that runs on"),
    "version before": (lambda n: f"a.v2.{n:04d}.exr", "the number is the one that runs on"),
    "a percent sign": (lambda n: f"50%.{n:04d}.exr", "it can be in a name"),
}


def numbered_from(delivery: Delivery, first: int, *, also_inside: bool) -> None:
    """Number the files from another first frame, and with ``also_inside`` what they say too."""
    for number in reversed(ALL):
        other = number + first - 1
        if also_inside:
            delivery.edit([number], lambda frame: None, Frame=f"{other:04d}")
        delivery.file(number).rename(delivery.file(other))


def removed(delivery: Delivery, frames: Iterable[int]) -> None:
    """Take files away."""
    for number in frames:
        delivery.file(number).unlink()


def doubled(delivery: Delivery, name: str, frame: int = 7) -> None:
    """Put a file there twice."""
    shutil.copy(delivery.file(frame), delivery.folder / name)


def two_takes(delivery: Delivery) -> None:
    """Put every frame there as another take too."""
    for number in ALL:
        shutil.copy(delivery.file(number), delivery.folder / f"take2.{number:04d}.exr")


def swapped(delivery: Delivery) -> None:
    """Let two files change names."""
    one, other, kept = delivery.file(3), delivery.file(8), delivery.folder / "kept"
    one.rename(kept)
    other.rename(one)
    kept.rename(other)


def beside(delivery: Delivery, name: str, data: bytes = b"") -> None:
    """Put a file beside the frames that is none of them."""
    (delivery.folder / name).write_bytes(data)


def made_folder(delivery: Delivery) -> None:
    """Let a folder stand in the place of a frame."""
    delivery.file(5).unlink()
    delivery.file(5).mkdir()


def linked(delivery: Delivery, *, broken: bool) -> None:
    """Let a link stand in the place of a frame."""
    delivery.file(5).unlink()
    delivery.file(5).symlink_to(Path("/nowhere.exr") if broken else (delivery.clean / delivery.file(5).name).resolve())


def kinds() -> Iterator[Kind]:
    """Yield the kinds of this family."""
    refused = Caught(("frame-refused",), (4, 4), most=1)
    yield Kind("refused", "deep pixels", make_deep, refused)
    chroma = Caught(("frame-refused",), span(SPOILT), most=1)
    yield Kind("refused", "luminance and chroma", partial(make_luminance_chroma, with_passes=False), chroma)
    beside_passes = partial(make_luminance_chroma, with_passes=True)
    yield Kind("refused", "luminance and chroma beside passes", beside_passes, Tolerated("passes tell all levels"))
    yield from _damaged()
    yield from _named()


def _damaged() -> Iterator[Kind]:
    broken = Caught(UNREADABLE, (5, 5), most=1)
    for share in (0.001, 0.01, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 0.99):
        yield Kind("cut or damaged", f"cut to {share:.1%}", partial(cut, share=share), broken)
    for size in (1, 100, 4096):
        yield Kind("cut or damaged", f"cut by {size} bytes", partial(cut_by, size=size), broken)
    either = Caught((*UNREADABLE, *BY_PIXELS), (5, 5), most=3)
    for share in PLACES:
        for length in (16, 4096):
            name = f"{length} zeros at {share:.0%}"
            yield Kind("cut or damaged", name, partial(zeroed, share=share, length=length), either)
    for seed in range(6):
        count = (1, 1, 1, 8, 64, 512)[seed]
        yield Kind(
            "cut or damaged", f"{count} bits flipped, {seed}", partial(flip_bits, seed=seed, count=count), either
        )
    for name, data in DAMAGE.items():
        yield Kind("cut or damaged", name, partial(contents, data=data), broken)
    # What is there in the place of a file is said, which is more than that the file is missing.
    gone = Caught(("frame-missing", "frame-cut-short", "frame-refused"), (5, 5), most=1)
    yield Kind("cut or damaged", "a folder under the name", made_folder, gone)
    yield Kind("cut or damaged", "a link to nothing", partial(linked, broken=True), gone)
    fine = Tolerated("a link is read as what it leads to")
    yield Kind("cut or damaged", "a link to the frame", partial(linked, broken=False), fine)


def _named() -> Iterator[Kind]:
    # A line end in a name breaks logs and lists: the files are refused, in words.
    refused = Caught(("frame-refused",), (1, 10), words="control characters", most=1)
    with_line_end = partial(renamed, name=lambda n: f"beau\nty.{n:04d}.exr")
    yield Kind("names", "a newline in the name", with_line_end, refused)
    for name, (spell, why) in NAMES.items():
        yield Kind("names", name, partial(renamed, name=spell), Tolerated(why))
    for frames in ((1,), (10,), (5,), (2, 3, 4), (2, 5, 9)):
        missing = Caught(("frame-missing",), span(frames), most=len(frames))
        yield Kind("names", f"frames {frames} missing", partial(removed, frames=frames), missing)
    twice = Caught(("frame-doubled",), (7, 7), most=1)
    for name in ("beauty.7.exr", "beauty.007.exr", "beauty.0007.EXR", "beauty.00007.exr"):
        yield Kind("names", f"frame 7 there as {name} too", partial(doubled, name=name), twice)
    other = Caught(("frame-number",), (9, 9), also=("frame-missing",), most=2)
    yield Kind("names", "frame 7 under the name of 9", partial(doubled, name="beauty.0009.exr"), other)
    exchanged = Caught(("frame-number",), (3, 8), most=2)
    yield Kind("names", "two files change names", swapped, exchanged)
    later = Caught(("frame-number", "frame-missing"), None, most=3)
    yield Kind("names", "numbered from 2", partial(numbered_from, first=2, also_inside=False), later)
    # Not one frame that the shot has: that is no proof, but one line that says what is there.
    none = Caught((ERROR,), words="has frames 1001-1010 and none of 1-10")
    for also_inside in (True, False):
        name = f"numbered from 1001{', and say so' if also_inside else ''}"
        yield Kind("names", name, partial(numbered_from, first=1001, also_inside=also_inside), none)
    every = Caught((ERROR,), words="holds no EXR frames")
    yield Kind("names", "all frames missing", partial(removed, frames=ALL), every)
    both = Caught((ERROR,), words="holds 2 sequences")
    yield Kind("names", "two takes in one folder", two_takes, both)
    note = "it is said to be beyond the shot, and no frame of it is judged by it"
    beyond = Tolerated(note, notes=())
    yield Kind("names", "a frame 11 beyond the shot", partial(doubled, name="beauty.0011.exr"), beyond)
    for name in ("thumbs.db", ".beauty.0005.exr", "beauty.0005.exr.tmp", "notes.txt", "beauty.0005.jpg", "slate.exr"):
        yield Kind("names", f"{name} beside the frames", partial(beside, name=name), Tolerated("it is no frame"))
