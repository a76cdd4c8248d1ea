# SPDX-License-Identifier: GPL-3.0-or-later
"""Solving for a stack: the best within the limits, for one lens, with the focus followed until it settles.

What is asked of the stack is said in limits, how programmes are solved in programme; here they are put together.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from underglass.shot import ShotError

from ..brief.brief import Brief
from .answer import Binding, Prefer, Solved, Stack
from .linear_programme import Choice, Optimum, Programme, Row, choose, optimise
from .programme_rows import Layout, can_rest, comforts, gain_rows, layout_of, programme_for, rest_row, vector
from .programme_setting import cap_of, setting_for
from .stand_limits import HEIGHT, SCALE, Limit, Setting, make_limits
from .walk_frames import World

Floats = NDArray[np.float64]

MOST_ITERATIONS = 40
# The focus has settled when the level it follows no longer moves by more than this part of its distance.
SETTLED = 1e-13
# From here on the step is halved, in case two answers take turns.
_PATIENCE = 20
# Where they never end taking turns, so many places between them are tried.
_TRIED = 25
# What one metre of a limit must save at least, in metres of travel, to be worth a word.
_LEAST_PRICE = 1e-6


@dataclass(frozen=True)
class _Best:
    optimum: Optimum
    setting: Setting
    limits: tuple[Limit, ...]
    rests: tuple[int, ...]
    mip_gap: float | None
    solved: int


def solve_stack(brief: Brief, world: World, *, focal: float, prefer: Prefer, method: str = "highs") -> Stack | None:
    """Return the best stack for a lens, None where none fits; raises ShotError where the focus never settles."""
    followed, solved, seen = None, 0, list[float]()
    for iteration in range(1, MOST_ITERATIONS + 1):
        setting = setting_for(brief, world, focal=focal, followed=followed)
        best = _solve(setting, prefer, method)
        if best is None:
            return None
        solved += best.solved
        name = brief.draft.camera.focus.level
        if not name:
            return _stack(best, iteration, solved)
        found = float(best.optimum.unknowns[setting.distance(brief.draft.names.index(name))])
        if followed is not None and abs(found - followed) <= SETTLED * found:
            return _stack(best, iteration, solved)
        followed = found if followed is None or iteration < _PATIENCE else (found + followed) / 2.0
        seen.append(found)
    stack = _between(brief, world, focal, prefer, method, seen=seen[-_PATIENCE:])
    if stack is not None:
        return stack
    place = brief.draft.place("camera.focus")
    raise ShotError(place, "no stack agrees with the focus that follows it", "focus at a distance from the lens")


def _between(
    brief: Brief, world: World, focal: float, prefer: Prefer, method: str, *, seen: Sequence[float]
) -> Stack | None:
    """Return the best stack whose level in focus stands between those that took turns, each where the lens has it.

    The best distance may lie where no programme has a corner of its own; then it is looked for along the line.
    """
    column = brief.draft.names.index(brief.draft.camera.focus.level)
    found: dict[float, _Best] = {}

    def travel(at: float) -> float:
        best = _solve(setting_for(brief, world, focal=focal, followed=at), prefer, method, pinned=(column, at))
        if best is not None:
            found[at] = best
        return np.inf if best is None else best.optimum.values[0]

    places = np.linspace(min(seen), max(seen), _TRIED)
    least = int(np.argmin([travel(float(at)) for at in places]))
    ends = float(places[max(0, least - 1)]), float(places[min(_TRIED - 1, least + 1)])
    optimize.minimize_scalar(travel, bounds=ends, method="bounded", options={"xatol": _LEAST_PRICE})
    if not found:
        return None
    best = min(found.values(), key=lambda one: one.optimum.values[0])
    return _stack(best, MOST_ITERATIONS + len(found), sum(one.solved for one in found.values()))


def _solve(setting: Setting, prefer: Prefer, method: str, *, pinned: tuple[int, float] | None = None) -> _Best | None:
    """Return the best stack of one setting: what rests is chosen first, then a plain programme proves the rest.

    ``pinned`` is a level and the distance from the lens that it must have.
    """
    limits = tuple(make_limits(setting))
    resting: tuple[int, ...] = ()
    mip_gap, solved = None, 0
    refused: list[tuple[int, ...]] = []
    while True:
        if can_rest(setting):
            chosen = _choose_resting(setting, limits, prefer, refused)
            if chosen is None:
                return None
            resting, mip_gap, count = chosen
            solved += count
        optimum = _plain(setting, limits, resting, method, pinned)
        if optimum is not None:
            return _Best(optimum, setting, limits, resting, mip_gap, solved + optimum.solved)
        if not resting:
            return None
        refused.append(resting)  # it fitted only within the rougher tolerance of the choice


def _plain(
    setting: Setting,
    limits: Sequence[Limit],
    resting: Sequence[int],
    method: str,
    pinned: tuple[int, float] | None,
) -> Optimum | None:
    """Return the least travel with the levels in ``resting`` at rest; then what is most comfortable."""
    layout = layout_of(setting, choosing=False)
    equalities = [*gain_rows(setting, layout.size), *(rest_row(setting, level, layout.size) for level in resting)]
    if pinned is not None:
        equalities.append((vector(layout.size, {setting.distance(pinned[0]): 1.0}), pinned[1]))
    programme = programme_for(setting, limits, layout, equalities=equalities)
    stages = [vector(layout.size, layout.travels), *comforts(setting, layout)]
    return optimise(programme, stages=stages, method=method)


def _choose_resting(
    setting: Setting, limits: Sequence[Limit], prefer: Prefer, refused: Sequence[tuple[int, ...]]
) -> tuple[tuple[int, ...], float, int] | None:
    """Return the levels that rest in the best choice, the gap to a better one, and how many programmes that took."""
    layout = layout_of(setting, choosing=True)
    movers = vector(layout.size, dict.fromkeys(layout.movers.values(), 1.0))
    travels = vector(layout.size, layout.travels)
    first, second = (movers, travels) if prefer is Prefer.MOVERS else (travels, movers)
    rows = [*_mover_rows(setting, layout), *_refusals(layout, refused)]
    best = _chosen(setting, limits, layout, first, rows)
    if best is None:
        return None
    # Whole numbers are kept as they are; a travel only as far as the choice is exact.
    most = round(best.value) + 0.5 if first is movers else best.value * (1 + 1e-9) + 1e-9
    then = _chosen(setting, limits, layout, second, [*rows, (first, most)]) or best
    resting = tuple(level for level, index in layout.movers.items() if then.unknowns[index] < 0.5)
    return resting, max(best.gap, then.gap), best.solved + then.solved


def _chosen(
    setting: Setting, limits: Sequence[Limit], layout: Layout, stage: Floats, rows: Sequence[Row]
) -> Choice | None:
    programme = programme_for(setting, limits, layout, equalities=gain_rows(setting, layout.size), rows=rows)
    upper = programme.upper.copy()
    upper[list(layout.movers.values())] = 1.0
    whole = Programme(programme.limits, programme.lower, upper, programme.frames, programme.rows, programme.equalities)
    return choose(whole, stage=stage, whole=list(layout.movers.values()))


def _mover_rows(setting: Setting, layout: Layout) -> list[Row]:
    """Return |g − κ| ≤ M·b: a level whose b is 0 rests. M is the greatest that either can be."""
    most = 2.0 * cap_of(setting.brief)
    return [
        (vector(layout.size, {setting.gain(level): way, SCALE: -way, index: -most}), 0.0)
        for level, index in layout.movers.items()
        for way in (1.0, -1.0)
    ]


def _refusals(layout: Layout, refused: Sequence[tuple[int, ...]]) -> list[Row]:
    """Return the rows that let at least one level of each refused choice move."""
    return [(vector(layout.size, {layout.movers[level]: -1.0 for level in resting}), -1.0) for resting in refused]


def _stack(best: _Best, iterations: int, solved: int) -> Stack:
    setting, optimum = best.setting, best.optimum
    unknowns, count = optimum.unknowns, setting.count
    distance = unknowns[2 : 2 + count].copy()
    if setting.followed is not None:
        # The solver's tolerance must not part the level from the focus that was worked out for it.
        distance[setting.followed[0]] = setting.followed[1]
    draft = setting.brief.draft
    free = np.array([setting.is_free(level) for level in range(count)])
    said = np.array([level.east for level in draft.levels])
    scale = float(unknowns[SCALE]) / setting.unit
    rests = np.isin(np.arange(count), best.rests)
    return Stack(
        focal=setting.focal,
        image=setting.image,
        extension=setting.extension,
        height=float(unknowns[HEIGHT]),
        scale=scale,
        distance=distance,
        gain=np.where(rests, scale, distance * setting.world.nearness),
        east=np.where(free, draft.camera.east + unknowns[2 + 2 * count : setting.base], said),
        rests=rests,
        solved=Solved(optimum.gap, best.mip_gap, iterations, solved, optimum.rows),
        binding=_binding(best),
    )


def _binding(best: _Best) -> tuple[Binding, ...]:
    """Return the limits that the stack stands at, those that cost most travel first."""
    found: dict[tuple[str, str], Binding] = {}  # what is clamped has two sides, and one name
    for index, limit in enumerate(best.limits):
        excess = limit.excess(best.optimum.unknowns)
        prices = {row: price for (which, row), price in best.optimum.prices.items() if which == index}
        price = sum(prices.values())
        price = price if price >= _LEAST_PRICE else 0.0
        row = max(prices, key=lambda at: prices[at]) if prices else int(excess.argmax())
        if price or (excess[row] > -1e-9 and any(coefficients.any() for coefficients in limit.terms.values())):
            frame = int(best.setting.world.frames[row])
            binding = Binding(limit.key, limit.subject, limit.words, frame, price)
            before = found.get((limit.subject, limit.words), binding)
            found[limit.subject, limit.words] = max(binding, before, key=lambda one: one.price)
    return tuple(sorted(found.values(), key=lambda binding: -binding.price))
