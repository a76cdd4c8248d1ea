# SPDX-License-Identifier: GPL-3.0-or-later
"""Random shots that can be planned for certain: `shots()` also draws such as a stand may have to refuse.

A height that goes by ratio is counted from another height. Where that one moves too, the first may have to wait for the
second and the second for the first, or be carried out of the room that was kept for it.
"""

from hypothesis import strategies as st

from shot_strategies import shots
from underglass.plan import make_plan
from underglass.shot import CAMERA, FrameTable, Law, Shot, ShotError


def plannable_shots(**options: object) -> st.SearchStrategy[Shot]:
    """Draw shots as `shots` does, but let no height go by ratio from a height that moves."""
    return shots(**options).filter(has_a_plan)


def has_a_plan(shot: Shot) -> bool:
    if isinstance(shot.schedule, FrameTable):
        return True
    heights = [move for move in shot.schedule if move.axis == "height"]
    moving = {move.part for move in heights}
    ratios = [move for move in heights if move.law is Law.RATIO]
    if any((move.about if move.part == CAMERA else CAMERA) in moving for move in ratios):
        return False
    # An ease of Blender's may go beyond its ends by a little, into a level that stands close.
    return all(move.law is not Law.BEZIER for move in heights) or _is_planned(shot)


def _is_planned(shot: Shot) -> bool:
    try:
        make_plan(shot)
    except ShotError:
        return False
    return True
