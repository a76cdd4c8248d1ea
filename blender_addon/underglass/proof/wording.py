# SPDX-License-Identifier: GPL-3.0-or-later
"""How names and numbers are spelled for people: on the page, in the plots and in the terminal.

Level names are text of a user's: what has no look of its own is made visible, what is too long is cut.
"""

import math
import re
import unicodedata
from collections.abc import Iterable, Sequence
from pathlib import PurePath

from ..shot.units import METRES_PER_UNIT

# Control characters, marks that turn the reading direction round, halves of characters: they could break a line, a
# terminal or a drawing.
_UNSEEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
_STAND_IN = "\N{WHITE SQUARE}"
# Of these a name may be made up: joiners of letters, which some scripts need.
_JOINERS = "\N{ZERO WIDTH JOINER}\N{ZERO WIDTH NON-JOINER}"
# A growth this near to 1 is written as 1.000.
_HOLDS = 5e-5
_DECIMALS = {"in": 2, "cm": 2, "mm": 1}


def plain(text: str) -> str:
    """Return ``text`` on one line, with a small square for every character that has no look of its own."""
    return "".join(_STAND_IN if is_unseen(c) else c for c in text)


def is_unseen(character: str) -> bool:
    """Return whether a character has no look of its own, and may steer a terminal or turn its reading round."""
    return unicodedata.category(character) in _UNSEEN and character not in _JOINERS


def shortened(text: str, *, columns: int) -> str:
    """Return `plain` ``text`` cut to ``columns`` letters of common width (a Chinese one counts as two)."""
    text = plain(text)
    if _columns(text) <= columns:
        return text
    while text and _columns(text) >= columns:
        text = text[:-1]
    return f"{text.rstrip()}…"


def _columns(text: str) -> int:
    return sum(_width(c) for c in text)


def _width(character: str) -> int:
    if unicodedata.combining(character):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def number(value: float | None, digits: int) -> str:
    """Return ``value`` with ``digits`` decimals, a true minus sign and no minus before zero; a dash for no number."""
    if value is None or not math.isfinite(value):
        return "–"
    text = f"{value:.{digits}f}"
    if text.startswith("-"):
        return text[1:] if not re.search("[1-9]", text) else f"−{text[1:]}"
    return text


def px(value: float | None) -> str:
    """Return a displacement in pixels: to the thousandth, or as far as a large one needs."""
    if value is None or not math.isfinite(value):
        return "–"
    return f"{number(value, 3 if abs(value) < 10 else 2 if abs(value) < 100 else 1)} px"


def give_or_take(value: float | None, uncertainty: float | None) -> str:
    """Return ``value`` ± ``uncertainty``, both in pixels, or the value alone."""
    if value is None or uncertainty is None or not math.isfinite(uncertainty):
        return px(value)
    digits = 3 if abs(value) < 100 else 2
    return f"{number(value, digits)} ± {number(uncertainty, digits)} px"


def growth(first: float, last: float, *, range_px: float = 0.0) -> str:
    """Return the growth from size ``first`` to ``last``; sizes that differ by no more than rounding hold.

    ``range_px`` is how much the size varied on the way.
    """
    if max(abs(last - first), range_px) <= _HOLDS * abs(first):
        return "holds"
    return f"× {number(last / first, 3)}"


def length(metres: float, units: str) -> str:
    """Return ``metres`` in the units of the stand, without naming them: two decimals, of millimetres one."""
    return number(metres / METRES_PER_UNIT[units], _DECIMALS[units])


def span(frames: tuple[int, int]) -> str:
    """Return first and last frame in words."""
    return f"frame {frames[0]}" if frames[0] == frames[1] else f"frames {frames[0]} to {frames[1]}"


def counted(count: int, noun: str) -> str:
    """Return ``count`` of ``noun``, which takes an s for more than one."""
    return f"{count:,} {noun}{'' if count == 1 else 's'}"


def listed(words: Sequence[str], *, most: int = 3) -> str:
    """Return ``words`` as a list in a sentence, the first few and how many more."""
    shown = [*words[:most]]
    if len(words) > most:
        shown.append(f"{len(words) - most} more")
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}" if shown else ""


def together(facts: Iterable[tuple[str, str]]) -> list[str]:
    """Return facts, (what, how it is), in words, those that are alike together: `A and B are keyed`."""
    alike: dict[str, list[str]] = {}
    for what, how in facts:
        alike.setdefault(how, []).append(what)
    return [
        f"{listed(names)} {how.replace('is ', 'are ', 1) if len(names) > 1 and how.startswith('is ') else how}"
        for how, names in alike.items()
    ]


def file_name(path: PurePath | None) -> str | None:
    """Return the name of a file without the folders of the machine it lies on."""
    return None if path is None else path.name
