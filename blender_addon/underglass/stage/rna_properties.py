# SPDX-License-Identifier: GPL-3.0-or-later
"""Every property that Blender keeps of a thing, found by asking Blender (RNA) and not by a list of names.

What is read is plain values by their path, with the words that the interface has for them. Nothing is judged here.
"""

import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import bpy

# Deep enough for a point of a curve in the curve mapping of the view of an image's settings.
MOST_DEEP = 8
# What has more parts than these is data, such as a mesh, and no setting.
MOST_PARTS = 300
PLAIN = {"BOOLEAN", "INT", "FLOAT", "STRING", "ENUM"}
# Single precision, and what a value loses on its way through a slider.
SAME = 1e-6

Value = Any
# Says of a property, by the name of its owner's type and its own, whether it is to be left out.
LeaveOut = Callable[[str, str, Any], bool]
Walk = Callable[[Any, str], Iterator[tuple[str, "Property"]]]


@dataclass(frozen=True)
class Property:
    """One property: the type of its owner and its name there, the words of the interface, and its value."""

    owner: str
    owner_words: str
    key: str
    words: str
    value: Value
    shown: str


def properties(thing: Any, leave_out: LeaveOut = lambda owner, key, thing: False) -> dict[str, Property]:
    """Return every property of ``thing`` and of its parts that can be set, by its path.

    Other data-blocks are not gone into: of each its name is the value.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return dict(_walked(thing, "", leave_out, 0))


def _walked(thing: Any, path: str, leave_out: LeaveOut, deep: int) -> Iterator[tuple[str, Property]]:
    kind = thing.bl_rna
    for prop in kind.properties:
        key = prop.identifier
        if key == "rna_type" or leave_out(kind.identifier, key, thing):
            continue
        try:
            value = getattr(thing, key)
        except (AttributeError, TypeError, RuntimeError, ValueError):
            continue
        at = f"{path}.{key}" if path else key
        if prop.type in PLAIN:
            if not prop.is_readonly:
                yield at, _property(kind, prop, _plain(prop, value), _shown(prop, value))
        elif prop.type == "POINTER":
            if isinstance(value, bpy.types.ID) or (value is None and not prop.is_readonly):
                name = "none" if value is None else value.name
                yield at, _property(kind, prop, name, name)
            elif value is not None and deep < MOST_DEEP:
                yield from _walked(value, at, leave_out, deep + 1)
        else:
            count = len(value)
            yield f"{at}#", _property(kind, prop, count, str(count))
            yield from _parts(kind, prop, value, at, lambda part, path: _walked(part, path, leave_out, deep + 1))


def _parts(kind: Any, prop: Any, parts: Any, path: str, walk: Walk) -> Iterator[tuple[str, Property]]:
    count = len(parts)
    if count > MOST_PARTS or path.count(".") >= MOST_DEEP:
        return
    for index, part in enumerate(parts):
        if isinstance(part, bpy.types.ID):
            yield f"{path}[{index}]", _property(kind, prop, part.name, part.name)
        elif part is not None:
            yield from walk(part, f"{path}[{index}]")


def _property(kind: Any, prop: Any, value: Value, shown: str) -> Property:
    return Property(kind.identifier, kind.name, prop.identifier, prop.name or prop.identifier, value, shown)


def _plain(prop: Any, value: Any) -> Value:
    if prop.type == "ENUM":
        return tuple(sorted(value)) if isinstance(value, set) else value
    if getattr(prop, "array_length", 0) and not isinstance(value, (int, float, bool)):
        return tuple(_flat(value))
    return value


def _flat(value: Any) -> Iterator[Any]:
    for one in value:
        if isinstance(one, (int, float, bool)):
            yield one
        else:
            yield from _flat(one)


def _shown(prop: Any, value: Any) -> str:
    """Return a value as the interface shows it."""
    plain = _plain(prop, value)
    if prop.type == "BOOLEAN" and isinstance(plain, bool):
        return "on" if plain else "off"
    if prop.type == "ENUM" and isinstance(plain, str):
        item = prop.enum_items.get(plain) if prop.enum_items else None
        return str(item.name) if item is not None else plain or "none"
    if isinstance(plain, tuple):
        return "(" + ", ".join(_number(one) for one in plain[:16]) + ")"
    return _number(plain) if isinstance(plain, (int, float)) else str(plain) or "none"


def _number(value: Any) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def same(one: Value, other: Value) -> bool:
    """Return whether two values are the same to what single precision tells apart."""
    if isinstance(one, float) and isinstance(other, (int, float)):
        return one == other or abs(one - other) <= SAME * max(1.0, abs(one), abs(other))
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(same(*pair) for pair in zip(one, other, strict=True))
    return bool(one == other)


def differing(here: dict[str, Property], built: dict[str, Property]) -> dict[str, tuple[Property, Property]]:
    """Return the properties of which ``here`` and ``built`` have other values, by their path.

    One that only either has is of something that only either uses, or has more of: that differs by itself.
    """
    return {
        path: (one, built[path])
        for path, one in here.items()
        if path in built and not same(one.value, built[path].value)
    }


def owner_of(thing: Any, path: str) -> tuple[Any, str]:
    """Return the part of ``thing`` that ``path`` names a property of, and that property's name."""
    *way, key = path.split(".")
    for step in way:
        name, _, index = step.partition("[")
        thing = getattr(thing, name)
        if index:
            thing = thing[int(index.rstrip("]"))]
    return thing, key
