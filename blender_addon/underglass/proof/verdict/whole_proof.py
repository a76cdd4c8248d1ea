# SPDX-License-Identifier: GPL-3.0-or-later
"""The verdict: a whole proof out of the plan, the scene that was read and the fits of its rendered passes."""

from collections.abc import Collection, Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ...plan.expectations_held import unmet_expectations
from ...plan.plan_arrays import Plan
from ...plan.planning import corners_px
from ...reading.scene_reading import SceneReading
from ..audit.audit_scene import audit
from ..diagnose.fault_causes import PLACES, by_cause
from ..diagnose.own_part import levels_own_px
from ..diagnose.part_that_is_off import diagnose
from ..diagnose.scene_wide import common_delay, delay_of, delayed_as_one, in_planned_frame, later
from ..diagnose.which_object import objects_of
from ..measure.passes import MeasuredFrame
from ..proof_facts import BLOCK, FAIL, PASS, Fault, Measurement, Proof
from .judge_levels import judge_level, scene_error_px, unexplained, worst_of
from .samples_on_pixels import lattice_faults, samples_of

Floats = NDArray[np.float64]


def judge_scene(
    plan: Plan,
    *,
    shot_file: Path,
    scene_file: Path | None,
    reading: SceneReading,
    frames: tuple[int, ...],
    measured: Mapping[int, MeasuredFrame],
    tolerance: float,
    pictures: dict[int, Path],
    picture_reasons: dict[int, str],
    seconds: dict[str, float],
) -> Proof:
    """Return the proof that ``reading`` and what was ``measured``, by frame, make of ``plan``; ``tolerance`` in px.

    The test ``frames`` are judged though nothing was measured on them. ``pictures``, ``picture_reasons`` and
    ``seconds`` are handed on as they are.
    """
    scene_error = scene_error_px(plan, reading=reading)
    measurements = _measurements(plan, reading, measured, frames, tolerance)
    told = _told(plan, reading, tolerance)
    blamed = {fault.subject for fault in told if fault.severity == BLOCK}
    faults = [
        *told,
        *unmet_faults(plan, tolerance),
        *unexplained(measurements, scene_error=scene_error, plan=plan, tolerance=tolerance, blamed=blamed),
        *lattice_faults(measured, held_out=frozenset(reading.frames[reading.hidden.any(axis=1)].tolist())),
    ]
    faults = by_cause(faults)
    wrong = (
        any(fault.severity == BLOCK for fault in faults)
        or any(m.verdict == FAIL for m in measurements)
        or _is_off(scene_error, plan, measurements, tolerance)
    )
    return Proof(
        plan=plan,
        shot_file=shot_file,
        scene_file=scene_file,
        blender=reading.blender,
        engine="CYCLES",
        tolerance_px=tolerance,
        verdict=FAIL if wrong else PASS,
        checked_frames=tuple(int(frame) for frame in reading.frames),
        rendered_frames=tuple(sorted(measured)),
        test_frames=frames,
        measurements=measurements,
        faults=tuple(by_cause(or_unexplained(tuple(faults), wrong, scene_error, plan, measurements))),
        scene_error_px=scene_error,
        pictures=pictures,
        picture_reasons=picture_reasons,
        samples=samples_of(measured),
        seconds=seconds,
    )


def _is_off(scene_error: Floats, plan: Plan, measurements: tuple[Measurement, ...], tolerance: float) -> bool:
    """Return whether the scene puts a level elsewhere; where a place could not be read, the pixels have to be right."""
    unread = np.isnan(scene_error).any(axis=0)
    failed = {m.level for m in measurements if m.verdict == FAIL}
    unproved = [name for name, is_unread in zip(plan.names, unread, strict=True) if is_unread and name in failed]
    return bool((scene_error > tolerance).any() or unproved or (unread.any() and not measurements))


