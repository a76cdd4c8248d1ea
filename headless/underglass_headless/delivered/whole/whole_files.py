# SPDX-License-Identifier: GPL-3.0-or-later
"""Whole files: what one delivered frame is as a whole, looked into where its levels are not where the plan has them."""

from collections.abc import Callable, Mapping, Set
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.plan import Plan
from underglass.proof.measure.measured_corners import Fit

from ..files.pass_fits import LevelPass
from .filtered_passes import filtered
from .flattened_passes import flattened, inverted
from .moved_parts import moved_parts, repeated_lines
from .picture_map import file_of_map, map_of
from .recoloured_passes import hold_what_is_planned, levels_exchanged, recoloured, said_of_passes
from .whole_frame import (
    Places,
    WholeFrame,
    another_frame,
    off_levels,
    parts_that_differ,
    passes_of_another,
    patched,
    shows_another,
    torn,
    torn_words,
)
from .whole_places import held_by, is_repeated, left_by, whole_places

Floats = NDArray[np.float64]
# Tells of which of two rows of the plan a picture is; None where it does not tell.
WhosePicture = Callable[[int, int], int | None]

# A pass with something in fewer pixels than these says nothing of its level.
LEAST_PX = 64
# Of shared coordinates an exchange is told by coarse ones: they have to come this near, px.
EXCHANGED_PX = 0.5
# Round a tear so many pixels are looked at more closely.
ROUND_TEAR_PX = 12
# How far a place may be from the one of another level, in scatters.
SCATTERS = 3.0


# No mark is larger than 1; of every so many pixels each way one is looked at.
MOST_MARK = 1.02
EVERY = 8


def _is_overmarked(made: LevelPass) -> bool:
    """Return whether most of the pixels that show the level are marked by more than a whole one."""
    some = made.hit[::EVERY, ::EVERY]
    some = some[some > 0]
    return bool(some.size) and float(np.median(some)) > MOST_MARK


