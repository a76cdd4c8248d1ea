"""Diagnosing: which part of the stand is off, from which frame, which way and by how much, in the words of the trade.

Goes by the readings that a scene's evaluated state comes to; the judge decides whether pixels agree.
"""

from collections.abc import Iterator

import numpy as np

from underglass.plan.model import Plan
from underglass.plan.reading import SceneReading
from underglass.shot.units import in_units

from .axes import Axis, camera_axes, level_axes
from .facts import STOP, Fault
from .shapes import Deviation, Shape, shape_of

# Words for more and less of an axis.
WAYS = {
    "height": ("too high", "too low"),
    "east": ("too far east", "too far west"),
    "north": ("too far north", "too far south"),
    "turn": ("turned too far counter-clockwise", "turned too far clockwise"),
    "width": ("too wide", "too narrow"),
    "art_height": ("too tall", "too short"),
    "tilt": ("tilted", "tilted"),
    "lens": ("too long", "too short"),
    "field": ("too wide", "too narrow"),
    "shift_x": ("shifted east", "shifted west"),
    "shift_y": ("shifted north", "shifted south"),
}
HEADINGS = {"height": ("up", "down"), "east": ("east", "west"), "north": ("north", "south")}
ANGLES = {"turn", "tilt"}
PLAIN = {"shift_x", "shift_y"}
# An axis is named when it alone would use up this share of the tolerance.
SHARE = 0.5


def diagnose(plan: Plan, *, reading: SceneReading, tolerance: float) -> list[Fault]:
    """Return a fault for every axis of every part that is off by more than the picture may show.

    ``tolerance`` in px. Levels that have changed places are named as such and not axis by axis; a lens without its
    close-focus extension is named as that.
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
            for axis in level_axes(plan, reading=reading, column=column, found=index[name]):
                faults += _axis_faults(plan, name, axis, tolerance)
    return sorted(faults, key=lambda fault: -fault.error_px)


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
        message=f"{subject} {_sentence(plan, axis, deviation)}",
    )


def _camera_faults(plan: Plan, axis: Axis, tolerance: float) -> Iterator[Fault]:
    for fault in _axis_faults(plan, "camera", axis, tolerance):
        breathing = _breathing(plan, axis, fault) if axis.name == "lens" else None
        yield breathing or fault


def _breathing(plan: Plan, axis: Axis, fault: Fault) -> Fault | None:
    """Return a fault of its own where the lens is set to its marked length, or does not follow the focus."""
    marked, seen = plan.tracks.camera["focal"], axis.seen
    room = 1e-4 * marked
    mm = float(seen[0] * 1000), float(axis.planned[0] * 1000), float(marked[0] * 1000)
    if (np.abs(seen - marked) <= room).all():
        text = (
            f"camera: focus breathing is left out: the lens stands at its marked {mm[2]:.4g} mm, focused as planned its"
            f" image distance is {mm[1]:.5g} mm; everything is up to {fault.error_px:.2f} px too small"
        )
    elif np.ptp(axis.planned) > room[0] and np.ptp(seen) <= room[0]:
        text = (
            f"camera: focus breathing is left out: the lens stays at {mm[0]:.5g} mm while its focus moves, planned"
            f" {axis.planned.min() * 1000:.5g} to {axis.planned.max() * 1000:.5g} mm"
        )
    else:
        return None
    return Fault("no-breathing", STOP, "camera", "lens", fault.frames, fault.amount, "mm", fault.error_px, text)


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
    error = float(axis.deviation[deviation.worst])
    way = WAYS[axis.name][0 if error > 0 else 1]
    name = "lens" if axis.name == "lens" else axis.name.replace("_", " ")
    move = f"its {name} move"
    match deviation.shape:
        case Shape.OFFSET:
            return f"is {_show(plan, axis, deviation.amount)} {way}{_ratio(plan, axis, error)} {span}: {size}"
        case Shape.LATE | Shape.EARLY:
            count = int(deviation.amount)
            plural = "s" if count > 1 else ""
            return f"makes {move} {count} frame{plural} {deviation.shape.value}, {span}: {size}"
        case Shape.REVERSED:
            planned, did = _headings(axis)
            return f"goes {did} where {planned} was planned, {span}: {size}"
        case Shape.STILL:
            return f"does not make {move}; by {at} it is {_show(plan, axis, error)} {way}: {size}"
        case Shape.TOO_FAR:
            return f"makes {deviation.amount:.4g} times {move}; by {at} it is {_show(plan, axis, error)} {way}: {size}"
        case Shape.UNEVEN:
            return (
                f"starts and ends {move} as planned but runs unevenly between: {_show(plan, axis, error)} {way}"
                f" on {at} ({span}): {size}"
            )
        case _:
            return f"strays {span}, most on {at}: {_show(plan, axis, error)} {way}: {size}"


def _headings(axis: Axis) -> tuple[str, str]:
    """Return which way the axis was planned to go and which way it went."""
    more, less = HEADINGS.get(
        axis.name, ("counter-clockwise", "clockwise") if axis.name == "turn" else ("more", "less")
    )
    travel = axis.planned - axis.planned[0]
    forward = travel[np.abs(travel).argmax()] > 0
    return (more, less) if forward else (less, more)


def _ratio(plan: Plan, axis: Axis, error: float) -> str:
    """Return an offset as a share where a share says more: of the distance for heights, of the whole for lengths."""
    if axis.name in ("lens", "field", "width", "art_height"):
        return f" ({abs(error) / abs(axis.planned[0]) * 100:.3g} %)"
    return ""


def _quantity(plan: Plan, axis: str, value: float) -> tuple[float, str]:
    if axis in ANGLES:
        return float(np.degrees(value)), "degrees"
    if axis in PLAIN:
        return value, "frame widths"
    if axis == "lens":
        return in_units(value, "mm"), "mm"
    return in_units(value, plan.shot.units), plan.shot.units


def _show(plan: Plan, axis: Axis, value: float) -> str:
    amount, unit = _quantity(plan, axis.name, abs(value))
    return f"{amount:.3g}°" if unit == "degrees" else f"{amount:.4g} {unit}"
