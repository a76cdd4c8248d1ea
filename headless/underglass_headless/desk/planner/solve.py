"""Solving for a stack: the best within the limits, for one lens, with the focus followed until it settles.

What is asked of the stack is said in limits, how programmes are solved in programme; here they are put together.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from underglass.optics import thin_lens
from underglass.shot import ShotError
from underglass.shot.brief import Brief
from underglass.shot.quantity import MOST_METRES

from .limits import HEIGHT, SCALE, Limit, Setting, make_limits
from .model import Binding, Prefer, Solved, Stack
from .programme import Choice, Optimum, Programme, Row, choose, optimise
from .walk import World, travel_of

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
class Layout:
    """Where the unknowns beyond those of the limits lie: ``travels`` maps each to what a metre of it costs.

    ``asides`` maps a level whose art may sit where it likes to how far it is from where it would best; ``movers`` maps
    a level to the unknown that is 1 where it moves, and is empty where no level could rest.
    """

    size: int
    travels: dict[int, float]
    asides: dict[int, int]
    movers: dict[int, int]


def unit_of(world: World) -> float:
    """Return the world's length that unknowns are counted by: the nearest level, or the walk where all is at infinity.

    So every unknown is of the size of the stand, whatever the world is counted in.
    """
    nearest = float(world.distance.min())
    walk = float(max(np.abs(world.toward).max(), np.abs(world.across).max()))
    return nearest if np.isfinite(nearest) else walk or 1.0


def setting_for(brief: Brief, world: World, *, focal: float, followed: float | None) -> Setting:
    """Return the setting with one lens; ``followed`` is how far the level in focus is where the walk begins, m.

    Where focus follows a level that grows by r, 1/v + 1/u = 1/f gives m(t) = m·r and v(t) = f·(1 + m(t)).
    """
    focus = brief.draft.camera.focus
    extension = np.ones(len(world.frames))
    if focus.level and followed is not None:
        growth = world.growth[:, brief.draft.names.index(focus.level)]
        magnification = focal / (followed - focal)
        image = focal * (1.0 + magnification)
        extension = (1.0 + magnification * growth) / (1.0 + magnification)
    else:
        image = float(thin_lens.image_distance(focal, focus=focus.distance))
    middle = _middles(brief, world, image)
    return Setting(brief, world, unit_of(world), focal, image, extension, middle)


def _middles(brief: Brief, world: World, image: float) -> Floats:
    """Return where the middle of all that the lens sees of each level is, for each metre of its distance, (L,).

    0 where the brief says the art's place or its width, or where a turned camera has no plain left and right.
    """
    camera = brief.draft.camera
    assert camera.gate is not None
    half = camera.gate.width * camera.squeeze / (2.0 * image) / world.growth
    centre = (world.across[:, None] - world.own) * world.nearness
    middle = ((centre - half).min(axis=0) + (centre + half).max(axis=0)) / 2.0
    free = np.array([not (element.said_width or element.said_east) for element in brief.elements])
    return np.where(free & (camera.turn == 0.0), middle, 0.0)


def can_rest(setting: Setting) -> list[int]:
    """Return the levels that could rest: none where the lens extends on its way, or the level goes by itself."""
    if np.ptp(setting.extension) > 0:
        return []
    return [level for level, element in enumerate(setting.brief.elements) if not element.across]


def layout_of(setting: Setting, *, choosing: bool) -> Layout:
    """Return where the travels lie, and, where ``choosing`` what rests, the unknowns that say what moves."""
    at = setting.base
    costs = _travel_costs(setting)
    travels = {at + index: cost for index, cost in enumerate(costs)}
    at += len(costs)
    free = [level for level in range(setting.count) if setting.is_free(level)]
    asides = {level: at + index for index, level in enumerate(free)}
    at += len(free)
    movers = {level: at + index for index, level in enumerate(can_rest(setting))} if choosing else {}
    return Layout(at + len(movers), travels, asides, movers)


def _pieces(setting: Setting) -> list[tuple[int, int, int]]:
    """Return from which frame to which a walk goes one way, and how often it goes between these two distances."""
    toward = setting.toward
    turns = np.flatnonzero(np.diff(np.sign(np.diff(toward)))) + 1
    ends = [0, *turns.tolist(), len(toward) - 1]
    pieces: dict[tuple[float, float], tuple[int, int, int]] = {}
    for first, last in pairwise(ends):
        if toward[first] != toward[last]:
            low, high = sorted((float(toward[first]), float(toward[last])))
            times = pieces[low, high][2] if (low, high) in pieces else 0
            pieces[low, high] = (first, last, times + 1)
    return list(pieces.values())


def _travel_costs(setting: Setting) -> list[float]:
    """Return what each travel costs: one a level, and where the lens extends one more a level and piece of the walk."""
    aside, along = travel_of(setting.across), travel_of(setting.toward)
    if np.ptp(setting.extension) == 0:
        return [along + aside] * setting.count
    times = [float(times) for _, _, times in _pieces(setting)]
    return [aside] * setting.count + times * setting.count


def travel_rows(setting: Setting, layout: Layout) -> list[Row]:
    """Return the rows that make every travel at least what its level goes, either way."""
    rows = []
    at = setting.base
    for level in range(setting.count):
        rows += _either_way({setting.gain(level): 1.0, SCALE: -1.0}, at + level, layout.size)
    if np.ptp(setting.extension) == 0:
        return rows
    at += setting.count
    toward, extension = setting.toward, setting.extension
    for level in range(setting.count):
        for first, last, _ in _pieces(setting):
            terms = {
                SCALE: -(toward[last] - toward[first]),
                setting.distance(level): -(extension[last] - extension[first]),
                setting.gain(level): toward[last] * extension[last] - toward[first] * extension[first],
            }
            rows += _either_way(terms, at, layout.size)
            at += 1
    return rows


def _either_way(terms: dict[int, float], least: int, size: int) -> list[Row]:
    """Return the rows that say |Σ terms| ≤ the unknown ``least``."""
    row = np.zeros(size)
    for index, value in terms.items():
        row[index] = value
    up, down = row.copy(), -row
    up[least] = down[least] = -1.0
    return [(up, 0.0), (down, 0.0)]


def aside_rows(setting: Setting, layout: Layout) -> list[Row]:
    """Return the rows that say how far art that may sit where it likes is from where it would best."""
    rows = []
    for level, index in layout.asides.items():
        terms = {setting.place(level): 1.0, setting.distance(level): -float(setting.middle[level])}
        rows += _either_way(terms, index, layout.size)
    return rows


def gain_rows(setting: Setting, size: int) -> list[Row]:
    """Return g = d/D for every level: what makes its growth and its drift those of the world."""
    rows = []
    for level in range(setting.count):
        row = np.zeros(size)
        row[setting.gain(level)] = 1.0
        row[setting.distance(level)] = -setting.unit * setting.world.nearness[level]
        rows.append((row, 0.0))
    return rows


def rest_row(setting: Setting, level: int, size: int) -> Row:
    """Return g = κ: the level rests."""
    row = np.zeros(size)
    row[setting.gain(level)], row[SCALE] = 1.0, -1.0
    return row, 0.0


def bounds_of(setting: Setting, size: int, *, cap: float) -> tuple[Floats, Floats]:
    """Return the least and the greatest values of the unknowns.

    No level is further from the lens than the lens from the bed, ``cap``; a scale at which the nearest level would
    belong at twice that height is none that a stand has.
    """
    lower, upper = np.zeros(size), np.full(size, np.inf)
    upper[: setting.base] = cap
    upper[SCALE] = 2.0 * cap
    for level in range(setting.count):
        reach = MOST_METRES if setting.is_free(level) else 0.0
        lower[setting.place(level)], upper[setting.place(level)] = -reach, reach
    return lower, upper


def cap_of(brief: Brief) -> float:
    """Return the greatest height of the lens where the walk begins, m."""
    if brief.camera_height is not None:
        return brief.camera_height
    assert brief.draft.stand.camera_height is not None
    return brief.draft.stand.camera_height[1]


def turning_frames(setting: Setting) -> tuple[int, ...]:
    """Return the rows of frames that can bind where nothing extends: where a walk is furthest, either way."""
    tracks = [setting.toward, setting.across, *setting.world.own.T]
    return tuple(sorted({0} | {int(pick) for track in tracks for pick in (track.argmin(), track.argmax())}))


def vector(size: int, costs: dict[int, float]) -> Floats:
    """Return the coefficients of what is to be least."""
    row = np.zeros(size)
    for index, cost in costs.items():
        row[index] = cost
    return row


def room(setting: Setting, size: int) -> Floats:
    """Return the stage that spreads the levels as far as there is room: a slip of a counter then shows least."""
    return vector(size, {setting.distance(level): -1.0 for level in range(setting.count)})


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


def programme_for(
    setting: Setting, limits: Sequence[Limit], layout: Layout, *, equalities: Sequence[Row], rows: Sequence[Row] = ()
) -> Programme:
    """Return the programme of a setting, with more equalities and rows beside those that always hold."""
    return Programme(
        tuple(limits),
        *bounds_of(setting, layout.size, cap=cap_of(setting.brief)),
        turning_frames(setting),
        (*travel_rows(setting, layout), *aside_rows(setting, layout), *rows),
        tuple(equalities),
    )


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


def comforts(setting: Setting, layout: Layout) -> list[Floats]:
    """Return what is least after the travel: cramped levels, then art beside its best place, then the lens's height."""
    asides = vector(layout.size, dict.fromkeys(layout.asides.values(), 1.0))
    return [room(setting, layout.size), asides, vector(layout.size, {HEIGHT: 1.0})]


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
