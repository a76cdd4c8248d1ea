# SPDX-License-Identifier: GPL-3.0-or-later
"""Changed: in what a scene differs from a stack that is built afresh, as faults, in the words that the interface uses.

What changes pixels fails a proof. What was rendered and changes none is a note.
"""

from collections.abc import Iterable, Iterator

from ...plan.plan_arrays import Plan
from ...reading.scene_reading import NOT_RENDERED, Change, SceneReading
from ..proof_facts import BLOCK, NOTE, Fault
from ..wording import together

NAN = float("nan")
# A picture of 8 bits knows no less than one code of 255: more than that is a change. A little is added for codes of
# 16 bits, there and back.
ROUNDING = 0.05
NOTHING = 1 + ROUNDING
# What shows only in motion shows little in pictures that are smaller than the frame: whatever they show counts.
IN_MOTION = {"render.use_motion_blur"}
MOST_NAMED = 5
_SETTINGS = {"setting", "layer", "layers"}
# The kind of a change that lets a render have other noise, and is not rendered.
NOISE = "noise"
# What a value is that changes while frames go by.
KEYED, DRIVEN = "keyed", "driven"


def changes_pixels(change: Change) -> bool:
    """Return whether a change is to be seen in any pixel; what was not rendered counts as that."""
    limit = ROUNDING if change.key in IN_MOTION else NOTHING
    return change.shown == NOT_RENDERED or change.shown > limit


def changed_by(change: Change) -> str:
    """Return in words what a change shows."""
    if change.shown == NOT_RENDERED:
        return "what it shows was not rendered"
    shown = f"{change.shown:.0f}" if change.shown >= 1 else f"{change.shown:.1g}"
    return f"it changes pixels by up to {shown} of 255 on frame {change.frame}"


def by_key(reading: SceneReading) -> dict[str, Change]:
    """Return the changes of the scene's settings by their keys."""
    return {change.key: change for change in reading.changes if change.subject == "scene"}


def change_faults(plan: Plan, *, reading: SceneReading, told: Iterable[str]) -> Iterator[Fault]:
    """Yield a fault for each change that shows, colour management as one matter; and one note of all that do not.

    ``told`` are keys of changes that other faults speak of.
    """
    whole = int(plan.frames[0]), int(plan.frames[-1])
    known = {*told}
    mine = [change for change in reading.changes if change.kind != "thing" and change.key not in known]
    noise = [change for change in mine if change.kind == NOISE]
    mine = [change for change in mine if change.kind != NOISE]
    visible = [change for change in mine if changes_pixels(change)]
    colours = [change for change in visible if change.kind == "colour"]
    if colours:
        worst = max(colours, key=lambda change: change.shown)
        text = f"Color Management shows the art in other colours: {'; '.join(map(_differs, colours[:MOST_NAMED]))}"
        amount = NAN if worst.shown == NOT_RENDERED else worst.shown
        yield Fault(
            "colour-management", BLOCK, "scene", "", whole, amount, "codes", NAN, f"{text}; {changed_by(worst)}"
        )
    moving = [change for change in visible if change.kind in _SETTINGS and change.here in (KEYED, DRIVEN)]
    if len(moving) > 1:
        yield _moving_together(moving, whole)
    for change in visible:
        if change in moving and len(moving) > 1:
            continue
        if change.kind in _SETTINGS:
            yield _fault("setting-changed", change, whole)
        elif change.kind == "camera":
            yield _fault("camera-changed", change, whole)
        elif change.kind == "remade":
            yield _fault("level-remade", change, whole)
        elif change.kind in ("object", "material-setting"):
            yield _fault("level-changed", change, whole)
    # What a level is made of is told of by itself.
    quiet = [change for change in mine if not changes_pixels(change) and change.kind != "remade"]
    if quiet:
        names = ", ".join(dict.fromkeys(_name(change) for change in quiet[:MOST_NAMED]))
        more = f" and {len(quiet) - MOST_NAMED} more" if len(quiet) > MOST_NAMED else ""
        text = f"the scene is not as it was built, and that changes no pixel: {names}{more}"
        yield Fault("harmless-changes", NOTE, "scene", "", whole, len(quiet), "properties", 0.0, text)
    if noise:
        text = f"renders have another pattern of noise than built, and no more of it: {'; '.join(map(_differs, noise))}"
        yield Fault("harmless-changes", NOTE, "scene", "", whole, len(noise), "properties", 0.0, text)


def _moving_together(moving: list[Change], whole: tuple[int, int]) -> Fault:
    """Return one fault of all settings that keys or drivers change: pictures are taken of them together."""
    worst = max(moving, key=lambda change: change.shown)
    said = ", ".join(together((change.words, f"is {change.here}") for change in moving))
    shows = changed_by(worst).replace("it changes", "together they change", 1).replace("it shows", "they show", 1)
    amount = NAN if worst.shown == NOT_RENDERED else worst.shown
    return Fault("setting-changed", BLOCK, "scene", "", whole, amount, "codes", NAN, f"{said}; {shows}")


def _fault(code: str, change: Change, whole: tuple[int, int]) -> Fault:
    subject = "" if change.subject == "scene" else f"{change.subject}: "
    text = f"{subject}{_differs(change)}; {changed_by(change)}"
    amount = NAN if change.shown == NOT_RENDERED else change.shown
    return Fault(code, BLOCK, change.subject, "", whole, amount, "codes", NAN, text)


def _differs(change: Change) -> str:
    if change.here in (KEYED, DRIVEN):
        return f"{change.words} is {change.here}"
    return f"{change.words} is {change.here}, built {change.built}"


def _name(change: Change) -> str:
    return change.words if change.subject == "scene" else f"{change.subject}: {change.words}"
