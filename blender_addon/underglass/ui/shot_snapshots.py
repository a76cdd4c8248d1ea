# SPDX-License-Identifier: GPL-3.0-or-later
"""Snapshots: shots as their files were when this Blender read or wrote them, by the stamp of that state.

Undo brings a scene back to an earlier stamp, and no file. What the scene was built from then is here, texts and all.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .. import blender_versions
from ..plan import Plan
from ..shot import Shot
from ..shot.files.stamp import texts_of

# More states than anybody goes back; a state is a few texts and a plan.
MOST = 40


@dataclass(frozen=True)
class Snapshot:
    """A shot, its plan, and the texts that it was read from, by path."""

    shot: Shot
    plan: Plan
    texts: Mapping[Path, str]


_kept: dict[tuple[str, str], Snapshot] = {}
_ours: set[tuple[int, str]] = set()


def keep(path: Path, state: str, *, shot: Shot, plan: Plan) -> Snapshot:
    """Keep what was just read in ``state``; raises ShotError where a file went away meanwhile."""
    snapshot = Snapshot(shot, plan, texts_of(shot))
    _kept.pop((str(path), state), None)
    _kept[str(path), state] = snapshot
    while len(_kept) > MOST:
        del _kept[next(iter(_kept))]
    return snapshot


def of(path: Path, state: str) -> Snapshot | None:
    """Return the shot as it was in ``state``, None where this Blender never saw it."""
    return _kept.get((str(path), state))


def belongs(scene: Any, state: str) -> None:
    """Remember that ``scene`` was read from files in ``state``, or wrote them."""
    _ours.add((blender_versions.identity(scene), state))


def is_of(scene: Any, state: str) -> bool:
    """Return whether ``scene`` itself ever was read from files in ``state``, or wrote them: undo may go back there."""
    return (blender_versions.identity(scene), state) in _ours


def clear() -> None:
    """Forget all: another file was loaded."""
    _kept.clear()
    _ours.clear()
