# SPDX-License-Identifier: GPL-3.0-or-later
"""What a brief is: a shot whose stack is not worked out yet, and the walk through the world that it must show.

Lengths on the stand and in the world are both metres here; how the file spells them is `brief_file`.
"""

from dataclasses import dataclass

from underglass.shot.model import Law, Shot


@dataclass(frozen=True)
class Leg:
    """One stretch of a walk: at frame ``first`` the walker is at ``start``, at ``last`` at ``end``; metres.

    ``about`` names the level that a walk by equal ratios is measured from: its distance shrinks by equal ratios.
    """

    first: int
    last: int
    start: float
    end: float
    law: Law = Law.STEADY
    slow_out: float = 0.0
    slow_in: float = 0.0
    about: str = ""


Walk = tuple[Leg, ...]


@dataclass(frozen=True)
class Element:
    """What a level shows of the world, and what is settled of its glass before the plan.

    ``distance`` is how far it is in the world where the walk begins, m, inf allowed; ``across`` is how it goes across
    the world by itself. ``height`` is where its glass is clamped on the first frame, None where the plan may choose.
    ``said_width`` and ``said_east`` tell whether the brief says the art's width and its place.
    """

    distance: float
    across: Walk = ()
    height: float | None = None
    said_width: bool = True
    said_east: bool = True


@dataclass(frozen=True)
class Paint:
    """What the painter asks: ``bleed`` beyond what the lens sees, and the narrowest field worth painting; metres."""

    bleed: float
    least_field: float


@dataclass(frozen=True)
class Brief:
    """A shot to be planned.

    ``draft`` is the shot as far as the brief says it: heights are NaN where the plan chooses, art widths NaN where
    they follow from it, ``art_px`` is (0, 0) where there is no art yet. ``elements`` go with the draft's levels,
    nearest first. ``lenses`` are the focal lengths to choose from.
    """

    draft: Shot
    elements: tuple[Element, ...]
    toward: Walk
    across: Walk
    world_units: str
    lenses: tuple[float, ...]
    camera_height: float | None
    paint: Paint
