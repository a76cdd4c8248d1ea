# SPDX-License-Identifier: GPL-3.0-or-later
"""Recoloured passes: whether the numbers in proof passes went through a colour conversion, or changed their channels.

Numbers only: what passes hold at places, beside what the plan would have them hold there. A conversion does the same to
all levels, and to the mark too, which no place of a level changes.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.image.colour_curves import CURVES, Curve, matrices
from underglass.proof.wording import listed, plain
from underglass.shot.words import number_text

from .whole_frame import WholeFrame

Floats = NDArray[np.float64]

# What was taken back has to leave every level this near to its place, px, or so many times what scatters.
NEAR_PX = 0.15
SCATTERS = 3.0
# Numbers of a matrix this near are the same: files may hold half floats.
SAME = 0.004
# A factor this near 1 is none.
LEAST_FACTOR = 0.01
# A pixel's filter takes up to so much off the height of fringes.
FAINTER = 0.05
FEWEST = 30
# The share of places that may show something else than the level: paint before it, holes in its art.
MOST_OTHER = 0.4
ROUNDS = 8
# Of coordinates this near 0 and 1 curves say little.
CURVED = (0.04, 0.96)
BINS = 48
# A curve is one when it is this far from a straight line.
LEAST_BEND = 0.01


@dataclass(frozen=True)
class Held:
    """What the passes of one level hold at places, ``held`` (N, 3), and by the plan would hold, ``planned`` (N, 3).

    The first is a coordinate, along art ``size_px[0]`` long. Passes that are ``marked`` hold the other coordinate too,
    along ``size_px[1]``, and the mark, 1.
    """

    level: int
    name: str
    held: Floats
    planned: Floats
    size_px: tuple[float, float]
    marked: bool

    @property
    def coordinates(self) -> tuple[int, ...]:
        """Which of the three are coordinates."""
        return (0, 1) if self.marked else (0,)


def recoloured(levels: Sequence[Held], *, only: bool, unmoved: bool = False) -> WholeFrame | None:
    """Return how the passes of ``levels`` were changed alike, as far as it can be told, or None where they were not.

    ``only`` says that there are other levels, which were not. A change that leaves marks as they are is told only of
    frames that are known to be ``unmoved``: one that was put elsewhere as a whole may look the same.
    """
    told = [one for one in levels if len(one.held) >= FEWEST]
    if not told:
        return None
    whose = f" of {listed(list(dict.fromkeys(plain(one.name) for one in told)))}" if only else ""
    whose = whose.replace("{", "{{").replace("}", "}}")
    straight = _matrix(told, None)
    if straight is not None:
        return _of_matrix(straight, told, whose, unmoved=unmoved)
    if only and all(_may_lie_so(one) for one in told):
        # What a level by itself does by lying elsewhere is no curve.
        return None
    for name, curve in [*CURVES.items(), *_own_gamma(told)]:
        if _is_undone(told, curve):
            return _said("passes-recoloured", f"went through {name}", whose)
    for name, curve in CURVES.items():
        found = _matrix(told, curve)
        if found is not None and found[2, :2].any():
            more = _matrix_named(found, told[0].marked)
            if more:
                return _said("passes-recoloured", f"went through {more} and {name}", whose)
    lift = _lift(told)
    if lift is not None and _is_undone(told, lambda y: (y - lift[1]) / lift[0]):
        by, more = (number_text(round(value, 2)) for value in lift)
        return _said("passes-recoloured", f"were graded: multiplied by {by}, and had {more} added", whose)
    if _is_undone(told, _own_curve(told)) and _bends(told):
        return _said("passes-recoloured", "went through a colour curve", whose)
    return None


def _of_matrix(matrix: Floats, told: Sequence[Held], whose: str, *, unmoved: bool) -> WholeFrame | None:
    """Return what a matrix did to passes; None for what a place of the levels can do as well."""
    marked = told[0].marked
    if np.abs(matrix - np.eye(3)).max() <= (LEAST_FACTOR if marked else FAINTER):
        return None
    same = 2 * SAME if marked else FAINTER
    exchanged = np.abs(matrix) > 0.5
    if np.abs(matrix - exchanged).max() <= same and (exchanged.sum(axis=0) == 1).all():
        return _said("passes-exchanged", f"had their channels exchanged: {_order(exchanged)}", whose)
    factors = np.diag(matrix)
    mark_stays = marked and np.abs(matrix[2] - (0, 0, 1)).max() <= SAME
    several = len({one.level for one in told}) > 1
    mixed = np.abs(matrix - np.diag(factors)).max() > same
    if mark_stays and (not unmoved or not several or factors[:2].min() <= 0):
        return None
    if whose and not several:
        # Of one level among others, blurred or hardly seen, any matrix may fit what little there is; but where its
        # coordinates are right, it is the mark alone that was changed.
        if marked and not mixed and np.abs(factors[:2] - 1).max() <= SAME:
            return _said(
                "passes-recoloured", f"were multiplied: B by {number_text(round(float(factors[2]), 2))}", whose
            )
        named = _matrix_named(matrix, marked)
        return _said("passes-recoloured", f"went through {named}", whose) if named else None
    if not mixed:
        if np.ptp(factors) <= same:
            return _said("passes-recoloured", f"were multiplied by {number_text(round(float(factors[0]), 2))}", whose)
        said = ", ".join(
            f"{letter} by {number_text(round(float(by), 2 if marked else 1))}"
            for letter, by in zip("RGB", factors, strict=True)
        )
        return _said("passes-recoloured", f"were multiplied: {said}", whose)
    named = _matrix_named(matrix, marked)
    if named:
        return _said("passes-recoloured", f"went through {named}", whose)
    if marked and np.abs(matrix[:, :2] - np.diag(factors)[:, :2]).max() <= 2 * SAME:
        return _said("passes-recoloured", "were graded: multiplied, and had something added", whose)
    # Levels that lie elsewhere alike leave the mark as it is.
    return None if mark_stays else _said("passes-recoloured", "went through a colour matrix", whose)


def _order(exchanged: NDArray[np.bool_]) -> str:
    letters = ["RGB"[int(row.argmax())] for row in exchanged]
    return ", ".join(f"{is_} holds {was}" for is_, was in zip("RGB", letters, strict=True) if is_ != was)


def _matrix_named(matrix: Floats, marked: bool) -> str:
    near = {name: _apart(matrix, known, marked) for name, known in matrices().items()}
    name = min(near, key=lambda one: near[one])
    return f"the matrix from {name}" if near[name] <= SAME else ""


def _apart(matrix: Floats, known: Floats, marked: bool) -> float:
    """Return by how much a matrix is another one than the ``known``, but for what fringes are fainter."""
    if marked:
        return float(np.abs(matrix - known).max())
    waves = float((matrix[:, 1:] * known[:, 1:]).sum() / (known[:, 1:] ** 2).sum())
    fainter = np.array([1.0, np.clip(waves, 1 - FAINTER, 1.0), np.clip(waves, 1 - FAINTER, 1.0)])
    return float(np.abs(matrix - known * fainter).max())


def _matrix(told: Sequence[Held], curve: Curve | None) -> Floats | None:
    """Return the matrix (3, 3) by which what is held comes from what is planned, or None where there is no such one.

    ``curve`` is taken back before. By least squares over the places that it explains best, over and over.
    """
    planned = np.concatenate([one.planned for one in told])
    held = np.concatenate([one.held for one in told])
    weights = np.concatenate([np.full(len(one.held), max(one.size_px) / np.sqrt(len(one.held))) for one in told])
    kept = np.isfinite(held).all(axis=1)
    if curve is not None:
        held = _taken_back(held, curve)
        kept = np.isfinite(held).all(axis=1)
    whole = kept
    matrix = None
    for _ in range(ROUNDS):
        basis, wanted = planned[kept] * weights[kept, None], held[kept] * weights[kept, None]
        solved, _, rank, _ = np.linalg.lstsq(basis, wanted, rcond=1e-9)
        if rank < 3:
            return None
        matrix = solved.T
        left = np.abs(np.where(np.isfinite(held), held, 1e3) - planned @ matrix.T).max(axis=1) * weights
        again = whole & (left <= max(2.5 * float(np.median(left[whole])), 1e-9))
        if (again == kept).all():
            break
        kept = again
    if matrix is None or abs(np.linalg.det(matrix)) < 1e-6:
        return None
    back = np.linalg.inv(matrix)

    def undone(one: Held) -> Floats:
        was = one.held if curve is None else _taken_back(one.held, curve)
        was = was @ back.T
        with np.errstate(all="ignore"):
            return np.asarray(was / was[:, 2:] if one.marked else was)

    return matrix if all(_fits(one, undone(one)) for one in told) else None


def _may_lie_so(one: Held) -> bool:
    """Return whether a place of the level explains what is held: coordinates that follow the planned ones straight."""
    held = one.held.copy()
    if one.marked and abs(float(np.median(held[:, 2])) - 1) > SAME:
        return False
    for at in one.coordinates:
        slope, start, _ = _line(one.planned[:, at], held[:, at])
        if slope <= 0:
            return False
        held[:, at] = (held[:, at] - start) / slope
    return _fits(one, held)


def _taken_back(held: Floats, curve: Curve) -> Floats:
    with np.errstate(all="ignore"):
        back = np.asarray(curve(held), dtype=np.float64)
    return np.where(np.abs(back) < 1e6, back, np.nan)


def _is_undone(told: Sequence[Held], curve: Curve) -> bool:
    """Return whether every level is in place when ``curve`` is taken back from its coordinates."""
    return all(_fits(one, _taken_back(one.held, curve)) for one in told)


def _fits(one: Held, held: Floats) -> bool:
    """Return whether most places of a level hold the planned coordinates, and scatter evenly about them."""
    return all(
        _along_fits(one.planned[:, at], held[:, at], size_px)
        for at, size_px in zip(one.coordinates, one.size_px, strict=False)
    )


def _along_fits(planned: Floats, held: Floats, size_px: float) -> bool:
    low, high = CURVED
    asked = (planned > low) & (planned < high) & np.isfinite(held)
    if asked.sum() < (1 - MOST_OTHER) * len(planned):
        return False
    out = ((held - planned) * size_px)[asked]
    middle = float(np.median(out))
    noise = 1.4826 * float(np.median(np.abs(out - middle)))
    if noise > 1.0:
        return False
    # In thirds of the art too: what bends away from the plan is not in place anywhere.
    thirds = [out[part] for part in _thirds(planned[asked]) if part.sum() >= FEWEST / 3]
    limit = NEAR_PX + SCATTERS * noise / np.sqrt(FEWEST / 3)
    return abs(middle) <= limit and all(abs(float(np.median(part))) <= limit for part in thirds)


def _thirds(values: Floats) -> list[NDArray[np.bool_]]:
    first, second = np.quantile(values, (1 / 3, 2 / 3))
    return [values <= first, (values > first) & (values <= second), values > second]


def _pairs(told: Sequence[Held]) -> tuple[Floats, Floats]:
    planned = np.concatenate([one.planned[:, at] for one in told for at in one.coordinates])
    held = np.concatenate([one.held[:, at] for one in told for at in one.coordinates])
    inside = (planned > CURVED[0]) & (planned < CURVED[1]) & np.isfinite(held)
    return planned[inside], held[inside]


def _own_gamma(told: Sequence[Held]) -> list[tuple[str, Curve]]:
    """Return the power that what is held at places comes to, and what takes it back; none where it changes nothing."""
    planned, held = _pairs(told)
    fair = held > 0
    exponent = float(np.median(np.log(held[fair]) / np.log(planned[fair]))) if fair.any() else 1.0
    if abs(exponent) <= 0.05 or abs(exponent - 1) <= LEAST_BEND:
        return []
    name = f"a gamma of {number_text(1 / exponent, digits=3)}"
    return [(name, lambda y: np.where(y > 0, np.abs(y) ** (1 / exponent), np.nan))]


def _own_curve(told: Sequence[Held]) -> Curve:
    """Return what takes back the curve that goes through what is held at coordinates, by medians of narrow ranges."""
    planned, held = _pairs(told)
    edges = np.linspace(*CURVED, BINS + 1)
    which = np.digitize(planned, edges)
    middles = [(float(np.median(planned[which == at])), float(np.median(held[which == at]))) for at in np.unique(which)]
    x, y = np.array(sorted(middles)).T if middles else (np.zeros(2), np.zeros(2))
    if len(x) < BINS / 4 or not (np.diff(y) > 0).all():
        return lambda values: np.full(np.shape(values), np.nan)
    return lambda values: np.interp(values, y, x)


def _lift(told: Sequence[Held]) -> tuple[float, float] | None:
    """Return what shared coordinates were multiplied by and what was added to them; None where nothing was.

    The same has to have been added to fringes, which lie about 0 wherever a level is. Passes with a mark need none of
    this: of them the matrix tells.
    """
    if any(one.marked for one in told):
        return None
    planned, held = (np.concatenate([getattr(one, what) for one in told]) for what in ("planned", "held"))
    by, more, _ = _line(planned[:, 0], held[:, 0])
    _, of_fringes, left = _line(planned[:, 1:].ravel(), held[:, 1:].ravel())
    if by <= 0 or min(abs(more), abs(of_fringes)) <= 2 * LEAST_FACTOR:
        return None
    return (by, more) if abs(more - of_fringes) <= LEAST_FACTOR and left <= FAINTER else None


def _line(x: Floats, y: Floats) -> tuple[float, float, float]:
    """Return slope and start of the straight line through most of the points, and what it leaves in the middle."""
    kept = np.isfinite(y)
    y = np.where(kept, y, 1e3)
    slope, start, middle = 1.0, 0.0, np.inf
    for _ in range(ROUNDS):
        slope, start = np.polyfit(x[kept], y[kept], 1)
        left = np.abs(y - slope * x - start)
        middle = float(np.median(left))
        kept = left <= max(2.5 * middle, 1e-6)
    return float(slope), float(start), middle


def _bends(told: Sequence[Held]) -> bool:
    planned, held = _pairs(told)
    if len(planned) < FEWEST or len({one.level for one in told}) < 2:
        return False
    line = np.polyfit(planned, held, 1)
    bent = np.polyfit(planned, held, 3)
    x = np.linspace(*CURVED, 33)
    return float(np.abs(np.polyval(line, x) - np.polyval(bent, x)).max()) > LEAST_BEND


def said_of_passes(words: str, levels: Sequence[str]) -> WholeFrame:
    """Return what is said of passes that were changed as ``words`` have it, of all levels or of these alone."""
    whose = f" of {listed([plain(name) for name in levels])}" if levels else ""
    return _said("passes-recoloured", words, whose.replace("{", "{{").replace("}", "}}"))


def _said(code: str, words: str, whose: str) -> WholeFrame:
    return WholeFrame(
        code, words + whose, f"has proof passes{whose} that {words}", f"have proof passes{whose} that {words}"
    )


def hold_what_is_planned(levels: Sequence[Held]) -> bool:
    """Return whether the passes of all ``levels`` hold what is planned of them; none is no evidence."""
    told = [one for one in levels if len(one.held) >= FEWEST]
    return bool(told) and all(_fits(one, one.held) for one in told)


def levels_exchanged(names: Sequence[tuple[str, str]]) -> WholeFrame:
    """Return what is said where the pass of each first level holds what is planned of the second."""
    pairs = [tuple(sorted((plain(a), plain(b)))) for a, b in names]
    unique = list(dict.fromkeys(pairs))
    if len(unique) * 2 == len(names):
        said = "; ".join(f"those of {a} and {b}" for a, b in unique)
    else:
        said = ", ".join(f"{plain(a)} holds {plain(b)}" for a, b in names)
    said = said.replace("{", "{{").replace("}", "}}")
    words = f"proof passes of levels exchanged: {said}"
    return WholeFrame("passes-exchanged", said, f"has {words}", f"have {words}")
