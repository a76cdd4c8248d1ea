# SPDX-License-Identifier: GPL-3.0-or-later
"""A table of a TOML file that knows where it stands: each key is asked for with the type and the limits it must have.

`read_toml` opens a file as its root table. Nothing here knows what a shot is.
"""

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

from ..errors import Place, ShotError
from ..files_on_disk import read_text
from ..quantity import Quantity
from ..words import has_control_characters, nearest, shown
from .toml_lines import key_lines

_LOCATION = re.compile(r" ?\(at (?:line (\d+), column (\d+)|end of document)\)$")


@dataclass(frozen=True)
class _Source:
    """The file that tables come from: the line of every key, and the places that were handed out."""

    file: Path
    lines: Mapping[str, int]
    places: dict[str, Place] = field(default_factory=dict)


def read_toml(path: Path, *, keys: Sequence[str]) -> "Table":
    """Return the root table of a TOML file; raises ShotError where it cannot be read or holds keys beside ``keys``."""
    text = read_text(path, said=Place(path))
    try:
        data = tomllib.loads(text)
        lines = key_lines(text.replace("\r\n", "\n"))
    except RecursionError as error:
        raise ShotError(Place(path), "has brackets within brackets without end", "write flat lists") from error
    except ValueError as error:
        raise _syntax_error(path, text, error) from error
    return Table(_Source(path, lines), data, keys=keys)


def _syntax_error(path: Path, text: str, error: ValueError) -> ShotError:
    """Return tomllib's complaint with its line; an error without one is about a number too long to read."""
    message = str(error)
    line = 0
    if location := _LOCATION.search(message):
        message = message[: location.start()]
        line = int(location[1]) if location[1] else text.count("\n") + 1
        message += f" at column {location[2]}" if location[2] else " at the end of the file"
    remedy = "write key = value, text in double quotes, numbers with a decimal point"
    return ShotError(Place(path, line), f"is not valid TOML: {message}", remedy)


