# SPDX-License-Identifier: GPL-3.0-or-later
"""What a kind of fault is: something that is done to a clean shot, and what a proof has to say of it, by its doer.

How far the picture is put out is worked out in `stand`; nothing here asks the code that is tested.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from faults.stand import Stand, stand_of
from underglass.plan import Plan
from underglass.shot import CAMERA, Projection, Shot

TOLERANCE_PX = 0.05


class UnfitError(Exception):
    """The fault cannot be planted in this shot, or would not show there as wanted: take another."""


@dataclass(frozen=True)
class Name:
    """A right name of a fault: any of ``codes`` of ``subject``.

    ``sign`` is the heading of its amount, 0 where it has none; ``amount`` in the fault's ``unit``, None where a number
    says nothing; ``px`` (F,) how far this alone puts the picture out, which the fault's frames have to fit, ``frames``
    what they have to be.
    """

    codes: tuple[str, ...]
    subject: str
    sign: int = 0
    amount: float | None = None
    unit: str = ""
    px: np.ndarray | None = None
    frames: tuple[int, int] | None = None


@dataclass(frozen=True)
class Told:
    """One fault as it was planted.

    ``names`` are right, any of them; ``also`` may be blamed beside, as (subject, axis or code), where ``*`` is any.
    ``broken`` is the stand as it now is, None where nothing is displaced. ``structural`` faults count however little
    they displace. ``shot`` is built in the place of the clean one, ``hand`` is then laid on the scene; ``deliver`` puts
    a delivery of frames into a folder. ``amount`` in ``unit`` is for the table. Without names no harm is done. Art
    that is not ``flat`` any more is no plane that could be measured; neither is one that is seen so little aslant that
    the part in the frame does not tell, while corners far outside of it do move: there the scene's numbers tell.
    """

    names: tuple[Name, ...]
    broken: Stand | None = None
    structural: bool = False
    hand: Callable[[Any], None] | None = None
    shot: Shot | None = None
    deliver: Callable[[Plan, Path], None] | None = None
    also: frozenset[tuple[str, str]] = frozenset()
    amount: float = float("nan")
    unit: str = ""
    flat: bool = True


@dataclass(frozen=True)
class Draw:
    """What a kind may draw on: a clean shot, its stand, dice, and how far the picture should be put out, px."""

    shot: Shot
    stand: Stand
    rng: np.random.Generator
    aim_px: float

    def level(self) -> int:
        """Return a level, any of them."""
        return int(self.rng.integers(len(self.shot.levels)))

    def sign(self) -> float:
        """Return one way or the other."""
        return float(self.rng.choice([-1.0, 1.0]))

    def scaled(self, change: Callable[[float], Stand], *, trial: float = 1e-5) -> tuple[float, Stand]:
        """Return the amount at which ``change`` puts the picture out by what is aimed at, and the stand then."""
        amount = trial
        for _ in range(12):
            px = float(np.nan_to_num(change(amount).away_from(self.stand), nan=1e9).max())
            if px <= 0:
                raise UnfitError
            amount *= min(max(self.aim_px / px, 1e-3), 1e3)
        broken = change(amount)
        px = broken.away_from(self.stand).max()
        if not np.isfinite(px) or abs(px / self.aim_px - 1) > 1e-3:
            raise UnfitError
        return amount, broken


@dataclass(frozen=True)
class Kind:
    """A kind of fault: ``plant`` raises UnfitError where the shot does not take it; ``graded`` ones have a size."""

    name: str
    plant: Callable[[Draw], Told]
    graded: bool = True
    levels: tuple[int, int] = (1, 12)
    projection: Projection | None = None

    @property
    def in_files(self) -> bool:
        """Whether the shot's files are broken, and not the scene."""
        return self.plant.__module__.endswith("schedule_kinds")

    @property
    def harmless(self) -> bool:
        """Whether no harm is done: it has to pass."""
        return self.plant.__module__.endswith("harmless_kinds")

    @property
    def of_frames(self) -> bool:
        """Whether a delivery of frames is broken, and no scene."""
        return self.plant.__module__.endswith("frame_kinds")


KINDS: dict[str, Kind] = {}


def kind(name: str, **options: Any) -> Callable[[Callable[[Draw], Told]], Callable[[Draw], Told]]:
    """Enter a function into the list of kinds under ``name``."""

    def enter(plant: Callable[[Draw], Told]) -> Callable[[Draw], Told]:
        assert name not in KINDS
        KINDS[name] = Kind(name, plant, **options)
        return plant

    return enter


__all__ = ["CAMERA", "KINDS", "TOLERANCE_PX", "Draw", "Kind", "Name", "Told", "UnfitError", "kind", "stand_of"]
