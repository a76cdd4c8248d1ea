"""Diagnosing: which part of the stand is off, from which frame, which way and by how much, in the words of the trade.

Goes by the readings that a scene's evaluated state comes to; the judge decides whether pixels agree.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ..plan.model import Plan
from ..plan.reading import SceneReading
from ..shot.model import CAMERA
from ..shot.units import in_units
from .axes import Axis, camera_axes, is_mirrored, level_axes
from .facts import NOTE, STOP, Fault
from .shapes import Deviation, Shape, shape_of

Floats = NDArray[np.float64]

# What is wrong even where no corner of any level is displaced.
ALWAYS_STOP = {"order-changed", "mirrored", "swapped"}

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
ANGLES = {"turn", "tilt"}
PLAIN = {"shift_x", "shift_y"}
# An axis is named when it alone would use up this share of the tolerance.
SHARE = 0.5


def diagnose(plan: Plan, *, reading: SceneReading, scene_error: Floats, tolerance: float) -> list[Fault]:
    """Return a fault for every axis of every part that is off by more than the picture may show.

    ``tolerance`` in px; ``scene_error`` (F, L) px tells what the picture shows: an axis that is off without displacing
    its level by more than the tolerance is a note. Levels that have changed places are named as such and not axis by
    axis; a lens without its close-focus extension is named as that.
    """
    index = {level.level: found for found, level in reversed(list(enumerate(reading.levels)))}
    faults: list[Fault] = []
    if reading.camera_facts["name"]:
        for axis in camera_axes(plan, reading=reading):
            faults += _camera_faults(plan, axis, tolerance)
    swapped = dict(_swapped(plan, reading, index, tolerance))
    for column, name in enumerate(plan.names):
        if name in swapped:
            if name < swapped[name]:
                faults.append(_swap_fault(plan, name, swapped[name]))
            continue
        if name in index:
            faults += _level_faults(plan, reading, column, index[name], tolerance)
    faults += _order_faults(plan, reading, {name: at for name, at in index.items() if name not in swapped})
    worst = {name: _largest(scene_error[:, column]) for column, name in enumerate(plan.names)}
    worst[CAMERA] = _largest(scene_error)
    return sorted((_weighed(fault, worst, tolerance) for fault in faults), key=lambda fault: -fault.error_px)


def _largest(errors: Floats) -> float:
    return float(np.nanmax(errors)) if np.isfinite(errors).any() else float("inf")


def _weighed(fault: Fault, worst: dict[str, float], tolerance: float) -> Fault:
    """Return the fault as a note where the part is where it should be on screen, within ``tolerance``."""
    harmless = worst.get(fault.subject, float("inf")) <= tolerance and fault.code not in ALWAYS_STOP
    return replace(fault, severity=NOTE) if harmless else fault


def _order_faults(plan: Plan, reading: SceneReading, index: dict[str, int]) -> Iterator[Fault]:
    """Yield neighbours that stand the wrong way round: one covers what should cover it, whatever the projection."""
    heights = reading.corners.mean(axis=2)[..., 2]
    for above, below in pairwise(plan.names):
        if above not in index or below not in index:
            continue
        wrong = np.flatnonzero(heights[:, index[above]] <= heights[:, index[below]])
        if len(wrong):
            span = int(plan.frames[wrong[0]]), int(plan.frames[wrong[-1]])
            text = f"{below} stands above {above} from frame {span[0]} to {span[1]} and covers what should cover it"
            yield Fault("order-changed", STOP, below, "height", span, float(len(wrong)), "frames", 0.0, text)


def _level_faults(plan: Plan, reading: SceneReading, column: int, found: int, tolerance: float) -> Iterator[Fault]:
    name = plan.names[column]
    mirrored = np.flatnonzero(is_mirrored(reading, found=found))
    if len(mirrored):
        span = int(plan.frames[mirrored[0]]), int(plan.frames[mirrored[-1]])
        text = f"{name} is mirrored: its art is seen from the back from frame {span[0]} to {span[1]}"
        error = float(plan.size_px[mirrored, column].max())
        yield Fault("mirrored", STOP, name, "", span, float("nan"), "", error, text)
    for axis in level_axes(plan, reading=reading, column=column, found=found):
        # A mirror image has no turn that could be compared.
        if axis.name != "turn" or not len(mirrored):
            yield from _axis_faults(plan, name, axis, tolerance)


def _axis_faults(plan: Plan, subject: str, axis: Axis, tolerance: float) -> Iterator[Fault]:
    effect = axis.effect_px
    worst = float(np.nanmax(effect)) if np.isfinite(effect).any() else 0.0
    if worst <= SHARE * tolerance:
        return
    floor = float(SHARE * tolerance / np.nanmax(axis.px_per_unit))
    deviation = shape_of(axis.planned, seen=axis.seen, floor=floor)
    amount, unit = _quantity(plan, axis.name, deviation.amount)
    if deviation.shape in (Shape.LATE, Shape.EARLY):
        amount, unit = deviation.amount, "frames"
    elif deviation.shape is Shape.TOO_FAR:
        amount, unit = deviation.amount, "times"
    yield Fault(
        code=f"{axis.name.replace('_', '-')}-{deviation.shape.value}",
        severity=STOP,
        subject=subject,
        axis=axis.name,
        frames=(int(plan.frames[deviation.first]), int(plan.frames[deviation.last])),
        amount=amount,
        unit=unit,
        error_px=worst,
        message=f"{'the camera' if subject == CAMERA else subject} {_sentence(plan, axis, deviation)}",
    )


def _camera_faults(plan: Plan, axis: Axis, tolerance: float) -> Iterator[Fault]:
    for fault in _axis_faults(plan, CAMERA, axis, tolerance):
        breathing = _breathing(plan, axis, fault) if axis.name == "lens" else None
        yield breathing or fault


def _breathing(plan: Plan, axis: Axis, fault: Fault) -> Fault | None:
    """Return a fault of its own where the lens is set to its marked length, or does not follow the focus."""
    marked, seen = plan.tracks.camera["focal"], axis.seen
    room = 1e-4 * marked
    mm = float(seen[0] * 1000), float(axis.planned[0] * 1000), float(marked[0] * 1000)
    if (np.abs(seen - marked) <= room).all():
        text = (
            f"the camera leaves out focus breathing: its lens stands at the marked {mm[2]:.4g} mm, focused as planned"
            f" it throws its image {mm[1]:.5g} mm: everything is too small, up to {fault.error_px:.2f} px on screen"
        )
    elif np.ptp(axis.planned) > room[0] and np.ptp(seen) <= room[0]:
        text = (
            f"the camera leaves out focus breathing: its lens stays at {mm[0]:.5g} mm while its focus moves, planned"
            f" {axis.planned.min() * 1000:.5g} to {axis.planned.max() * 1000:.5g} mm: up to {fault.error_px:.2f} px on"
            " screen"
        )
    else:
        return None
    return Fault("no-breathing", STOP, CAMERA, "lens", fault.frames, fault.amount, "mm", fault.error_px, text)


def _swapped(plan: Plan, reading: SceneReading, index: dict[str, int], tolerance: float) -> Iterator[tuple[str, str]]:
    """Yield pairs of levels, both ways round, each of which stands on every frame where the other was planned."""
    tracks = plan.tracks.levels
    planned = np.stack([tracks["east"], tracks["north"], tracks["height"]], axis=-1)
    centre = reading.corners.mean(axis=2)
    room = float(tolerance / plan.scale.max())
    for one, first in enumerate(plan.names):
        for two, second in enumerate(plan.names):
            if one == two or first not in index or second not in index:
                continue
            apart = np.abs(planned[:, one] - planned[:, two]).max()
            first_there = np.abs(centre[:, index[first]] - planned[:, two]).max()
            second_there = np.abs(centre[:, index[second]] - planned[:, one]).max()
            if apart > room and first_there <= room and second_there <= room:
                yield first, second


def _swap_fault(plan: Plan, one: str, two: str) -> Fault:
    columns = plan.names.index(one), plan.names.index(two)
    sizes = plan.scale[:, columns]
    worst = float(np.abs(sizes[:, 0] - sizes[:, 1]).max() * plan.shot.levels[columns[0]].art_width / 2)
    first, last = sorted((one, two), key=plan.names.index)
    whole = int(plan.frames[0]), int(plan.frames[-1])
    text = f"{first} and {last} have changed places: each stands where the other was planned, on every frame"
    return Fault("swapped", STOP, first, "height", whole, 2.0, "levels", worst, text)


def _sentence(plan: Plan, axis: Axis, deviation: Deviation) -> str:
    """Return the predicate: what the part does, how much, from when to when."""
    frames = plan.frames
    span = f"from frame {frames[deviation.first]} to {frames[deviation.last]}"
    at = f"frame {frames[deviation.worst]}"
    size = f"up to {float(np.nanmax(axis.effect_px)):.2f} px on screen"
    there = _way(plan, axis, float(axis.deviation[deviation.worst]))
    move = f"its {axis.name.replace('_', ' ')} move"
    match deviation.shape:
        case Shape.OFFSET:
            share = _share(axis, deviation.worst)
            return f"{_way(plan, axis, deviation.amount)}{share} {span}: {size}"
        case Shape.LATE | Shape.EARLY:
            count = int(deviation.amount)
            plural = "s" if count > 1 else ""
            return f"makes {move} {count} frame{plural} {deviation.shape.value}, {span}: {size}"
        case Shape.REVERSED:
            planned, did = _headings(axis)
            return f"goes {did} where {planned} was planned, {span}: {size}"
        case Shape.STILL:
            return f"does not make {move}; by {at} it {there}: {size}"
        case Shape.TOO_FAR:
            return f"makes {deviation.amount:.4g} times {move}; by {at} it {there}: {size}"
        case Shape.UNEVEN:
            return f"starts and ends {move} as planned but runs unevenly {span}; on {at} it {there}: {size}"
        case _:
            return f"strays {span}; on {at} it {there}: {size}"


def _way(plan: Plan, axis: Axis, error: float) -> str:
    """Return what a deviation of ``error`` makes of the part: `is 2 mm too high`."""
    amount, unit = _quantity(plan, axis.name, abs(error))
    shown = f"{amount:.3g}°" if unit == "degrees" else f"{amount:.4g} {unit}"
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
        return f" ({abs(axis.deviation[row] / axis.planned[row]) * 100:.3g} %)"
    return ""


def _quantity(plan: Plan, axis: str, value: float) -> tuple[float, str]:
    if axis in ANGLES:
        return float(np.degrees(value)), "degrees"
    if axis in PLAIN:
        return value, "frame widths"
    if axis == "lens":
        return in_units(value, "mm"), "mm"
    return in_units(value, plan.shot.units), plan.shot.units