class Table:
    """One table: ``path`` is its place in the document (`level[2]`), ``name`` what errors call it (`level.reeds`).

    Places count from 0, as TOML's readers do; names count from 1, as people do.
    """

    def __init__(
        self, source: _Source, data: Mapping[str, object], *, keys: Sequence[str], path: str = "", name: str = ""
    ) -> None:
        self._source = source
        self._data = data
        self._keys = keys
        self._path = path
        self.name = name
        if name:
            source.places[name] = self.place()
        for key in keys:
            source.places[self._called(key)] = self.place(key)
        for key in data:
            if key not in keys:
                raise self.wrong(key, "is not a key of the format", nearest(key, among=keys))

    @property
    def places(self) -> dict[str, Place]:
        """Places of everything in the file that was asked for so far, by the name that errors give it."""
        return self._source.places

    def place(self, key: str = "") -> Place:
        """Return where ``key`` stands, or where it ought to: on the line of its table."""
        lines = self._source.lines
        at_table = lines.get(self._path, 0)
        if not key:
            return Place(self._source.file, at_table, self.name)
        own = lines.get(f"{self._path}.{key}" if self._path else key, at_table)
        return Place(self._source.file, own, self._called(key))

    def _called(self, key: str) -> str:
        # A key is cut and freed of line breaks because an unknown one comes from the file as it is.
        tidy = key if not has_control_characters(key) else shown(key)
        return f"{self.name}.{tidy[:60]}" if self.name else tidy[:60]

    def wrong(self, key: str, problem: str, remedy: str) -> ShotError:
        """Return the error that ``key`` is wrong, to be raised."""
        return ShotError(self.place(key), problem, remedy)

    def has(self, key: str) -> bool:
        """Return whether the table says ``key``."""
        return key in self._data

    def is_text(self, key: str) -> bool:
        """Return whether the value of ``key`` is a text."""
        return isinstance(self._data.get(key), str)

    def is_list(self, key: str) -> bool:
        """Return whether the value of ``key`` is a list."""
        return isinstance(self._data.get(key), list)

    def is_tables(self, key: str) -> bool:
        """Return whether the value of ``key`` is a list whose first item is a table."""
        value = self._data.get(key)
        return isinstance(value, list) and bool(value) and isinstance(value[0], dict)

    def one_of(self, *keys: str, of: str) -> str:
        """Return the one key among ``keys`` that the table says, not none or several; ``of`` names what needs it."""
        said = [key for key in keys if key in self._data]
        if len(said) > 1:
            raise self.wrong(said[1], f"cannot be given together with {said[0]}", f"keep one of {' and '.join(said)}")
        if not said:
            raise self.wrong(keys[0], "is missing", f"{of} needs {' or '.join(keys)}")
        return said[0]

    def _value(self, key: str, remedy: str) -> object:
        assert key in self._keys, key
        if key not in self._data:
            raise self.wrong(key, "is missing", remedy)
        return self._data[key]

    def text(self, key: str, *, default: str | None = None, remedy: str = "") -> str:
        """Return a text without control characters; it may be empty."""
        if default is not None and key not in self._data:
            return default
        remedy = remedy or "write a text in double quotes"
        value = self._value(key, remedy)
        if not isinstance(value, str):
            raise self.wrong(key, f"is {shown(value)}, not a text", remedy)
        if has_control_characters(value):
            raise self.wrong(key, f"{shown(value)} holds a control character", "write it on one line, without tabs")
        return value

    def choice(
        self, key: str, *, among: Sequence[str], default: str | None = None, old: Mapping[str, str] | None = None
    ) -> str:
        """Return a text that is one of ``among``; ``old`` maps words of earlier files to those of today."""
        if default is not None and key not in self._data:
            return default
        value = self.text(key, remedy=nearest("", among=among))
        value = (old or {}).get(value, value)
        if value not in among:
            raise self.wrong(key, f"is {shown(value)}", nearest(value, among=among))
        return value

    def number(self, key: str, quantity: Quantity, *, default: float | None = None) -> float:
        """Return a number in the core's unit, within the limits of ``quantity``; ``default`` is in the core's unit."""
        if default is not None and key not in self._data:
            return default
        return self._number(key, self._value(key, quantity.remedy), quantity)

    def _number(self, key: str, value: object, quantity: Quantity) -> float:
        # A boolean passes for an integer in Python; in a shot it is a slip.
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.wrong(key, f"is {shown(value)}, not a number", quantity.remedy)
        return quantity.take(value, place=self.place(key))

    def integer(self, key: str, *, least: int, most: int, default: int | None = None, remedy: str = "") -> int:
        """Return a whole number within the limits."""
        if default is not None and key not in self._data:
            return default
        remedy = remedy or f"write a whole number from {least} to {most}"
        return self._integer(key, self._value(key, remedy), least, most, remedy)

    def _integer(self, key: str, value: object, least: int, most: int, remedy: str) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise self.wrong(key, f"is {shown(value)}, not a whole number", remedy)
        if not least <= value <= most:
            raise self.wrong(key, f"is {shown(value)}", remedy)
        return value

    def pair(self, key: str, quantity: Quantity) -> tuple[float, float]:
        """Return two numbers in the core's unit."""
        first, second = self._two(key, f"{quantity.remedy}, twice: [a, b]")
        return self._number(key, first, quantity), self._number(key, second, quantity)

    def numbers(self, key: str, quantity: Quantity) -> tuple[float, ...]:
        """Return a number, or a list of one or more different numbers, in the core's unit."""
        remedy = f"{quantity.remedy}, or a list of such"
        value = self._value(key, remedy)
        items = value if isinstance(value, list) else [value]
        numbers = tuple(self._number(key, item, quantity) for item in items)
        if not numbers or len(set(numbers)) < len(numbers):
            raise self.wrong(key, f"is {shown(value)}", f"{remedy}, each once")
        return numbers

    def range(self, key: str, quantity: Quantity) -> tuple[float, float]:
        """Return two numbers, the smaller first."""
        low, high = self.pair(key, quantity)
        if low > high:
            raise self.wrong(key, f"is {shown(self._data[key])}, the greater number first", "write the smaller first")
        return low, high

    def integers(self, key: str, *, least: int, most: int) -> tuple[int, int]:
        """Return two whole numbers within the limits."""
        remedy = f"write two whole numbers from {least} to {most}: [a, b]"
        first, second = self._two(key, remedy)
        return self._integer(key, first, least, most, remedy), self._integer(key, second, least, most, remedy)

    def _two(self, key: str, remedy: str) -> tuple[object, object]:
        value = self._value(key, remedy)
        if not isinstance(value, list) or len(value) != 2:
            raise self.wrong(key, f"is {shown(value)}, not a list of two numbers", remedy)
        return value[0], value[1]

    def points(self, key: str, quantity: Quantity, *, frames: tuple[int, int]) -> tuple[tuple[int, float], ...]:
        """Return pairs of a frame and a number, frames ascending within ``frames``; empty where nothing is said."""
        remedy = f"write [[frame, number], …], frames ascending from {frames[0]} to {frames[1]}"
        value = self._data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, list) and len(item) == 2 for item in value):
            raise self.wrong(key, f"is {shown(value)}", remedy)
        points = tuple(
            (self._integer(key, frame, *frames, remedy), self._number(key, number, quantity)) for frame, number in value
        )
        for (before, _), (after, _) in pairwise(points):
            if after <= before:
                raise self.wrong(key, f"has frame {after} after frame {before}", remedy)
        return points

    def words(self, key: str, *, among: Sequence[str]) -> tuple[str, ...]:
        """Return a list of different texts, each one of ``among``."""
        remedy = f"write a list such as [{shown(next(iter(among), ''))}]"
        value = self._value(key, remedy)
        if not isinstance(value, list):
            raise self.wrong(key, f"is {shown(value)}, not a list", remedy)
        for position, word in enumerate(value):
            if not isinstance(word, str) or word not in among:
                said = word if isinstance(word, str) else shown(word)
                raise self.wrong(key, f"names {shown(word)}", nearest(said, among=among))
            if word in value[:position]:
                raise self.wrong(key, f"names {shown(word)} twice", "name it once")
        return tuple(value)

    def table(self, key: str, *, keys: Sequence[str]) -> "Table":
        """Return the table ``key``, empty where it is not there."""
        value = self._data.get(key, {})
        if not isinstance(value, dict):
            raise self.wrong(key, f"is {shown(value)}, not a table", f"write [{key}] and its keys below it")
        return self._below(key, value, keys, called=key)

    def tables(
        self, key: str, *, keys: Sequence[str], named: Callable[[Mapping[str, object]], str] = lambda _: ""
    ) -> list["Table"]:
        """Return the tables of the array ``key``, none where it is not there.

        ``named`` gives the name of a table that has a good one; others, and the second of two, are counted from 1.
        """
        value = self._data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            remedy = f"write [[{key}]] in double brackets, and its keys below it"
            raise self.wrong(key, f"is {shown(value)}, not a list of tables", remedy)
        called: list[str] = []
        for number, item in enumerate(value, start=1):
            name = f"{key}.{named(item)}"
            called.append(name if named(item) and name not in called else f"{key}[{number}]")
        return [
            self._below(f"{key}[{position}]", item, keys, called=called[position])
            for position, item in enumerate(value)
        ]

    def _below(self, step: str, data: Mapping[str, object], keys: Sequence[str], *, called: str) -> "Table":
        return Table(
            self._source,
            data,
            keys=keys,
            path=f"{self._path}.{step}" if self._path else step,
            name=f"{self.name}.{called}" if self.name else called,
        )
