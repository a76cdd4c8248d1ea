# SPDX-License-Identifier: GPL-3.0-or-later
"""Frames that show the very same picture where the plan has it change; a hold is none."""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from underglass.plan.plan_arrays import Plan
from underglass.plan.planning import corners_px
from underglass.proof.proof_facts import BLOCK, Fault

from ..files.frame_lists import frames_said, stretches
from .delivered_frame import DeliveredFrame
from .frame_faults import FoundFault

# A picture that changes by less than this between two frames may well be the same picture.
SAME_PX = 0.02


def identical_faults(
    plan: Plan,
    files: Sequence[DeliveredFrame],
    shown: Mapping[tuple[int, int], float],
    drawn: Mapping[tuple[int, int], str],
) -> Iterator[FoundFault]:
    """Yield frames that show the very same picture where the plan has it change; a hold is none."""
    alike: dict[str, list[DeliveredFrame]] = {}
    for file in files:
        if file.digest:
            alike.setdefault(file.digest, []).append(file)
    corners: NDArray[np.float64] | None = None
    for group in alike.values():
        frames = sorted({file.frame for file in group})
        inside = [frame for frame in frames if plan.frames[0] <= frame <= plan.frames[-1]]
        if len(inside) < 2:
            continue
        corners = corners_px(plan) if corners is None else corners
        rows = [frame - int(plan.frames[0]) for frame in inside]
        # Who moves outside of the frame, behind others or without a drawing changes nothing in it.
        seen = [
            column
            for column in range(len(plan.names))
            if any(shown.get((frame, column), 1.0) > 0.0 for frame in inside)
        ]
        moves = float(np.linalg.norm(corners[rows] - corners[rows[0]], axis=-1)[:, seen].max(initial=0.0))
        drawings = [
            {
                drawn.get((frame, column), str(plan.drawing[row, column]))
                for frame, row in zip(inside, rows, strict=True)
            }
            for column in seen
        ]
        if moves > SAME_PX or any(len(held) > 1 for held in drawings):
            yield from (_of_the_same(part, inside, moves) for part in stretches(inside))


def _of_the_same(part: tuple[int, int], alike: Sequence[int], moves: float) -> FoundFault:
    """Return the fault of one stretch of frames that are ``alike`` the same picture."""
    mine = range(part[0], part[1] + 1)
    others = [frame for frame in alike if frame not in mine]
    are, as_ = "is" if len(mine) == 1 else "are", f" as {frames_said(others)}" if others else ""
    text = f"{frames_said(mine)} {are} the very same picture{as_}, where the plan has it change"
    fault = Fault("frames-identical", BLOCK, "frames", "", part, float(len(mine)), "frames", moves, text)
    return FoundFault(fault, frozenset(mine))
