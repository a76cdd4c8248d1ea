# SPDX-License-Identifier: GPL-3.0-or-later
"""Where each key of a TOML document stands, which the standard library's reader does not tell.

The scanner follows text that tomllib has accepted already; it gives no values and finds no errors.
"""

import re
import tomllib
from dataclasses import dataclass

_BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)+")
_SPACE = re.compile(r"[ \t]*")
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}' r"|'''.*?'{3,5}" r'|"(?:[^"\\\n]|\\.)*"' r"|'[^'\n]*'",
    re.DOTALL,
)
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_PLAIN = re.compile(r"[^,\]}#\n]+")


def key_lines(text: str) -> dict[str, int]:
    """Return the line, counted from 1, of every table and key: `camera`, `camera.focal_mm`, `level[2].height`."""
    scanner = _Scanner(text)
    scanner.document()
    return scanner.lines


@dataclass(frozen=True)
class Span:
    """Where something of a document stands in its text: from the first character of its key or its header to ``end``.

    ``value`` is where the value of a key begins, or of an item of an array, which has no key. Of a header, which has
    no value, it is the end. ``table`` is the path of the header above, nothing for the root.
    """

    path: str
    table: str
    start: int
    value: int
    end: int
    is_header: bool = False


def spans(text: str) -> list[Span]:
    """Return headers, keys and items of arrays in the order of the text; what holds others comes after them."""
    scanner = _Scanner(text)
    scanner.document()
    return scanner.spans


# Deeper keys than any format of ours has are not followed, or a line of many dots would make a path of each length.
_MOST_PARTS = 16


class _Scanner:
    """A position in the text, and the lines found so far."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[str, int] = {}
        self.spans: list[Span] = []
        self._table = ""
        self._counts: dict[str, int] = {}
        self._line = 1
        self._counted_to = 0

    def document(self) -> None:
        self._skip(_BLANK)
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                self._table = self._header()
            else:
                self._pair(self._table)
            self._skip(_BLANK)

    def _skip(self, pattern: re.Pattern[str]) -> None:
        if match := pattern.match(self.text, self.at):
            self.at = match.end()

    def _token(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None or match.end() == self.at:
            raise ValueError(f"unexpected character at {self.at}")
        self.at = match.end()
        return match.group()

    def _note(self, path: str) -> None:
        """Remember the present line for ``path``, unless it was seen before."""
        self._line += self.text.count("\n", self._counted_to, self.at)
        self._counted_to = self.at
        self.lines.setdefault(path, self._line)

    def _header(self) -> str:
        """Read `[table]` or `[[array of tables]]` and return its path."""
        brackets = 2 if self.text.startswith("[[", self.at) else 1
        start = self.at
        self.at += brackets
        parts = self._key()[:_MOST_PARTS]
        path = ""
        for part in parts[:-1]:
            path = _joined(path, part)
            # A table that only those below it tell of stands where the first of them does.
            self._note(path)
            path = self._latest(path)
        path = _joined(path, parts[-1])
        if brackets == 2:
            self._note(path)
            self._counts[path] = self._counts.get(path, -1) + 1
        path = self._latest(path)
        self._note(path)
        self.at += brackets
        self.spans.append(Span(path, path, start, self.at, self.at, is_header=True))
        return path

    def _latest(self, path: str) -> str:
        return f"{path}[{self._counts[path]}]" if path in self._counts else path

    def _key(self) -> list[str]:
        """Read a key with its dots, and the blanks around it."""
        parts = []
        while True:
            self._skip(_SPACE)
            quoted = self.text[self.at] in "\"'"
            token = self._token(_STRING if quoted else _BARE_KEY)
            parts.append(str(tomllib.loads(f"k={token}")["k"]) if quoted else token)
            self._skip(_SPACE)
            if self.text[self.at] != ".":
                return parts
            self.at += 1

    def _pair(self, table: str) -> None:
        path = table
        start = self.at
        for part in self._key()[:_MOST_PARTS]:
            path = _joined(path, part)
            self._note(path)
        self.at += 1  # the equals sign
        self._skip(_SPACE)
        self._value(path, start)

    def _value(self, path: str, start: int) -> None:
        """Step over the value of a key that begins at ``start``, or over an item that does."""
        value = self.at
        opening = self.text[value]
        if opening == "[":
            self._array(path)
        elif opening == "{":
            self._inline_table(path)
        elif opening in "\"'":
            self._token(_STRING)
        else:
            self._token(_PLAIN)
        # Blanks after a plain value are no part of it.
        end = value + len(self.text[value : self.at].rstrip())
        self.spans.append(Span(path, self._table, start, value, end))

    def _array(self, path: str) -> None:
        self.at += 1
        count = 0
        while self._another("]"):
            item = f"{path}[{count}]"
            self._note(item)
            self._value(item, self.at)
            count += 1

    def _inline_table(self, path: str) -> None:
        self.at += 1
        while self._another("}"):
            self._pair(path)

    def _another(self, closing: str) -> bool:
        """Step over blanks and a comma; return whether another item follows rather than ``closing``."""
        self._skip(_BLANK)
        if self.text[self.at] == ",":
            self.at += 1
            self._skip(_BLANK)
        if self.text[self.at] != closing:
            return True
        self.at += 1
        return False


def _joined(path: str, part: str) -> str:
    return f"{path}.{part}" if path else part
