# SPDX-License-Identifier: GPL-3.0-or-later
"""Judging: measured against planned, with the uncertainty counted against the shot.

A level passes a frame when its error plus the expanded uncertainty is within tolerance (a guard band as wide as U,
as decision rules of conformity assessment have it), so a pass is never owed to a poor measurement.
"""

from collections.abc import Collection
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ...optics.projection import art_from_px, px_from_art
from ...plan.plan_arrays import Plan
from ...plan.planning import corners_px
from ...reading.scene_reading import SceneReading
from ...shot.words import number_text
from ..diagnose.fault_words import stretch
from ..diagnose.which_object import objects_of
from ..levels_showing import LEAST_AREA_PX, showing
from ..measure.evaluated_scene import scene_corners_px
from ..measure.measured_corners import FEWEST_PIXELS, Fit
from ..proof_facts import BLOCK, FAIL, PASS, Fault, Look, Measurement

Floats = NDArray[np.float64]

# Where less than this share of a level is in the frame, its far corners can lie too far out to be told.
SLIVER = 0.1
# What shows on a coarse grid can be told from so many samples across it, and so many times the fewest that are fitted.
LEAST_ACROSS = 3.0
LEAST_TIMES = 2.0
# What is wider than so many samples meets a row of them, and so this share of the samples that it has room for.
LEAST_ROWS = 2.0
LEAST_SHARE = 0.25
# So many samples of a level may by chance show something else, or nothing.
BY_CHANCE = 3
# Rays that meet the seam between two triangles meet both: one a row and one a column of the grid, for every seam that
# an edited level may well have.
SEAMS = 2.0
# A sliver's corners may be out by their uncertainty twice over: one measurement in twenty is, once over.
TWICE = 2.0
# In a delivered frame a pixel is the mean of its filter's reach, and may stray by that where an edge crosses it.
FILTER_REACH_PX = 2.0
TOO_LITTLE = "too little of it is in the frame to measure it; on this frame the scene's own numbers count"


def scene_error_px(plan: Plan, *, reading: SceneReading) -> Floats:
    """Return the largest corner displacement of every level on every frame in the evaluated scene, (F, L) px.

    NaN where the level is not in the scene or there is no camera. Of doubles the nearest to its place is taken.
    """
    planned = corners_px(plan)
    error = np.full(planned.shape[:2], np.nan)
    if not reading.camera_facts["name"]:
        return error
    seen = scene_corners_px(reading)
    for name, found in objects_of(plan, reading=reading).items():
        if name in plan.names:
            column = plan.names.index(name)
            error[:, column] = np.linalg.norm(seen[:, found] - planned[:, column], axis=-1).max(axis=-1)
    return error


# What doubles and single precision leave of a place that is right, px.
IN_PLACE_PX = 2e-4


def levels_in_place(plan: Plan, *, reading: SceneReading) -> frozenset[str]:
    """Return the levels that the scene puts where they were planned on all frames, as far as that could be read."""
    error = np.nan_to_num(scene_error_px(plan, reading=reading), nan=0.0).max(axis=0, initial=0.0)
    return frozenset(name for name, most in zip(plan.names, error.tolist(), strict=True) if most < IN_PLACE_PX)


def look_of(corners: Floats, *, squeeze: float) -> Look:
    """Return size, place and turn of art with ``corners`` (4, 2) px; the squeeze is taken out of the turn."""
    across = (corners[1] - corners[0] + corners[2] - corners[3]) / 2
    centre = corners.mean(axis=0)
    return Look(
        size_px=float(np.hypot(across[0], across[1] / squeeze)),
        x=float(centre[0]),
        y=float(centre[1]),
        turn=float(np.degrees(np.arctan2(across[1] / squeeze, across[0]))),
    )


