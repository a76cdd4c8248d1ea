# SPDX-License-Identifier: GPL-3.0-or-later
"""How the sidebar shows words: icons by number, lines broken to the panel's width."""

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

import blf
import bpy

# What a line has of the region besides its words, in a box too, and what an icon before it takes, in points.
BORDER_PT, ICON_PT = 78, 26
# What a button with an icon has of the region besides its words, in points, and the size of Blender's letters.
BUTTON_BORDER_PT, LETTERS_PT = 84, 11
# The same of a line, and of the title of a group, which has a triangle before its icon.
LINE_BORDER_PT, GROUP_BORDER_PT = 70, 118
# The share of its width that Blender gives to labels where it splits properties, and what is not letters of it, points.
SPLIT_SHARE, SPLIT_BORDER_PT = 0.4, 12
FEWEST_PT = 60


@dataclass(frozen=True)
class Room:
    """What has room in a region: ``width`` in pixels, ``points`` of it, and how many pixels are a point."""

    width: int
    points: float
    scale: float

    def lines(self, text: str, *, icon: bool = False) -> tuple[str, ...]:
        """Return ``text`` broken to the width of a panel, less the room of an ``icon`` in a box."""
        points = self.points - BORDER_PT - (ICON_PT if icon else 0)
        return _broken(text, max(points, FEWEST_PT) * self.scale, LETTERS_PT * self.scale)

    def fits_button(self, text: str, *, beside: float = BUTTON_BORDER_PT) -> bool:
        """Return whether a button with an icon, as wide as the panel, shows ``text`` uncut."""
        return _width(text, LETTERS_PT * self.scale) <= self.width - beside * self.scale

    def fits_split(self, labels: tuple[str, ...]) -> bool:
        """Return whether ``labels`` stand uncut beside their fields, where Blender splits its properties."""
        widest = max(_width(label, LETTERS_PT * self.scale) for label in labels) / self.scale
        return widest + SPLIT_BORDER_PT <= SPLIT_SHARE * (self.points - LINE_BORDER_PT)

    def joined(self, texts: tuple[str, ...]) -> tuple[str, ...]:
        """Return ``texts`` in as few lines as they fit in; one is broken only where it alone is too long."""
        lines: list[str] = []
        for text in texts:
            longer = f"{lines[-1]}, {text}" if lines else text
            if lines and self.fits_button(longer, beside=LINE_BORDER_PT):
                lines[-1] = longer
            else:
                lines += self.lines(text)
        return tuple(lines)


def room(context: Any) -> Room:
    """Return what has room in the region that is drawn."""
    width, scale = context.region.width, context.preferences.system.ui_scale
    return Room(width, width / scale, scale)


@cache
def icons() -> dict[str, int]:
    """Return Blender's icons by name as numbers: a name would be looked for among all of them whenever it is drawn."""
    named = bpy.types.UILayout.bl_rna.functions["label"].parameters["icon"].enum_items
    return {icon.identifier: icon.value for icon in named}


# Panels write the same lines on every frame.
@lru_cache(maxsize=512)
def _broken(text: str, width: float, size: float) -> tuple[str, ...]:
    """Return ``text`` in lines of at most ``width`` pixels; a word that is longer, such as a path, is broken itself."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and _width(longer, size) <= width:
            lines[-1] = longer
        else:
            lines += _pieces(word, width, size)
    return tuple(lines) or (text,)


def _pieces(word: str, width: float, size: float) -> list[str]:
    """Return a word in pieces of at most ``width`` pixels, but for single characters."""
    pieces = [""]
    for character in word:
        if pieces[-1] and _width(pieces[-1] + character, size) > width:
            pieces.append("")
        pieces[-1] += character
    return pieces


@lru_cache(maxsize=4096)
def _width(text: str, size: float) -> float:
    blf.size(0, size)
    return float(blf.dimensions(0, text)[0])
