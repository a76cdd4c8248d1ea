# SPDX-License-Identifier: GPL-3.0-or-later
"""What an edit of a scene is: something done by hand to a stack that was built right, and how a proof may name it.

Whether it does harm is told by pictures before and after, and by nothing that stands here.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

Hand = Callable[[Any], None]


@dataclass(frozen=True)
class Edit:
    """One edit: ``codes`` are right names of it, the first fault of a proof that fails has one of them.

    ``words`` have to be in its message. Where ``planned`` the edit breaks what the shot's files ask for though no pixel
    tells: it fails by right. Where ``noise`` pixels change by the noise of sampling alone: it passes by right.
    """

    name: str
    do: Hand
    codes: frozenset[str]
    words: tuple[str, ...] = ()
    planned: bool = False
    noise: bool = False


EDITS: dict[str, Edit] = {}


def edit(
    name: str, *codes: str, words: tuple[str, ...] = (), planned: bool = False, noise: bool = False
) -> Callable[[Hand], Hand]:
    """Enter a function into the table of edits under ``name``."""

    def enter(do: Hand) -> Hand:
        assert name not in EDITS, name
        EDITS[name] = Edit(name, do, frozenset(codes), words, planned, noise)
        return do

    return enter