def _told(plan: Plan, reading: SceneReading, tolerance: float) -> list[Fault]:
    """Return what the scene's own numbers say is wrong; what puts everything out is one fault."""
    told = _of_parts(plan, reading, tolerance)
    if delay := common_delay(told):
        delayed = [fault for fault in told if delay_of(fault) == delay]
        others = _of_parts(later(plan, delay), reading, tolerance)
        if not any(fault.severity == BLOCK and fault.axis in PLACES for fault in others):
            return [delayed_as_one(delayed, everything=True), *others]
    return told


def _of_parts(plan: Plan, reading: SceneReading, tolerance: float) -> list[Fault]:
    placed = in_planned_frame(plan, reading=reading)
    error = scene_error_px(plan, reading=placed)
    # A stand that was moved as a whole is in place on screen, and a level that another camera sees by itself.
    own = levels_own_px(plan, reading=reading, index=objects_of(plan, reading=reading))
    least = np.minimum(error, own)
    worst = {name: float(least[:, column].max(initial=0.0)) for column, name in enumerate(plan.names)}
    return [
        *diagnose(plan, reading=placed, scene_error=error, tolerance=tolerance),
        *audit(plan, reading=reading, level_error_px=worst, tolerance=tolerance),
    ]


def unmet_faults(plan: Plan, tolerance: float) -> list[Fault]:
    """Return what the picture was expected to do and, going by the schedule, does not."""
    unmet = unmet_expectations(plan, hold_px=tolerance)
    return [
        Fault("expectation", BLOCK, u.level, u.kind, u.frames, u.value, u.unit, float("nan"), u.message) for u in unmet
    ]


def or_unexplained(
    faults: tuple[Fault, ...],
    wrong: bool,
    scene_error: Floats,
    plan: Plan,
    measurements: tuple[Measurement, ...],
) -> tuple[Fault, ...]:
    """Return the faults, and where something is wrong that none of them names, one that says at least where."""
    if not wrong or any(fault.severity == BLOCK for fault in faults):
        return faults
    failed = [m for m in measurements if m.verdict == FAIL]
    if failed:
        worst = worst_of(failed)
        name, frame = worst.level, worst.frame
        if worst.error_px is None or worst.uncertainty_px is None:
            text, error = f"{name} is not to be seen on frame {frame}: {worst.remark}", float("nan")
        else:
            error = worst.error_px
            text = (
                f"{name} measures {error:.3f} ± {worst.uncertainty_px:.3f} px out of place on frame {frame}, by several"
                " small deviations"
            )
    else:
        row, column = divmod(int(np.nan_to_num(scene_error, nan=-np.inf).argmax()), scene_error.shape[1])
        frame, name, error = int(plan.frames[row]), plan.names[column], float(scene_error[row, column])
        text = f"{name} is {error:.3f} px out of place on frame {frame}, by several small deviations"
    return (Fault("out-of-place", BLOCK, name, "", (frame, frame), error, "px", error, text), *faults)


def _measurements(
    plan: Plan,
    reading: SceneReading,
    measured: Mapping[int, MeasuredFrame],
    frames: Collection[int],
    tolerance: float,
) -> tuple[Measurement, ...]:
    corners = corners_px(plan)
    found = objects_of(plan, reading=reading)
    results = []
    # Where anything was rendered, a frame that was not is one that fails.
    for frame in plan.frames.tolist() if measured else sorted(frames):
        seen = measured.get(frame)
        for name in plan.names:
            number = found.get(name)
            fit = seen.fits.get(number) if seen is not None and number is not None else None
            results.append(
                judge_level(
                    plan,
                    corners=corners,
                    frame=frame,
                    level=name,
                    fit=fit,
                    tolerance=tolerance,
                    remark="it is not in the scene" if number is None else "",
                    spacing=seen.lattice.spacing if seen is not None else 1.0,
                    hits=seen.hits.get(number, 0) if seen is not None and number is not None else 0,
                )
            )
    return tuple(results)
