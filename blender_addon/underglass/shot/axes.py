# SPDX-License-Identifier: GPL-3.0-or-later
"""The axes of a stand as schedules name them: `reeds.east`, `camera.focal_mm`, and the numbers each may read.

The model calls the lens axis ``focal`` and holds metres; files call it ``focal_mm``.
"""

from collections.abc import Sequence

from .model import CAMERA, CAMERA_AXES, LEVEL_AXES, Camera, Level, Projection
from .quantity import ANGLE, FOCAL_MM, Quantity, length
from .units import in_degrees, in_units, metres_from, radians_from

FOCAL = "focal"
FOCAL_COLUMN = "focal_mm"
Axis = tuple[str, str]


def column_of(axis: str) -> str:
    """Return the word that files use for an axis of the model."""
    return FOCAL_COLUMN if axis == FOCAL else axis


def axis_columns(part: str, *, projection: Projection) -> dict[str, str]:
    """Return the axes that ``part`` has: the word of the files, and the axis of the model."""
    if part != CAMERA:
        return {column_of(axis): axis for axis in LEVEL_AXES}
    has_lens = projection is Projection.PERSPECTIVE
    return {column_of(axis): axis for axis in CAMERA_AXES if has_lens or axis != FOCAL}


def axes_by_column(names: Sequence[str], *, projection: Projection) -> dict[str, Axis]:
    """Return every axis of the camera and of the levels ``names`` by the word of the files, such as `reeds.east`."""
    return {
        f"{part}.{column}": (part, axis)
        for part in (CAMERA, *names)
        for column, axis in axis_columns(part, projection=projection).items()
    }


def quantity_of(part: str, *, axis: str, units: str) -> Quantity:
    """Return what an axis may read: no level goes beneath the bed, and the lens stays above it."""
    if axis == "turn":
        return ANGLE
    if axis == FOCAL:
        return FOCAL_MM
    if axis == "height":
        return length(units, least=0.0, above=part == CAMERA)
    return length(units)


def written(value: float, *, axis: str, units: str) -> float:
    """Return a reading in the unit that files use for the axis."""
    if axis == "turn":
        return in_degrees(value)
    return in_units(value, "mm" if axis == FOCAL else units)


def metric(value: float, *, axis: str, units: str) -> float:
    """Return what files write on the axis in metres or radians: what `written` was made from."""
    if axis == "turn":
        return radians_from(value)
    return metres_from(value, "mm" if axis == FOCAL else units)


def set_up(camera: Camera, *, levels: Sequence[Level]) -> dict[Axis, float]:
    """Return where every axis stands before the first move, by (part, axis)."""
    standing = {(CAMERA, axis): float(getattr(camera, axis)) for axis in CAMERA_AXES}
    for level in levels:
        standing |= {(level.name, axis): float(getattr(level, axis)) for axis in LEVEL_AXES}
    return standing
