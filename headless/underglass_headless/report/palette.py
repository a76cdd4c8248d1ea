# SPDX-License-Identifier: GPL-3.0-or-later
"""The colours of the plots and of the page, on light paper and on dark.

The eight colours of the levels were searched for: on either paper they stay apart for people who see all colours and
for those who are blind to red, green or blue (a test holds them to it), and marks of different shapes say it again.
"""

import re
from typing import NamedTuple


class Ink(NamedTuple):
    """One colour: its hex code on light and on dark paper."""

    light: str
    dark: str


PAPER = Ink("#fbf8f1", "#1b1d1f")
TEXT = Ink("#26282b", "#e9e4d8")
MUTED = Ink("#686460", "#a6a097")
RULE = Ink("#d5cebf", "#44464a")
FIELD = Ink("#ece5d4", "#2a2d2f")
HOLDS = Ink("#22604a", "#7fd0ae")
FAILS = Ink("#a82a1d", "#ff9a86")
WARNS = Ink("#8a5a00", "#f0c060")

INKS = {
    "paper": PAPER,
    "text": TEXT,
    "muted": MUTED,
    "rule": RULE,
    "field": FIELD,
    "holds": HOLDS,
    "fails": FAILS,
    "warns": WARNS,
    "level-0": Ink("#7e1101", "#ffd4af"),
    "level-1": Ink("#955906", "#bec15b"),
    "level-2": Ink("#88960e", "#8c9537"),
    "level-3": Ink("#285b60", "#6df6fe"),
    "level-4": Ink("#0499cc", "#6fc1fe"),
    "level-5": Ink("#6b5aba", "#718ada"),
    "level-6": Ink("#54257f", "#ba7391"),
    "level-7": Ink("#c56789", "#f797b6"),
}
LEVEL_INKS = tuple(ink for name, ink in INKS.items() if name.startswith("level-"))
# Marks of matplotlib, one a level, nine of them against eight colours: a pair comes back after 72 levels.
MARKS = ("o", "s", "^", "D", "v", "P", "<", "X", ">")

_COLOUR_IN_SVG = re.compile("(fill|stroke): (#[0-9a-f]{6})")


def level_colour(column: int) -> str:
    """Return the colour, on light paper, of the level in ``column`` of the plan."""
    return LEVEL_INKS[column % len(LEVEL_INKS)].light


def level_mark(column: int) -> str:
    """Return matplotlib's name of the mark of the level in ``column`` of the plan."""
    return MARKS[column % len(MARKS)]


def css_variables(*, dark: bool) -> str:
    """Return the declarations of all inks as CSS variables, for light or for dark paper."""
    return "".join(f"--{name}:{ink.dark if dark else ink.light};" for name, ink in INKS.items())


def follow_page(svg: str) -> str:
    """Return ``svg`` with its inks named instead of spelled, so that it follows the page from light to dark."""
    names = {ink.light: name for name, ink in INKS.items()}

    def named(match: re.Match[str]) -> str:
        name = names.get(match[2])
        return f"{match[1]}: var(--{name})" if name else match[0]

    return _COLOUR_IN_SVG.sub(named, svg)
