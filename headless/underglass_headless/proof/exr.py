"""Reading the passes of a rendered EXR file; one part or many, the channels' names are the same."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import OpenEXR
from numpy.typing import NDArray

from underglass.proof.pass_file import PassFileError
from underglass.proof.passes import Pass, passes_of

from .blender_process import BlenderError

Floats32 = NDArray[np.float32]


class FrameFileError(BlenderError):
    """A file that Blender rendered cannot be read or lacks what it should hold."""


# The flag of a file of many parts, in the sixth byte: bit 12 of the version field (openexr.com, file layout).
_MANY_PARTS = 0x10


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
    """A whole EXR file: the frame's ``size`` (display window), its ``channels`` and the text in its metadata."""

    size: tuple[int, int]
    channels: dict[str, Channel]
    texts: dict[str, str]


def read_exr(path: Path, *, threads: int = -1) -> ExrFile:
    """Return all that an EXR file holds, tiles and parts put together, data windows of any size.

    Raises FrameFileError, one line, for anything that is not a whole EXR file of flat pixels.
    """
    try:
        with OpenEXR.File(str(path), separate_channels=True, num_threads=threads) as file:
            channels: dict[str, Channel] = {}
            size = 0, 0
            texts: dict[str, str] = {}
            for part in file.parts:
                header = part.header
                (left, top), _ = header["dataWindow"]
                (begin, first), (end, last) = header["displayWindow"]
                packing = str(header["compression"].name).removesuffix("_COMPRESSION")
                size = int(end) - int(begin) + 1, int(last) - int(first) + 1
                height, width = part.height(), part.width()
                for name, channel in part.channels.items():
                    # A channel of fewer samples than the frame has pixels (as luminance-chroma has) is no pass.
                    if np.shape(channel.pixels) == (height, width):
                        channels.setdefault(
                            name, Channel(channel.pixels, int(left) - int(begin), int(top) - int(first), packing)
                        )
                for key, value in header.items():
                    if isinstance(value, str):
                        texts.setdefault(key, value)
            if len(file.parts) < _part_count(path):
                raise FrameFileError("it is cut short or damaged")
            return ExrFile(size, channels, texts)
    except Exception as error:  # the binding raises bare RuntimeError, ValueError and TypeError alike
        raise FrameFileError(f"{path}: cannot be read as EXR: {' '.join(str(error).split())}") from None


def _part_count(path: Path) -> int:
    """Return how many parts a file has by its header: OpenEXR leaves those out that are damaged, and only warns."""
    with path.open("rb") as file:
        is_many = len(start := file.read(6)) == 6 and bool(start[5] & _MANY_PARTS)
    if not is_many:
        return 1
    with OpenEXR.File(str(path), header_only=True) as file:
        return len(file.parts)


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
