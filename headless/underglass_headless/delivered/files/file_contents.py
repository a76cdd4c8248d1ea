# SPDX-License-Identifier: GPL-3.0-or-later
"""What the channels of one delivered file hold: passes of levels, and how much of the frame, however spelled."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.proof.wording import plain
from underglass.shot.words import first_of

from ...exr.read_exr import Channel, ExrFile
from ...exr.unreadable_forms import Crop, crop_of
from .channel_names import Spelling
from .pass_fits import LevelPass, level_passes

# So many channels are named where none of them is a proof pass.
_MOST_NAMED = 6


def passes_in(exr: ExrFile, spelling: Spelling) -> dict[int, LevelPass]:
    """Return the passes of each level by its number, whatever the file calls them."""
    channels = {standard: exr.channels[name] for standard, name in spelling.passes.items()}
    for stem in spelling.unmarked:
        u, v = (channels[f"{stem}.{letter}"] for letter in "RG")
        if u.pixels.shape == v.pixels.shape:
            channels[f"{stem}.B"] = replace(u, pixels=marked(u.pixels, v.pixels))
    # Of overscan nothing is known: there may be nothing in it.
    channels = {name: _of_the_frame(channel, exr.size) for name, channel in channels.items()}
    return level_passes(
        {name: channel.pixels for name, channel in channels.items()},
        corners={name: (channel.left, channel.top) for name, channel in channels.items()},
        packing={name: channel.packing for name, channel in channels.items()},
    )


def _of_the_frame(channel: Channel, size: tuple[int, int]) -> Channel:
    """Return what a channel holds of a frame of ``size``, without what lies beyond; all of it where it is elsewhere."""
    height, width = channel.pixels.shape
    left, top = max(0, -channel.left), max(0, -channel.top)
    right, bottom = min(width, size[0] - channel.left), min(height, size[1] - channel.top)
    if (left, top, right, bottom) == (0, 0, width, height) or right <= left or bottom <= top:
        return channel
    kept = np.ascontiguousarray(channel.pixels[top:bottom, left:right])
    return replace(channel, pixels=kept, left=channel.left + left, top=channel.top + top)


def marked(u: NDArray[Any], v: NDArray[Any]) -> NDArray[np.float32]:
    """Return where a pass of coordinates alone shows its level, (H, W): 1 where all of a pixel certainly does.

    Coordinates are 0 where nothing is hit. A pixel beside such a one, or beside what the picture does not show, may be
    hit in part, and counts for one half.
    """
    hit = (u != 0) | (v != 0)
    padded = np.pad(hit, 1)
    height, width = hit.shape
    whole = hit.copy()
    for down in range(3):
        for right in range(3):
            whole &= padded[down : down + height, right : right + width]
    mark: NDArray[np.float32] = (whole.astype(np.float32) + hit) / 2
    return mark


def crop_in(exr: ExrFile, names: Sequence[str]) -> Crop | None:
    """Return what the channels of these ``names`` leave out of the frame, those that leave out the most."""
    crops: dict[Crop, list[str]] = {}
    for name in names:
        channel = exr.channels[name]
        height, width = channel.pixels.shape
        if crop := crop_of(exr.size, left=channel.left, top=channel.top, held=(width, height)):
            crops.setdefault(crop, []).append(name)
    if not crops:
        return None
    worst = max(crops, key=lambda crop: (sum(crop.missing), len(crops[crop])))
    return worst if len(crops[worst]) == len(names) else replace(worst, channels=tuple(crops[worst]))


def some_of(names: Sequence[str]) -> str:
    """Return the first few of some names and how many more there are; empty where there is none."""
    return first_of([*map(plain, names)], _MOST_NAMED)
