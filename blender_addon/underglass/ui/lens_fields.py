# SPDX-License-Identifier: GPL-3.0-or-later
"""The lens as fields: what is typed is the lens that an operator would name, and Blender's values follow by the law."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import bpy

from ..plan.said_lens import SaidLens
from ..shot import UnderglassError
from ..shot.gates import NAMED_GATES
from ..shot.model import Focus, Gate, Projection
from ..shot.units import METRES_PER_UNIT, metres_from
from ..stage import set_lens, stack_marks
from . import held_levels, live_stack
from .redraw import redraw_viewports
from .touched_words import said_of_the_scene

AT_A_DISTANCE, AT_INFINITY = "\x01distance", "\x01infinity"
MEASURED = "\x01measured"
_WORDS = {AT_A_DISTANCE: "A distance", AT_INFINITY: "Infinity", MEASURED: "Measured"}

# Blender does not keep the words of an enumeration that a function gives it: somebody has to.
_shown: dict[str, list[tuple[str, str, str]]] = {}

Items = list[tuple[str, str, str]]


def lens_of(now: live_stack.Live, row: int) -> SaidLens:
    """Return the lens of a moment on the frame of ``row``."""
    camera = now.plan.shot.camera
    return SaidLens(float(now.plan.tracks.camera["focal"][row]), camera.f_stop, camera.focus, camera.gate)


def _present(fields: Any) -> tuple[live_stack.Live, int] | None:
    scene = fields.id_data
    now = live_stack.live(scene)
    if now is None or now.plan.shot.camera.projection is not Projection.PERSPECTIVE:
        return None
    return now, live_stack.row_of(now.plan, scene.frame_current)


def _set(fields: Any, change: Callable[[SaidLens, live_stack.Live], SaidLens]) -> None:
    """Give the camera the present lens with a ``change``; what cannot be is said, and nothing is set."""
    scene, present = fields.id_data, _present(fields)
    if present is None or stack_marks.stand_camera(scene) is None:
        return
    now, row = present
    settings = scene.underglass
    try:
        set_lens.set_lens(scene, now.plan, change(lens_of(now, row), now))
    except UnderglassError as error:
        settings.message, settings.is_error = said_of_the_scene(error), True
    else:
        settings.message, settings.is_error = "", False
        # whatever was typed over the keys is another matter now
        settings.typed_lens = ""
        live_stack.refresh(scene)
        held_levels.follow(scene)
    redraw_viewports()


def _get_focal(fields: Any) -> float:
    present = _present(fields)
    return 0.0 if present is None else lens_of(*present).focal * 1000.0


def _set_focal(fields: Any, value: float) -> None:
    _set(fields, lambda lens, _: replace(lens, focal=metres_from(round(value, 4), "mm")))


def _get_stop(fields: Any) -> float:
    present = _present(fields)
    return 0.0 if present is None else present[0].plan.shot.camera.f_stop


def _set_stop(fields: Any, value: float) -> None:
    _set(fields, lambda lens, _: replace(lens, f_stop=round(value, 4)))


def _focus_items(fields: Any, _context: Any) -> Items:
    present = _present(fields)
    names = present[0].plan.names if present is not None else ()
    items = [(name, name, f"Focus follows {name}") for name in names]
    items += [(key, _WORDS[key], "Focus stays where it is") for key in (AT_A_DISTANCE, AT_INFINITY)]
    _shown["focus"] = items
    return items


def _get_focus(fields: Any) -> int:
    present = _present(fields)
    if present is None:
        return 0
    focus, names = present[0].plan.shot.camera.focus, present[0].plan.names
    if focus.level in names:
        return names.index(focus.level)
    return len(names) + (focus.distance == float("inf"))


def _set_focus(fields: Any, number: int) -> None:
    key = _focus_items(fields, None)[number][0]

    def change(lens: SaidLens, now: live_stack.Live) -> SaidLens:
        if key == AT_INFINITY:
            return replace(lens, focus=Focus())
        if key != AT_A_DISTANCE:
            return replace(lens, focus=Focus(level=key))
        here = float(now.plan.focus_distance[live_stack.row_of(now.plan, fields.id_data.frame_current)])
        unit = METRES_PER_UNIT[now.shot.units]
        return replace(lens, focus=Focus(distance=round(min(here, 100.0) / unit, 3) * unit))

    _set(fields, change)


def _get_distance(fields: Any) -> float:
    present = _present(fields)
    if present is None:
        return 0.0
    now, row = present
    return min(float(now.plan.focus_distance[row]), 1e6) / METRES_PER_UNIT[now.shot.units]


def _set_distance(fields: Any, value: float) -> None:
    _set(
        fields, lambda lens, now: replace(lens, focus=Focus(distance=round(value, 4) * METRES_PER_UNIT[now.shot.units]))
    )


def _gate_items(_fields: Any, _context: Any) -> Items:
    items = [(name, name, "") for name in NAMED_GATES] + [(MEASURED, _WORDS[MEASURED], "Width and height as measured")]
    _shown["gate"] = items
    return items


def _get_gate(fields: Any) -> int:
    present = _present(fields)
    gate = present and present[0].plan.shot.camera.gate
    names = list(NAMED_GATES)
    return names.index(gate.name) if gate and gate.name in names else len(names)


def _named(name: str) -> Gate:
    width, height = (metres_from(side, "mm") for side in NAMED_GATES[name].size_mm)
    return Gate(width, height, name)


def _set_gate(fields: Any, number: int) -> None:
    name = _gate_items(fields, None)[number][0]

    def change(lens: SaidLens, _now: live_stack.Live) -> SaidLens:
        if name != MEASURED:
            return replace(lens, gate=_named(name))
        return replace(lens, gate=replace(lens.gate, name="") if lens.gate else None)

    _set(fields, change)


def _get_sides(fields: Any) -> tuple[float, float]:
    present = _present(fields)
    gate = present and present[0].plan.shot.camera.gate
    return (gate.width * 1000.0, gate.height * 1000.0) if gate else (0.0, 0.0)


def _set_sides(fields: Any, sides: tuple[float, float]) -> None:
    width, height = (metres_from(round(float(side), 4), "mm") for side in sides)
    _set(fields, lambda lens, _: replace(lens, gate=Gate(width, height)))


class UnderglassLens(bpy.types.PropertyGroup):
    """The lens of the stand as it is said: nothing is stored here."""

    focal_mm: bpy.props.FloatProperty(
        name="Focal length",
        description="Focal length in mm, on every frame. Blender's own value is the image distance, which is longer",
        min=1.0,
        soft_max=300.0,
        max=5000.0,
        precision=2,
        step=100,
        get=_get_focal,
        set=_set_focal,
    )
    f_stop: bpy.props.FloatProperty(
        name="Stop",
        description="Marked stop of the lens; 0 shows everything sharp",
        min=0.0,
        soft_max=64.0,
        max=512.0,
        precision=2,
        step=100,
        get=_get_stop,
        set=_set_stop,
    )
    focus: bpy.props.EnumProperty(
        name="Focus", description="What the lens is focused on", items=_focus_items, get=_get_focus, set=_set_focus
    )
    distance: bpy.props.FloatProperty(
        name="Distance",
        description="Distance from the lens that it is focused at, in units of the shot, on every frame",
        min=0.001,
        max=1e6,
        precision=3,
        step=10,
        get=_get_distance,
        set=_set_distance,
    )
    gate: bpy.props.EnumProperty(
        name="Format", description="Gate of the camera", items=_gate_items, get=_get_gate, set=_set_gate
    )
    gate_mm: bpy.props.FloatVectorProperty(
        name="Gate",
        description="Width and height of the gate in mm",
        size=2,
        min=0.1,
        max=500.0,
        precision=3,
        step=10,
        get=_get_sides,
        set=_set_sides,
    )


CLASSES = (UnderglassLens,)


def attach() -> None:
    """Give every scene the fields of its lens."""
    bpy.types.Scene.underglass_lens = bpy.props.PointerProperty(type=UnderglassLens)


def detach() -> None:
    """Take the fields from the scenes."""
    del bpy.types.Scene.underglass_lens
