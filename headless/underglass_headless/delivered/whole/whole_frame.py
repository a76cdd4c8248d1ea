# SPDX-License-Identifier: GPL-3.0-or-later
"""Whole frames: whether all that a delivered frame shows is of another frame, or of two, before any level is blamed.

Numbers only: where levels were seen, and where the plan has them on every frame. Pixels that were moved alike are
`picture_map`, pixels whose colours were changed `recoloured_passes`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.optics.projection import art_from_px
from underglass.plan.plan_arrays import Plan
from underglass.proof.measure.measured_corners import Fit

Floats = NDArray[np.float64]

# So many times what it is known to, the place of a level may be out by chance.
BY_CHANCE = 1.5
# What scatters by more than this about its fit is no level as it was rendered, px.
WILD_PX = 2.0
# Tracks that differ by less than this, metres and radians, are the same.
DIFFERENT_AXIS = 1e-9
# Where a place lies is told no better than this, px, however little the samples scatter.
PLACE_PX = 0.03
# A place that is out by so many times its scatter counts no more than that: it is of something else.
MOST_OUT = 5.0
# Two squares of a scatter are 2 on average; both parts of a torn frame have to come near that.
FITS_BELOW = 6.0
# So much better have two parts to explain all places than one frame does: in squares of the scatter.
BETTER_BY = 300.0
# A level is torn when it has at least so many places on either side.
FEWEST_A_SIDE = 10
# A place is surely of one frame and not of the other when it is so much nearer, in squares of the scatter.
SURELY_BETTER = 12.0
# Of places that are not of the frame itself the other has to explain so large a share.
MOST_EXPLAINED = 0.8
# Of all frames those that show another, by one part of the stand alone, are no more than this share.
MOST_SINGLE = 1 / 3
# Frames times places that are looked at together.
MOST_COSTS = 3_000_000


@dataclass(frozen=True)
class WholeFrame:
    """What a frame is as a whole, by its ``code``: ``one`` says it of one frame, ``many`` of several.

    ``offsets`` are how many frames later those lie that {0}, {1} in the words stand for; what has the same ``kind``
    and offsets is one fault. ``parts`` tells how many parts of the stand would have to be off to look like this.
    """

    code: str
    kind: str
    one: str
    many: str
    offsets: tuple[int, ...] = ()
    parts: int = 0


@dataclass(frozen=True)
class Places:
    """Places where one level is seen whole: ``px`` (N, 2) from the frame's centre, y up, and ``uv`` (N, 2) on its art.

    ``noise_px`` is how much one place scatters, in one direction.
    """

    level: int
    px: Floats
    uv: Floats
    noise_px: float

    @property
    def scatter_px(self) -> float:
        """How far off one place may be by chance, one standard deviation in one direction, px."""
        return float(np.hypot(self.noise_px, PLACE_PX))


def off_levels(fits: Mapping[int, Fit | None], *, corners: Floats, tolerance: float) -> set[int]:
    """Return which levels are not where ``corners`` (L, 4, 2) px have them, as far as their ``fits`` can tell."""
    off = set()
    for level, fit in fits.items():
        if fit is not None and level < len(corners):
            err = _strays(fit, corners[None, level])[0]
            # What scatters wildly about its place, but is in it as far as that tells, is blurred or of few samples.
            wild = (fit.tilted or fit.residual_px > WILD_PX) and err > min(tolerance, fit.seen_uncertainty_px)
            if wild or (err > tolerance and err > fit.seen_uncertainty_px):
                off.add(level)
    return off


def another_frame(plan: Plan, fits: Mapping[int, Fit | None], *, corners: Floats, row: int, tolerance: float) -> int:
    """Return the row of the plan that all levels which were found fit, where that is not their own; else ``row``.

    ``corners`` (F, L, 4, 2) px. Of rows that they fit alike it is the one nearest to their own.
    """
    told = {level: fit for level, fit in fits.items() if fit is not None and level < len(plan.names)}
    if not told or any(fit.tilted or fit.residual_px > WILD_PX for fit in told.values()):
        return row
    out = np.zeros((len(corners), len(told)))
    for at, (level, fit) in enumerate(told.items()):
        allowed = max(tolerance, BY_CHANCE * fit.seen_uncertainty_px)
        out[:, at] = _strays(fit, corners[:, level]) / allowed
    fitting = (out <= 1.0).all(axis=1)
    if fitting[row] or not fitting.any():
        return row
    squares = np.where(fitting, (out**2).sum(axis=1), np.inf)
    as_good = np.flatnonzero(squares <= squares.min() + 1e-3)
    return int(as_good[np.abs(as_good - row).argmin()])


def parts_that_differ(plan: Plan, *, levels: Sequence[int], row: int, other: int) -> int:
    """Return how many parts of the stand, the camera and the ``levels``, the plan has elsewhere on two of its rows."""
    camera = any(abs(track[row] - track[other]) > DIFFERENT_AXIS for track in plan.tracks.camera.values())
    moved = [
        any(abs(track[row, level] - track[other, level]) > DIFFERENT_AXIS for track in plan.tracks.levels.values())
        for level in levels
    ]
    return int(camera) + sum(moved)


def shows_another(by: int, *, parts: int) -> WholeFrame:
    """Return what is said of a frame that shows what the plan has ``by`` frames later."""
    return WholeFrame(
        "frame-shows-another",
        "",
        "shows what the plan has on {0}",
        "show what the plan has on {0}",
        (by,),
        parts,
    )


def passes_of_another(by: int, *, parts: int) -> WholeFrame:
    """Return what is said of a frame whose picture is its own and whose passes are of ``by`` frames later."""
    return WholeFrame(
        "passes-of-another-frame",
        "",
        "has the proof passes of {0}; its picture is its own",
        "have the proof passes of {0}; their pictures are their own",
        (by,),
        parts,
    )


def of_the_file(found: Mapping[int, WholeFrame], *, frames: int) -> dict[int, WholeFrame]:
    """Return what was ``found`` of frames, without what the stand may as well have done; ``frames`` were looked at.

    Where one part alone moves, late or held it shows what is planned for other frames, over a good many frames. A file
    of another frame is seen by that only where few are.
    """
    single = [frame for frame, whole in found.items() if whole.parts == 1]
    if len(single) <= MOST_SINGLE * frames:
        return dict(found)
    return {frame: whole for frame, whole in found.items() if whole.parts != 1}


@dataclass(frozen=True)
class Tear:
    """A frame of two parts: before ``at`` (px along ``axis``, 0 from the left, 1 from the top) and after, by rows."""

    axis: int
    at: float
    before: int
    after: int


def torn(
    plan: Plan,
    seen: Sequence[Places],
    *,
    corners: Floats,
    row: int,
    frame_px: tuple[int, int],
    near: Tear | None = None,
) -> Tear | None:
    """Return how a frame was put together of two, or None where one part, or none of the plan, is all there is.

    ``corners`` (F, L, 4, 2) px. With ``near``, which `torn` found by fewer places, only the place of the tear is looked
    for anew. A change point by least squares: each side is of the frame that leaves least.
    """
    best: tuple[float, Tear] | None = None
    rows = np.arange(len(corners)) if near is None else np.array([near.before, near.after])
    cost, along, level = _costs(seen, corners, rows, frame_px)
    if not len(level):
        return None
    for axis in (0, 1) if near is None else (near.axis,):
        order = np.argsort(along[:, axis], kind="stable")
        ordered, ahead = along[order, axis], np.cumsum(cost[:, order], axis=1)
        behind = ahead[:, -1:] - ahead
        # Only between two places, not among those of the same row of pixels.
        between = np.flatnonzero(np.diff(ordered) > 0)
        if not len(between):
            continue
        if near is None:
            before, after = ahead[:, between].argmin(axis=0), behind[:, between].argmin(axis=0)
        else:
            before, after = np.zeros(len(between), dtype=int), np.ones(len(between), dtype=int)
        total = ahead[before, between] + behind[after, between]
        at = int(total.argmin())
        middle = float(ordered[between[at]] + ordered[between[at] + 1]) / 2
        tear = Tear(axis, middle, int(rows[before[at]]), int(rows[after[at]]))
        if best is None or total[at] < best[0]:
            best = float(total[at]), tear
    if best is None:
        return None
    least, tear = best
    if near is not None:
        return tear
    alone = float(cost.sum(axis=1).min())
    if tear.before == tear.after or least > FITS_BELOW * len(level) or alone - least < BETTER_BY:
        return None
    first = along[:, tear.axis] < tear.at
    return tear if _is_torn(plan, cost, first=first, level=level, tear=tear, row=row) else None


def patched(seen: Sequence[Places], *, corners: Floats, row: int, frame_px: tuple[int, int]) -> WholeFrame | None:
    """Return that some places, wherever they lie, are of another frame, or None where that does not explain them.

    A level has to be broken: some of its places are of the frame itself and some of the other, which no stand does.
    """
    cost, _, level = _costs(seen, corners, np.arange(len(corners)), frame_px)
    if not len(level):
        return None
    together = np.minimum(cost, cost[row]).sum(axis=1)
    together[row] = np.inf
    other = int(together.argmin())
    if together[other] > FITS_BELOW * len(level) or cost[row].sum() - together[other] < BETTER_BY:
        return None
    out = cost[row] > SURELY_BETTER
    if (out & (cost[other] <= SURELY_BETTER)).sum() < MOST_EXPLAINED * out.sum():
        return None
    own, its = (cost[one] - cost[two] > SURELY_BETTER for one, two in ((other, row), (row, other)))
    for number in np.unique(level):
        mine = level == number
        if min((mine & own).sum(), (mine & its).sum()) >= FEWEST_A_SIDE:
            one, many = "is made of two frames: parts of it show {0}", "are made of two frames: parts of them show {0}"
            return WholeFrame("frame-torn", "parts", one, many, (other - row,))
    return None


def torn_words(tear: Tear, *, row: int) -> WholeFrame:
    """Return what is said of a torn frame, whose own row of the plan is ``row``."""
    what, *sides = (("column", "left of it", "right of it"), ("row", "above it", "below it"))[tear.axis]
    offsets: list[int] = []
    said = []
    for side, other in zip(sides, (tear.before, tear.after), strict=True):
        if other == row:
            said.append(f"{side} is the frame itself")
        else:
            said.append(f"{side} is {{{len(offsets)}}}")
            offsets.append(other - row)
    words = f"torn at {what} {round(tear.at)}: {', '.join(said)}"
    return WholeFrame("frame-torn", f"{what} {tear.before == row}", f"is {words}", f"are {words}", tuple(offsets))


def _is_torn(
    plan: Plan, cost: Floats, *, first: NDArray[np.bool_], level: NDArray[np.int64], tear: Tear, row: int
) -> bool:
    """Return whether a level runs over the tear and is broken there, or more than one part is elsewhere beyond it."""
    for number in np.unique(level):
        mine = level == number
        sides = [mine & first, mine & ~first]
        if min(side.sum() for side in sides) < FEWEST_A_SIDE:
            continue
        exchanged = [cost[frame, side].sum() for frame, side in zip((tear.after, tear.before), sides, strict=True)]
        right = [cost[frame, side].sum() for frame, side in zip((tear.before, tear.after), sides, strict=True)]
        worse = min(wrong - good for wrong, good in zip(exchanged, right, strict=True))
        if worse > BETTER_BY / 10:
            return True
        if worse < -BETTER_BY / 10:
            # On one side the level is surely of the other frame: it is the level that is off, and not the file.
            return False
    beyond = [(frame, side) for frame, side in ((tear.before, first), (tear.after, ~first)) if frame != row]
    return all(
        parts_that_differ(plan, levels=[int(one) for one in np.unique(level[side])], row=row, other=frame) > 1
        and sum(cost[row, side & (level == one)].sum() > BETTER_BY / 10 for one in np.unique(level[side])) > 1
        for frame, side in beyond
    )


def _costs(
    seen: Sequence[Places], corners: Floats, rows: NDArray[np.int64], frame_px: tuple[int, int]
) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Return how badly each place fits each row of the plan, (R, N), where it lies from the left and from the top in
    px, (N, 2), and its level, (N,).
    """
    count = sum(len(one.px) for one in seen)
    every = max(1, int(np.ceil(count * len(rows) / MOST_COSTS)))
    costs, along, levels = [np.zeros((len(rows), 0))], [np.zeros((0, 2))], [np.zeros(0, dtype=np.int64)]
    for one in seen:
        px, uv = one.px[::every], one.uv[::every]
        sides = corners[rows, one.level][:, [1, 3]] - corners[rows, one.level][:, :1]
        planned = np.einsum("nc,fcx->fnx", uv, sides) + corners[rows, one.level][:, :1]
        out = ((planned - px) ** 2).sum(axis=-1) / one.scatter_px**2
        costs.append(np.minimum(out, MOST_OUT**2))
        along.append(np.column_stack([px[:, 0] + frame_px[0] / 2, frame_px[1] / 2 - px[:, 1]]))
        levels.append(np.full(len(px), one.level, dtype=np.int64))
    return np.concatenate(costs, axis=1), np.concatenate(along), np.concatenate(levels)


def _strays(fit: Fit, places: Floats) -> Floats:
    """Return how far what shows of a level is from each of its ``places`` (F, 4, 2) px, (F,)."""
    seen = fit.corners if fit.seen is None else fit.seen
    try:
        art = art_from_px(seen, corners=fit.corners)
    except np.linalg.LinAlgError:
        return np.full(len(places), np.inf)
    sides = places[:, [1, 3]] - places[:, :1]
    planned = np.einsum("nc,fcx->fnx", art, sides) + places[:, :1]
    return np.asarray(np.linalg.norm(planned - seen, axis=-1).max(axis=-1))
