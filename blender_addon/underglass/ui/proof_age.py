# SPDX-License-Identifier: GPL-3.0-or-later
"""The age of a proof: what it was made of, and whether the stack is still that.

A proof compares the scene with the files of its shot; both may go on while it runs, and after.
"""

from dataclasses import dataclass
from typing import Any

from ..plan import Plan
from ..shot.files.stamp import stamp
from ..shot.words import first_of
from . import live_stack

_FEW = 3
# Says of a level that it was renamed.
_CALLED = " is called "


@dataclass(frozen=True)
class Proved:
    """What a proof was made of: the stack's plan, what of it was not saved then, and the state of the shot's files."""

    plan: Plan
    unsaved: tuple[str, ...]
    files: str


def proved_now(scene: Any) -> Proved | None:
    """Return what a proof that begins now is made of; None where there is no stack to speak of."""
    now, path = live_stack.live(scene), live_stack.shot_path(scene)
    return None if now is None or path is None else Proved(now.plan, now.unsaved, stamp(path))


def notes(scene: Any, proved: Proved | None, *, files: str = "") -> tuple[str, ...]:
    """Return what there is to say of a proof of ``scene`` that was made of ``proved``; nothing of one that holds.

    ``files`` is the present state of the shot's files, where that is known: a panel that is drawn looks at none.
    """
    now, path = live_stack.live(scene), live_stack.shot_path(scene)
    if proved is None or now is None or path is None:
        return ()
    found = []
    changed = live_stack.apart(now.plan, proved.plan)
    if changed:
        names = [one for one in changed if _CALLED in one]
        others = [one for one in changed if one not in names]
        said = [*names[:_FEW], *([f"{first_of(others, _FEW)} changed since"] if others else [])]
        found.append(f"Out of date: {', '.join(said)}")
    elif now.trouble:
        found.append("Out of date: the stack has changed, and cannot be saved")
    elif proved.files != (files or stamp(path)):
        found.append("Out of date: the shot's files changed since")
    if proved.unsaved:
        found.append(f"Of edits that were not saved: {first_of(proved.unsaved, _FEW)}")
    return tuple(found)
