"""Reading the passes of a rendered EXR file; one part or many, the channels' names are the same."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import OpenEXR
from numpy.typing import NDArray

from underglass.proof.pass_file import PassFileError
from underglass.proof.passes import Pass, passes_of

from .blender_process import BlenderError

Floats32 = NDArray[np.float32]


class FrameFileError(BlenderError):
    """A file that Blender rendered cannot be read or lacks what it should hold."""


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
