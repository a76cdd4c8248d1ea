# SPDX-License-Identifier: GPL-3.0-or-later
"""What a kind of alteration is: what is done to a clean delivery, and what has to be said of it, with why."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from altered.delivery import Delivery
from underglass_headless.report.fault_codes import AXES

CYCLES, EEVEE = "cycles", "eevee"
BOTH = (CYCLES, EEVEE)
# Stands for one line of an error in place of a proof.
ERROR = "an error"
# So many faults at most are one thing said clearly.
FEW = 2


@dataclass(frozen=True)
class Tolerated:
    """Nothing may be called wrong; ``why`` tells the reader. ``notes`` are codes of notes that have to be there."""

    why: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Caught:
    """The verdict has to be fail, with a stop of one of ``codes``.

    The faults of these codes together have to name ``frames``, first and last, and no others; ``subject`` has to be
    blamed where one is named, and ``words`` have to be in a message. Beside ``codes`` and ``also`` no stop may be
    there, and no more than ``most`` together. With ``some`` it is enough to name some of the frames: on the others it
    lies where nothing is certain, at edges of levels and of paint.
    """

    codes: tuple[str, ...]
    frames: tuple[int, int] | None = None
    words: str = ""
    subject: str = ""
    also: tuple[str, ...] = ()
    most: int = FEW
    some: bool = False


@dataclass(frozen=True)
class Kind:
    """One kind of alteration."""

    family: str
    name: str
    alter: Callable[[Delivery], None]
    expected: Tolerated | Caught
    engines: tuple[str, ...] = BOTH

    @property
    def label(self) -> str:
        """Family and name."""
        return f"{self.family}: {self.name}"


def of_axes(*axes: str) -> tuple[str, ...]:
    """Return all codes of some axes, and the one for what no single part explains."""
    known = {axis.name: axis.codes for axis in AXES}
    return (*(code for axis in axes for code in known[axis]), "out-of-place")


def span(frames: Iterable[int]) -> tuple[int, int]:
    """Return first and last."""
    known = sorted(frames)
    return known[0], known[-1]
