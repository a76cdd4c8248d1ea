"""Held levels follow the camera and the lens; where they cannot, the sign goes out and the message says so."""

from typing import Any

from ..shot import UnderglassError
from ..stage import hold
from . import live
from .touched import said_of_the_scene

# Focus may follow a level that is held itself: its distance, the lens and the others then settle in turns.
_TURNS = 4


def follow(scene: Any, *, afresh: bool = False) -> None:
    """Key held levels anew for the camera and the lens as they are now; ``afresh`` as for `hold.follow`.

    What the hand holds and has not keyed is gone with the next frame: nothing follows it.
    """
    said: list[str] = []
    for turn in range(_TURNS):
        if not hold.held_levels(scene):
            break
        now = live.live(scene)
        if now is None or now.trouble or live.is_by_hand(scene):
            break
        moved, lost = hold.follow(scene, now.plan, afresh=afresh and not turn)
        said += [_said(error) for error in lost]
        if not (moved or lost):
            break
        live.refresh(scene)
    if said:
        scene.underglass.message, scene.underglass.is_error = "; ".join(said), True


def _said(error: UnderglassError) -> str:
    return f"it no longer holds its size: {said_of_the_scene(error)}"
