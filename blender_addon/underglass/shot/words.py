# SPDX-License-Identifier: GPL-3.0-or-later
"""How a wrong word or value is shown in an error, and which right word was probably meant.

Only wording lives here; the checks themselves are with the thing they check.
"""

import difflib
import unicodedata
from collections.abc import Iterable, Sequence
from decimal import Decimal

_MOST_SHOWN = 60
_MOST_LISTED = 12
# Between these a number is written out; beyond them it would be mostly zeros.
_TINY, _HUGE = 1e-9, 1e15
# Line and paragraph separators and control characters: they would break a line of a report, or of a CSV file.
_UNSEEN = {"Cc", "Zl", "Zp", "Cs"}


def shown(value: object) -> str:
    """Return ``value`` as its file spells it, cut to a length that fits an error of one line."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, float):
        return _spelled(value, repr(value))
    try:
        text = repr(str(value) if isinstance(value, str) else value)  # the text of a StrEnum, not its name
    except ValueError:  # Python refuses to spell an integer of thousands of digits
        return "a number of thousands of digits"
    return text if len(text) <= _MOST_SHOWN else f"{text[:_MOST_SHOWN]}…"


def number_text(value: float, *, digits: int = 6) -> str:
    """Return a number to so many digits as people write it: 1000000, not 1e+06."""
    return _spelled(value, f"{value:.{digits}g}")


def _spelled(value: float, text: str) -> str:
    """Return ``text``, which spells ``value``, without a power of ten where the number is of an ordinary size."""
    return f"{Decimal(text):f}" if "e" in text and _TINY <= abs(value) < _HUGE else text


def listed(words: Iterable[str]) -> str:
    """Return ``words`` as a list for a sentence, cut short where it would be long."""
    names = [shown(word) for word in words]
    more = len(names) - _MOST_LISTED
    return ", ".join(names[:_MOST_LISTED]) + (f" and {more} more" if more > 0 else "")


def first_of(words: Sequence[str], most: int) -> str:
    """Return the first ``most`` of some words as a list for a sentence, and how many more there are."""
    more = f" and {len(words) - most} more" if len(words) > most else ""
    return ", ".join(words[:most]) + more


def nearest(word: str, *, among: Iterable[str]) -> str:
    """Return the remedy for an unknown ``word``: the known one it resembles, or all that are known."""
    known = list(among)
    close = difflib.get_close_matches(word[:_MOST_SHOWN].lower(), known, n=1, cutoff=0.6)
    if close:
        return f"did you mean {shown(close[0])}?"
    return f"write one of {listed(known)}" if known else "leave it out"


def has_control_characters(text: str) -> bool:
    """Return whether ``text`` holds a character that has no look of its own, such as a line break."""
    return any(unicodedata.category(character) in _UNSEEN for character in text)
