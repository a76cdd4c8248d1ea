# SPDX-License-Identifier: GPL-3.0-or-later
"""What a planned shot must do on screen, said from the world alone: it checks the schedule and is not made from it."""

import math

import numpy as np
from numpy.typing import NDArray

from underglass.shot import Expectation, Heading, Shot

from ..brief.brief import Brief
from .answer import Stack
from .walk_frames import World

Floats = NDArray[np.float64]

# Growth and ratios are written to so many digits, well within what an expectation is held to.
_DIGITS = 6
# A walk that ends less than this part of the nearest distance from where it began shows no growth, and no drift.
_SHOWS = 1e-6


def expectations_of(brief: Brief, world: World, stack: Stack, shot: Shot) -> tuple[Expectation, ...]:
    """Return what the levels must do: at infinity hold, else grow, and drift so many times as far as the farthest.

    What is shown as if at another distance (a compromise), and what goes across by itself, is not expected to.
    """
    names = shot.names
    going = {
        name: column
        for column, (name, element) in enumerate(zip(names, brief.elements, strict=True))
        # on twos a level is late by a frame now and then, and goes across by itself as it likes
        if not element.across and shot.levels[column].on == 1 and _is_true(stack, world, column)
    }
    found = [Expectation(name, holds=True) for name, column in going.items() if math.isinf(world.distance[column])]
    going = {name: column for name, column in going.items() if math.isfinite(world.distance[column])}
    if abs(world.toward[-1] * world.nearness.max()) > _SHOWS:
        found += [Expectation(name, grows=_digits(world.growth[-1, column])) for name, column in going.items()]
    if going and abs(world.across[-1] * world.nearness.max()) > _SHOWS:
        nearest, farthest = next(iter(going)), list(going)[-1]
        for name, column in going.items():
            if name != farthest:
                ratio = world.drift[-1, column] / world.drift[-1, going[farthest]]
                found.append(Expectation(name, against=farthest, drift_ratio=_digits(ratio)))
        if shot.camera.turn == 0.0 and _goes_one_way(world.drift[:, going[nearest]]):
            found.append(Expectation(nearest, heads=Heading.WEST if world.across[-1] > 0 else Heading.EAST))
    said = set(brief.draft.expectations)
    return tuple(one for one in found if one not in said)


def _is_true(stack: Stack, world: World, column: int) -> bool:
    """Return whether a level is shown at its own distance."""
    walk = float(np.abs(world.toward).max() + np.abs(world.across).max())
    wrong = stack.gain[column] / stack.distance[column] - world.nearness[column]
    return bool(abs(wrong) * walk < 1e-6)


def _goes_one_way(drift: Floats) -> bool:
    """Return whether a drift never turns round."""
    return bool((np.diff(drift) * drift[-1] >= 0).all())


def _digits(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")
