# SPDX-License-Identifier: GPL-3.0-or-later
"""Linear programmes over limits that hold on every frame, solved to a proven optimum with HiGHS.

Only frames that can bind are given to the solver: those at which the walk turns, and then whichever the answer would
exceed, until it exceeds none. What the unknowns mean is not known here.
"""

import ctypes
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from .stand_limits import Limit

Floats = NDArray[np.float64]
Row = tuple[Floats, float]

# HiGHS takes no smaller tolerances; in metres a tenth of a nanometre, of an angstrom's order.
TOLERANCE = 1e-10
# A limit that is exceeded by less is kept (metres): no counter shows it.
EXCESS = 1e-9
# A price (of a limit, or of an unknown) that is nearer to 0 is none.
PRICELESS = 1e-8
# The choice of what rests is made to HiGHS's own tolerance, and then solved again as a plain programme.
_ROUGH = 1e-6
_OPTIONS = {"primal_feasibility_tolerance": TOLERANCE, "dual_feasibility_tolerance": TOLERANCE}


@dataclass(frozen=True)
class Programme:
    """Unknowns within ``lower`` and ``upper``; ``limits`` hold on every frame, ``rows`` (≤) and ``equalities`` once.

    ``frames`` are the rows of the frames to begin with.
    """

    limits: tuple[Limit, ...]
    lower: Floats
    upper: Floats
    frames: tuple[int, ...]
    rows: tuple[Row, ...] = ()
    equalities: tuple[Row, ...] = ()

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return len(self.lower)


@dataclass
class _Held:
    """What the solver has been given so far: (limit, frame) pairs, and which of all rows must be met exactly."""

    pairs: list[tuple[int, int]]
    exact: set[object] = field(default_factory=set)


@dataclass(frozen=True)
class Optimum:
    """The best unknowns; ``values`` of the stages in order; ``gap`` the largest relative gap to the dual.

    ``prices`` maps (limit, row of the frame) to how much of the first stage one metre more of it would save.
    """

    unknowns: Floats
    values: tuple[float, ...]
    gap: float
    prices: dict[tuple[int, int], float]
    solved: int
    rows: int


def optimise(programme: Programme, *, stages: Sequence[Floats], method: str = "highs") -> Optimum | None:
    """Return the unknowns with the least first stage, among those with the least second, and so on; None if none fit.

    Each stage is the coefficients of what is to be least. A later stage keeps the optimal face of those before: by
    complementary slackness the rows and bounds that have a price are met exactly by every optimum.
    """
    held = _Held([(limit, frame) for limit in range(len(programme.limits)) for frame in programme.frames])
    lower, upper = programme.lower.copy(), programme.upper.copy()
    values, gaps, solved = [], [0.0], 0
    prices: dict[tuple[int, int], float] = {}
    unknowns = lower
    for number, stage in enumerate(stages):
        result, count = _stage(programme, held, stage=stage, lower=lower, upper=upper, method=method)
        solved += count
        if result is None and number == 0:
            return None
        if result is None:
            break  # the optimal face is a hair's breadth wide: the answer of the stage before stands
        unknowns = result.x
        values.append(float(result.fun))
        gaps.append(_gap(result, programme, held, lower, upper))
        priced = _priced(result, programme, held)
        if number == 0:
            prices = {key: price for key, price in priced.items() if isinstance(key, tuple)}
        held.exact |= priced.keys()
        at_lower, at_upper = result.lower.marginals > PRICELESS, result.upper.marginals < -PRICELESS
        lower, upper = np.where(at_upper, upper, lower), np.where(at_lower, lower, upper)
    return Optimum(unknowns, tuple(values), max(gaps), prices, solved, len(held.pairs))


def _stage(
    programme: Programme, held: _Held, *, stage: Floats, lower: Floats, upper: Floats, method: str
) -> tuple[optimize.OptimizeResult | None, int]:
    """Return the optimum of one stage over all frames, and how many programmes that took."""
    count = 0
    while True:
        count += 1
        inequality, equality = _matrices(programme, held)
        result = optimize.linprog(
            stage,
            *inequality,
            *equality,
            bounds=np.stack([lower, upper], axis=-1),
            method=method,
            options=_OPTIONS,
        )
        if result.status != 0:
            return None, count
        more = exceeded(programme, result.x, least=EXCESS, known=held.pairs)
        if not more:
            return result, count
        held.pairs += more


