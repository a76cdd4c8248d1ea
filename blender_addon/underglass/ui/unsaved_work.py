# SPDX-License-Identifier: GPL-3.0-or-later
"""Unsaved work: what would be lost if a scene's stack were replaced now."""

from typing import Any

from ..shot import UnderglassError
from ..shot.words import first_of
from ..stage import stack_marks
from . import live_stack, read_at_rest

_FEW = 4


def words(scene: Any) -> str:
    """Return what of the stack in ``scene`` is not in its files, in a few words; empty where nothing is."""
    if not scene.underglass.shot_file or not stack_marks.levels(scene):
        return ""
    now = read_at_rest.settle(scene)
    if now is None:
        return "what its files no longer say"
    return first_of(now.unsaved, _FEW)


def may_lose(scene: Any) -> bool:
    """Return whether ``scene`` has work that its panels say is not saved; nothing is read for it."""
    now = live_stack.live(scene) if scene.underglass.shot_file and stack_marks.levels(scene) else None
    return now is not None and bool(now.unsaved or now.trouble)


def require_none(scene: Any) -> None:
    """Raise UnderglassError where work in ``scene`` is not saved; it says what there is to do."""
    lost = words(scene)
    if lost:
        raise UnderglassError(
            f"the stack in this scene has work that is not saved: {lost};"
            " save it first, open the other in a new scene, or tick Drop Unsaved Work"
        )
