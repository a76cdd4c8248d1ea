# SPDX-License-Identifier: GPL-3.0-or-later
"""Levels that the lens draws soft: their blur on the film, in millimetres and in pixels."""

from collections.abc import Iterator

import numpy as np

from ...optics.depth_of_field import blur_circle, far_limit, near_limit
from ...shot.model import CAMERA, Projection
from ...shot.units import METRES_PER_MM, METRES_PER_UNIT
from ...shot.words import number_text
from ..plan_arrays import Floats, Plan
from .finding import NOTE, WARN, Finding
from .seen_art import Sight
from .worst_stretch import Flags, frames_of, length_text, px_text, shown_frames, worst_row

# The greatest circle that counts as sharp: 0.001 in on 35 mm film, 0.0006 in on 16 mm (handbook excerpt at jukolart.us,
# depth of field calculations). A gate up to so wide is one of 16 mm film.
CIRCLE_35, CIRCLE_16 = 0.001 * METRES_PER_UNIT["in"], 0.0006 * METRES_PER_UNIT["in"]
WIDEST_16 = 0.0135
# Lenses are not stopped down farther; common practice, no source.
SMALLEST_STOP = 32.0
_ROUNDING = 1e-9


def sharp_circle(plan: Plan) -> float:
    """Return the greatest circle on the film, m, that counts as sharp: what the shot says, or the film's custom."""
    camera = plan.shot.camera
    if camera.blur:
        return camera.blur
    return CIRCLE_16 if camera.gate is not None and camera.gate.width <= WIDEST_16 else CIRCLE_35


def has_blur(plan: Plan) -> bool:
    """Return whether it is known how soft the lens draws: it is a lens, and its f-stop is said."""
    camera = plan.shot.camera
    return camera.projection is Projection.PERSPECTIVE and camera.f_stop > 0 and camera.gate is not None


def blur_of(plan: Plan) -> Floats:
    """Return the diameter on the film of a point of every level, (F, L) m; only for a plan that `has_blur`."""
    focal, focus = plan.tracks.camera["focal"][:, None], plan.focus_distance[:, None]
    return blur_circle(plan.distance, focal=focal, focus=focus, f_stop=plan.shot.camera.f_stop)


def film_px(plan: Plan) -> float:
    """Return how many pixels of the frame a metre on the film is, across."""
    camera = plan.shot.camera
    assert camera.gate is not None
    return camera.frame_px[0] / camera.gate.width


def find_focus(plan: Plan, sight: Sight) -> Iterator[Finding]:
    """Yield levels that are soft where they are seen, and frames on which nothing is sharp."""
    if not has_blur(plan):
        return
    blur, circle = blur_of(plan), sharp_circle(plan)
    soft = sight.seen & (blur > circle * (1 + _ROUNDING))
    for column in np.flatnonzero(soft.any(axis=0)):
        yield _soft(plan, int(column), blur[:, column], soft[:, column], circle)
    nothing = sight.seen.any(axis=1) & ~(sight.seen & ~soft).any(axis=1)
    if nothing.any():
        yield _nothing_sharp(plan, sight, blur, nothing, circle)


def _soft(plan: Plan, column: int, blur: Floats, soft: Flags, circle: float) -> Finding:
    camera, row = plan.shot.camera, worst_row(blur, soft)
    lens = {"focal": plan.tracks.camera["focal"][row], "f_stop": camera.f_stop, "circle": circle}
    near, far = (float(limit(plan.focus_distance[row], **lens)) for limit in (near_limit, far_limit))
    pixels = blur[row] * film_px(plan)
    to = f"to {length_text(plan, far)}" if np.isfinite(far) else "on"
    return Finding(
        "soft",
        NOTE,
        plan.names[column],
        "height",
        frames_of(plan.frames, soft, row=row),
        float(blur[row] / METRES_PER_MM),
        circle / METRES_PER_MM,
        "mm",
        f"{plan.names[column]} is soft: its blur circle on the film is {_mm(blur[row])} ({px_text(pixels)}), at"
        f" {length_text(plan, plan.distance[row, column])} from the lens on frame {plan.frames[row]}; sharp is from"
        f" {length_text(plan, near)} {to}",
        _sharper(camera.f_stop * blur[row] / circle),
    )


def _nothing_sharp(plan: Plan, sight: Sight, unseen: Floats, nothing: Flags, circle: float) -> Finding:
    blur = np.where(sight.seen, unseen, np.inf)
    least = blur.min(axis=1)
    row = worst_row(least, nothing)
    column = int(blur[row].argmin())
    because, remedy = _why_nothing(plan, sight, unseen[row] <= circle * (1 + _ROUNDING), row)
    return Finding(
        "nothing-sharp",
        WARN,
        CAMERA,
        "",
        frames_of(plan.frames, nothing, row=row),
        float(least[row] / METRES_PER_MM),
        circle / METRES_PER_MM,
        "mm",
        f"no level in the frame is sharp{because}; the sharpest, {plan.names[column]}, has a blur circle of"
        f" {_mm(least[row])} on frame {plan.frames[row]}",
        remedy,
    )


def _why_nothing(plan: Plan, sight: Sight, sharp: Flags, row: int) -> tuple[str, str]:
    """Return why nothing is sharp on the frame of ``row``, and what to do: what the lens is focused on is not seen.

    ``sharp`` (L,) tells which levels would be, were they in the frame.
    """
    followed = plan.shot.camera.focus.level if plan.shot.camera.focus else ""
    would = [name for name, is_sharp in zip(plan.names, sharp, strict=True) if is_sharp]
    name = followed if followed in plan.names else next(iter(would), "")
    if not name or sight.seen[row, plan.names.index(name)]:
        return "", "focus on a level, or let focus follow one"
    column = plan.names.index(name)
    lens = f"focus follows {name}" if name == followed else f"the lens is focused on {name}"
    if not shown_frames(plan)[row, column]:
        return f": {lens}, which shows nothing", "focus on a level that is shown, or let focus follow one"
    return (
        f": {lens}, which is out of the frame",
        f"bring {name} into the frame, or focus on a level that is in it",
    )


def _mm(metres: float) -> str:
    return f"{number_text(float(metres / METRES_PER_MM), digits=2)} mm"


def _sharper(f_stop: float) -> str:
    if f_stop > SMALLEST_STOP:
        return "if it should be sharp: focus nearer to it, or move it nearer to where it is sharp"
    return f"if it should be sharp: stop down to f/{number_text(float(f_stop), digits=2)}, or focus nearer to it"
