"""Causes: of the faults that a scene has, the one that explains others comes first, and those are not said again."""

from collections.abc import Iterable
from dataclasses import replace

from ..shot.model import CAMERA
from .facts import STOP, Fault

# What says what was done comes before what is seen of it.
_FIRST = (
    *("no-camera", "other-camera", "marker-camera", "projection", "sensor-fit", "sensor-size", "time-stretched"),
    *("missing", "doubled", "unknown-level", "layer-off", "hidden", "art-missing", "swapped", "corner-moved"),
    *("script-not-run", "colour-management", "setting-changed", "level-changed", "art-differs"),
)
# What is seen of a level that is not rendered, or whose camera is to blame.
_UNSEEN = {"not-seen", "cut-off", "clipped", "too-coarse"}
_HIDES = {"hidden", "missing", "art-missing"}
_OF_ALL = {"layer-off", "no-camera"}
_PLACES = {"height", "east", "north", "turn", "tilt", "lens", "field", "shift_x", "shift_y"}


def by_cause(faults: Iterable[Fault]) -> list[Fault]:
    """Return the faults, causes first, without those that a cause among them explains; stops before notes."""
    found = _by_another_camera(list(faults))
    stops = [fault for fault in found if fault.severity == STOP]
    hidden = {fault.subject for fault in stops if fault.code in _HIDES}
    all_hidden = any(fault.code in _OF_ALL for fault in stops)
    kept = [
        fault
        for fault in found
        if not (fault.severity == STOP and fault.code in _UNSEEN and (all_hidden or fault.subject in hidden))
    ]
    return sorted(kept, key=lambda fault: (fault.severity != STOP, _rank(fault)))


def _by_another_camera(faults: list[Fault]) -> list[Fault]:
    """Return the faults with another camera blamed for where it stands and how it is set, where one films."""
    other = next((fault for fault in faults if fault.code == "other-camera"), None)
    of_it = [fault for fault in faults if _is_of_camera(fault)]
    if other is None or not of_it:
        return faults
    worst = max(of_it, key=lambda fault: fault.error_px)
    text = f"{other.message}: {worst.message}"
    blamed = replace(other, severity=STOP, frames=worst.frames, error_px=worst.error_px, axis="", message=text)
    return [blamed, *(fault for fault in faults if fault is not other and not _is_of_camera(fault))]


def _is_of_camera(fault: Fault) -> bool:
    return fault.severity == STOP and fault.subject == CAMERA and fault.axis in _PLACES


def _rank(fault: Fault) -> int:
    if fault.code.startswith("has-"):
        return len(_FIRST)
    return _FIRST.index(fault.code) if fault.code in _FIRST else len(_FIRST) + 1
