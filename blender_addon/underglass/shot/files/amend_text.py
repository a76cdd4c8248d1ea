# SPDX-License-Identifier: GPL-3.0-or-later
"""Changing a text in places: edits put into it, and items matched and arranged, so that all else stays as it was.

Nothing here knows what the text is of.
"""

from collections.abc import Callable, Hashable, Iterable, Sequence
from typing import NamedTuple, TypeVar

BOM_CHARACTER = "\ufeff"
_BLANKS = " \t\r\n"

Item = TypeVar("Item")


class Edit(NamedTuple):
    """What stands from ``start`` to ``end`` of a text becomes ``text``; an insertion starts where it ends."""

    start: int
    end: int
    text: str


def applied(text: str, edits: Iterable[Edit], *, start: int = 0, end: int | None = None) -> str:
    """Return a part of ``text``, to its end where none is given, with all ``edits`` in it; they must not overlap.

    Insertions at one place keep their order, and come before what is replaced there.
    """
    parts = []
    at = start
    for edit in sorted(edits, key=lambda edit: edit[:2]):
        assert edit.start >= at, edit
        parts += [text[at : edit.start], edit.text]
        at = edit.end
    return "".join([*parts, text[at:end]])


def line_end_of(text: str) -> str:
    """Return how the lines of ``text`` end, going by the first."""
    end = text.find("\n")
    return "\r\n" if end > 0 and text[end - 1] == "\r" else "\n"


def whole_lines(text: str) -> str:
    """Return ``text`` with an end to its last line."""
    return text if not text or text.endswith("\n") else text + line_end_of(text)


def with_end_of(text: str, before: str) -> str:
    """Return ``text`` with the blanks and empty lines at its end that ``before`` has."""
    return text.rstrip(_BLANKS) + before[len(before.rstrip(_BLANKS)) :]


def matched(
    old: Sequence[Item], new: Sequence[Item], *, alike: Sequence[Callable[[Item], Hashable]]
) -> list[int | None]:
    """Return for each item of ``new`` which of ``old`` it goes on from, each once; None for one that is new.

    What is the same to the first function of ``alike`` is matched first, in order, then by the second, and so on.
    """
    matches: list[int | None] = [None] * len(new)
    left = dict(enumerate(old))
    for key in alike:
        waiting: dict[Hashable, list[int]] = {}
        for number, item in left.items():
            waiting.setdefault(key(item), []).append(number)
        for number, item in enumerate(new):
            if matches[number] is None and (found := waiting.get(key(item))):
                matches[number] = found.pop(0)
                del left[matches[number]]  # type: ignore[arg-type]
    return matches


class Arrangement(NamedTuple):
    """Where items go: ``at`` which new one stands in the place of an old one, ``after`` which are put in behind it.

    Both count the old from 0; what is put in before all of them is after None.
    """

    at: dict[int, int]
    after: dict[int | None, list[int]]


def arranged(matches: Sequence[int | None]) -> Arrangement:
    """Return where items go that were `matched`: those that stay share out the places in the order of the new."""
    places = iter(sorted(match for match in matches if match is not None))
    at: dict[int, int] = {}
    after: dict[int | None, list[int]] = {}
    last = None
    for number, match in enumerate(matches):
        if match is None:
            after.setdefault(last, []).append(number)
        else:
            last = next(places)
            at[last] = number
    return Arrangement(at, after)
