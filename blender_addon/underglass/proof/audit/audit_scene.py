# SPDX-License-Identifier: GPL-3.0-or-later
"""Auditing: what stands in a scene that should not, or is missing, apart from where things are on screen.

Each finding is a Fault; whether a level is in the wrong place is `diagnose`.
"""

from collections import Counter
from collections.abc import Iterator

import numpy as np

from ...plan.plan_arrays import Plan
from ...reading.paint_facts import looks
from ...reading.scene_reading import LevelReading, SceneReading
from ..diagnose.fault_words import listed, with_article
from ..proof_facts import BLOCK, NOTE, Fault
from ..wording import span
from .camera_faults import camera_faults
from .changed_properties import change_faults, changed_by, changes_pixels
from .eased_curves import not_asked_for
from .obstacles import obstacles
from .paint_differences import differences, images_in, moves_in
from .render_settings import setting_faults, settings_told
from .scene_origin import origin_notes

NAN = float("nan")


def audit(plan: Plan, *, reading: SceneReading, level_error_px: dict[str, float], tolerance: float) -> list[Fault]:
    """Return what is wrong or remarkable in the scene's make-up.

    ``level_error_px`` is the worst displacement of each level found in the scene; things that could move a level but
    do not displace it by more than ``tolerance`` px are notes.
    """
    found = [
        *setting_faults(plan, reading=reading),
        *camera_faults(plan, reading=reading, tolerance=tolerance),
        *_presence(plan, reading),
    ]
    found += [*_hidden(plan, reading), *_unbuilt(plan), *origin_notes(plan, reading=reading)]
    found += change_faults(plan, reading=reading, told=settings_told(reading))
    for level in reading.levels:
        found += _make_up(plan, level, level_error_px.get(level.level, NAN), tolerance)
        # Of a level that is not evaluated nobody knows what it would show.
        if level.in_render:
            found += _drawings(plan, level.level, level.drawings)
        found += _paint(plan, reading, level)
    return [*found, *_others(plan, reading)]


def _make_up(plan: Plan, level: LevelReading, error: float, tolerance: float) -> Iterator[Fault]:
    """Yield what is remarkable about one level: its name, what pulls it, its curves, art that it lacks."""
    whole = int(plan.frames[0]), int(plan.frames[-1])
    harmful = error > tolerance
    severity = BLOCK if harmful else NOTE
    effect = f"and it is up to {error:.2f} px out of place" if harmful else "without moving it out of place"
    if level.object_name != level.level:
        text = f"{level.level} goes by the name {level.object_name!r} in the scene"
        yield Fault("renamed", NOTE, level.level, "", whole, NAN, "", 0.0, text)
    for pull in level.pulls:
        text = f"{level.level} has {with_article(pull)}, which is not in the shot, {effect}"
        yield Fault(f"has-{pull.split()[0].lower()}", severity, level.level, "", whole, NAN, "", error, text)
    curves = level.curves if harmful else not_asked_for(plan, level.level, level.curves)
    if curves:
        effect = f"up to {error:.2f} px out of place" if harmful else "without moving it out of place"
        text = f"{level.level} has curves that are not straight lines as built, {effect}: {listed(curves)}"
        yield Fault("curve-not-linear", severity, level.level, "", whole, NAN, "", error, text)
    for name in level.missing_art:
        text = f"{level.level} cannot show its art: {name}"
        yield Fault("art-missing", BLOCK, level.level, "", whole, NAN, "", NAN, text)


def _others(plan: Plan, reading: SceneReading) -> Iterator[Fault]:
    """Yield a fault for each thing that is in the way, and a note of those that are not."""
    whole = int(plan.frames[0]), int(plan.frames[-1])
    in_the_way = obstacles(plan, reading=reading)
    # Many share one.
    yield from {id(fault): fault for fault in in_the_way.values()}.values()
    others = [name for name in reading.others if name not in in_the_way]
    if others:
        names = ", ".join(others[:5]) + (" …" if len(others) > 5 else "")
        text = f"the scene also renders things that are no levels of the shot; they are not in its way: {names}"
        yield Fault("other-things", NOTE, "scene", "", whole, len(others), "objects", 0.0, text)


