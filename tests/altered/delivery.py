# SPDX-License-Identifier: GPL-3.0-or-later
"""A copy of a clean delivery to alter: its files, their headers, and their channels by what they are."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import OpenEXR
from numpy.typing import NDArray

from altered.shots import FRAMES, NAMES

Pixels = NDArray[Any]
ALL = tuple(range(FRAMES[0], FRAMES[1] + 1))
COLOURS = "RGB"


@dataclass
class Frame:
    """The channels of one frame by name, and its header; what is done to either is written back."""

    channels: dict[str, Pixels]
    header: dict[str, Any]

    @property
    def picture(self) -> list[str]:
        """Names of red, green and blue of the picture itself."""
        return [f"ViewLayer.Combined.{letter}" for letter in COLOURS]

    @property
    def alpha(self) -> str:
        """Name of the picture's alpha."""
        return "ViewLayer.Combined.A"

    @property
    def passes(self) -> list[str]:
        """Names of all channels of proof passes."""
        return [name for name in self.channels if ".proof" in name]

    @property
    def fringes(self) -> dict[int, tuple[int, int]]:
        """Fringes across and up of each level, where the frame is EEVEE's."""
        found = {}
        for name in self.passes:
            counts = name.split(".")[1].removeprefix("proof")
            if "v" in counts and counts[0].isdigit():
                level, _, pair = counts.partition("u")
                found[int(level)] = (int(pair.split("v")[0]), int(pair.split("v")[1]))
        return found

    def mark(self, level: int) -> str:
        """Return the name of the channel that tells how much of each pixel shows a level."""
        if self.fringes:
            return next(name for name in self.passes if name.startswith(f"ViewLayer.proof{level}u"))
        return f"ViewLayer.proof{level}.B"

    def of_level(self, level: int) -> list[str]:
        """Return the names of the channels that are one level's own."""
        if self.fringes:
            return [self.mark(level)]
        return [name for name in self.passes if name.startswith(f"ViewLayer.proof{level}.")]

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        height, width = self.channels[self.alpha].shape
        return height, width


@dataclass
class Delivery:
    """A folder of frames that may be altered; ``clean`` is what they were."""

    folder: Path
    clean: Path
    engine: str
    notes: dict[str, Any] = field(default_factory=dict)

    def file(self, frame: int) -> Path:
        """Return the file of a frame."""
        return self.folder / f"beauty.{frame:04d}.exr"

    def edit(self, frames: Iterable[int], change: Callable[[Frame], None], **header: Any) -> None:
        """Change frames by ``change``, and their headers by name; a value of None takes one out.

        They are written without compression, which is sooner done, where none is asked for: no verdict goes by it.
        """
        for number in frames:
            frame = read(self.file(number))
            frame.header["compression"] = OpenEXR.NO_COMPRESSION
            change(frame)
            frame.header.update(header)
            write(self.file(number), frame)

    def original(self, number: int) -> Frame:
        """Return a frame as it was."""
        return read(self.clean / self.file(number).name)


def read(path: Path) -> Frame:
    """Return a whole frame of one part."""
    with OpenEXR.File(str(path), separate_channels=True) as file:
        channels = {name: channel.pixels.copy() for name, channel in file.channels().items()}
        header = {key: value for key, value in file.header().items() if key != "channels"}
    return Frame(channels, header)


def write(path: Path, frame: Frame) -> None:
    """Write a frame in the place of a file."""
    path.unlink(missing_ok=True)
    header = {key: value for key, value in frame.header.items() if value is not None}
    channels = {name: np.ascontiguousarray(pixels) for name, pixels in frame.channels.items()}
    OpenEXR.File(header, channels).write(str(path))


def windowed(first: tuple[int, int], last: tuple[int, int]) -> tuple[Pixels, Pixels]:
    """Return a window of an EXR header from its first pixel to its last."""
    return np.array(first, dtype=np.int32), np.array(last, dtype=np.int32)


def plane_of(frame: Frame, level: int) -> Pixels:
    """Return the linear map (2, 3) by which u and v of a level of Cycles follow 1, column and row, by whole pixels."""
    hit = frame.channels[frame.mark(level)]
    rows, columns = np.nonzero(hit > 0.999)
    basis = np.column_stack([np.ones(len(rows)), columns, rows])
    wanted = np.column_stack([frame.channels[f"ViewLayer.proof{level}.{c}"][rows, columns] for c in "RG"])
    return np.asarray(np.linalg.lstsq(basis, wanted.astype(np.float64), rcond=None)[0].T)


def names_of(levels: Iterable[int]) -> Mapping[int, str]:
    """Return the names of levels by number."""
    return {level: NAMES[level] for level in levels}