def judge_level(
    plan: Plan,
    *,
    corners: Floats,
    frame: int,
    level: str,
    fit: Fit | None,
    tolerance: float,
    remark: str = "",
    scene_tells: bool = True,
    spacing: float = 1.0,
    hits: int = 0,
) -> Measurement:
    """Return the verdict on one level of one rendered frame.

    ``corners`` (F, L, 4, 2) are the planned ones; ``fit`` is None where no pixels of the level were found, which is a
    failure only where they should have been. ``scene_tells`` says that a scene was read too, whose own numbers count
    where pixels are too few to tell by; ``spacing`` px lie between two of those, and ``hits`` of them show the level.
    """
    row, column = frame - int(plan.frames[0]), plan.names.index(level)
    planned = Look(
        float(plan.size_px[row, column]),
        float(plan.x[row, column]),
        float(plan.y[row, column]),
        float(np.degrees(plan.turn[row, column])),
    )
    place = corners[row, column]
    if fit is None:
        area = visible_area(place, plan.shot.camera.frame_px)
        unseen = Measurement(frame, level, planned, None, None, None, PASS, False, remark)
        return _unseen(unseen, plan, place=place, area=area, spacing=spacing if scene_tells else None, hits=hits)
    error = float(np.linalg.norm(fit.corners - place, axis=1).max())
    measured = _turned_near(look_of(fit.corners, squeeze=plan.shot.camera.squeeze), planned.turn)
    wrong = _not_whole(fit)
    verdict = PASS if error + fit.uncertainty_px <= tolerance else FAIL
    note = remark or ("it is not square to the lens" if fit.tilted else "")
    if not wrong and verdict == FAIL and scene_tells and not fit.tilted:
        area = visible_area(place, plan.shot.camera.frame_px)
        strays = strays_where_seen(fit, place) + fit.seen_uncertainty_px
        if area < SLIVER * whole_area(place) and strays <= tolerance and error <= TWICE * fit.uncertainty_px:
            verdict, note = PASS, TOO_LITTLE
    why = _why(fit, tolerance if scene_tells else max(tolerance, FILTER_REACH_PX))
    if wrong or why:
        verdict, note = FAIL, wrong or _WHY_SAID[why].format(fit=fit)
    return Measurement(
        frame,
        level,
        planned,
        measured,
        error,
        fit.uncertainty_px,
        verdict,
        True,
        note,
        whole=not wrong,
        pixels=fit.pixels,
        strange=fit.strange,
        doubled=fit.doubled,
        missing=fit.missing,
        why=why,
    )


def _unseen(
    bare: Measurement, plan: Plan, *, place: Floats, area: float, spacing: float | None, hits: int
) -> Measurement:
    """Return ``bare`` with the verdict on a level whose pixels were not found: a failure where they should have been.

    ``place`` (4, 2) px is where it was planned, with ``area`` px² in the frame; ``spacing`` px lie between two samples,
    None where the scene's own numbers cannot count in their place; ``hits`` of them show the level.
    """
    verdict, note = (FAIL, "nothing of it is in the rendered frame") if area > LEAST_AREA_PX else (PASS, "")
    if spacing is not None and verdict == FAIL and not bare.remark:
        _, thickness = showing(place, plan.shot.camera.frame_px)
        expected = area / spacing**2
        can_be_fitted = expected >= LEAST_TIMES * FEWEST_PIXELS and thickness >= LEAST_ACROSS * spacing
        # Of a strip too narrow to be fitted, as wide as two samples, there is at least a row.
        is_gone = expected >= FEWEST_PIXELS and thickness >= LEAST_ROWS * spacing and hits < LEAST_SHARE * expected
        verdict, note = (FAIL, note) if can_be_fitted or is_gone else (PASS, TOO_LITTLE)
    elif verdict == PASS:
        note = "too little of it is in the frame" if area else "it is out of the frame, as planned"
    return replace(bare, verdict=verdict, remark=bare.remark or note)


def _not_whole(fit: Fit) -> str:
    """Return in words that a part of a level is not to be seen; empty where it is whole."""
    if fit.missing <= BY_CHANCE:
        return ""
    return f"only {fit.pixels / (fit.pixels + fit.missing):.1%} of it is in the pixels"


# What is odd about the surface that a level's pixels show, by the code of its fault.
_WHY_SAID = {
    "two-surfaces": "{fit.doubled} of its pixels show two surfaces of it",
    "strange-pixels": "{fit.strange} of its pixels are up to {fit.strange_px:.3g} px from where the others put them",
    "not-flat": "it is not flat: its pixels are up to {fit.worst_px:.3g} px from one plane",
}


def _why(fit: Fit, allowed_px: float) -> str:
    """Return the code of what is odd about the surface that a level's pixels show; empty where nothing is.

    A pixel may be ``allowed_px`` from where the others put it.
    """
    if fit.seen is not None and fit.pixels:
        extent = float(np.ptp(fit.seen, axis=0).sum()) / np.sqrt(fit.area_px / fit.pixels)
        if fit.doubled > BY_CHANCE + SEAMS * extent:
            return "two-surfaces"
    if fit.strange > BY_CHANCE and fit.strange_px > allowed_px:
        return "strange-pixels"
    return "not-flat" if fit.worst_px > allowed_px else ""


