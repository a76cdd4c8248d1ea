# SPDX-License-Identifier: GPL-3.0-or-later
"""What is gathered of the pictures of a delivery, frame by frame: their colours, and whether they change."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .art.picture_colours import Colours
from .art.sight_of_levels import Sight
from .judging.delivered_frame import DeliveredFrame
from .judging.picture_faults import FrameColours, Pictures
from .read_frame import Looked

Floats = NDArray[np.float64]

# Light that differs by this much, block by block of the art, is another picture: less than a code of 8 bits.
LEAST_CHANGE = 0.002
# An edge that goes less than a pixel may pass no pixel's middle, and a picture of plain paint is then the same to the
# last digit. So it has to go this far, px, or so large a share of all places has to change.
SURE_MOVE_PX = 1.5
MANY_PLACES = 0.1
# Of frames with the same picture so many are looked at: were there hundreds, the others would tell nothing more.
MOST_LOOKED_AT = 24


@dataclass
class PicturesSeen:
    """Gathers from frames that were looked at; ``blur_px`` (F, L) is how far the edges of levels are blurred."""

    sight: Sight
    blur_px: Floats
    colours: list[FrameColours] = field(default_factory=list)
    varied: dict[int, bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._against = Colours(self.sight, self.blur_px)

    def take(self, looked: Looked) -> None:
        """Add one frame."""
        file = looked.file
        if file.damage or file.black or file.bad_values:
            return
        if file.one_colour:
            self.varied[file.frame] = self._is_varied(file.frame)
        self.colours += self._against.told(file.frame, looked.samples, looked.fits)

    def found(self, files: Sequence[DeliveredFrame]) -> Pictures:
        """Return what all of it comes to; ``files`` are all frames that were taken."""
        return Pictures(tuple(self.colours), dict(self.varied), tuple(self._repeated(files)))

    def _is_varied(self, frame: int) -> bool:
        light = self.sight.expected(frame)
        return light is not None and float(np.ptp(light, axis=0).max()) > LEAST_CHANGE

    def _repeated(self, files: Sequence[DeliveredFrame]) -> Iterator[tuple[int, ...]]:
        """Yield frames that hold the very same picture beside other passes, where the plan has it change."""
        first, last = int(self.sight.plan.frames[0]), int(self.sight.plan.frames[-1])
        alike: dict[str, dict[int, str]] = {}
        for file in files:
            # One that says that it is another frame is known for what it is.
            true = file.said_frame in (None, file.frame)
            if file.picture and not file.black and not file.one_colour and true and first <= file.frame <= last:
                alike.setdefault(file.picture, {})[file.frame] = file.digest
        for group in alike.values():
            if len(set(group.values())) > 1 and self._changes(sorted(group)):
                yield tuple(sorted(group))

    def _changes(self, frames: Sequence[int]) -> bool:
        """Return whether the plan has the picture visibly change between ``frames``; False where that is not known."""
        some = np.unique(np.linspace(0, len(frames) - 1, min(MOST_LOOKED_AT, len(frames))).astype(int))
        begun = self.sight.expected(frames[0])
        for at in some[1:]:
            light = self.sight.expected(frames[at])
            if begun is None or light is None:
                return False
            changed = (np.abs(light - begun) > LEAST_CHANGE).any(axis=-1)
            if changed.any() and (
                changed.mean() >= MANY_PLACES or self.sight.moves_px(frames[0], frames[at]) >= SURE_MOVE_PX
            ):
                return True
        return False
