# SPDX-License-Identifier: GPL-3.0-or-later
"""Causes: of the faults that a scene has, the one that explains others comes first, and those are not said again."""

import re
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from ...shot.model import CAMERA
from ..proof_facts import BLOCK, Fault
from .fault_words import TOGETHER
from .scene_wide import delay_of, delayed_as_one

# What says what was done comes before what is seen of it.
_FIRST = (
    *("no-camera", "other-camera", "marker-camera", "projection", "sensor-fit", "sensor-size", "time-stretched"),
    *("frame-size", "pixel-aspect", "border", "layer-off"),
    *("missing", "doubled", "unknown-level", "hidden", "clipped", "art-missing", "swapped"),
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
# Seen through another camera, or through one of another kind, pixels of a level tell nothing of the level: what is odd
# about them, what stands before it, and what is cut away.
_ANOTHER_VIEW = {"other-camera", "marker-camera", "projection"}
_OF_VIEW = {
    *("not-seen", "cut-off", "too-coarse", "two-surfaces", "strange-pixels", "not-flat", "pixels-differ"),
    *("in-the-way", "clipped", "off-grid"),
}
# Notes of another camera, until something is wrong with where that is.
_ANOTHER_FILMS = {"other-camera", "marker-camera"}
PLACES = {"height", "east", "north", "turn", "tilt", "width", "art_height", "lens", "field", "shift_x", "shift_y"}


def by_cause(faults: Iterable[Fault]) -> list[Fault]:
    """Return the faults, causes first, without those that a cause among them explains; what blocks before notes."""
    found = _by_delay(_by_curves(_by_pulls(_by_another_camera(list(faults)))))
    wrong = [fault for fault in found if fault.severity == BLOCK]
    hidden = {fault.subject for fault in wrong if fault.code in _HIDES}
    all_hidden = any(fault.code in _OF_ALL for fault in wrong)
    found = _by_another_view(found)
    kept = [fault for fault in found if not (fault.code in _UNSEEN and (all_hidden or fault.subject in hidden))]
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
    """Return the faults with curves that are not as they were built told beside what they do, in one fault.

    Curves by which everything stands where it was planned are no news: people key as Blender does.
    """
    kept = list(faults)
    for curve in [fault for fault in faults if fault.code == "curve-not-linear"]:
        places = [fault for fault in kept if _is_place(fault, curve.subject)]
        # Of keys that are late it is no matter what is between them.
        if places and not delay_of(places[0]):
            told = replace(places[0], message=f"{places[0].message} ({curve.message.partition(': ')[2]})")
            kept = [told if fault is places[0] else fault for fault in kept]
        if places or curve.severity != BLOCK:
            kept = [fault for fault in kept if fault is not curve]
    return kept


def _is_place(fault: Fault, subject: str) -> bool:
    return (
        fault.severity == BLOCK
        and fault.subject == subject
        and fault.axis in PLACES
        and not fault.code.startswith("has-")
    )


def _by_another_camera(faults: list[Fault]) -> list[Fault]:
    """Return the faults with another camera blamed for where it stands and how it is set, where one films."""
    other = next((fault for fault in faults if fault.code in _ANOTHER_FILMS and fault.severity != BLOCK), None)
    of_it = [fault for fault in faults if fault is not other and _is_of_camera(fault)]
    wrong = [fault for fault in of_it if fault.severity == BLOCK]
    if other is None or not wrong:
        return faults
    worst = max(wrong, key=lambda fault: (fault.axis in PLACES, np.nan_to_num(fault.error_px)))
    text = f"{other.message}: {worst.message.removesuffix(TOGETHER)}"
    blamed = replace(other, severity=BLOCK, frames=worst.frames, error_px=worst.error_px, axis="", message=text)
    return [blamed, *(fault for fault in faults if fault is not other and fault not in of_it)]


def _by_another_view(faults: list[Fault]) -> list[Fault]:
    """Return the faults without what pixels show of levels, where it is another camera's view that they show."""
    if not any(fault.severity == BLOCK and fault.code in _ANOTHER_VIEW for fault in faults):
        return faults
    return [fault for fault in faults if fault.code not in _OF_VIEW]


def _by_delay(faults: list[Fault]) -> list[Fault]:
    """Return the faults with levels that are late, or early, by as much as the camera told with it, in one fault."""
    delays = {delay_of(fault) for fault in faults if fault.subject == CAMERA and fault.severity == BLOCK} - {0}
    if len(delays) != 1:
        return faults
    late = [fault for fault in faults if delay_of(fault) in delays]
    if len(late) < 2:
        return faults
    one = delayed_as_one(late)
    return [one, *(fault for fault in faults if fault not in late)]


def _is_of_camera(fault: Fault) -> bool:
    """Return whether a fault, or a note, is of how the camera stands and is set; a marker's camera is another one."""
    return fault.subject == CAMERA and fault.code not in _ANOTHER_FILMS


def _rank(fault: Fault) -> int:
    if fault.code.startswith("has-"):
        return len(_FIRST)
    return _FIRST.index(fault.code) if fault.code in _FIRST else len(_FIRST) + 1