def _paint(plan: Plan, reading: SceneReading, level: LevelReading) -> Iterator[Fault]:
    """Yield a fault where a level does not look as it would if it were built now: another image, another material.

    Where pictures told that it looks the same all the same, there is none.
    """
    wanted = reading.paints.get(level.level)
    if wanted is None or level.missing_art or looks(wanted) == looks(level.paint):
        return
    change = next((one for one in reading.changes if (one.subject, one.kind) == (level.level, "material")), None)
    if change is not None and not changes_pixels(change):
        return
    whole = int(plan.frames[0]), int(plan.frames[-1])
    built, shown = images_in(wanted), images_in(level.paint)
    names = [image.name for image in built], [image.name for image in shown]
    if [image.digest for image in built] == [image.digest for image in shown]:
        lead = f"{level.level}: " if moves_in(level.paint) else f"{level.level} has another material than was built: "
        text = lead + differences(wanted, level.paint)
    elif names[0] != names[1]:
        text = f"{level.level} shows {', '.join(names[1]) or 'no picture'}, planned {', '.join(names[0])}"
    else:
        other = [here.name for here, there in zip(shown, built, strict=True) if here.digest != there.digest]
        text = (
            f"{level.level} shows another {listed(other)} than the file beside the shot; reload the image"
            f" {listed(other)} from that file"
        )
    if change is not None:
        text += f"; {changed_by(change)}"
    yield Fault("art-differs", BLOCK, level.level, "", whole, NAN, "", NAN, text)


def _presence(plan: Plan, reading: SceneReading) -> Iterator[Fault]:
    whole = int(plan.frames[0]), int(plan.frames[-1])
    count = Counter(level.level for level in reading.levels)
    for name in plan.names:
        if count[name] == 0:
            yield Fault("missing", BLOCK, name, "", whole, NAN, "", NAN, f"{name} is not in the scene")
        elif count[name] > 1:
            text = (
                f"{name} is in the scene {count[name]} times; delete the copies, or use Duplicate Level in the add-on's"
                " panel for one more level"
            )
            yield Fault("doubled", BLOCK, name, "", whole, count[name], "times", NAN, text)
    for name in sorted(set(count) - set(plan.names)):
        text = f"{name} is in the scene but is no level of the shot"
        yield Fault("unknown-level", BLOCK, name, "", whole, NAN, "", NAN, text)


def _unbuilt(plan: Plan) -> Iterator[Fault]:
    """Yield a note where the shot says what a stack in Blender does not do yet."""
    if plan.shot.exposures:
        whole = int(plan.frames[0]), int(plan.frames[-1])
        text = "the shot's exposures (passes, stops and fades) are neither built nor proved: every frame is fully lit"
        yield Fault("exposures-not-built", NOTE, "scene", "", whole, len(plan.shot.exposures), "passes", 0.0, text)


def _hidden(plan: Plan, reading: SceneReading) -> Iterator[Fault]:
    for column, level in enumerate(reading.levels):
        frames = plan.frames if not level.in_render else plan.frames[reading.hidden[:, column]]
        if len(frames):
            when = int(frames[0]), int(frames[-1])
            text = f"{level.level} is hidden from render on {span(when)}"
            yield Fault("hidden", BLOCK, level.level, "", when, len(frames), "frames", NAN, text)


def _drawings(plan: Plan, name: str, shown: tuple[int, ...] | None) -> Iterator[Fault]:
    """Yield a fault where a run of drawings shows another one than the exposure sheet says."""
    if name not in plan.names:
        return
    column = plan.names.index(name)
    drawings = plan.drawings[column]
    if not drawings:
        return
    seen = np.array(shown if shown is not None else [0] * len(plan.frames))
    wrong = np.flatnonzero(seen != plan.drawing[:, column])
    if len(wrong):
        at = int(wrong[0])
        when = int(plan.frames[at]), int(plan.frames[wrong[-1]])
        text = (
            f"{name} shows drawing {_drawing(drawings, int(seen[at]))} on frame {when[0]}, the sheet says"
            f" {_drawing(drawings, int(plan.drawing[at, column]))} ({len(wrong)} frames differ)"
        )
        yield Fault("drawing", BLOCK, name, "drawing", when, len(wrong), "frames", NAN, text)


def _drawing(names: tuple[str, ...], index: int) -> str:
    return names[index] if 0 <= index < len(names) else "none"
