# SPDX-License-Identifier: GPL-3.0-or-later
"""The camera apart from where it stands: which it is, its kind, its focus and stop, and what it cuts away."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...optics.thin_lens import marked_stop
from ...plan.plan_arrays import Plan
from ...reading.scene_reading import SceneReading
from ...shot import Projection
from ...shot.model import CAMERA
from ...shot.units import in_units
from ...shot.words import number_text
from ..diagnose.fault_words import listed, with_article
from ..measure.evaluated_scene import scene_corners_px
from ..proof_facts import BLOCK, NOTE, Fault
from ..wording import span
from .eased_curves import not_asked_for

Floats = NDArray[np.float64]

NAN = float("nan")
# Blender holds both in single precision, and keys them a straight line apart.
FOCUS_WITHIN = 1e-4
# Blender's focus scale has no infinity; what is beyond this is as good.
INFINITY_M = 1000.0


def camera_faults(plan: Plan, *, reading: SceneReading, tolerance: float = 0.0) -> Iterator[Fault]:
    """Yield what is wrong or remarkable with the camera but for its place and lens."""
    facts = reading.camera_facts
    if not facts["name"]:
        yield _fault(plan, "no-camera", BLOCK, "the scene has no active camera")
        return
    if not facts["ours"] or facts.get("other_data"):
        yield _other_camera(plan, facts)
    wanted = "ORTHO" if plan.shot.camera.projection is Projection.ORTHOGRAPHIC else "PERSP"
    if facts["type"] != wanted:
        text = f"the camera's projection is {facts['type'].lower()}, planned {plan.shot.camera.projection.value}"
        yield _fault(plan, "projection", BLOCK, text)
    for pull in facts["pulls"]:
        text = f"the camera has {with_article(pull)}, which is not in the shot"
        yield _fault(plan, f"has-{pull.split()[0].lower()}", NOTE, text)
    if curves := not_asked_for(plan, CAMERA, facts["curves"]):
        text = f"the camera has curves that are not straight lines as built: {listed(curves)}"
        yield _fault(plan, "curve-not-linear", NOTE, text)
    yield from _cuts(plan, reading, tolerance)
    yield from _focus(plan, reading)
    yield from _changes(plan, reading)
    yield from _cut_away(plan, reading)


def _other_camera(plan: Plan, facts: dict[str, Any]) -> Fault:
    """Return the fault of a camera that is not the one that was built: the marker's that makes it film, if one does."""
    name = facts["name"]
    if facts.get("markers"):
        text = f"a marker on frame {facts['markers'][0]} makes {name!r} the camera, which is not the one that was built"
        return _fault(plan, "marker-camera", NOTE, text)
    if facts["ours"]:
        text = f"the camera's Object Data is {facts['other_data']!r}, which is not what was built"
        return _fault(plan, "other-camera", NOTE, text)
    return _fault(plan, "other-camera", NOTE, f"the active camera {name!r} is not the one that was built")


def _cuts(plan: Plan, reading: SceneReading, tolerance: float) -> Iterator[Fault]:
    """Yield a fault for each run of frames that a marker lets another camera film, with another view."""
    if reading.filming is None:
        return
    away = scene_corners_px(replace(reading, camera=reading.filming)) - scene_corners_px(reading)
    px = np.nan_to_num(np.linalg.norm(away, axis=-1), nan=np.inf).max(axis=(1, 2), initial=0.0)
    for name, first, last in reading.camera_facts["cuts"]:
        worst = float(px[first - int(plan.frames[0]) : last - int(plan.frames[0]) + 1].max(initial=0.0))
        if worst > tolerance:
            text = (
                f"a marker makes {name!r} the camera on {span((first, last))}, and it has another view than the shot's"
                f" camera: up to {worst:.2f} px on screen"
            )
            yield Fault("marker-camera", BLOCK, CAMERA, "", (first, last), last - first + 1, "frames", worst, text)


def _fault(plan: Plan, code: str, severity: str, text: str) -> Fault:
    whole = int(plan.frames[0]), int(plan.frames[-1])
    return Fault(code, severity, CAMERA, "", whole, NAN, "", NAN, text)


