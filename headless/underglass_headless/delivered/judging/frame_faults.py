# SPDX-License-Identifier: GPL-3.0-or-later
"""Faults of delivered frames: one for each stretch of frames of which the same is to be said."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from underglass.proof.proof_facts import BLOCK, Fault
from underglass.proof.wording import plain
from underglass.shot.words import first_of

from ..files.frame_lists import frames_said, in_stretches
from .delivered_frame import DeliveredFrame, Group

NAN = float("nan")


class FoundFault(NamedTuple):
    """A fault, and each of the frames that it is of: between the first and the last there may be clean ones."""

    fault: Fault
    frames: frozenset[int]


def faults_of(
    code: str,
    files: Sequence[DeliveredFrame],
    words: Callable[[Group], str],
    *,
    alike: Callable[[DeliveredFrame], object] = lambda file: "",
) -> list[FoundFault]:
    """Return a fault for each stretch of ``files`` that are alike; ``words`` says what those of one stretch are."""
    groups: dict[object, list[DeliveredFrame]] = {}
    for file in files:
        groups.setdefault(alike(file), []).append(file)
    faults = []
    for group in groups.values():
        for part in in_stretches([file.frame for file in group]):
            mine = [file for file in group if file.frame in set(part)]
            faults.append(fault_of(code, part, f"{frames_said(part)} {words(mine)}"))
    return faults


def are(group: Group) -> str:
    """Return “is” for one frame, “are” for many."""
    return form(group, "is", "are")


def form(group: Group, one: str, many: str) -> str:
    """Return the form of a word for one frame or for many; one frame may be there in several files."""
    return one if len({file.frame for file in group}) == 1 else many


def few(names: Sequence[str]) -> str:
    """Return the first three of some names, and how many more there are."""
    return first_of([plain(name) for name in names], 3)


def fault_of(code: str, frames: Sequence[int], text: str, *, severity: str = BLOCK) -> FoundFault:
    """Return the fault ``code`` of some frames; ``text`` is its message."""
    asked = frozenset(frames)
    fault = Fault(code, severity, "frames", "", (min(asked), max(asked)), float(len(asked)), "frames", NAN, text)
    return FoundFault(fault, asked)
