# SPDX-License-Identifier: GPL-3.0-or-later
"""Facts at the head of a set, in words: the lens, the art, the counter, what rounding does, and the film."""

from collections.abc import Iterator

import numpy as np

from underglass.plan import Plan
from underglass.plan.counter import FOCUS, Counted, Counter
from underglass.plan.field_of_levels import field_corners
from underglass.plan.plan_arrays import Floats
from underglass.proof.wording import counted as some
from underglass.proof.wording import number, plain
from underglass.shot import Camera, Projection, Shot
from underglass.shot.units import METRES_PER_MM, METRES_PER_UNIT
from underglass.shot.words import number_text

from .film_length import feet_and_frames, gauge_of, running_time
from .sheet_set import LABELS

Facts = tuple[tuple[str, str], ...]

_ORDINALS = {2: "second", 3: "third"}
# Per cent of the frame that are said as 0.0.
_IN_THE_MIDDLE = 0.05
# Parts of a counter step that are no more than what conversions of units leave.
_ON_A_STEP = 1e-6


def camera_facts(plan: Plan, axes: tuple[Counted, ...], *, off_px: Floats) -> Facts:
    """Return the facts of the camera's set; ``off_px`` (F,) is what rounding it alone does to the picture."""
    return (
        ("Lens", _lens_line(plan)),
        *(("Pass", _pass_line(plan, exposure.name)) for exposure in plan.shot.exposures),
        ("Field", _field_line(plan)),
        *_common_facts(plan, axes, off_px),
    )


def level_facts(
    plan: Plan, axes: tuple[Counted, ...], *, column: int, centre: tuple[float, float], off_px: Floats
) -> Facts:
    """Return the facts of a level's set; ``centre`` is where its art is, in frames from the middle of the frame."""
    level = plan.shot.levels[column]
    pace = f"on every {_ORDINALS.get(level.on, f'{level.on}th')} frame only"
    return (
        ("Art", _art_line(level.art, level.art_width, level.art_height, plan.shot.units)),
        ("Sits", _centre_line(centre)),
        *([("Moves", pace)] if level.on > 1 else []),
        *_common_facts(plan, axes, off_px),
    )


def film_line(shot: Shot) -> str:
    """Return in words how the film is counted: its stock, and what a footage means."""
    gauge, gate = gauge_of(shot.camera.gate), shot.camera.gate
    why = f"by the gate {plain(gate.name) or _size_mm(gate.width, gate.height)}" if gate else "since no gate is named"
    feet, frames = feet_and_frames(shot.frame_count, gauge=gauge)
    return (
        f"{feet} ft {frames} fr of {gauge.name} film, {gauge.frames_per_foot} frames a foot ({why}). The film counter"
        f" is at 0+00 when frame {shot.frames[0]} is set."
    )


def time_line(shot: Shot) -> str:
    """Return in words how many frames there are and how long they run."""
    seconds = number_text(running_time(shot.frame_count, fps=shot.fps), digits=4)
    return f"{some(shot.frame_count, 'frame')}, {number_text(shot.fps)} a second: {seconds} s."


def _size_mm(width: float, height: float) -> str:
    return f"of {number_text(width / METRES_PER_MM, digits=4)} × {number_text(height / METRES_PER_MM, digits=4)} mm"


def _common_facts(plan: Plan, axes: tuple[Counted, ...], off_px: Floats) -> Iterator[tuple[str, str]]:
    yield "Counter", _counter_line(axes)
    yield "Rounding", _rounding_line(plan, axes, off_px)
    yield "Film", film_line(plan.shot)


def _counter_line(axes: tuple[Counted, ...]) -> str:
    steps: dict[str, Counter] = {axis.counter.unit: axis.counter for axis in axes if axis.axis not in ("turn", "focal")}
    said = [
        f"one step is {_with_unit(counter)}" + (" (assumed: the shot names no counter)" if counter.assumed else "")
        for counter in steps.values()
    ]
    said += [f"turns to {_with_unit(axis.counter)}" for axis in axes if axis.axis == "turn"]
    said += [f"the lens to {_with_unit(axis.counter)}" for axis in axes if axis.axis == "focal"]
    return f"{', '.join(said)}. Every reading is rounded on its own, so errors do not accumulate."


