# SPDX-License-Identifier: GPL-3.0-or-later
"""The `[camera]` and `[stand]` tables: how the camera is set up, and what the machine can do."""

import math
from collections.abc import Sequence

from ..axes import axes_by_column, quantity_of
from ..gates import NAMED_GATES
from ..model import CAMERA, Camera, Focus, Gate, Projection, Stand
from ..quantity import BLUR_MM, F_STOP, FOCAL_MM, SQUEEZE, length
from ..units import METRES_PER_MM, in_units
from ..words import nearest, number_text, shown
from .toml_table import Table

CAMERA_KEYS = (
    *("projection", "gate", "gate_mm", "squeeze", "frame_px", "focal_mm", "f_stop", "focus", "field_width"),
    *("height", "east", "north", "turn", "blur_mm"),
)
STAND_KEYS = (
    "camera_height",
    "level_height",
    "level_east",
    "level_north",
    "least_gap",
    "counter",
    "camera_speed",
    "level_speed",
    "reversed",
)
INFINITY = "infinity"
MOST_FRAME_PX = 32_768
# Blender renders nothing smaller.
LEAST_FRAME_PX = 4


def read_camera(
    table: Table, *, units: str, level_names: Sequence[str], focal: float | None = None, height: float | None = None
) -> Camera:
    """Return the camera of the `[camera]` table, a perspective or an orthographic one.

    ``focal`` and ``height``, in metres, take the place of what the table says: a brief may list lenses, and leave the
    height open.
    """
    projection = Projection(table.choice("projection", among=[*Projection]))
    if projection is Projection.PERSPECTIVE:
        gate, focal, focus, field_width = _perspective(table, units, level_names, focal)
    else:
        gate, focal, focus, field_width = _orthographic(table, units)
    east, north, turn = (
        table.number(axis, quantity_of(CAMERA, axis=axis, units=units), default=0.0)
        for axis in ("east", "north", "turn")
    )
    return Camera(
        projection=projection,
        frame_px=table.integers("frame_px", least=LEAST_FRAME_PX, most=MOST_FRAME_PX),
        height=table.number("height", quantity_of(CAMERA, axis="height", units=units)) if height is None else height,
        gate=gate,
        focal=focal,
        f_stop=table.number("f_stop", F_STOP) if table.has("f_stop") else 0.0,
        focus=focus,
        field_width=field_width,
        squeeze=table.number("squeeze", SQUEEZE, default=1.0),
        east=east,
        north=north,
        turn=turn,
        blur=table.number("blur_mm", BLUR_MM) if table.has("blur_mm") else 0.0,
    )


_Lens = tuple[Gate | None, float, Focus, float]


def _perspective(table: Table, units: str, level_names: Sequence[str], focal: float | None) -> _Lens:
    if table.has("field_width"):
        raise table.wrong("field_width", "belongs to an orthographic camera", "write focal_mm and focus in its place")
    said = table.one_of("gate", "gate_mm", of="a perspective camera")
    focal = table.number("focal_mm", FOCAL_MM) if focal is None else focal
    return _gate(table, said), focal, _focus(table, units, level_names, focal), 0.0


def _orthographic(table: Table, units: str) -> _Lens:
    for key in ("focal_mm", "focus", "blur_mm"):
        if table.has(key):
            problem = "belongs to a perspective camera"
            raise table.wrong(key, problem, "an orthographic camera has field_width in place of focal_mm and focus")
    gate = None
    if table.has("gate") or table.has("gate_mm"):
        gate = _gate(table, table.one_of("gate", "gate_mm", of="a camera"))
    return gate, 0.0, Focus(), table.number("field_width", length(units, least=0.0, above=True))


def _gate(table: Table, said: str) -> Gate:
    if said == "gate_mm":
        return Gate(*table.pair("gate_mm", FOCAL_MM))
    name = table.choice("gate", among=[*NAMED_GATES])
    width_mm, height_mm = NAMED_GATES[name].size_mm
    return Gate(width_mm * METRES_PER_MM, height_mm * METRES_PER_MM, name)


def _focus(table: Table, units: str, level_names: Sequence[str], focal: float) -> Focus:
    """Return the focus: a level, "infinity", or a distance that a lens of length ``focal`` can focus on."""
    if not table.is_text("focus"):
        distance = table.number("focus", length(units, least=0.0, above=True))
        if distance <= focal:
            problem = f"is {number_text(in_units(distance, units))} {units}, no further than the focal length"
            raise table.wrong("focus", problem, f"a lens focuses beyond {number_text(in_units(focal, units))} {units}")
        return Focus(distance=distance)
    name = table.text("focus")
    if name == INFINITY:
        return Focus(distance=math.inf)
    if name not in level_names:
        raise table.wrong("focus", f"is {shown(name)}, no level", nearest(name, among=[*level_names, INFINITY]))
    return Focus(level=name)


def read_stand(table: Table, *, units: str, level_names: Sequence[str], projection: Projection) -> Stand:
    """Return what the `[stand]` table says that the machine can do."""
    axes = axes_by_column(level_names, projection=projection)
    height, place = length(units, least=0.0), length(units)
    ranges = {
        key: table.range(key, quantity)
        for key, quantity in {
            "camera_height": height,
            "level_height": height,
            "level_east": place,
            "level_north": place,
        }.items()
        if table.has(key)
    }
    positive = length(units, least=0.0, above=True)
    return Stand(
        **ranges,
        least_gap=table.number("least_gap", height) if table.has("least_gap") else None,
        counter=table.number("counter", positive) if table.has("counter") else None,
        camera_speed=table.number("camera_speed", positive) if table.has("camera_speed") else None,
        level_speed=table.number("level_speed", positive) if table.has("level_speed") else None,
        reversed=tuple(axes[word] for word in table.words("reversed", among=[*axes])) if table.has("reversed") else (),
    )
