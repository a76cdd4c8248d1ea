# SPDX-License-Identifier: GPL-3.0-or-later
"""Diagnosing: which part of the stand is off, from which frame, which way and by how much, in the words of the trade.

Goes by the readings that a scene's evaluated state comes to; the judge decides whether pixels agree.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ...plan.plan_arrays import Plan
from ...reading.scene_reading import SceneReading
from ...shot.model import CAMERA
from ..proof_facts import BLOCK, NOTE, Fault
from .bent_level import corner_faults
from .camera_sensor import sensor_fault
from .deviation_shapes import Shape, shape_of
from .fault_words import TOGETHER, quantity, sentence, stretch
from .moved_together import put_back
from .own_part import camera_own_px, levels_own_px
from .stand_axes import Axis, camera_axes, is_mirrored, level_axes
from .which_object import objects_of
from .wrong_order import order_faults, swap_fault, swapped

Floats = NDArray[np.float64]

# What is wrong even where no corner of any level is displaced.
ALWAYS_STOP = {"order-changed", "mirrored", "swapped"}

# An axis is named when it alone would use up this share of the tolerance.
SHARE = 0.5
# Width and height that are out by the same share, to this share of it, are one scale.
SAME_SHARE = 0.02


def diagnose(
    plan: Plan, *, reading: SceneReading, scene_error: Floats, tolerance: float, noise_px: float = 0.0
) -> list[Fault]:
    """Return a fault for every axis of every part that is off by more than the picture may show.

    ``tolerance`` in px; ``scene_error`` (F, L) px tells what the picture shows: an axis that is off without displacing
    its level by more than the tolerance is a note. A stand that was moved as a whole is judged from its camera. Levels
    that have changed places are named as such and not axis by axis; a lens without its close-focus extension is named
    as that. Deviations that make no more than ``noise_px`` are none: so far readings that were measured may be out.
    """
    least_px = max(SHARE * tolerance, noise_px)
    index = objects_of(plan, reading=reading)
    faults: list[Fault] = []
    notes: list[Fault] = []
    if reading.camera_facts["name"]:
        reading, note = put_back(plan, reading=reading, index=index, tolerance=tolerance)
        notes += [note] if note else []
        for axis in camera_axes(plan, reading=reading):
            faults += _camera_faults(plan, reading, axis, least_px)
    places = dict(swapped(plan, reading=reading, index=index, tolerance=tolerance))
    heights = dict(swapped(plan, reading=reading, index=index, tolerance=tolerance, axes=("height",)))
    heights = {one: two for one, two in heights.items() if one not in places}
    for pairs in (places, heights):
        chosen = [pair for pair in pairs.items() if pair[0] < pair[1]]
        faults += [swap_fault(plan, pair, in_height=pairs is heights) for pair in chosen]
    for column, name in enumerate(plan.names):
        if name in index and name not in places:
            found = _level_faults(plan, reading, column, index[name], least_px)
            faults += [fault for fault in found if fault.axis != "height" or name not in heights]
    in_place = {name: at for name, at in index.items() if name not in places and name not in heights}
    faults += order_faults(plan, reading=reading, index=in_place)
    own = _own_parts(plan, reading, index, faults, scene_error)
    weighed = [*notes, *_weighed(plan, faults, scene_error, tolerance, own)]
    return sorted(weighed, key=lambda fault: -np.nan_to_num(fault.error_px))


def _own_parts(
    plan: Plan, reading: SceneReading, index: dict[str, int], faults: list[Fault], scene_error: Floats
) -> dict[bool, Floats]:
    """Return what the picture shows of each level by its own doing, and by the camera's (True), (F, L) px each.

    Where one of the two alone is to blame that is all that it shows; NaN where that is.
    """
    blamed = {fault.subject for fault in faults}
    if CAMERA not in blamed or len(blamed) < 2:
        return {True: scene_error, False: scene_error}
    unseen = np.where(np.isnan(scene_error), np.nan, 0.0)
    return {
        True: camera_own_px(plan, reading=reading) + unseen,
        False: levels_own_px(plan, reading=reading, index=index) + unseen,
    }


def _weighed(
    plan: Plan, faults: list[Fault], scene_error: Floats, tolerance: float, own: dict[bool, Floats]
) -> Iterator[Fault]:
    """Yield the faults with what the picture shows of them: those of a part that is in place there are notes.

    Displacement does not tell by which axis it came: where several faults move one part, it is said of all of them.
    ``own`` is by whether it is the camera's.
    """
    blamed = Counter(fault.subject for fault in faults)
    for fault in faults:
        of_camera = fault.subject == CAMERA
        columns = [column for column, name in enumerate(plan.names) if of_camera or fault.subject == name]
        rows = slice(fault.frames[0] - int(plan.frames[0]), fault.frames[1] - int(plan.frames[0]) + 1)
        shown = _largest(own[of_camera][rows][:, columns])
        message = fault.message
        if np.isfinite(shown) and fault.code not in ALWAYS_STOP:
            together = TOGETHER if blamed[fault.subject] > 1 else ""
            message += f": up to {shown:.2f} px on screen{together}"
        whole = _largest(scene_error if of_camera else scene_error[:, columns])
        harmless = whole <= tolerance and fault.code not in ALWAYS_STOP
        yield replace(fault, severity=NOTE if harmless else fault.severity, error_px=shown, message=message)


def _largest(errors: Floats) -> float:
    return float(np.nanmax(errors)) if np.isfinite(errors).any() else float("nan")


def _level_faults(plan: Plan, reading: SceneReading, column: int, found: int, least_px: float) -> Iterator[Fault]:
    name = plan.names[column]
    mirrored = np.flatnonzero(is_mirrored(reading, found=found))
    if len(mirrored):
        span = int(plan.frames[mirrored[0]]), int(plan.frames[mirrored[-1]])
        text = f"{name} is mirrored: its art is seen from the back {stretch(span)}"
        error = float(plan.size_px[mirrored, column].max())
        yield Fault("mirrored", BLOCK, name, "", span, float("nan"), "", error, text)
    pulled = list(corner_faults(plan, reading=reading, column=column, found=found, least_px=least_px))
    if pulled:
        yield from pulled
        return
    faults: list[Fault] = []
    for axis in level_axes(plan, reading=reading, column=column, found=found):
        # A mirror image has no turn that could be compared.
        if axis.name != "turn" or not len(mirrored):
            faults += _axis_faults(plan, name, axis, least_px)
    yield from _scaled(faults, plan.shot.levels[column].art_width, plan.shot.levels[column].art_height)


def _scaled(faults: list[Fault], width: float, height: float) -> list[Fault]:
    """Return the faults of a level with one of its width and one of its height that are the same scale told as one."""
    sides = {fault.code: fault for fault in faults if fault.code in ("width-offset", "art-height-offset")}
    if len(sides) < 2:
        return faults
    across, up = sides["width-offset"], sides["art-height-offset"]
    if abs(across.amount / up.amount - width / height) > SAME_SHARE * width / height:
        return faults
    size = across.message.replace("too wide", "too wide, and as much too tall").replace(
        "too narrow", "too narrow, and as much too short"
    )
    return [replace(across, message=size) if fault is across else fault for fault in faults if fault is not up]


def _axis_faults(plan: Plan, subject: str, axis: Axis, least_px: float) -> Iterator[Fault]:
    effect = axis.effect_px
    worst = float(np.nanmax(effect)) if np.isfinite(effect).any() else 0.0
    if worst <= least_px:
        return
    floor = float(least_px / np.nanmax(axis.px_per_unit))
    deviation = shape_of(axis.planned, seen=axis.seen, floor=floor)
    amount, unit = quantity(plan, axis.name, deviation.amount)
    if deviation.shape in (Shape.LATE, Shape.EARLY):
        amount, unit = deviation.amount, "frames"
    elif deviation.shape is Shape.TOO_FAR:
        amount, unit = deviation.amount, "times"
    yield Fault(
        code=f"{axis.name.replace('_', '-')}-{deviation.shape.value}",
        severity=BLOCK,
        subject=subject,
        axis=axis.name,
        frames=(int(plan.frames[deviation.first]), int(plan.frames[deviation.last])),
        amount=amount,
        unit=unit,
        error_px=worst,
        message=f"{'the camera' if subject == CAMERA else subject} {sentence(plan, axis, deviation)}",
    )


def _camera_faults(plan: Plan, reading: SceneReading, axis: Axis, least_px: float) -> Iterator[Fault]:
    for fault in _axis_faults(plan, CAMERA, axis, least_px):
        named = None
        if axis.name == "lens":
            named = sensor_fault(plan, reading=reading, fault=fault) or _breathing(plan, axis, fault)
        yield named or fault


def _breathing(plan: Plan, axis: Axis, fault: Fault) -> Fault | None:
    """Return a fault of its own where the lens is set to its marked length, or does not follow the focus."""
    marked, seen = plan.tracks.camera["focal"], axis.seen
    room = 1e-4 * marked
    mm = float(seen[0] * 1000), float(axis.planned[0] * 1000), float(marked[0] * 1000)
    # At infinity the lens stands at its marked length by right.
    if (np.abs(seen - marked) <= room).all() and (np.abs(axis.planned - marked) > 2 * room).any():
        text = (
            f"the camera leaves out focus breathing: its lens stands at the marked {mm[2]:.4g} mm, focused as planned"
            f" it throws its image {mm[1]:.5g} mm, and everything is too small"
        )
    elif np.ptp(marked) <= room[0] < np.ptp(axis.planned) and np.ptp(seen) <= room[0]:
        text = (
            f"the camera leaves out focus breathing: its lens stays at {mm[0]:.5g} mm while its focus moves, planned"
            f" {axis.planned.min() * 1000:.5g} to {axis.planned.max() * 1000:.5g} mm"
        )
    else:
        return None
    return Fault("no-breathing", BLOCK, CAMERA, "lens", fault.frames, fault.amount, "mm", fault.error_px, text)
