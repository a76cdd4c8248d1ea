# SPDX-License-Identifier: GPL-3.0-or-later
"""Telling apart which of many differences show, with few sets of pictures: all at once first, then in halves."""

from collections.abc import Callable, Sequence
from typing import TypeVar

from .changed_properties import NOTHING

# By how many codes pixels change at the most, and on which frame; less than none where nothing could be rendered.
Shown = tuple[float, int]
One = TypeVar("One")
# As many sets of pictures are taken at the most; what is not told apart by then is told together.
MOST_SETS = 16


def is_quiet(shown: Shown) -> bool:
    """Return whether pictures were taken, and no pixel changes by more than one code, and what rounding adds."""
    return 0.0 <= shown[0] <= NOTHING


def told_apart(
    items: Sequence[One], show: Callable[[Sequence[One]], Shown], *, known: Shown | None = None, most: int = MOST_SETS
) -> list[Shown]:
    """Return what each of ``items`` shows; ``show`` takes pictures with some of them, ``known`` is what it says of all.

    Where some show nothing together, each shows nothing. Where two halves show nothing and both together do, all of
    them show what they do together.
    """
    left = [most]

    def shown(some: Sequence[One], together: Shown | None, known: Shown | None = None) -> list[Shown]:
        if known is None:
            if together is not None and left[0] < 1:
                return [together] * len(some)
            left[0] -= 1
            known = show(some)
        if is_quiet(known) or len(some) < 2:
            return [known] * len(some)
        middle = len(some) // 2
        found = [*shown(some[:middle], known), *shown(some[middle:], known)]
        return [known] * len(some) if all(map(is_quiet, found)) else found

    return shown(items, None, known) if items else []
