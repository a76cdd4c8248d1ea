# SPDX-License-Identifier: GPL-3.0-or-later
"""Amending an array in the text of a TOML document: items that stay keep their very text, and comments their place."""

import difflib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TypeGuard

from .amend_text import Edit, applied, arranged
from .toml_lines import Span
from .toml_text import Value, value_text

_TO_COMMA = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*,")
_BLANKS = re.compile(r"[ \t]*")

Spans = Mapping[str, Span]


def amended_value(text: str, values: Spans, *, span: Span, old: Value | None, new: Value) -> str:
    """Return the text of a value that was ``old`` and becomes ``new``; of an array only what differs is changed.

    ``values`` are the spans of the document by path, ``span`` is that of the value.
    """
    if old == new:
        return text[span.value : span.end]
    if text[span.value] != "[" or not _is_list(old) or not _is_list(new):
        return value_text(new)

    def item(number: int, match: int | None) -> str:
        if match is None:
            return value_text(new[number])
        below = values[f"{span.path}[{match}]"]
        return amended_value(text, values, span=below, old=old[match], new=new[number])

    return amended_array(text, values, span=span, matches=_matches(old, new), item=item)


def _is_list(value: Value | None) -> TypeGuard[Sequence[Value]]:
    return isinstance(value, Sequence) and not isinstance(value, str)


def _matches(old: Sequence[Value], new: Sequence[Value]) -> list[int | None]:
    """Return which old item each new one goes on from: the one in its place, or the same one further on."""
    if len(old) == len(new):
        return list(range(len(new)))
    matches: list[int | None] = [None] * len(new)
    same = difflib.SequenceMatcher(a=[repr(item) for item in old], b=[repr(item) for item in new], autojunk=False)
    for block in same.get_matching_blocks():
        matches[block.b : block.b + block.size] = range(block.a, block.a + block.size)
    return matches


def amended_array(
    text: str,
    values: Spans,
    *,
    span: Span,
    matches: Sequence[int | None],
    item: Callable[[int, int | None], str],
) -> str:
    """Return the text of an array whose items were `matched`; ``item`` gives the text of a new one and its match."""
    old = list(_items(values, span.path))
    places = arranged(matches)
    if not places.at:
        return f"[{', '.join(item(number, None) for number in range(len(matches)))}]"
    edits = []
    for place, number in places.at.items():
        edits.append(Edit(old[place].start, old[place].end, item(number, matches[number])))
    for behind, numbers in places.after.items():
        new = [item(number, None) for number in numbers]
        if behind is None:
            at = old[min(places.at)].start
            edits.append(Edit(at, at, "".join(f"{one}, " for one in new)))
        else:
            edits.append(Edit(old[behind].end, old[behind].end, "".join(f", {one}" for one in new)))
    edits += _taken_out(text, old, stay=[*places.at])
    return applied(text, edits, start=span.value, end=span.end)


def _items(values: Spans, path: str) -> Iterator[Span]:
    number = 0
    while found := values.get(f"{path}[{number}]"):
        yield found
        number += 1


def _taken_out(text: str, old: Sequence[Span], *, stay: Sequence[int]) -> Iterator[Edit]:
    """Yield what takes the other items of an array out, each with a comma; the comments between them stay."""
    last = max(stay)
    for place, span in enumerate(old):
        if place not in stay:
            blanks = _BLANKS.match(text, span.end)
            yield Edit(span.start, blanks.end() if blanks else span.end, "")
        comma = _TO_COMMA.match(text, span.end)
        # Behind the last that stays a comma is taken out too, unless the array had one at its end.
        if comma is None or (place in stay and (place != last or last == len(old) - 1)):
            continue
        if place == last and _TO_COMMA.match(text, old[-1].end):
            continue
        blanks = _BLANKS.match(text, comma.end())
        yield Edit(comma.end() - 1, blanks.end() if blanks and place != last else comma.end(), "")
