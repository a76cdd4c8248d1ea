# SPDX-License-Identifier: GPL-3.0-or-later
"""How the numbers of frames are listed for people: stretches of frames that follow one another."""

from collections.abc import Iterable, Sequence
from itertools import pairwise

# More stretches than these are one fault: nobody reads a list of hundreds.
MOST_STRETCHES = 12


def frame_list(frames: Iterable[int]) -> str:
    """Return frames as people list them: 1-24,30,48-60; below 0 a dash is no more than a sign: -5 to 3."""
    return ",".join(str(a) if a == b else f"{a} to {b}" if a < 0 else f"{a}-{b}" for a, b in stretches(frames))


def stretches(frames: Iterable[int]) -> list[tuple[int, int]]:
    """Return first and last frame of each run of frames that follow one another."""
    ordered = sorted(set(frames))
    if not ordered:
        return []
    ends = [before for before, after in pairwise(ordered) if after != before + 1] + [ordered[-1]]
    begins = [ordered[0]] + [after for before, after in pairwise(ordered) if after != before + 1]
    return list(zip(begins, ends, strict=True))


def in_stretches(frames: Sequence[int]) -> list[list[int]]:
    """Return the frames stretch by stretch, or all together where that would be too many."""
    found = [list(range(first, last + 1)) for first, last in stretches(frames)]
    return found if len(found) <= MOST_STRETCHES else [sorted(set(frames))]


def frames_said(frames: Sequence[int]) -> str:
    """Return frames as a sentence begins with them: frame 7, frames 1-24,30."""
    return f"frame{'' if len(set(frames)) == 1 else 's'} {frame_list(frames)}"
