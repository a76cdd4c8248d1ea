# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences of a diagnosis: what a part of the stand does, which way and by how much, in the words of the trade."""

from collections.abc import Sequence

import numpy as np

from ...plan.plan_arrays import Plan
from ...shot.units import in_units
from ...shot.words import number_text
from .deviation_shapes import Deviation, Shape
from .stand_axes import Axis

# What a part does when it reads more, and less, than it should; the amount goes where the braces are.
WAYS = {
    "height": ("is {} too high", "is {} too low"),
    "east": ("is {} too far east", "is {} too far west"),
    "north": ("is {} too far north", "is {} too far south"),
    "turn": ("is turned {} too far counter-clockwise", "is turned {} too far clockwise"),
    "width": ("is {} too wide", "is {} too narrow"),
    "art_height": ("is {} too tall", "is {} too short"),
    "tilt": ("is {} out of square with the bed", "is {} out of square with the bed"),
    "lens": ("has its lens {} too long", "has its lens {} too short"),
    "field": ("has its field {} too wide", "has its field {} too narrow"),
    "shift_x": ("has its lens shifted {} east", "has its lens shifted {} west"),
    "shift_y": ("has its lens shifted {} north", "has its lens shifted {} south"),
}
HEADINGS = {"height": ("up", "down"), "east": ("east", "west"), "north": ("north", "south")}
# What is added to a displacement that several faults of one part make.
TOGETHER = ", all faults together"
ANGLES = {"turn", "tilt"}
PLAIN = {"shift_x", "shift_y"}


def sentence(plan: Plan, axis: Axis, deviation: Deviation) -> str:
    """Return the predicate: what the part does, how much, from when to when; not yet what that does on screen."""
    frames = plan.frames
    span = stretch((int(frames[deviation.first]), int(frames[deviation.last])))
    at = f"frame {frames[deviation.worst]}"
    there = _way(plan, axis, float(axis.deviation[deviation.worst]))
    move = f"its {axis.name.replace('_', ' ')} move"
    match deviation.shape:
        case Shape.OFFSET:
            share = _share(axis, deviation.worst)
            return f"{_way(plan, axis, deviation.amount)}{share} {span}"
        case Shape.LATE | Shape.EARLY:
            count = int(deviation.amount)
            plural = "s" if count > 1 else ""
            return f"makes {move} {count} frame{plural} {deviation.shape.value}, {span}"
        case Shape.REVERSED:
            planned, did = _headings(axis)
            return f"goes {did} where {planned} was planned, {span}"
        case Shape.STILL:
            return f"does not make {move}; by {at} it {there}"
        case Shape.TOO_FAR:
            return f"makes {number_text(deviation.amount, digits=4)} times {move}; by {at} it {there}"
        case Shape.UNEVEN:
            return f"starts and ends {move} as planned but runs unevenly {span}; on {at} it {there}"
        case _:
            where = f"{span}:" if deviation.first == deviation.last else f"{span}; on {at}"
            return f"is off {where} it {there}"


def _way(plan: Plan, axis: Axis, error: float) -> str:
    """Return what a deviation of ``error`` makes of the part: `is 2 mm too high`."""
    amount, unit = quantity(plan, axis.name, abs(error))
    shown = f"{number_text(amount, digits=3)}°" if unit == "degrees" else f"{number_text(amount, digits=4)} {unit}"
    return WAYS[axis.name][0 if error > 0 else 1].format(shown)


def _headings(axis: Axis) -> tuple[str, str]:
    """Return which way the axis was planned to go and which way it went."""
    more, less = HEADINGS.get(
        axis.name, ("counter-clockwise", "clockwise") if axis.name == "turn" else ("more", "less")
    )
    travel = axis.planned - axis.planned[0]
    forward = travel[np.abs(travel).argmax()] > 0
    return (more, less) if forward else (less, more)


def _share(axis: Axis, row: int) -> str:
    """Return the deviation as a share of the whole, where a share says more than a length."""
    if axis.name in ("lens", "field", "width", "art_height"):
        return f" ({number_text(abs(axis.deviation[row] / axis.planned[row]) * 100, digits=3)} %)"
    return ""


def quantity(plan: Plan, axis: str, value: float) -> tuple[float, str]:
    """Return a deviation of ``axis`` in the unit that people read it in, and that unit."""
    if axis in ANGLES:
        return float(np.degrees(value)), "degrees"
    if axis in PLAIN:
        return value, "frame widths"
    if axis == "lens":
        return in_units(value, "mm"), "mm"
    return in_units(value, plan.shot.units), plan.shot.units


def stretch(frames: tuple[int, int]) -> str:
    """Return first and last frame in the words of a sentence that says what a part does meanwhile."""
    return f"on frame {frames[0]}" if frames[0] == frames[1] else f"from frame {frames[0]} to {frames[1]}"


def listed(names: Sequence[str], *, most: int = 3) -> str:
    """Return the first of some names, and how many more there are."""
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


def with_article(pull: str) -> str:
    """Return a pull with its article: `an NLA track`, `a parent`."""
    return f"{'an' if pull.startswith('NLA') else 'a'} {pull}"
