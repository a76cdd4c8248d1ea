# SPDX-License-Identifier: GPL-3.0-or-later
"""Planning: from a brief to its answer, the lens chosen among those listed; or to the limits that clash."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from underglass.plan import make_plan
from underglass.plan.expectations_held import axis_drift
from underglass.plan.held_size import as_the_lens_extends
from underglass.shot import Shot

from ..brief.brief import Brief
from ..guide.size_to_paint import sized
from .answer import Answer, Clash, Prefer, Stack
from .clashing_limits import clashing, compromise
from .moves_of_stack import shot_of
from .planned_expectations import expectations_of
from .solve_stack import solve_stack
from .walk_frames import World, travel_of, world_of

Floats = NDArray[np.float64]

# Lenses whose travel differs by less than this part are as good as each other: the longest is taken.
_AS_GOOD = 1e-9


def plan_brief(brief: Brief, *, prefer: Prefer = Prefer.MOVERS) -> Answer | Clash:
    """Return the best plan of a brief, or the clash that leaves none.

    Each lens is solved for by itself. The best has the fewest levels that move and then the least travel (the other
    way round where that is preferred); of equals the longest lens, which takes in the least and so asks for the least
    paint. Raises ShotError where the walk passes a level or the focus never settles.
    """
    world = world_of(brief)
    best: Stack | None = None
    for focal in sorted(brief.lenses, reverse=True):
        stack = solve_stack(brief, world, focal=focal, prefer=prefer)
        if stack is not None and (best is None or _is_better(stack, best, world, prefer)):
            best = stack
    if best is not None:
        return answer_of(brief, world, best, prefer=prefer)
    # The shortest lens takes in the most, and so asks the least of the stand.
    focal = min(brief.lenses)
    least, ways = clashing(brief, world, focal=focal)
    nearest = compromise(brief, world, focal=focal)
    answer = None if nearest is None else answer_of(brief, world, nearest, prefer=prefer)
    return Clash(brief, least, ways, answer)


def _is_better(stack: Stack, other: Stack, world: World, prefer: Prefer) -> bool:
    mine, others = merits(stack, world), merits(other, world)
    if prefer is Prefer.TRAVEL:
        mine, others = mine[::-1], others[::-1]
    for value, least in zip(mine, others, strict=True):
        if abs(value - least) > _AS_GOOD * max(1.0, abs(least)):
            return value < least
    return False


def merits(stack: Stack, world: World) -> tuple[float, float]:
    """Return how many levels move, and how far all of them travel with the walk (m); what goes by itself is not its."""
    along = world.toward
    travel = 0.0
    for distance, gain in zip(stack.distance, stack.gain, strict=True):
        up = -stack.scale * along - as_the_lens_extends(distance - gain * along, extension=stack.extension)
        travel += travel_of(up) + abs(stack.scale - gain) * travel_of(world.across)
    return float(np.count_nonzero(~stack.rests)), travel


def answer_of(brief: Brief, world: World, stack: Stack, *, prefer: Prefer) -> Answer:
    """Return the answer that a stack is: its shot, art sized and expectations said, and how near it is to the world."""
    shot = sized(shot_of(brief, world, stack), brief=brief)
    expectations = expectations_of(brief, world, stack, shot)
    shot = replace(shot, expectations=(*brief.draft.expectations, *expectations))
    return Answer(brief, world, stack, shot, prefer, world_error_px(shot, world))


def world_error_px(shot: Shot, world: World) -> Floats:
    """Return how far each level gets from where the world has it, (L,) px, read from the plan of the shot.

    The points looked at are those that begin in the corners of the frame, and the one that begins on the axis. A
    level on twos is late by a frame on purpose: only the frames on which it moves count.
    """
    plan = make_plan(shot)
    camera = shot.camera
    assert camera.gate is not None
    grown = plan.size_px / plan.size_px[0]
    lens = camera.frame_px[0] * float(plan.image_distance[0]) / (camera.gate.width * camera.squeeze)
    cos, sin = np.cos(camera.turn), np.sin(camera.turn)
    wanted = lens * world.drift[..., None] * np.array([cos, -sin * camera.squeeze])
    found = np.stack([axis_drift(plan, name, rows=slice(None)) for name in shot.names], axis=1)
    corners = np.array([(0.0, 0.0), (1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)]) * camera.frame_px / 2.0
    off = (grown - world.growth)[:, :, None, None] * corners + (found - wanted)[:, :, None, :]
    late = np.arange(len(world.frames))[:, None] % np.array([level.on for level in shot.levels]) != 0
    return np.asarray(np.where(late, 0.0, np.linalg.norm(off, axis=-1).max(axis=-1)).max(axis=0))
