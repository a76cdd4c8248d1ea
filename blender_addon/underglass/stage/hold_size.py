# SPDX-License-Identifier: GPL-3.0-or-later
"""Holding a level's apparent size: the counter-move is keyed on its height, and keyed anew when the camera's changes.

Which levels are held is written on their objects, with the frame on which the size was taken and how far from the lens
the level stood there. A lens that reaches out otherwise by now shows it there in another size, and does not move it.
"""

from dataclasses import replace
from typing import Any

import numpy as np

from ..plan import held_size, make_plan
from ..plan.plan_arrays import Floats, Plan
from ..shot.errors import Place, ShotError
from . import bake_keys, stack_marks

# On an object: the distance, m, the frame, and the magnification that both made.
HELD = "underglass_held"
Mark = tuple[float, float, float]
# Ten times what single precision tells apart at a metre: less is no change of the camera.
SAME = 1e-6
# The size of a level holds where it changes by less than this share: a field of 10,000 px would show a tenth of a px.
HOLDS = 1e-5


def is_held(glass: Any) -> bool:
    """Return whether the apparent size of a level's object is held."""
    return HELD in glass


def hold(glass: Any, plan: Plan, level: str) -> None:
    """Hold the size that ``level`` has on the first frame, and key its height for it on every frame.

    Raises ShotError, and changes nothing, where levels would meet or one would stand beneath the bed.
    """
    distance = float(plan.distance[0, plan.names.index(level)])
    mark = _renewed((distance, float(plan.frames[0]), 0.0), plan, level)
    heights = held_size.held_height(plan, level, magnification=mark[2])
    _require_room(plan, level, heights)
    glass[HELD] = mark
    _key(glass, plan, heights)


def mark_of(glass: Any) -> Mark | None:
    """Return what is held of the size of a level's object, None where nothing is."""
    if HELD not in glass:
        return None
    distance, frame, held = glass[HELD]
    return float(distance), float(frame), float(held)


def shift(glass: Any, frames: int) -> None:
    """Have the size be held that a level has so many ``frames`` later."""
    mark = mark_of(glass)
    if mark is not None:
        glass[HELD] = (mark[0], mark[1] + frames, mark[2])


def _renewed(mark: Mark, plan: Plan, level: str) -> Mark:
    """Return ``mark`` with the magnification that ``plan`` has there; as it was where it lacks that frame."""
    distance, frame, _ = mark
    row = int(frame) - int(plan.frames[0])
    if not 0 <= row < len(plan.frames):
        return mark
    return distance, frame, held_size.magnification_at(plan, level, distance=distance, row=row)


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


def follow(scene: Any, plan: Plan) -> tuple[list[str], list[ShotError]]:
    """Key every held level of ``scene`` anew where the camera of ``plan`` asks for another height.

    Returns which levels were keyed, and why others are held no longer: there is no room for their moves.
    """
    moved, lost = [], []
    for level, glass in stack_marks.levels(scene):
        mark = mark_of(glass)
        if mark is None or level not in plan.names:
            continue
        renewed = _renewed(mark, plan, level)
        if abs(renewed[2] - mark[2]) > SAME * mark[2]:
            glass[HELD] = renewed
        wanted = held_size.held_height(plan, level, magnification=renewed[2])
        if np.abs(wanted - plan.tracks.levels["height"][:, plan.names.index(level)]).max() <= SAME:
            continue
        try:
            _require_room(plan, level, wanted)
        except ShotError as error:
            let_go(glass)
            lost.append(error)
        else:
            _key(glass, plan, wanted)
            moved.append(level)
    return moved, lost


def held_levels(scene: Any) -> list[str]:
    """Return the levels of ``scene`` whose apparent size is held."""
    return [level for level, glass in stack_marks.levels(scene) if is_held(glass)]


def holding_size(plan: Plan) -> list[str]:
    """Return the levels that move in ``plan`` so that they keep their size to the last digit: as held ones do."""
    found = []
    for column, level in enumerate(plan.names):
        heights = plan.tracks.levels["height"][:, column]
        held = held_size.held_height(plan, level, magnification=held_size.magnification(plan, level, row=0))
        if np.ptp(heights) > SAME and np.abs(held - heights).max() <= SAME:
            found.append(level)
    return found


def hold_again(scene: Any, plan: Plan, levels: list[str]) -> list[str]:
    """Mark those of ``levels`` as held whose size holds in ``plan``, which ``scene`` has; return the others."""
    things = dict(stack_marks.levels(scene))
    lost = []
    for level in levels:
        if level in things and level in plan.names:
            sizes = plan.image_distance / plan.distance[:, plan.names.index(level)]
            if np.ptp(sizes) <= HOLDS * sizes[0]:
                distance = float(plan.distance[0, plan.names.index(level)])
                things[level][HELD] = (distance, float(plan.frames[0]), float(sizes[0]))
                continue
        lost.append(level)
    return lost


def _key(glass: Any, plan: Plan, heights: Floats) -> None:
    bake_keys.rebake(glass, "location", 2, plan.frames, np.maximum(heights, 0.0), group="place")