def exceeded(
    programme: Programme, unknowns: Floats, *, least: float, known: Sequence[tuple[int, int]]
) -> list[tuple[int, int]]:
    """Return the frame of every limit at which ``unknowns`` exceed it most, if by more than ``least`` and not known."""
    worst = []
    for index, limit in enumerate(programme.limits):
        excess = limit.excess(unknowns)
        frame = int(excess.argmax())
        if excess[frame] > least and (index, frame) not in known:
            worst.append((index, frame))
    return worst


def _row(programme: Programme, pair: tuple[int, int]) -> Row:
    limit = programme.limits[pair[0]]
    coefficients = np.zeros(programme.size)
    for index, values in limit.terms.items():
        coefficients[index] += values[pair[1]]
    return coefficients, limit.bound


def _all_rows(programme: Programme, held: _Held) -> list[tuple[object, Row]]:
    rows: list[tuple[object, Row]] = [(pair, _row(programme, pair)) for pair in held.pairs]
    return rows + [(index, row) for index, row in enumerate(programme.rows)]


def _matrices(programme: Programme, held: _Held) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    rows = _all_rows(programme, held)
    loose = [row for key, row in rows if key not in held.exact]
    exact = [*programme.equalities, *(row for key, row in rows if key in held.exact)]
    return _stacked(loose, programme.size), _stacked(exact, programme.size)


def _stacked(rows: Sequence[Row], size: int) -> tuple[Floats, Floats]:
    matrix = np.array([row for row, _ in rows]).reshape(len(rows), size)
    return matrix, np.array([bound for _, bound in rows])


def _priced(result: optimize.OptimizeResult, programme: Programme, held: _Held) -> dict[object, float]:
    """Return the rows that have a price in this stage, and their prices."""
    loose = [key for key, _ in _all_rows(programme, held) if key not in held.exact]
    return {
        key: -float(price) for key, price in zip(loose, result.ineqlin.marginals, strict=True) if abs(price) > PRICELESS
    }


def _gap(result: optimize.OptimizeResult, programme: Programme, held: _Held, lower: Floats, upper: Floats) -> float:
    """Return |primal − dual|/max(1, |primal|), the dual's value worked out from the prices of rows and bounds."""
    (_, loose), (_, exact) = _matrices(programme, held)
    dual = float(loose @ result.ineqlin.marginals + exact @ result.eqlin.marginals)
    for bounds, side in ((lower, result.lower), (upper, result.upper)):
        finite = np.isfinite(bounds)
        dual += float(bounds[finite] @ side.marginals[finite])
    return abs(float(result.fun) - dual) / max(1.0, abs(float(result.fun)))


@dataclass(frozen=True)
class Choice:
    """The best choice of whole numbers: the unknowns, the value, and the relative gap to what might be better."""

    unknowns: Floats
    value: float
    gap: float
    solved: int


@contextmanager
def _silence() -> Iterator[None]:
    """Keep off standard output what HiGHS prints there unasked: it would stand within our JSON."""
    libc = ctypes.CDLL(None)
    sys.stdout.flush()
    libc.fflush(None)
    kept = os.dup(1)
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), 1)
        yield
        libc.fflush(None)
    finally:
        os.dup2(kept, 1)
        os.close(kept)


def choose(programme: Programme, *, stage: Floats, whole: Sequence[int]) -> Choice | None:
    """Return the unknowns with the least ``stage``, those in ``whole`` whole numbers; None where nothing fits."""
    held = _Held([(limit, frame) for limit in range(len(programme.limits)) for frame in programme.frames])
    integrality = np.zeros(programme.size)
    integrality[list(whole)] = 1
    solved = 0
    while True:
        (matrix, most), (equal, values) = _matrices(programme, held)
        constraints = [optimize.LinearConstraint(matrix, -np.inf, most)]
        if len(values):
            constraints.append(optimize.LinearConstraint(equal, values, values))
        with _silence():
            result = optimize.milp(
                stage,
                integrality=integrality,
                bounds=optimize.Bounds(programme.lower, programme.upper),
                constraints=constraints,
                options={"mip_rel_gap": 0.0},
            )
        solved += 1
        if result.x is None or result.status != 0:
            return None
        more = exceeded(programme, result.x, least=_ROUGH, known=held.pairs)
        if not more:
            value, bound = float(result.fun), float(result.mip_dual_bound)
            if not np.delete(stage, list(whole)).any():
                # A count of levels: what is below by less than one is no lower count, but a hair of the tolerance.
                value, bound = float(round(value)), float(np.ceil(bound - _ROUGH))
            # HiGHS's own gap is relative to the value even where that is next to nothing.
            return Choice(result.x, value, abs(value - bound) / max(1.0, abs(value)), solved)
        held.pairs += more
