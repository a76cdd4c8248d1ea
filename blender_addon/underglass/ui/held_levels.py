# SPDX-License-Identifier: GPL-3.0-or-later
"""Held levels follow the camera and the lens; where they cannot, the sign goes out and the message says so."""

from typing import Any

from ..plan import Plan
from ..stage import hold_size
from . import live_stack
from .touched_words import said_of_the_scene

# Focus may follow a level that is held itself: its distance, the lens and the others then settle in turns.
TURNS = 4


def follow(scene: Any) -> None:
    """Key held levels anew for the camera and the lens as they are now.

    What the hand holds and has not keyed is gone with the next frame: nothing follows it.
    """
    for _ in range(TURNS):
        if not hold_size.held_levels(scene):
            break
        now = live_stack.live(scene)
        if now is None or now.trouble or live_stack.is_by_hand(scene) or not followed(scene, now.plan):
            break


def followed(scene: Any, plan: Plan) -> bool:
    """Key held levels anew where ``plan`` asks for it, or let them go where there is no room; return whether any was.

    It is said which are let go.
    """
    moved, lost = hold_size.follow(scene, plan)
    if moved or lost:
        live_stack.refresh(scene)
    if lost:
        said = "; ".join(f"it no longer holds its size: {said_of_the_scene(error)}" for error in lost)
        scene.underglass.message, scene.underglass.is_error = said, True
    return bool(moved or lost)
