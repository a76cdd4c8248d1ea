# SPDX-License-Identifier: GPL-3.0-or-later
"""What is asked of the file of one delivered frame: plain data, and the functions that look into its pixels."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from underglass.proof.measure.measured_corners import Fit

from ..exr.read_exr import Channel
from .files.pass_fits import LevelPass
from .judging.level_gaps import Gap
from .whole.whole_frame import WholeFrame

# Finds levels on a frame by the art: in mattes (H, W, L) of each level, or else in the picture (H, W, 3).
ByArt = Callable[[int, NDArray[np.float32], bool], Mapping[int, Fit | None]]
# Finds what does not show as it should, by a frame's passes, its fits and the colours of its picture.
FindGaps = Callable[[int, Mapping[int, LevelPass], Mapping[int, Fit | None], Sequence[Channel]], tuple[Gap, ...]]
# Tells what a frame is as a whole by its passes and their fits; its picture (H, W, 4) is put together when asked for.
AsWhole = Callable[
    [int, Mapping[int, LevelPass], Mapping[int, Fit | None], Callable[[], NDArray[np.float32] | None]],
    WholeFrame | None,
]


@dataclass(frozen=True)
class Asked:
    """What is asked of the file of one ``frame``, which has ``frame_px`` pixels.

    ``margins_px`` tells how far each level's edges may be blurred, by its number; with ``with_picture`` the picture is
    kept. Where there are no proof passes ``by_art`` finds the levels, which go by ``names``; where there are,
    ``find_gaps`` finds where levels do not show as they should, and ``as_whole`` tells what the frame is as a whole, if
    its levels are not where they should be. ``offset`` is how far the number in the file's name is above the frame's.
    ``pixels_of`` are rows and columns of the frame at which the picture of a level is kept, by its number.
    """

    frame: int
    frame_px: tuple[int, int]
    margins_px: Mapping[int, float]
    with_picture: bool = False
    by_art: ByArt | None = None
    find_gaps: FindGaps | None = None
    as_whole: AsWhole | None = None
    names: Sequence[str] = ()
    offset: int = 0
    pixels_of: Mapping[int, tuple[NDArray[np.int64], NDArray[np.int64]]] = field(default_factory=dict)
