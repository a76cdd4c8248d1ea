# SPDX-License-Identifier: GPL-3.0-or-later
"""Where samples lie: whether those of every rendered frame lie on its grid of pixels, as the datum in it tells."""

from collections.abc import Collection, Mapping

import numpy as np

from ..diagnose.fault_words import stretch
from ..measure.passes import Lattice, MeasuredFrame
from ..proof_facts import BLOCK, NOTE, Fault, Samples

# A sample lies within half the filter of its pixel's centre, which is a two-hundredth of what lies between two pixels;
# twice that, and what single precision makes of it, is the grid's own doing.
OFF_BY_SPACING = 0.01
OFF_BY_PX = 0.005


def lattice_faults(measured: Mapping[int, MeasuredFrame], *, held_out: Collection[int] = frozenset()) -> list[Fault]:
    """Return a fault where frames do not lie on the grid of their pixels, and a note where nobody knows.

    On the frames ``held_out`` a level is hidden, or held out: it may be what hides the datum, and is blamed for that.
    """
    lattices = {frame: seen.lattice for frame, seen in sorted(measured.items())}
    unknown = [frame for frame, one in lattices.items() if not one.placed]
    off = {frame: one for frame, one in lattices.items() if one.farthest_px > _allowed(one)}
    faults = []
    if off:
        worst = max(off, key=lambda frame: off[frame].farthest_px)
        one, span = off[worst], (min(off), max(off))
        text = (
            f"the rendered frame does not lie on its pixels {stretch(span)}. On frame {worst} it is shifted"
            f" by {one.shift[0]:+.3f} px east and {one.shift[1]:+.3f} px north, and scaled by {one.scale[0]:.6f} across"
            f" and {one.scale[1]:.6f} up"
        )
        faults.append(Fault("off-grid", BLOCK, "scene", "", span, one.farthest_px, "px", one.farthest_px, text))
    hidden = {frame: one for frame, one in lattices.items() if one.placed and one.hidden and frame not in held_out}
    if hidden:
        worst = max(hidden, key=lambda frame: hidden[frame].hidden)
        share = hidden[worst].hidden / (hidden[worst].columns * hidden[worst].rows)
        span = min(hidden), max(hidden)
        text = (
            f"something that is no level stands before the lens {stretch(span)}: on frame {worst} it hides"
            f" {share:.1%} of the frame"
        )
        faults.append(Fault("in-the-way", BLOCK, "scene", "", span, float("nan"), "", float("nan"), text))
    if unknown:
        span = unknown[0], unknown[-1]
        text = (
            f"the camera's clipping leaves no room for the datum {stretch(span)}: where each sample lies is not known,"
            " and levels are measured less finely"
        )
        faults.append(Fault("no-datum", NOTE, "camera", "", span, float("nan"), "", 0.0, text))
    return faults


def samples_of(measured: Mapping[int, MeasuredFrame]) -> Samples | None:
    """Return where the samples of all frames lie; None where no frame was measured."""
    lattices = [seen.lattice for seen in measured.values()]
    if not lattices:
        return None
    told = [one for one in lattices if np.isfinite(one.farthest_px)]

    def greatest(values: list[float]) -> float:
        return max((abs(value) for value in values), default=float("nan"))

    return Samples(
        datum_frames=len(told),
        spacing_px=(min(one.spacing for one in lattices), max(one.spacing for one in lattices)),
        shift_px=greatest([part for one in told for part in one.shift]),
        scale_off=greatest([part - 1.0 for one in told for part in one.scale]),
        shear=greatest([part for one in told for part in one.shear]),
        farthest_px=greatest([one.farthest_px for one in told]),
    )


def _allowed(one: Lattice) -> float:
    return OFF_BY_SPACING * one.spacing + OFF_BY_PX
