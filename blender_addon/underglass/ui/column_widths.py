# SPDX-License-Identifier: GPL-3.0-or-later
"""Tables of the sidebar: which columns have room, and how wide each is; a number is shown whole or not at all."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import blf

# What a label has beside its words, and what an icon takes, in points; Blender's letters are so large.
LABEL_PT, ICON_PT, LETTERS_PT = 14.0, 20.0, 11.0
# What of the region is beside a panel's contents, in points: tabs, borders, the scroll bar.
BESIDE_PT = 58.0
_WIDE_DIGITS = str.maketrans("123456789", "0" * 9)


@dataclass(frozen=True)
class Column:
    """A column: the longest ``words`` in it, or an icon where there are none; ``rank`` 0 is never dropped."""

    name: str
    words: tuple[str, ...] = ()
    rank: int = 0


def fitting(
    columns: Sequence[Column], *, width: float, scale: float, first: str, icon: bool = False
) -> tuple[tuple[Column, float], ...]:
    """Return the columns that fit beside a first one that asks for the words ``first``, with the points each takes.

    Those of the highest rank are dropped first. ``width`` is the region's in pixels, ``scale`` pixels a point; with
    ``icon`` the first column has one too.
    """
    room = width / scale - BESIDE_PT
    taken = [(one, max((wide(text, scale) for text in one.words), default=ICON_PT)) for one in columns]
    least = wide(first, scale) + (ICON_PT if icon else 0)
    for rank in range(max((one.rank for one in columns), default=0), 0, -1):
        if sum(points for _, points in taken) + least <= room:
            break
        taken = [(one, points) for one, points in taken if one.rank != rank]
    return tuple(taken)


def laid_out(layout: Any, columns: Sequence[tuple[Column, float]], *, width: float, scale: float) -> list[Any]:
    """Return a column for the first, which takes the rest of the room, and one for each of ``columns``."""
    rest = max(width / scale - BESIDE_PT, 1.0)
    made = []
    share = max(rest - sum(points for _, points in columns), 10.0)
    for points in [share, *(points for _, points in columns)][:-1]:
        split = layout.split(factor=min(max(points / rest, 0.01), 0.99), align=True)
        made.append(split.column(align=True))
        layout, rest = split, max(rest - points, 1.0)
    made.append(layout.column(align=True))
    return made


def wide(text: str, scale: float) -> float:
    """Return how many points a label of ``text`` takes, whatever its digits are: some are narrower than others."""
    return _letters(text.translate(_WIDE_DIGITS), LETTERS_PT * scale) / scale + LABEL_PT


@lru_cache(maxsize=1024)
def _letters(text: str, size: float) -> float:
    blf.size(0, size)
    return float(blf.dimensions(0, text)[0])
