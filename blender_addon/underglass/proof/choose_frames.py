# SPDX-License-Identifier: GPL-3.0-or-later
"""Choosing test frames: those on which anything that can go wrong would show most."""

import re
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from ..plan.plan_arrays import Floats, Plan
from ..shot import Place, ShotError
from ..shot.quantity import MOST_FRAME

FEWEST = 8
# What goes back by less was not meant to, px: as much as a proof allows for.
TURNS_BY_PX = 0.05
# A frame with more digits is beyond any shot, however it goes on.
MOST_DIGITS = 12
# Where frames are asked for at the command line.
ASKED = "--frames"


def choose_frames(plan: Plan, *, fewest: int = FEWEST) -> tuple[int, ...]:
    """Return frame numbers in order: those of `reasons_for`."""
    return tuple(reasons_for(plan, fewest=fewest))


def reasons_for(plan: Plan, *, fewest: int = FEWEST) -> dict[int, str]:
    """Return frame numbers in order, and why each is a test frame: the ends of the shot, every level's extremes, and
    more between them up to ``fewest``.

    Extremes of a level are its greatest and least size, its greatest speed on screen and where its motion turns round.
    """
    count = len(plan.frames)
    chosen = {0: "the first frame", count - 1: "the last frame"}
    wanted: list[tuple[int, str]] = []
    for column, name in enumerate(plan.names):
        size, x, y = plan.size_px[:, column], plan.x[:, column], plan.y[:, column]
        chosen.setdefault(int(size.argmax()), f"{name} is largest")
        chosen.setdefault(int(size.argmin()), f"{name} is smallest")
        if count > 1:
            fastest = _fastest(np.abs(np.diff(size)) + np.hypot(np.diff(x), np.diff(y)))
            wanted.append((fastest, f"{name} is fastest"))
        # A level on twos under a camera on ones goes to and fro on screen; only its own positions tell where it turns.
        held = plan.shot.levels[column].on
        for track in (size, x, y, plan.turn[:, column] * size / 2):
            wanted += [(index * held, f"{name} turns round") for index in _turning_points(track[::held])]
    # Speeds and turning points a frame or so apart would show the same thing twice.
    near = max(1, count // 100)
    for index, reason in wanted:
        if all(abs(index - other) > near for other in chosen):
            chosen[index] = reason
    while len(chosen) < min(fewest, count):
        chosen[_middle_of_widest_gap(sorted(chosen))] = "between two other test frames"
    return {int(plan.frames[index]): chosen[index] for index in sorted(chosen)}


def fastest_frame(plan: Plan) -> int:
    """Return the frame after the step on which anything goes fastest on screen, edges of what turns too."""
    if len(plan.frames) < 2:
        return int(plan.frames[0])
    turns = np.abs(np.diff(plan.turn, axis=0)) * plan.size_px[1:] / 2
    speed = np.abs(np.diff(plan.size_px, axis=0)) + np.hypot(np.diff(plan.x, axis=0), np.diff(plan.y, axis=0)) + turns
    fastest = speed.max(axis=1)
    return int(plan.frames[_fastest(fastest)]) if fastest.max() > 0 else int(plan.frames[0])


def frames_to_picture(plan: Plan, *, asked: Sequence[int]) -> dict[int, str]:
    """Return the frames that are worth a picture, in order, and why: those that were ``asked`` for, or else the first
    and the last frame and the test frame nearest to the middle of the shot.

    To ask for the frames that are chosen anyway, as a farm's job does, is to ask for none.
    """
    reasons = reasons_for(plan)
    if asked and sorted(set(asked)) != list(reasons):
        return dict.fromkeys(frames_to_test(plan, asked=asked), "asked for")
    first, last = min(reasons), max(reasons)
    middle = min(reasons, key=lambda frame: abs(2 * frame - first - last))
    return {frame: reasons[frame] for frame in sorted({first, middle, last})}


def frames_to_test(plan: Plan, *, asked: Sequence[int], where: str = ASKED) -> tuple[int, ...]:
    """Return the frames that are ``asked`` for, in order, or chosen ones where none is.

    Raises ShotError, which says ``where`` it was asked, for a frame that is not in the shot.
    """
    first, last = int(plan.frames[0]), int(plan.frames[-1])
    for frame in asked:
        if not first <= frame <= last:
            raise _no_frames(where, f"frame {frame} is not in the shot", f"choose from {first} to {last}")
    return tuple(sorted(set(asked))) or choose_frames(plan)


def _fastest(speed: Floats) -> int:
    """Return the frame after the fastest step; of a steady run its middle, where a late move shows as well."""
    fast = np.flatnonzero(speed >= speed.max() * (1 - 1e-9))
    return int(fast[len(fast) // 2]) + 1


def _turning_points(track: Floats) -> Iterator[int]:
    """Yield where a motion, px, turns round: its last position before it goes the other way by what could be seen.

    Less than that is a counter's rounding, as on a level whose size is held.
    """
    pivot, way = 0, 0
    for index in range(1, len(track)):
        gone = track[index] - track[pivot]
        if way * gone > 0 or (not way and abs(gone) >= TURNS_BY_PX):
            pivot, way = index, 1 if gone > 0 else -1
        elif way and abs(gone) >= TURNS_BY_PX:
            yield pivot
            pivot, way = index, -way


def _middle_of_widest_gap(ordered: list[int]) -> int:
    gaps = np.diff(ordered)
    widest = int(gaps.argmax())
    return ordered[widest] + int(gaps[widest]) // 2


def parse_frames(text: str, *, where: str = ASKED) -> tuple[int, ...]:
    """Return the frames that a list such as ``1,48-60,144`` names, ``1-9:2`` every second; empty means: choose them.

    Raises ShotError, which says ``where`` the list stands and names the piece that is no frame.
    """
    frames: list[int] = []
    for piece in filter(None, (part.strip() for part in text.split(","))):
        ends = re.fullmatch(r"(-?[0-9]+)(?:-(-?[0-9]+)(?::([0-9]+))?)?", piece)
        if ends is None:
            raise _no_frames(where, f"{piece!r} is no frame or range", "write such as 1,48-60,144")
        first, last = int(ends[1][:MOST_DIGITS]), int((ends[2] or ends[1])[:MOST_DIGITS])
        if first > last:
            raise _no_frames(
                where,
                f"{piece!r} is no frame or range: it has its last frame before its first",
                f"write {last}-{first}",
            )
        if max(abs(first), abs(last)) > MOST_FRAME:
            raise _no_frames(
                where,
                f"{piece!r} is no frame or range: it is not in the shot",
                f"no shot goes beyond frame {MOST_FRAME}",
            )
        step = int((ends[3] or "1")[:MOST_DIGITS])
        if step < 1:
            raise _no_frames(where, f"{piece!r} is no frame or range: it takes no step", f"write {first}-{last}")
        frames += range(first, last + 1, step)
    return tuple(sorted(set(frames)))


def _no_frames(where: str, problem: str, remedy: str) -> ShotError:
    return ShotError(Place(Path(where)), problem, remedy)
