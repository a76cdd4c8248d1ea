# SPDX-License-Identifier: GPL-3.0-or-later
"""Resting: once nothing has been touched for a moment, the stack is read as Save reads it, and the panels say that."""

import time
from typing import Any

import bpy

from ..shot import UnderglassError
from . import live_stack, save_scene
from .redraw import redraw_viewports

# So long nothing is touched before the stack is read through, and so often is looked whether it is time, s.
RESTS_S = 0.4
LOOK_EVERY_S = 0.2
# What reading sets off in Blender by itself is no edit; it is over by then, s.
_ECHO_S = 0.1

_touched = 0.0
_read_at = 0.0
_is_reading = False


def touched() -> bool:
    """Take note that something was touched; returns whether somebody did, and not the reading itself."""
    global _touched
    if _is_reading or time.monotonic() - _read_at < _ECHO_S:
        return False
    _touched = time.monotonic()
    return True


def look() -> float:
    """Read what is not known well, if the artist rests; returns when to look again."""
    if time.monotonic() - _touched < RESTS_S or any(w.screen.is_animation_playing for w in _windows()):
        return LOOK_EVERY_S
    for scene in {window.scene for window in _windows()}:
        if not live_stack.is_settled(scene) and not live_stack.is_by_hand(scene):
            settle(scene)
            redraw_viewports()
    return LOOK_EVERY_S


def _windows() -> list[Any]:
    manager = bpy.context.window_manager
    return list(manager.windows) if manager is not None else []


def settle(scene: Any) -> live_stack.Live | None:
    """Return the stack of ``scene`` as Save would write it, or why it would not; the panels say so from now on."""
    global _is_reading, _read_at
    now = live_stack.live(scene)
    if now is None:
        return None
    _is_reading = True
    try:
        # edits that Blender has not looked at yet would be told as they were
        live_stack.shown_layer(scene).update()
        settled = _settled(scene, now)
    finally:
        _is_reading, _read_at = False, time.monotonic()
    live_stack.settle(scene, settled)
    return settled


def _settled(scene: Any, now: live_stack.Live) -> live_stack.Live:
    try:
        found = save_scene.intended(scene)
    except save_scene.RefusedError as error:
        unsaved, offers = now.unsaved or ("what Save refuses",), tuple(error.offers)
        said = {"unsaved": unsaved, "trouble": str(error), "offers": offers, "whole": error.whole}
        return live_stack.seen(scene, now.plan, **said, settled=True)
    except (UnderglassError, OSError) as error:
        return live_stack.seen(scene, now.plan, unsaved=now.unsaved, trouble=str(error), settled=True)
    said = {"remarks": found.remarks, "offers": found.offers, "whole": found.whole}
    return live_stack.seen(scene, found.plan, unsaved=found.changed, **said, settled=True)


def attach() -> None:
    """Begin to look."""
    bpy.app.timers.register(look, first_interval=LOOK_EVERY_S, persistent=True)


def detach() -> None:
    """Look no longer."""
    if bpy.app.timers.is_registered(look):
        bpy.app.timers.unregister(look)
