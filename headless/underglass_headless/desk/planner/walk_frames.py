# SPDX-License-Identifier: GPL-3.0-or-later
"""The walk through the world, frame by frame, and what it makes of a thing at a distance.

With the viewer at Z toward and X across, what is D away where the walk begins grows by D/(D − Z), and the point of it
that was straight ahead sits at (A − X)/(D − Z) lens lengths, A being how far it has gone across by itself.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.plan import motion_laws
from underglass.shot import Law, ShotError
from underglass.shot.words import number_text, shown

from ..brief.brief import Brief, Leg, Walk
from ..brief.walk_legs import WORLD_UNITS

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class World:
    """The walk on every frame, metres: ``toward`` and ``across`` (F,), ``own`` (F, L) what each level goes across by
    itself; ``distance`` (L,) where the walk begins, inf allowed.
    """

    frames: NDArray[np.int64]
    toward: Floats
    across: Floats
    own: Floats
    distance: Floats

    @property
    def nearness(self) -> Floats:
        """1/D of every level, (L,): 0 at infinity."""
        return 1.0 / self.distance

    @property
    def growth(self) -> Floats:
        """D/(D − Z) of every level on every frame, (F, L)."""
        return 1.0 / (1.0 - self.toward[:, None] * self.nearness)

    @property
    def drift(self) -> Floats:
        """(A − X)/(D − Z) of every level on every frame, (F, L): times the lens in pixels it is a place on screen."""
        return (self.own - self.across[:, None]) * self.nearness * self.growth


def world_of(brief: Brief) -> World:
    """Return the world of a brief on every frame; raises ShotError where the walk reaches or passes a level."""
    draft = brief.draft
    frames = np.arange(draft.frames[0], draft.frames[1] + 1)
    distances = {name: element.distance for name, element in zip(draft.names, brief.elements, strict=True)}
    toward = walked(brief.toward, frames=frames, distances=distances)
    across = walked(brief.across, frames=frames, distances=distances)
    own = np.stack([walked(element.across, frames=frames, distances={}) for element in brief.elements], axis=-1)
    for name, distance in distances.items():
        if (reached := np.flatnonzero(toward >= distance)).size:
            unit = brief.world_units
            far, at = (number_text(value / WORLD_UNITS[unit]) for value in (distance, toward[reached[0]]))
            problem = (
                f"{shown(name)} is {far} {unit} away, and on frame {frames[reached[0]]} the walk is at {at} {unit}"
            )
            remedy = "end the walk before it, or put the level further away"
            raise ShotError(draft.place(f"level.{name}.distance"), problem, remedy)
    return World(frames, toward, across, own, np.array(list(distances.values())))


def walked(walk: Walk, *, frames: NDArray[np.int64], distances: Mapping[str, float]) -> Floats:
    """Return where the walker is on each of ``frames``, (F,); before, between and after the legs he stands."""
    position = np.zeros(len(frames))
    for leg in walk:
        rows = slice(leg.first - frames[0], leg.last - frames[0] + 1)
        position[rows] = _leg_positions(leg, distances)
        position[rows.stop :] = leg.end
    return position


def _leg_positions(leg: Leg, distances: Mapping[str, float]) -> Floats:
    span = leg.last - leg.first
    steps = np.arange(span + 1)
    if leg.law is Law.SINE:
        return motion_laws.sine(steps, span=span, start=leg.start, end=leg.end)
    if leg.law is Law.BEZIER:
        return motion_laws.bezier(
            steps, span=span, start=leg.start, end=leg.end, slow_out=leg.slow_out, slow_in=leg.slow_in
        )
    if leg.law is Law.STEADY:
        return motion_laws.steady(
            steps, span=span, start=leg.start, end=leg.end, slow_out=leg.slow_out, slow_in=leg.slow_in
        )
    distance = distances[leg.about]
    near = max(distance - leg.end, 0.0)  # a walk that reaches its level is refused afterwards, with its frame
    return distance - motion_laws.ratio(steps, span=span, start=distance - leg.start, end=near)


def travel_of(position: Floats) -> float:
    """Return how far a counter runs that follows ``position`` (F,), there and back both counted."""
    return float(np.abs(np.diff(position)).sum())
