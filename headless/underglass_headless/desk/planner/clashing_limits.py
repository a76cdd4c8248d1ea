# SPDX-License-Identifier: GPL-3.0-or-later
"""Where nothing fits: which limits clash and by how much, and the best stack inside them with what it costs.

Elastic programmes: a limit may be exceeded, and what is least is by how much.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from underglass.shot.quantity import MOST_METRES

from ..brief.brief import Brief
from .answer import Solved, Stack, Way
from .linear_programme import Optimum, Programme, optimise
from .programme_rows import bounds_of, comforts, gain_rows, layout_of, programme_for, vector
from .programme_setting import setting_for, turning_frames
from .stand_limits import SCALE, Limit, Setting, make_limits
from .walk_frames import World

Floats = NDArray[np.float64]

# A limit that gives by less than this (metres) does not give.
_LEAST = 1e-8
# The weights of the compromise depend on the answer; so often they are set anew.
_ROUNDS = 12
_FOLLOWS = 40


def clashing(brief: Brief, world: World, *, focal: float) -> tuple[tuple[Way, ...], tuple[Way, ...]]:
    """Return the limits that have to give least in all, and every limit that clashes with what it alone must give."""
    setting = setting_for(brief, world, focal=focal, followed=_guess(brief, world, focal))
    limits = make_limits(setting)
    keys = list(dict.fromkeys(limit.key for limit in limits))
    found = _elastic(setting, limits, keys)
    assert found is not None, "limits that may all be exceeded fit"
    optimum, slack = found
    words = {limit.key: limit.words for limit in limits}
    least = tuple(Way(key, words[key], by) for key, by in slack.items() if by > _LEAST)
    parties = list(dict.fromkeys(limits[index].key for index, _ in optimum.prices))
    ways = [Way(key, words[key], _alone(setting, limits, key)) for key in parties]
    return least, tuple(sorted(ways, key=lambda way: (way.by is None, way.by or 0.0)))


def _guess(brief: Brief, world: World, focal: float) -> float | None:
    """Return how far the level in focus might be: at the scale at which the whole stand is used."""
    name = brief.draft.camera.focus.level
    if not name:
        return None
    finite = world.distance[np.isfinite(world.distance)]
    stand = brief.camera_height or (brief.draft.stand.camera_height or (1.0, 1.0))[1]
    mine = float(world.distance[brief.draft.names.index(name)])
    share = mine / float(finite.max()) if len(finite) and np.isfinite(mine) else 1.0
    return max(stand * min(share, 1.0), 3.0 * focal)


def _elastic(setting: Setting, limits: Sequence[Limit], keys: Sequence[str]) -> tuple[Optimum, dict[str, float]] | None:
    """Return the least by which the limits in ``keys`` have to give, all others kept; None where that is not enough."""
    base = setting.base
    slack = {key: base + index for index, key in enumerate(keys)}
    size = base + len(keys)
    loose = tuple(
        replace(limit, terms={**limit.terms, slack[limit.key]: -np.ones_like(setting.toward)})
        if limit.key in slack
        else limit
        for limit in limits
    )
    programme = Programme(
        loose,
        *bounds_of(setting, size, cap=MOST_METRES),
        turning_frames(setting),
        equalities=tuple(gain_rows(setting, size)),
    )
    optimum = optimise(programme, stages=[vector(size, dict.fromkeys(slack.values(), 1.0))])
    if optimum is None:
        return None
    return optimum, {key: float(optimum.unknowns[index]) for key, index in slack.items()}


def _alone(setting: Setting, limits: Sequence[Limit], key: str) -> float | None:
    """Return by how much one limit alone would have to give; None where that could not help."""
    found = _elastic(setting, limits, [key])
    return None if found is None else found[1][key]


def compromise(brief: Brief, world: World, *, focal: float) -> Stack | None:
    """Return the stack inside the limits that looks most like the world; None where not even one at rest fits.

    Every level may be shown as if it were at another distance, d/g. A point at a corner of the frame is then off by
    about |g/d − 1/D|·r²·(R·Z + F·X): the largest of these is least, then their sum, then the travel. The weights need
    d, so the programme is solved again until they settle; the exact error is worked out from the shot.
    """
    followed = _guess(brief, world, focal)
    stack = None
    for _ in range(_FOLLOWS):
        setting = setting_for(brief, world, focal=focal, followed=followed)
        stack = _nearest(setting)
        name = brief.draft.camera.focus.level
        if stack is None or not name:
            return stack
        found = float(stack.distance[brief.draft.names.index(name)])
        if followed is not None and abs(found - followed) <= 1e-12 * found:
            return stack
        followed = found
    return None


def _nearest(setting: Setting) -> Stack | None:
    limits = make_limits(setting)
    distance = np.ones(setting.count)
    optimum = None
    for _ in range(_ROUNDS):
        optimum = _weighed(setting, limits, distance)
        if optimum is None:
            return None
        found = optimum.unknowns[2 : 2 + setting.count]
        settled = bool(np.allclose(found, distance, rtol=1e-9))
        distance = np.maximum(found, 1e-6)
        if settled:
            break
    assert optimum is not None
    return _stack(setting, optimum)


def _weighed(setting: Setting, limits: Sequence[Limit], distance: Floats) -> Optimum | None:
    """Return the unknowns with the least error, the levels being about ``distance`` from the lens, (L,)."""
    layout = layout_of(setting, choosing=False)
    worst, base = layout.size, layout.size + 1
    size = base + setting.count
    wide = replace(layout, size=size)
    rows = []
    for level, weight in enumerate(_weights(setting) / distance):
        nearness = setting.unit * setting.world.nearness[level]
        for way in (1.0, -1.0):
            miss = {setting.gain(level): way * weight, setting.distance(level): -way * weight * nearness}
            rows += [(vector(size, {**miss, base + level: -1.0}), 0.0)]
        rows += [(vector(size, {base + level: 1.0, worst: -1.0}), 0.0)]
    programme = programme_for(setting, limits, wide, equalities=[], rows=rows)
    stages = [
        vector(size, {worst: 1.0}),
        vector(size, dict.fromkeys(range(base, size), 1.0)),
        vector(size, layout.travels),
        *comforts(setting, wide),
    ]
    return optimise(programme, stages=stages)


def _weights(setting: Setting) -> Floats:
    """Return how far a corner of the frame goes off for each 1/d of gain that is wrong, in fields, (L,)."""
    camera, world = setting.brief.draft.camera, setting.world
    assert camera.gate is not None
    corner = np.hypot(1.0, camera.frame_px[1] / camera.frame_px[0]) / 2.0
    lens = setting.image / (camera.gate.width * camera.squeeze)
    reach = corner * np.abs(setting.toward)[:, None] + lens * np.abs(setting.across[:, None] - world.own / setting.unit)
    return np.asarray((world.growth**2 * reach).max(axis=0)) + 1e-9


def _stack(setting: Setting, optimum: Optimum) -> Stack:
    unknowns, count = optimum.unknowns, setting.count
    distance = unknowns[2 : 2 + count].copy()
    gain = unknowns[2 + count : 2 + 2 * count] / setting.unit
    scale = float(unknowns[SCALE]) / setting.unit
    draft = setting.brief.draft
    free = np.array([setting.is_free(level) for level in range(count)])
    said = np.array([level.east for level in draft.levels])
    own = np.array([bool(element.across) for element in setting.brief.elements])
    rests = (np.abs(gain - scale) * setting.unit < _LEAST) & ~own & (np.ptp(setting.extension) == 0)
    return Stack(
        focal=setting.focal,
        image=setting.image,
        extension=setting.extension,
        height=float(unknowns[0]),
        scale=scale,
        distance=distance,
        gain=np.where(rests, scale, gain),
        east=np.where(free, draft.camera.east + unknowns[2 + 2 * count : setting.base], said),
        rests=rests,
        solved=Solved(optimum.gap, None, 1, optimum.solved, optimum.rows),
    )
