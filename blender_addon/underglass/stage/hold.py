"""Holding a level's apparent size: the counter-move is keyed on its height, and keyed anew when the camera's changes.

Which levels are held, and at what magnification, is written on their objects.
"""

from dataclasses import replace
from typing import Any

import numpy as np

from ..plan import holding, make_plan
from ..plan.model import Floats, Plan
from ..shot.errors import Place, ShotError
from . import bake, marks

HELD = "underglass_held"
# Ten times what single precision tells apart at a metre: less is no change of the camera.
SAME = 1e-6


def is_held(glass: Any) -> bool:
    """Return whether the apparent size of a level's object is held."""
    return HELD in glass


def hold(glass: Any, plan: Plan, level: str) -> None:
    """Hold the size that ``level`` has on the first frame, and key its height for it on every frame.

    Raises ShotError, and changes nothing, where levels would meet or one would stand beneath the bed.
    """
    held = holding.magnification(plan, level, row=0)
    heights = holding.held_height(plan, level, magnification=held)
    _require_room(plan, level, heights)
    glass[HELD] = held
    _key(glass, plan, heights)


def _require_room(plan: Plan, level: str, heights: Floats) -> None:
    """Raise ShotError unless there is a plan with ``level`` at ``heights`` (F,) m."""
    column = plan.names.index(level)
    below = np.flatnonzero(heights < -SAME)
    if len(below):
        raise ShotError(
            Place(plan.shot.folder, 0, level),
            f"would stand beneath the bed on frame {plan.frames[below[0]]} to hold its size",
            "begin it higher, or truck less far",
        )
    tracks = {axis: track.copy() for axis, track in plan.tracks.levels.items()}
    tracks["height"][:, column] = heights
    try:
        make_plan(plan.shot, tracks=replace(plan.tracks, levels=tracks))
    except ShotError as error:
        raise ShotError(
            error.place, f"cannot hold its size: {error.problem}", "move the levels apart first, or truck less far"
        ) from error


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
                try:
                    _require_room(plan, level, wanted)
                except ShotError:
                    continue  # it stays where it is; that its size is held no more is found and said
                _key(glass, plan, wanted)
                moved.append(level)
    return moved


def _key(glass: Any, plan: Plan, heights: Floats) -> None:
    bake.rebake(glass, "location", 2, plan.frames, np.maximum(heights, 0.0), group="place")
