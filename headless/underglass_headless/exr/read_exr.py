# SPDX-License-Identifier: GPL-3.0-or-later
"""Reading the passes of a rendered EXR file; one part or many, the channels' names are the same."""

import contextlib
import os
import re
import stat
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import OpenEXR
from numpy.typing import NDArray

from underglass.image.pass_file import PassFileError
from underglass.proof.measure.passes import Pass, passes_of

from ..blender.blender_process import BlenderError
from ..machine.cores_and_memory import memory_limit
from .unreadable_forms import DEEP, EMPTY_LINK, FOLDER, NO_FILE, NO_MEMORY, Refusal, no_exr, too_large, unreadable
from .what_it_is import what_it_is

Floats32 = NDArray[np.float32]
# A byte of a name that UTF-8 cannot spell, as Python holds it.
_SURROGATE = re.compile("[\ud800-\udfff]")


class FrameFileError(BlenderError):
    """A file that Blender rendered cannot be read or lacks what it should hold."""


class FrameRefusedError(FrameFileError):
    """A file that may well be whole, in a form that cannot be judged: ``refusal`` says which."""

    def __init__(self, path: Path, refusal: Refusal) -> None:
        super().__init__(f"{path}: cannot be read as EXR: it {refusal.one}")
        self.refusal = refusal


