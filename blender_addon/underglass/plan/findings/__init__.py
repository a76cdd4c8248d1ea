# SPDX-License-Identifier: GPL-3.0-or-later
"""Findings of a plan before anything is shot, each with its frames, its number and its limit."""

from collections.abc import Iterable
from dataclasses import replace

from ..plan_arrays import Plan
from .art_resolution import find_resolution
from .changing_light import find_light
from .counter_steps import find_counter
from .finding import BLOCK, CODES, NOTE, SEVERITIES, WARN, Finding
from .held_cels import find_cels
from .machine_limits import find_limits
from .off_art import find_off_art
from .out_of_frame import find_out_of_frame
from .seen_art import Sight, look
from .smoothness import find_smoothness
from .soft_focus import find_focus
from .strobing import find_strobing
from .unmet_expectations import find_wishes

__all__ = ["BLOCK", "CODES", "NOTE", "SEVERITIES", "WARN", "Finding", "find"]

_SUBJECTS = (
    *(find_off_art, find_out_of_frame, find_limits, find_strobing, find_focus, find_resolution),
    *(find_smoothness, find_counter, find_wishes, find_light, find_cels),
)


def find(plan: Plan, *, sight: Sight | None = None) -> tuple[Finding, ...]:
    """Return what is wrong or worth a look in ``plan``: what blocks first, then by level from the lens, then by frame.

    The camera and the shot as a whole come before the levels. A level has one finding of a code, its worst; but every
    expectation that is not met is told. What the shot's `[findings]` say of a code is its severity. ``sight`` is what
    `look` gives, where it is at hand.
    """
    sight = look(plan) if sight is None else sight
    found = _ruled(plan, (finding for subject in _SUBJECTS for finding in subject(plan, sight)))
    order = {name: column for column, name in enumerate(plan.names)}
    return tuple(sorted(found, key=lambda f: (SEVERITIES.index(f.severity), order.get(f.level, -1), f.frames, f.code)))


def _ruled(plan: Plan, found: Iterable[Finding]) -> Iterable[Finding]:
    """Yield findings with the severity that the shot gives their codes, and its reason."""
    rulings = {ruling.code: ruling for ruling in plan.shot.rulings}
    for finding in found:
        ruling = rulings.get(finding.code)
        if ruling is None:
            yield finding
        else:
            message = f"{finding.message} (the shot file makes this a {ruling.severity}: {ruling.reason})"
            yield replace(finding, severity=ruling.severity, message=message)
