"""Judging: measured against planned, with the uncertainty counted against the shot.

A level passes a frame when its error plus the expanded uncertainty is within tolerance (a guard band as wide as U,
as decision rules of conformity assessment have it), so a pass is never owed to a poor measurement.
"""

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from ..plan.model import Plan
from ..plan.planning import corners_px
from ..plan.reading import SceneReading
from ..shot.words import number_text
from .evaluated import scene_corners_px
from .facts import FAIL, PASS, STOP, Fault, Look, Measurement
from .measure import Fit

Floats = NDArray[np.float64]

# Less than this in the frame cannot be measured, and as much may be missing along a level's edges.
LEAST_AREA_PX = 400.0
# A level of which less than this share of what should be in the frame is there has been cut or covered.
WHOLE = 0.98
# Where less than this share of a level is in the frame, its far corners can lie too far out to be told.
SLIVER = 0.1


def scene_error_px(plan: Plan, *, reading: SceneReading) -> Floats:
    """Return the largest corner displacement of every level on every frame in the evaluated scene, (F, L) px.

    NaN where the level is not in the scene or there is no camera. Of doubles the first is taken.
    """
    planned = corners_px(plan)
    error = np.full(planned.shape[:2], np.nan)
    if not reading.camera_facts["name"]:
        return error
    seen = scene_corners_px(reading)
    for found, level in reversed(list(enumerate(reading.levels))):
        if level.level in plan.names:
            column = plan.names.index(level.level)
            error[:, column] = np.linalg.norm(seen[:, found] - planned[:, column], axis=-1).max(axis=-1)
    return error


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
) -> Measurement:
    """Return the verdict on one level of one rendered frame.

    ``corners`` (F, L, 4, 2) are the planned ones; ``fit`` is None where no pixels of the level were found, which is a
    failure only where they should have been. ``scene_tells`` says that a scene was read too, whose own numbers count
    where pixels are too few to tell by.
    """
    row, column = frame - int(plan.frames[0]), plan.names.index(level)
    planned = Look(
        float(plan.size_px[row, column]),
        float(plan.x[row, column]),
        float(plan.y[row, column]),
        float(np.degrees(plan.turn[row, column])),
    )
    area = visible_area(corners[row, column], plan.shot.camera.frame_px)
    if fit is None:
        in_frame = area > LEAST_AREA_PX
        seen_of_it = "nothing of it is in the rendered frame" if in_frame else "too little of it is in the frame"
        note = remark or (seen_of_it if area else "it is out of the frame, as planned")
        return Measurement(frame, level, planned, None, None, None, FAIL if in_frame else PASS, False, note)
    error = float(np.linalg.norm(fit.corners - corners[row, column], axis=1).max())
    verdict = PASS if error + fit.uncertainty_px <= tolerance else FAIL
    note = remark or ("it is not square to the lens" if fit.tilted else "")
    whole = fit.area_px >= WHOLE * area - LEAST_AREA_PX
    if not whole:
        verdict, note = FAIL, f"only {fit.area_px / area:.0%} of it is in the pixels"
    elif (
        scene_tells
        and error <= fit.uncertainty_px
        and fit.uncertainty_px > tolerance / 2
        and area < SLIVER * whole_area(corners[row, column])
    ):
        verdict, note = PASS, "too little of it is in the frame to tell by; on this frame the scene's own numbers count"
    measured = _turned_near(look_of(fit.corners, squeeze=plan.shot.camera.squeeze), planned.turn)
    return Measurement(frame, level, planned, measured, error, fit.uncertainty_px, verdict, True, note, whole)


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
    measurements: tuple[Measurement, ...], *, scene_error: Floats, plan: Plan, tolerance: float
) -> list[Fault]:
    """Return a fault for each level whose pixels are off although the evaluated scene puts it right."""
    faults = []
    for column, name in enumerate(plan.names):
        failed = [m for m in measurements if m.level == name and m.verdict == FAIL]
        rows = [m.frame - int(plan.frames[0]) for m in failed]
        if not failed or (np.nan_to_num(scene_error[rows, column], nan=np.inf) > tolerance / 2).any():
            continue
        worst = worst_of(failed)
        frames = failed[0].frame, failed[-1].frame
        if worst.error_px is None:
            text = f"{name} should be in the picture on frame {worst.frame}, but none of its pixels are"
            faults.append(Fault("not-seen", STOP, name, "", frames, float("nan"), "", float("nan"), text))
            continue
        if not worst.whole:
            text = f"{name}: {worst.remark} on frame {worst.frame}: something cuts it off or stands before it"
            faults.append(Fault("cut-off", STOP, name, "", frames, float("nan"), "", float("nan"), text))
            continue
        if worst.uncertainty_px is not None and worst.error_px <= worst.uncertainty_px:
            enough = number_text(1.2 * worst.uncertainty_px, digits=2)
            text = (
                f"{name} cannot be proved to {tolerance:g} px: its measurement is {worst.error_px:.3f} ±"
                f" {worst.uncertainty_px:.3f} px on frame {worst.frame}; allow {enough} px or"
                " more, or measure on every pixel"
            )
            faults.append(Fault("too-fine", STOP, name, "", frames, worst.error_px, "px", worst.error_px, text))
            continue
        text = (
            f"{name} is rendered {worst.error_px:.3f} ± {worst.uncertainty_px:.3f} px out of place on frame"
            f" {worst.frame}, though the scene's own numbers put it right: look at its texture coordinates and shape"
        )
        faults.append(Fault("pixels-differ", STOP, name, "", frames, worst.error_px, "px", worst.error_px, text))
    return faults


def worst_of(failed: Collection[Measurement]) -> Measurement:
    """Return the gravest of some measurements that fail: one that is cut off before one that is off."""
    return max(failed, key=lambda m: (not m.whole, m.error_px or 0.0))


def _turned_near(look: Look, turn: float) -> Look:
    near = turn + (look.turn - turn + 180.0) % 360.0 - 180.0
    return Look(look.size_px, look.x, look.y, near)