def _with_unit(counter: Counter, text: str = "") -> str:
    return f"{text or counter.step}{'' if counter.unit == '°' else ' '}{counter.unit}"


def _rounding_line(plan: Plan, axes: tuple[Counted, ...], off_px: Floats) -> str:
    worst = [_worst_off(plan, axis) for axis in axes if axis.axis != FOCUS and axis.off.max() > _ON_A_STEP]
    if not worst:
        return "none: every reading falls on a step."
    row = int(off_px.argmax())
    screen = number_text(float(off_px[row]), digits=2) if np.isfinite(off_px[row]) else "any number of"
    return (
        f"at most {'; '.join(worst)}. This alone moves the picture by {screen} px at most, on frame {plan.frames[row]}."
    )


def _worst_off(plan: Plan, axis: Counted) -> str:
    row = int(axis.off.argmax())
    off = number_text(float(axis.off[row]) * float(axis.counter.step), digits=2)
    return f"{LABELS[axis.axis]} {_with_unit(axis.counter, off)} on frame {plan.frames[row]}"


def _art_line(art: str, width: float, height: float, units: str) -> str:
    return f"{plain(art)}, {_length(width, units)} × {_length(height, units)} {units}"


def _length(metres: float, units: str) -> str:
    return number_text(metres / METRES_PER_UNIT[units], digits=4)


def _centre_line(centre: tuple[float, float]) -> str:
    """Return in words where the centre of the art is in the frame."""
    across, up = (100 * value for value in centre)
    beside = f"{number(abs(across), 1)} % of the frame's width {'right' if across > 0 else 'left'} of its middle"
    above = f"{number(abs(up), 1)} % of the frame's height {'above' if up > 0 else 'below'} its middle"
    said = [words for words, value in ((beside, across), (above, up)) if abs(value) >= _IN_THE_MIDDLE]
    outside = ", outside the frame" if max(abs(across), abs(up)) > 50 else ""
    return f"the centre of the art is {' and '.join(said) or 'in the middle of the frame'}{outside}"


def _lens_line(plan: Plan) -> str:
    camera, units = plan.shot.camera, plan.shot.units
    stop = f", stop f/{number_text(camera.f_stop)}" if camera.f_stop else ""
    if camera.projection is Projection.ORTHOGRAPHIC:
        return f"no perspective, a field {_length(camera.field_width, units)} {units} wide{stop}"
    squeeze = f", squeeze {number_text(camera.squeeze)}" if camera.squeeze != 1 else ""
    focal = number_text(float(plan.tracks.camera["focal"][0]) / METRES_PER_MM, digits=4)
    return f"{focal} mm{stop}{squeeze}, focused {_focus_words(camera, float(plan.focus_distance[0]), units)}"


def _focus_words(camera: Camera, distance: float, units: str) -> str:
    if not np.isfinite(distance):
        return "at infinity"
    at = f"at {_length(distance, units)} {units} from the lens"
    return f"{at}, on {plain(camera.focus.level)}, which it follows" if camera.focus.level else f"{at}, held there"


def _pass_line(plan: Plan, name: str) -> str:
    exposure = next(one for one in plan.shot.exposures if one.name == name)
    levels = "all levels" if exposure.levels is None else ", ".join(plain(level) for level in exposure.levels)
    stops = "full exposure" if not exposure.stops else f"{number(exposure.stops, 2).rstrip('0').rstrip('.')} stops"
    return f"{plain(name)}: {levels}, {stops}"


def _field_line(plan: Plan) -> str:
    """Return the width and height of the field at the nearest and the rearmost level on the first frame."""
    corners = field_corners(plan)[0]
    sides = np.linalg.norm(corners[:, [1, 3]] - corners[:, [0]], axis=-1)
    shown = dict.fromkeys((0, len(plan.names) - 1))
    said = [
        f"{_length(sides[column][0], plan.shot.units)} × {_length(sides[column][1], plan.shot.units)} {plan.shot.units}"
        f" at {plain(plan.names[column])}"
        for column in shown
    ]
    return f"{', '.join(said)} on frame {plan.frames[0]}"
