"""Holding a level's apparent size: the counter-move is keyed on its height, and keyed anew when the camera's changes.

Which levels are held, and at what magnification, is written on their objects.
"""

from typing import Any

import numpy as np

from ..plan import holding
from ..plan.model import Floats, Plan
from . import bake, marks

HELD = "underglass_held"
# Ten times what single precision tells apart at a metre: less is no change of the camera.
SAME = 1e-6


def is_held(glass: Any) -> bool:
    """Return whether the apparent size of a level's object is held."""
    return HELD in glass


def hold(glass: Any, plan: Plan, level: str, *, row: int) -> None:
    """Hold the size that ``level`` has on the frame of ``row``, and key its height for it on every frame."""
    glass[HELD] = holding.magnification(plan, level, row=row)
    _key(glass, plan, holding.held_height(plan, level, magnification=glass[HELD]))


def let_go(glass: Any) -> None:
    """Hold the level's size no longer; its keys stay as they are."""
    del glass[HELD]


def follow(scene: Any, plan: Plan) -> list[str]:
    """Key every held level of ``scene`` anew where the camera of ``plan`` asks for another height; return which."""
    moved = []
    for level, glass in marks.levels(scene):
        if is_held(glass) and level in plan.names:
            wanted = holding.held_height(plan, level, magnification=glass[HELD])
            if np.abs(wanted - plan.tracks.levels["height"][:, plan.names.index(level)]).max() > SAME:
                _key(glass, plan, wanted)
                moved.append(level)
    return moved


def _key(glass: Any, plan: Plan, heights: Floats) -> None:
    bake.rebake(glass, "location", 2, plan.frames, heights, group="place")
