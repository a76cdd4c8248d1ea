# SPDX-License-Identifier: GPL-3.0-or-later
"""TOML as text: values and tables spelled so that they read back as they were. What a shot is, is not known here."""

from collections.abc import Mapping, Sequence
from numbers import Integral, Real

Value = str | float | int | Sequence["Value"]
# The keys of one table; what is None is left out.
Keys = Mapping[str, Value | None]

_ESCAPES = {"\\": "\\\\", '"': '\\"', "\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r"}


def value_text(value: Value) -> str:
    """Return a value as TOML spells it; numbers keep every digit."""
    if isinstance(value, str):
        return f'"{"".join(_escaped(character) for character in value)}"'
    # numpy's numbers count as these too, but spell themselves otherwise
    if isinstance(value, int | Integral):
        return repr(int(value))
    if isinstance(value, float | Real):
        return repr(float(value))
    return f"[{', '.join(value_text(item) for item in value)}]"


def _escaped(character: str) -> str:
    if character in _ESCAPES:
        return _ESCAPES[character]
    return f"\\u{ord(character):04x}" if character < " " or character == "\x7f" else character


def table_text(heading: str, keys: Keys) -> str:
    """Return a table under ``heading``, such as `[camera]` or nothing for the root; keys that are None are left out."""
    lines = [heading] if heading else []
    lines += [f"{key} = {value_text(value)}" for key, value in keys.items() if value is not None]
    return "\n".join(lines) + "\n"


def inline_text(keys: Keys) -> str:
    """Return a table on one line, such as an item of an array; keys that are None are left out."""
    said = ", ".join(f"{key} = {value_text(value)}" for key, value in keys.items() if value is not None)
    return f"{{ {said} }}"
