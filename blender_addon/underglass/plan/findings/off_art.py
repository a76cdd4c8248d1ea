# SPDX-License-Identifier: GPL-3.0-or-later
"""Art that ends inside the frame, and art that all but does."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ...shot.words import number_text
from ..plan_arrays import Floats, Plan
from .finding import BLOCK, NOTE, Finding
from .out_of_frame import overlaps
from .seen_art import Sight, edge_reach
from .worst_stretch import frames_of, in_unit, length_text, listed_and, px_text

# Less art than this beyond the edge, as a share of the field's width, and a gate a little out of line shows its end.
THIN_SHARE = 0.01
_AXIS = {"left": "east", "right": "east", "top": "north", "bottom": "north"}
# Art made to fill the frame exactly does fill it, also where a scene holds its place in single precision.
_ROUNDING_SHARE = 1e-6


def find_off_art(plan: Plan, sight: Sight) -> Iterator[Finding]:
    """Yield levels that uncover an edge they should cover, and those that cover it by little."""
    reach = edge_reach(plan, sight)
    field = plan.shot.camera.frame_px[0] / plan.scale
    ever_in = overlaps(plan, sight).any(axis=0)
    for column, level in enumerate(plan.shot.levels):
        edges = plan.shot.edges_to_cover(level)
        if not edges:
            continue
        margins = np.stack([reach[edge][:, column] for edge in edges])
        found = _uncovered(plan, column, edges, margins, field[:, column])
        if found and not ever_in[column]:
            found = _never_in(plan, found)
        if found or (found := _thin(plan, column, edges, margins, field[:, column])):
            yield found


def _uncovered(plan: Plan, column: int, edges: tuple[str, ...], margins: Floats, field: Floats) -> Finding | None:
    bare = margins < -_ROUNDING_SHARE * field
    if not bare.any():
        return None
    # what is seen counts, so the worst is the worst in pixels
    edge, row = np.unravel_index(int((margins * plan.scale[:, column]).argmin()), margins.shape)
    name, by = plan.names[column], -margins[edge, row]
    bared = listed_and([edges[index] for index in np.flatnonzero(bare.any(axis=1))])
    frame = plan.frames[row]
    how_far = f"{length_text(plan, by)} ({px_text(by * plan.scale[row, column])})"
    return Finding(
        "off-art",
        BLOCK,
        name,
        _AXIS[edges[edge]],
        frames_of(plan.frames, bare.any(axis=0), row=int(row)),
        in_unit(plan, by),
        0.0,
        plan.shot.units,
        f"{name} uncovers the {bared} of the frame, worst at the {edges[edge]} by {how_far} on frame {frame}",
        f"paint {length_text(plan, by)} more there, or shift the level or its move by as much",
    )


def _never_in(plan: Plan, found: Finding) -> Finding:
    """Return the finding of a level that uncovers the frame, with the cause: none of it is ever in the frame."""
    message = f"{found.level} is never in the frame, and so{found.message.removeprefix(found.level)}"
    by = f"{number_text(found.value, digits=3)} {plan.shot.units}"
    return replace(found, message=message, remedy=f"move the level, its move or the camera by at least {by}")


def _thin(plan: Plan, column: int, edges: tuple[str, ...], margins: Floats, field: Floats) -> Finding | None:
    shares = margins / field
    edge, row = np.unravel_index(int(shares.argmin()), shares.shape)
    if shares[edge, row] >= THIN_SHARE:
        return None
    name = plan.names[column]
    by, least = max(0.0, float(margins[edge, row])), THIN_SHARE * field[row]
    return Finding(
        "thin-margin",
        NOTE,
        name,
        _AXIS[edges[edge]],
        frames_of(plan.frames, (shares < THIN_SHARE).any(axis=0), row=int(row)),
        in_unit(plan, by),
        in_unit(plan, least),
        plan.shot.units,
        f"{name} reaches only {length_text(plan, by)} ({px_text(by * plan.scale[row, column])}) beyond the"
        f" {edges[edge]} of the frame on frame {plan.frames[row]}",
        f"line up with care, or let it reach {length_text(plan, least)} beyond, {THIN_SHARE:.0%} of the field",
    )
