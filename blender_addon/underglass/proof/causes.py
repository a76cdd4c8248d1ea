"""Causes: of the faults that a scene has, the one that explains others comes first, and those are not said again."""

import math
import re
from collections.abc import Iterable
from dataclasses import replace

from ..shot.model import CAMERA
from .facts import BLOCK, Fault

# What says what was done comes before what is seen of it.
_FIRST = (
    *("no-camera", "other-camera", "marker-camera", "projection", "sensor-fit", "sensor-size", "time-stretched"),
    *("missing", "doubled", "unknown-level", "layer-off", "hidden", "clipped", "art-missing", "swapped"),
    *("corner-moved",),
    *("script-not-run", "colour-management", "setting-changed", "level-changed", "art-differs"),
)
# What is made otherwise than it was built shows in more than its place, and can hide what lies behind it.
_MAKES = {"has-modifier", "has-mesh", "has-uv"}
_OF_MAKING = {
    *("level-remade", "not-seen", "out-of-place", "corner-moved", "cut-off", "mirrored", "art-missing"),
    *("two-surfaces", "strange-pixels", "not-flat", "pixels-differ", "too-coarse"),
}
_OF_PULLING = {"not-seen", "out-of-place", "mirrored"}
_BEHIND = {"not-seen", "cut-off"}
# What is seen of a level whose cause is told: it is not rendered, it is there twice, or the camera is to blame.
_UNSEEN = {"not-seen", "cut-off", "too-coarse", "two-surfaces", "renamed"}
_HIDES = {"hidden", "missing", "art-missing", "clipped", "doubled"}
_OF_ALL = {"layer-off", "no-camera"}
# Notes of another camera, until something is wrong with where that is.
_ANOTHER_FILMS = {"other-camera", "marker-camera"}
_FOCUS = {"no-depth-of-field", "focus", "f-stop"}
# What is odd in the pixels of a camera that sees otherwise than a lens does.
_OF_PROJECTION = {"not-seen", "cut-off", "too-coarse", "not-flat", "off-grid", "pixels-differ", "strange-pixels"}
_PLACES = {"height", "east", "north", "turn", "tilt", "width", "art_height", "lens", "field", "shift_x", "shift_y"}


def by_cause(faults: Iterable[Fault]) -> list[Fault]:
    """Return the faults, causes first, without those that a cause among them explains; what blocks before notes."""
    found = _by_curves(_by_pulls(_by_another_camera(list(faults))))
    wrong = [fault for fault in found if fault.severity == BLOCK]
    hidden = {fault.subject for fault in wrong if fault.code in _HIDES}
    all_hidden = any(fault.code in _OF_ALL for fault in wrong)
    kept = [fault for fault in found if not (fault.code in _UNSEEN and (all_hidden or fault.subject in hidden))]
    if any(fault.code == "projection" for fault in wrong):
        kept = [fault for fault in kept if fault.code not in _OF_PROJECTION and not _is_behind(fault)]
    return sorted(kept, key=lambda fault: (fault.severity != BLOCK, _rank(fault)))


def _by_pulls(faults: list[Fault]) -> list[Fault]:
    """Return the faults with a parent, constraint, driver or modifier blamed for where its level is, in one fault.

    A modifier or an odd mesh is blamed for all that is odd about its level, and for what that hides.
    """
    kept = list(faults)
    # What pulls the camera is a note until something is wrong with where that is.
    for pull in [fault for fault in faults if fault.code.startswith("has-") and (_counts(fault) or _makes(fault))]:
        if pull not in kept:
            continue
        of_it = [fault for fault in kept if _is_place(fault, pull.subject) or _is_done_by(fault, pull)]
        if not of_it:
            continue
        worst = next((fault for fault in of_it if fault.code == "level-remade"), of_it[0])
        said = re.split(", and it is up to|, without moving it", pull.message)[0]
        does = worst.message if worst.code != "level-remade" else worst.message.rpartition("; ")[2]
        blamed = replace(
            pull,
            severity=BLOCK,
            error_px=worst.error_px,
            axis=worst.axis,
            frames=worst.frames,
            amount=worst.amount,
            unit=worst.unit,
            message=f"{said}: {does}",
        )
        kept = [blamed if fault is pull else fault for fault in kept if fault not in of_it]
        if _makes(pull):
            kept = [fault for fault in kept if not _is_behind(fault)]
    # What is seen of it says more.
    seen = {"art-differs", *_OF_MAKING} - {"level-remade"}
    said = {fault.subject for fault in kept if fault.code in seen and fault.severity == BLOCK}
    return [fault for fault in kept if not (fault.code == "level-remade" and fault.subject in said)]


def _makes(pull: Fault) -> bool:
    return pull.code in _MAKES


def _is_done_by(fault: Fault, pull: Fault) -> bool:
    """Return whether a fault is what a pull does beside moving its level."""
    does = _OF_MAKING if _makes(pull) else _OF_PULLING
    if pull.code == "has-mesh":
        # The one of another level brings its art.
        does = does | {"art-differs"}
    return fault.severity == BLOCK and fault.subject == pull.subject and fault.code in does


def _is_behind(fault: Fault) -> bool:
    """Return whether a fault is of what something hides, or of something that has no name."""
    hides = fault.code == "in-the-way" and fault.unit != "codes"
    return fault.severity == BLOCK and (hides or fault.code in _BEHIND)


def _counts(pull: Fault) -> bool:
    return pull.severity == BLOCK or pull.subject == CAMERA


def _by_curves(faults: list[Fault]) -> list[Fault]:
    """Return the faults with curves that are not as they were built told beside what they do, in one fault."""
    kept = list(faults)
    for curve in [fault for fault in faults if fault.code == "curve-not-linear" and fault.severity == BLOCK]:
        places = [fault for fault in kept if _is_place(fault, curve.subject)]
        if places:
            told = replace(places[0], message=f"{places[0].message} ({curve.message.partition(': ')[2]})")
            kept = [told if fault is places[0] else fault for fault in kept if fault is not curve]
    return kept


def _is_place(fault: Fault, subject: str) -> bool:
    return (
        fault.severity == BLOCK
        and fault.subject == subject
        and fault.axis in _PLACES
        and not fault.code.startswith("has-")
    )


def _by_another_camera(faults: list[Fault]) -> list[Fault]:
    """Return the faults with another camera blamed for where it stands and how it is set, where one films."""
    other = next((fault for fault in faults if fault.code in _ANOTHER_FILMS and fault.severity != BLOCK), None)
    of_it = [fault for fault in faults if _is_of_camera(fault)]
    if other is None or not of_it:
        return faults
    worst = max(of_it, key=lambda fault: (not math.isnan(fault.error_px), fault.error_px))
    text = f"{other.message}: {worst.message}"
    blamed = replace(other, severity=BLOCK, frames=worst.frames, error_px=worst.error_px, axis="", message=text)
    return [blamed, *(fault for fault in faults if fault is not other and not _is_of_camera(fault))]


def _is_of_camera(fault: Fault) -> bool:
    is_set = fault.axis in _PLACES or fault.code in _FOCUS
    return fault.severity == BLOCK and fault.subject == CAMERA and is_set


def _rank(fault: Fault) -> int:
    if fault.code.startswith("has-"):
        return len(_FIRST)
    return _FIRST.index(fault.code) if fault.code in _FIRST else len(_FIRST) + 1