def strays_where_seen(fit: Fit, place: Floats) -> float:
    """Return how far what shows of a level is from its ``place`` (4, 2) px, at the corners of the box that it fills."""
    if fit.seen is None:
        return float("inf")
    art = art_from_px(fit.seen, corners=fit.corners)
    return float(np.linalg.norm(px_from_art(art, corners=place) - fit.seen, axis=1).max())


def visible_area(corners: Floats, frame_px: tuple[int, int]) -> float:
    """Return how much of a quadrilateral (4, 2) px lies in the frame, in px² (clipped side by side, then shoelace)."""
    polygon = corners
    for axis, sign in ((0, 1), (0, -1), (1, 1), (1, -1)):
        inside = frame_px[axis] / 2 - sign * polygon[:, axis]
        ahead, following = np.roll(inside, -1), np.roll(polygon, -1, axis=0)
        kept: list[Floats] = []
        for here, after, point, target in zip(inside, ahead, polygon, following, strict=True):
            if here >= 0:
                kept.append(point)
            if (here >= 0) != (after >= 0):
                kept.append(point + (target - point) * here / (here - after))
        if len(kept) < 3:
            return 0.0
        polygon = np.array(kept)
    return whole_area(polygon)


def whole_area(polygon: Floats) -> float:
    """Return the area of a polygon (N, 2) px, whether it is in the frame or not, in px²."""
    x, y = polygon.T
    return float(abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2)


def unexplained(
    measurements: tuple[Measurement, ...],
    *,
    scene_error: Floats,
    plan: Plan,
    tolerance: float,
    blamed: Collection[str] = (),
) -> list[Fault]:
    """Return a fault for each level whose pixels are off although the scene puts it right, or whose surface is odd.

    Of a level that is ``blamed`` already and out of place the rest may be the same mistake.
    """
    faults = []
    for column, name in enumerate(plan.names):
        failed = [m for m in measurements if m.level == name and m.verdict == FAIL]
        rows = [m.frame - int(plan.frames[0]) for m in failed]
        if not failed:
            continue
        worst = worst_of(failed)
        moved = (np.nan_to_num(scene_error[rows, column], nan=np.inf) > tolerance / 2).any()
        odd = worst.error_px is not None and (not worst.whole or bool(worst.why))
        if moved and (name in blamed or not odd):
            continue
        frames = failed[0].frame, failed[-1].frame
        if worst.error_px is None:
            gone = [m.frame for m in failed if m.error_px is None]
            text = f"{name} should be in the picture {stretch((gone[0], gone[-1]))}, but none of its pixels are"
            faults.append(Fault("not-seen", BLOCK, name, "", frames, float("nan"), "", float("nan"), text))
            continue
        if not worst.whole:
            text = (
                f"{name} is not whole {stretch(frames)}: on frame {worst.frame} {worst.remark}; look for a hole in its"
                " mesh, or for something that cuts it off or stands before it"
            )
            faults.append(Fault("cut-off", BLOCK, name, "", frames, float("nan"), "", float("nan"), text))
            continue
        if worst.why:
            text = f"{name} has an odd surface {stretch(frames)}: on frame {worst.frame} {worst.remark}"
            faults.append(Fault(worst.why, BLOCK, name, "", frames, float("nan"), "", worst.error_px, text))
            continue
        if worst.uncertainty_px is not None and worst.error_px <= worst.uncertainty_px:
            enough = number_text(1.2 * worst.uncertainty_px, digits=2)
            text = (
                f"{name} cannot be proved to {tolerance:g} px: its measurement is {worst.error_px:.3f} ±"
                f" {worst.uncertainty_px:.3f} px on frame {worst.frame}; allow {enough} px or"
                " more, or measure on every pixel"
            )
            faults.append(Fault("too-coarse", BLOCK, name, "", frames, worst.error_px, "px", worst.error_px, text))
            continue
        text = (
            f"{name} is rendered {worst.error_px:.3f} ± {worst.uncertainty_px:.3f} px out of place on frame"
            f" {worst.frame}, though the scene's own numbers put it right: look at its texture coordinates and shape"
        )
        faults.append(Fault("pixels-differ", BLOCK, name, "", frames, worst.error_px, "px", worst.error_px, text))
    return faults


def worst_of(failed: Collection[Measurement]) -> Measurement:
    """Return the worst of some measurements that fail: one that is cut off or no plane before one that is off."""
    return max(failed, key=lambda m: (m.error_px is None, m.missing, not m.whole, bool(m.why), m.error_px or 0.0))


def _turned_near(look: Look, turn: float) -> Look:
    near = turn + (look.turn - turn + 180.0) % 360.0 - 180.0
    return Look(look.size_px, look.x, look.y, near)
