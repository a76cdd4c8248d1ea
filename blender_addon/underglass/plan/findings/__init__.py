"""Findings of a plan before anything is shot, each with its frames, its number and its limit."""

from ..model import Plan
from .model import NOTE, SEVERITIES, STOP, WARN, Finding
from .off_art import find_off_art
from .sight import look
from .strobing import find_strobing

__all__ = ["NOTE", "SEVERITIES", "STOP", "WARN", "Finding", "find"]

_SUBJECTS = (find_off_art, find_strobing)


def find(plan: Plan) -> tuple[Finding, ...]:
    """Return what is wrong or worth a look in ``plan``: stops first, then by level from the lens down, then by frame.

    The camera and the shot as a whole come before the levels. A level has one finding of a code, its worst.
    """
    sight = look(plan)
    found = [finding for subject in _SUBJECTS for finding in subject(plan, sight)]
    order = {name: column for column, name in enumerate(plan.names)}
    return tuple(sorted(found, key=lambda f: (SEVERITIES.index(f.severity), order.get(f.level, -1), f.frames, f.code)))
