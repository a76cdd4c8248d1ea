# SPDX-License-Identifier: GPL-3.0-or-later
"""Amending the text of a TOML document: what is the same keeps its very text, comments and blank lines their place.

What the keys mean is not known here; values come spelled as the writer does. How arrays change is `amend_array`.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from .amend_array import amended_array, amended_value
from .amend_text import Edit, applied, arranged, line_end_of, whole_lines, with_end_of
from .toml_lines import Span, spans
from .toml_text import Keys, Value, inline_text, table_text, value_text

_COMMENT_BEHIND = re.compile(r"( +)#")
_BLANK_LINES = re.compile(r"(?:[ \t]*\r?\n)*")
_COMMENT_LINE = re.compile(r"[ \t]*#[^\n]*\n")


@dataclass(frozen=True)
class Content:
    """What a document says: its root keys, its tables, and its arrays of tables; None for a key that is left out."""

    root: Keys
    tables: Mapping[str, Keys]
    arrays: Mapping[str, Sequence[Keys]]


@dataclass(frozen=True)
class _Document:
    """A text and where its parts stand: values by path, in order below what holds them, and headers by path."""

    text: str
    line_end: str
    defaults: Mapping[str, Value]
    values: dict[str, Span] = field(default_factory=dict)
    below: dict[str, list[Span]] = field(default_factory=dict)
    headers: dict[str, Span] = field(default_factory=dict)

    def end_of_line(self, at: int) -> int:
        """Return where the line after that of ``at`` begins."""
        return self.text.index("\n", at) + 1

    def start_of_line(self, at: int) -> int:
        return self.text.rfind("\n", 0, at) + 1

    def in_lines(self, text: str) -> str:
        return text.replace("\n", self.line_end)


def amended_toml(
    text: str,
    *,
    old: Content,
    new: Content,
    matches: Mapping[str, Sequence[int | None]],
    defaults: Mapping[str, Value],
) -> str:
    """Return the text of a document that said ``old`` and is to say ``new``.

    ``matches`` tells for each table of an array which of the old it goes on from; ``defaults`` what a key is set to
    where the new content leaves it out and the text says it; a key without a default is taken out.
    """
    document = _document(whole_lines(text), defaults)
    edits = [*_table_edits(document, "", old.root, new.root)]
    for name, keys in new.tables.items():
        edits += _table_edits(document, name, old.tables.get(name, {}), keys)
    for name in old.tables.keys() - new.tables.keys():
        edits += _without_table(document, name, old.tables[name])
    for name, tables in new.arrays.items():
        edits += _array_edits(document, name, old.arrays.get(name, ()), tables, matches[name])
    # Where a key and a table come in at one place, the key belongs to the table before it.
    edits.sort(key=_opens_a_table)
    return with_end_of(applied(document.text, edits), text)


def _opens_a_table(edit: Edit) -> bool:
    return edit.start == edit.end and edit.text.lstrip().startswith("[")


def _document(text: str, defaults: Mapping[str, Value]) -> _Document:
    document = _Document(text, line_end_of(text), defaults)
    for span in spans(text):
        if span.is_header:
            document.headers[span.path] = span
            continue
        document.values[span.path] = span
        holder, _, key = span.path.rpartition(".")
        if not key.endswith("]"):
            document.below.setdefault(holder, []).append(span)
    for found in document.below.values():
        found.sort(key=lambda span: span.start)
    return document


# -- the keys of one table ---------------------------------------------------------------------------------------------


def _table_edits(document: _Document, path: str, old: Keys, new: Keys) -> Iterator[Edit]:
    """Yield what changes the keys of the table at ``path``, in whichever form it is written."""
    changed = {key: new.get(key) for key in (*old, *new) if old.get(key) != new.get(key)}
    if not changed:
        return
    if path in document.values:
        span = document.values[path]
        yield Edit(span.value, span.end, _inline_text(document, span, old, new))
        return
    inserted: dict[str, Value | None] = {}
    for key, value in changed.items():
        said = document.values.get(_joined(path, key))
        settled = document.defaults.get(key) if value is None else value
        if said is None:
            inserted[key] = value
        elif settled is None:
            yield _without_pair(document, said)
        else:
            yield _value_edit(document, said, old.get(key), settled)
    if any(value is not None for value in inserted.values()):
        yield _insertion(document, path, inserted)


def _without_table(document: _Document, path: str, old: Keys) -> Iterator[Edit]:
    """Yield what takes a table out, in whichever form it is written."""
    if path in document.values:
        yield _without_pair(document, document.values[path])
    elif path in document.headers:
        yield _without_block(document, *_block(document, document.headers[path]))
    else:
        yield from _table_edits(document, path, old, {})


def _without_pair(document: _Document, span: Span) -> Edit:
    return Edit(document.start_of_line(span.start), document.end_of_line(span.end), "")


def _without_block(document: _Document, start: int, end: int) -> Edit:
    """Return what takes the lines of a table out, and the blank ones below them."""
    blanks = _BLANK_LINES.match(document.text, end)
    return Edit(start, blanks.end() if blanks else end, "")


def _value_edit(document: _Document, span: Span, old: Value | None, new: Value) -> Edit:
    """Return what puts a value in the place of another; a comment behind it stays in its column where it can."""
    text = document.text
    after = amended_value(text, document.values, span=span, old=old, new=new)
    comment = _COMMENT_BEHIND.match(text, span.end)
    if comment is None or "\n" in text[span.value : span.end]:
        return Edit(span.value, span.end, after)
    width = comment.end(1) - span.value
    return Edit(span.value, comment.end(1), after.ljust(width) if len(after) < width else f"{after} ")


def _insertion(document: _Document, path: str, keys: Keys) -> Edit:
    """Return what puts ``keys`` behind the last key of a table; where there is no such table it is made."""
    header, found = document.headers.get(path), document.below.get(path, [])
    if not path:
        found = [span for span in document.values.values() if not span.table]
    elif header is None and not found:
        # A table of its own, above the first array of tables.
        first = next((span for span in document.headers.values() if span.path.endswith("]")), None)
        text = document.in_lines(table_text(f"[{path}]", keys))
        if first is None:
            return Edit(len(document.text), len(document.text), document.line_end + text)
        at = _block(document, first)[0]
        return Edit(at, at, text + document.line_end)
    last = max([span.end for span in found] + ([header.end] if header else []))
    at = document.end_of_line(last)
    indent = _indent(document, found[-1]) if found and path else ""
    # A dotted key is said from the table that it stands in.
    prefix = "" if header or not path else f"{path.removeprefix(f'{found[-1].table}.')}."
    lines = table_text("", {f"{indent}{prefix}{key}": value for key, value in keys.items()})
    return Edit(at, at, document.in_lines(lines))


def _indent(document: _Document, span: Span) -> str:
    before = document.text[document.start_of_line(span.start) : span.start]
    return "" if before.strip() else before


def _inline_text(document: _Document, span: Span, old: Keys, new: Keys) -> str:
    """Return the text of an inline table with the keys of ``new``."""
    text = document.text
    found = document.below.get(span.path, [])
    parts = []
    for child in found:
        key = child.path.removeprefix(f"{span.path}.")
        before, after = old.get(key), new.get(key)
        if before == after:
            parts.append(text[child.start : child.end])
            continue
        settled = document.defaults.get(key) if after is None else after
        if settled is not None:
            value = amended_value(text, document.values, span=child, old=before, new=settled)
            parts.append(text[child.start : child.value] + value)
    said = {child.path.removeprefix(f"{span.path}.") for child in found}
    parts += [f"{key} = {value_text(value)}" for key, value in new.items() if key not in said and value is not None]
    opening, closing = (text[span.value : found[0].start], text[found[-1].end : span.end]) if found else ("{ ", " }")
    return opening + ", ".join(parts) + closing


def _joined(path: str, key: str) -> str:
    return f"{path}.{key}" if path else key


# -- arrays of tables --------------------------------------------------------------------------------------------------


def _array_edits(
    document: _Document, path: str, old: Sequence[Keys], new: Sequence[Keys], matches: Sequence[int | None]
) -> Iterator[Edit]:
    """Yield what changes an array of tables, written under headers or as an array of inline tables."""
    if path in document.values:
        yield _inline_array_edit(document, path, old, new, matches)
        return
    blocks = [_block(document, document.headers[f"{path}[{number}]"]) for number in range(len(old))]
    places = arranged(matches)

    def block(number: int, match: int) -> str:
        edits = _table_edits(document, f"{path}[{match}]", old[match], new[number])
        return applied(document.text, edits, start=blocks[match][0], end=blocks[match][1])

    for place, (start, end) in enumerate(blocks):
        number = places.at.get(place)
        match = None if number is None else matches[number]
        if number is None or match is None:
            yield _without_block(document, start, end)
        elif match == place:
            yield from _table_edits(document, f"{path}[{place}]", old[place], new[number])
        else:
            yield Edit(start, end, block(number, match))
    for behind, numbers in places.after.items():
        texts = [document.in_lines(table_text(f"[[{path}]]", new[number])) for number in numbers]
        if blocks and behind is None:
            at = blocks[min(places.at, default=0)][0]
            yield Edit(at, at, "".join(text + document.line_end for text in texts))
        else:
            at = len(document.text) if behind is None else blocks[behind][1]
            yield Edit(at, at, "".join(document.line_end + text for text in texts))


def _block(document: _Document, header: Span) -> tuple[int, int]:
    """Return where a table begins and ends in the text, with the comment lines that touch it."""
    later = [span for span in document.headers.values() if span.start > header.start]
    next_header = min(later, key=lambda span: span.start, default=None)
    ends = [span.end for span in document.below.get(header.path, [])]
    end = document.end_of_line(max([header.end, *ends]))
    limit = len(document.text) if next_header is None else _start_with_comments(document, next_header)
    while end < limit and (comment := _COMMENT_LINE.match(document.text, end)):
        end = comment.end()
    return _start_with_comments(document, header), end


def _start_with_comments(document: _Document, header: Span) -> int:
    """Return where the comment lines begin that stand right above a header, or else its own line."""
    start = document.start_of_line(header.start)
    floor = -1
    while start:
        above = document.start_of_line(start - 1)
        if not _COMMENT_LINE.fullmatch(document.text, above, start):
            break
        if floor < 0:
            # The last line of a text may begin with the sign of a comment.
            floor = max((span.end for span in document.values.values() if span.end <= header.start), default=0)
        if above < floor:
            break
        start = above
    return start


def _inline_array_edit(
    document: _Document, path: str, old: Sequence[Keys], new: Sequence[Keys], matches: Sequence[int | None]
) -> Edit:
    span = document.values[path]

    def item(number: int, match: int | None) -> str:
        if match is None:
            return inline_text(new[number])
        return _inline_text(document, document.values[f"{path}[{match}]"], old[match], new[number])

    return Edit(
        span.value, span.end, amended_array(document.text, document.values, span=span, matches=matches, item=item)
    )