@dataclass(frozen=True)
class WholeFiles:
    """The plan that frames are held against, with its ``corners`` (F, L, 4, 2) px."""

    plan: Plan
    corners: Floats
    tolerance: float

    def look(
        self,
        frame: int,
        passes: Mapping[int, LevelPass],
        fits: Mapping[int, Fit | None],
        whose_picture: WhosePicture | None = None,
    ) -> WholeFrame | None:
        """Return what the file of ``frame`` is as a whole, or None where it is nothing but a frame of the stand.

        Nothing is looked into where every level is where the plan has it.
        """
        row = frame - int(self.plan.frames[0])
        if not 0 <= row < len(self.corners):
            return None
        known = {level: made for level, made in passes.items() if level < len(self.plan.names)}
        lost = {
            level
            for level, made in known.items()
            if fits.get(level) is None and np.count_nonzero(made.hit) + np.count_nonzero(made.u) >= LEAST_PX
        }
        off = off_levels(fits, corners=self.corners[row], tolerance=self.tolerance)
        if not off and not lost:
            # Coordinates are told by their share of the mark: where all were made larger alike, only the mark tells.
            over = any(map(_is_overmarked, known.values()))
            found = repeated_lines(known) or (self._changed(row, known) if over else None)
            # Beyond what shows of a level a filter's traces grow, and samples that are alike tell less than they seem.
            return found or (filtered(known) if self._is_any_corner_off(row, fits) else None)
        other = another_frame(self.plan, fits, corners=self.corners, row=row, tolerance=self.tolerance)
        if other != row:
            return self._another(row, other, sorted(off), whose_picture)
        return (
            self._flattened(row, known, off | lost)
            or repeated_lines(known)
            or self._exchanged(row, known)
            or self._changed(row, known)
            or (self._moved(row, known, off, lost) if off else None)
            or self._changed(row, known, unmoved=True)
            or self._changed(row, known, only=off | lost)
            or filtered(known)
        )

    def _is_any_corner_off(self, row: int, fits: Mapping[int, Fit | None]) -> bool:
        """Return whether corners of a level are not known to be in place, and out by more than their uncertainty."""
        for level, fit in fits.items():
            if fit is not None and level < len(self.plan.names):
                out = float(np.linalg.norm(fit.corners - self.corners[row, level], axis=-1).max())
                if out > fit.uncertainty_px and out + fit.uncertainty_px > self.tolerance:
                    return True
        return False

    def _another(self, row: int, other: int, off: list[int], whose_picture: WhosePicture | None) -> WholeFrame:
        parts = parts_that_differ(self.plan, levels=off, row=row, other=other)
        if whose_picture is not None and whose_picture(row, other) == row:
            return passes_of_another(other - row, parts=parts)
        return shows_another(other - row, parts=parts)

    def _moved(self, row: int, passes: Mapping[int, LevelPass], off: set[int], lost: set[int]) -> WholeFrame | None:
        frame_px = self.plan.shot.camera.frame_px
        seen = whole_places(passes, frame_px=frame_px)
        corners = self.corners[row]
        parts = patched(seen, corners=self.corners, row=row, frame_px=frame_px)
        if parts is None and 2 * len(off | lost) > len(seen):
            moved = map_of(seen, corners=corners, frame_px=frame_px)
            if moved is not None:
                found = file_of_map(
                    moved,
                    frame_px=frame_px,
                    squeeze=self.plan.shot.camera.squeeze,
                    left_by=lambda tried: left_by(tried, passes, corners=corners, frame_px=frame_px, seen=seen),
                    repeated=is_repeated(moved, passes),
                )
                if found is not None:
                    return found
        tear = torn(self.plan, seen, corners=self.corners, row=row, frame_px=frame_px)
        if tear is None:
            return parts or moved_parts(seen, corners=corners, frame_px=frame_px)
        within = (tear.axis, tear.at - ROUND_TEAR_PX, tear.at + ROUND_TEAR_PX)
        close = whole_places(passes, frame_px=frame_px, within=within)
        finer = torn(self.plan, close, corners=self.corners, row=row, frame_px=frame_px, near=tear)
        return torn_words(finer or tear, row=row)

    def _flattened(self, row: int, passes: Mapping[int, LevelPass], wrong: Set[int]) -> WholeFrame | None:
        """Return how passes lost the places that were in them, or that they were inverted."""
        corners, names = self.corners[row], self.plan.names
        found = flattened(passes, wrong=wrong, names=names, corners=corners)
        if found is not None:
            return found
        back, _ = held_by(inverted(passes), corners=corners, names=names, frame_px=self.plan.shot.camera.frame_px)
        return said_of_passes("were inverted: each number was taken from 1", []) if hold_what_is_planned(back) else None

    def _changed(
        self, row: int, passes: Mapping[int, LevelPass], *, only: Set[int] = frozenset(), unmoved: bool = False
    ) -> WholeFrame | None:
        """Return how the numbers in the passes were changed: in all of them alike, or in those of some levels alone."""
        frame_px, names = self.plan.shot.camera.frame_px, self.plan.names
        if only and len(only) == len(passes):
            return None
        looked_at = {level: made for level, made in passes.items() if not only or level in only}
        straight, crossed = held_by(looked_at, corners=self.corners[row], names=names, frame_px=frame_px)
        found = recoloured(straight, only=bool(only), unmoved=unmoved or bool(only))
        if found is None and not only and hold_what_is_planned(crossed):
            words = "proof passes proofu and proofv exchanged"
            return WholeFrame("passes-exchanged", words, f"has {words}", f"have {words}")
        return found

    def _exchanged(self, row: int, passes: Mapping[int, LevelPass]) -> WholeFrame | None:
        """Return which levels have one another's passes."""
        frame_px, names = self.plan.shot.camera.frame_px, self.plan.names
        pairs = []
        for one in whole_places(passes, frame_px=frame_px, fine=False):
            shared = bool(passes[one.level].fringes)
            out = self._out(row, one)
            allowed = max(EXCHANGED_PX if shared else self.tolerance, SCATTERS * one.noise_px)
            if out[one.level] <= allowed:
                continue
            nearest = int(out.argmin())
            if out[nearest] > allowed:
                return None
            pairs.append((one.level, nearest))
        if len(pairs) < 2 or {a for a, _ in pairs} != {b for _, b in pairs}:
            return None
        return levels_exchanged([(names[a], names[b]) for a, b in pairs])

    def _out(self, row: int, one: Places) -> Floats:
        """Return how far the places of a level are from where the plan has those of each level, (L,), px."""
        corners = self.corners[row]
        sides = corners[:, [1, 3]] - corners[:, :1]
        planned = np.einsum("nc,lcx->lnx", one.uv, sides) + corners[:, :1]
        return np.asarray(np.median(np.linalg.norm(planned - one.px, axis=-1), axis=1))