class OutOfMemoryError(BlenderError):
    """This machine has too little memory for a file at the moment, which is no fault of the file."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            f"{path}: this machine has too little free memory to judge it; use fewer --threads, or a larger machine"
        )


# Of this machine's memory no single frame may take more than this share.
_MOST_OF_MEMORY = 0.5
_MOST_BYTES_A_SAMPLE = 4
_DEEP = (OpenEXR.deepscanline, OpenEXR.deeptile)


@dataclass(frozen=True)
class Channel:
    """One channel as it was stored, half floats too: (H, W), rows from the top.

    ``left`` and ``top`` tell where its first pixel lies in the frame; ``packing`` names how it was compressed.
    """

    pixels: NDArray[Any]
    left: int
    top: int
    packing: str


@dataclass(frozen=True)
class ExrFile:
    """A whole EXR file: the frame's ``size`` (display window), its ``channels`` and the text in its metadata.

    ``left_out`` names the channels that have fewer samples than the frame has pixels, or deep ones. ``chromaticities``
    are x and y of its primaries and of white, none where the file does not say.
    """

    size: tuple[int, int]
    channels: dict[str, Channel]
    texts: dict[str, str]
    left_out: tuple[str, ...] = ()
    chromaticities: tuple[float, ...] = ()


def read_exr(path: Path, *, threads: int = -1) -> ExrFile:
    """Return all that an EXR file holds, tiles and parts put together, data windows of any size.

    A channel of one of many parts has the part's name before its own, unless it has it already. Raises FrameFileError,
    one line, for anything that is not a whole EXR file; FrameRefusedError where it is one in a form that is not taken,
    or no file at all.
    """
    try:
        with _named_for_exr(path) as name:
            count = _look_before(path, name)
            with OpenEXR.File(name, separate_channels=True, num_threads=threads) as file:
                if len(file.parts) < count:
                    # OpenEXR leaves parts out that are damaged, and only warns.
                    raise FrameFileError("it is cut short or damaged")
                return _all_of(file.parts)
    except FrameRefusedError:
        raise
    except MemoryError:
        # A file may well say that it is larger than it is: the others are to be judged.
        raise FrameRefusedError(path, NO_MEMORY) from None
    except Exception as error:  # the binding raises bare RuntimeError, ValueError and TypeError alike
        if what := what_it_is(path):
            raise FrameRefusedError(path, no_exr(what)) from None
        raise FrameFileError(f"{path}: cannot be read as EXR: {_reason(error, path)}") from None


def channel_names(path: Path) -> list[str]:
    """Return the names of the channels of a file as `read_exr` gives them; only its header is read. Raises as that."""
    try:
        with _named_for_exr(path) as name, OpenEXR.File(name, header_only=True) as file:
            many = len(file.parts) > 1
            return [
                _full_name(part.name() if many else "", channel.name)
                for part in file.parts
                for channel in part.header["channels"]
            ]
    except FrameRefusedError:
        raise
    except Exception as error:
        raise FrameFileError(f"{path}: cannot be read as EXR: {_reason(error, path)}") from None


def _all_of(parts: Sequence[Any]) -> ExrFile:
    channels: dict[str, Channel] = {}
    left_out: list[str] = []
    size = 0, 0
    texts: dict[str, str] = {}
    chromaticities: tuple[float, ...] = ()
    for part in parts:
        header = part.header
        (left, top), (right, bottom) = header["dataWindow"]
        (begin, first), (end, last) = header["displayWindow"]
        packing = str(header["compression"].name).removesuffix("_COMPRESSION")
        size = int(end) - int(begin) + 1, int(last) - int(first) + 1
        # Not by the part's own height(), which raises for channels of different sizes.
        height, width = int(bottom) - int(top) + 1, int(right) - int(left) + 1
        for own, channel in part.channels.items():
            name = _full_name(part.name() if len(parts) > 1 else "", own)
            # A channel of fewer samples than the frame has pixels (as luminance-chroma has) is no pass.
            if np.shape(channel.pixels) == (height, width) and part.type() not in _DEEP:
                place = int(left) - int(begin), int(top) - int(first)
                channels.setdefault(name, Channel(channel.pixels, *place, packing))
            else:
                left_out.append(name)
        for key, value in header.items():
            if isinstance(value, str):
                texts.setdefault(key, value)
        chromaticities = chromaticities or tuple(map(float, header.get("chromaticities", ())))
    return ExrFile(size, channels, texts, tuple(left_out), chromaticities)


def _full_name(part: str, channel: str) -> str:
    """Return the name of a channel with that of its part before it, if it does not say that itself.

    Of ViewLayer.proof0 one program writes the channels ViewLayer.proof0.R, another proof0.R, and a third R.
    """
    stem, _, letter = channel.rpartition(".")
    if part and (not stem or f".{part}".endswith(f".{stem}")):
        return f"{part}.{letter}"
    return channel


@contextlib.contextmanager
def _named_for_exr(path: Path) -> Iterator[str]:
    """Yield a name for the file that OpenEXR takes: its own, or where UTF-8 cannot spell that, one by its number.

    Raises FrameRefusedError for what is no file that can be read.
    """
    try:
        kind = path.stat().st_mode
        if not stat.S_ISREG(kind):
            raise FrameRefusedError(path, FOLDER if stat.S_ISDIR(kind) else NO_FILE)
        with path.open("rb") as file:
            yield f"/dev/fd/{file.fileno()}" if _SURROGATE.search(str(path)) else str(path)
    except OSError as error:
        gone = isinstance(error, FileNotFoundError) and path.is_symlink()
        raise FrameRefusedError(path, EMPTY_LINK if gone else unreadable(error.strerror or str(error))) from None


def _look_before(path: Path, name: str) -> int:
    """Return how many parts a file has by its header. Raises FrameRefusedError before pixels are read in vain."""
    with OpenEXR.File(name, header_only=True, num_threads=0) as file:
        parts = [(part.type(), part.header) for part in file.parts]
        if parts and all(kind in _DEEP for kind, _ in parts):
            raise FrameRefusedError(path, DEEP)
        need = 0
        for _, header in parts:
            (left, top), (right, bottom) = header["dataWindow"]
            width, height = int(right) - int(left) + 1, int(bottom) - int(top) + 1
            need += width * height * len(header["channels"]) * _MOST_BYTES_A_SAMPLE
            if need > _MOST_OF_MEMORY * _memory():
                raise FrameRefusedError(path, too_large(width, height, len(header["channels"])))
        return len(parts)


def _memory() -> float:
    """Return the bytes of memory that this process may use; infinite where nothing tells."""
    limit = float(memory_limit() or "inf")
    try:
        return min(limit, float(os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")))
    except (AttributeError, OSError, ValueError):
        return limit


def _reason(error: Exception, path: Path) -> str:
    """Return in one line what OpenEXR says."""
    return " ".join(re.sub(r"/dev/fd/\d+", path.name, str(error)).split()) or type(error).__name__


def read_channels(path: Path) -> dict[str, Floats32]:
    """Return every channel of an EXR file by its name, (H, W) each, rows from the top.

    Raises FrameFileError, one line, for anything that is not a whole EXR file.
    """
    try:
        with OpenEXR.File(str(path), separate_channels=True) as file:
            return {
                name: np.asarray(channel.pixels, dtype=np.float32)
                for part in file.parts
                for name, channel in part.channels.items()
            }
    except Exception as error:  # the binding raises bare RuntimeError, ValueError and TypeError alike
        raise FrameFileError(
            f"{path}: cannot be read as EXR: {' '.join(str(error).split())}; render it again"
        ) from None


def read_passes(path: Path, names: Sequence[str]) -> dict[str, Pass]:
    """Return u, v and the hit mark of each named pass, (H, W) each."""
    try:
        return passes_of(read_channels(path), names=names, file=path)
    except PassFileError as error:
        raise FrameFileError(str(error)) from None


def read_picture(path: Path) -> Floats32:
    """Return a picture as (H, W, 4) scene-linear premultiplied RGBA, rows from the top."""
    channels = read_channels(path)
    try:
        return np.stack([channels[name] for name in "RGBA"], axis=-1)
    except KeyError as missing:
        raise FrameFileError(f"{path}: holds no channel {missing}; render it again") from None