def _focus(plan: Plan, reading: SceneReading) -> Iterator[Fault]:
    """Yield a fault where the lens is focused or stopped down otherwise than the shot has it."""
    shot, camera = plan.shot, reading.camera
    if not shot.camera.f_stop or np.isnan(plan.image_distance).any():
        return
    if not reading.camera_facts["depth_of_field"]:
        yield _fault(
            plan,
            "no-depth-of-field",
            BLOCK,
            f"the camera has no depth of field, the shot has f/{_stop(shot.camera.f_stop)}",
        )
        return
    planned = np.minimum(plan.focus_distance, INFINITY_M)
    seen = np.minimum(camera.focus, INFINITY_M)
    if rows := _apart(planned, seen, camera.parallel):
        # Rounded, so that of frames that are as far out the first is named.
        worst = max(rows, key=lambda row: round(abs(float(seen[row] / planned[row]) - 1), 6))
        here, there = (_distance(float(value[worst]), shot.units) for value in (seen, planned))
        when = int(plan.frames[rows[0]]), int(plan.frames[rows[-1]])
        text = f"the camera is focused at {here} where the shot has {there}, on {span(when)}"
        amount = in_units(float(seen[worst] - planned[worst]), shot.units)
        yield Fault("focus", BLOCK, CAMERA, "focus", when, amount, shot.units, NAN, text)
    # What the barrel reads: Blender's stop is of the image distance.
    per_stop = marked_stop(1.0, focal=plan.tracks.camera["focal"], image=plan.image_distance)
    stop = camera.f_stop / per_stop
    # A lens of another length is a fault of its own, and its stop N·v/f right with v/f = 1 + v/u as it stands there, or
    # with its own v, whatever it is focused on.
    lens = camera.lens_mm / 1000
    stops = stop, camera.f_stop / (1.0 + lens / camera.focus), camera.f_stop * plan.tracks.camera["focal"] / lens
    wanted = np.full_like(stop, shot.camera.f_stop)
    if rows := sorted(set.intersection(*({*_apart(wanted, seen, camera.parallel)} for seen in stops))):
        when = int(plan.frames[rows[0]]), int(plan.frames[rows[-1]])
        here, there = (_stop(float(value)) for value in (stop[rows[0]], shot.camera.f_stop))
        text = f"the camera is stopped to f/{here} where the shot has f/{there}, on {span(when)}"
        yield Fault("f-stop", BLOCK, CAMERA, "f_stop", when, float(stop[rows[0]]), "", NAN, text)


def _apart(planned: Floats, seen: Floats, parallel: Floats) -> list[int]:
    """Return the rows on which two readings of a lens differ; without perspective there is no lens."""
    differ = ~(np.abs(seen / planned - 1) <= FOCUS_WITHIN) & (parallel == 0.0)
    return [int(row) for row in np.flatnonzero(differ)]


def _stop(f_stop: float) -> str:
    return number_text(f_stop, digits=4)


def _distance(metres: float, units: str) -> str:
    return "infinity" if metres >= INFINITY_M else f"{number_text(in_units(metres, units))} {units}"


def _changes(plan: Plan, reading: SceneReading) -> Iterator[Fault]:
    """Yield a fault where the camera is of another kind on some frames."""
    frames, camera = plan.frames, reading.camera
    parallel = plan.shot.camera.projection is Projection.ORTHOGRAPHIC
    wrong = np.flatnonzero((camera.parallel == 1.0) != parallel)
    if len(wrong) and len(wrong) < len(frames):
        when = int(frames[wrong[0]]), int(frames[wrong[-1]])
        text = f"the camera's projection changes: it is not {plan.shot.camera.projection.value} on {span(when)}"
        yield Fault("projection", BLOCK, CAMERA, "", when, len(wrong), "frames", NAN, text)


def _cut_away(plan: Plan, reading: SceneReading) -> Iterator[Fault]:
    """Yield the levels that are too near or too far for the camera."""
    frames, camera = plan.frames, reading.camera
    depth = camera.matrix[:, None, 2, 3] - reading.corners.mean(axis=2)[..., 2]
    for column, level in enumerate(reading.levels):
        cut = np.flatnonzero((depth[:, column] < camera.clip[:, 0]) | (depth[:, column] > camera.clip[:, 1]))
        if len(cut):
            when = int(frames[cut[0]]), int(frames[cut[-1]])
            text = f"{level.level} is cut away on {span(when)}: it lies outside the camera's clip distances"
            yield Fault("clipped", BLOCK, level.level, "", when, len(cut), "frames", NAN, text)
