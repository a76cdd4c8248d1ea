# SPDX-License-Identifier: GPL-3.0-or-later
"""Gaps: where a delivered frame shows less or more of a level than the plan and the art allow, and faults made of that.

How they are found in the pixels is not here.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from underglass.proof.proof_facts import BLOCK, Fault
from underglass.proof.wording import listed
from underglass.shot.words import number_text

from ..files.frame_lists import frames_said, in_stretches

NAN = float("nan")

HOLE = "frame-hole"
COVERED = "in-the-way"
CUT_OFF = "cut-off"
TOO_MUCH = "shows-too-much"
THROUGH = "see-through"
STRANGE = "strange-pixels"
HIDING = frozenset({COVERED, TOO_MUCH})
GAPS = frozenset({HOLE, COVERED, CUT_OFF, TOO_MUCH, THROUGH})


@dataclass(frozen=True)
class Gap:
    """A part of one frame that does not show what it should.

    ``what`` is the code of what is wrong there. ``level`` is the number of the level that it is said of, None where it
    is the whole frame. ``share`` of the frame's area is wrong, as far as it was looked at. ``box`` is left, top, right
    and bottom of it in px from the frame's upper left corner. ``only_picture`` tells that the passes are right there.
    """

    what: str
    level: int | None
    share: float
    box: tuple[int, int, int, int]
    only_picture: bool = False


def gap_faults(names: Sequence[str], gaps: Sequence[tuple[int, Gap]]) -> list[tuple[Fault, frozenset[int]]]:
    """Return a fault for each run of frames with the same kind of gap, and its frames.

    ``gaps`` are pairs of a frame and a gap; ``names`` those of the levels, nearest the lens first.
    """
    found = []
    for code in (HOLE, COVERED, CUT_OFF, TOO_MUCH, THROUGH, STRANGE):
        kinds: dict[tuple[int | None, bool], list[tuple[int, Gap]]] = {}
        for frame, gap in sorted(gaps, key=lambda pair: pair[0]):
            if gap.what == code:
                # What passes hold that cannot be is of one cause, in however many levels it shows.
                level = None if code == STRANGE else gap.level
                kinds.setdefault((level, gap.only_picture), []).append((frame, gap))
        for mine in kinds.values():
            parts = in_stretches([frame for frame, _ in mine])
            found += [_fault(code, names, [pair for pair in mine if pair[0] in part]) for part in map(set, parts)]
    return found


def _fault(code: str, names: Sequence[str], run: Sequence[tuple[int, Gap]]) -> tuple[Fault, frozenset[int]]:
    frames = frozenset(frame for frame, _ in run)
    at, worst = max(run, key=lambda pair: pair[1].share)
    subject = "frames" if worst.level is None else names[worst.level]
    levels = sorted({gap.level for _, gap in run if gap.level is not None})
    text = f"{frames_said(sorted(frames))}: {_words(worst, subject, levels, names)}, {_where(worst, at, len(frames))}"
    ends = min(frames), max(frames)
    return Fault(code, BLOCK, subject, "", ends, 100 * worst.share, "percent", NAN, text), frames


def _words(gap: Gap, subject: str, levels: Sequence[int], names: Sequence[str]) -> str:
    if gap.what == STRANGE and len(levels) > 1:
        return (
            f"{listed([names[level] for level in levels])} have values in their proof passes that do not fit the rest,"
            f" most of all {subject}"
        )
    if gap.what == HOLE and gap.only_picture:
        return "a part of the picture is black, where the art is not"
    return {
        HOLE: "a part of the frame shows no level at all",
        COVERED: (
            "something that is not in the plan covers a part of the frame"
            if gap.level is None
            else f"something that is not in the plan covers {subject} and all that is behind it"
        ),
        CUT_OFF: f"{subject} has a hole that no level in front of it makes",
        TOO_MUCH: f"{subject} is opaque where its art is clear; look whether its art was there in the render",
        THROUGH: f"{subject} is see-through where its art is opaque; look whether its art was there in the render",
        STRANGE: f"{subject} has values in its proof pass that do not fit the rest",
    }[gap.what]


def _where(gap: Gap, frame: int, count: int) -> str:
    left, top, right, bottom = gap.box
    share = number_text(max(100 * gap.share, 0.01), digits=2)
    on = f" on frame {frame}" if count > 1 else ""
    return (
        f"about {share} % of the frame{on}, within {right - left} × {bottom - top} px that begin {left} px from the"
        f" left and {top} px from the top"
    )
