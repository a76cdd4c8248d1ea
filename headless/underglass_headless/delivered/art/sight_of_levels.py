# SPDX-License-Identifier: GPL-3.0-or-later
"""What of each level the plan shows in a frame: levels before it hide what lies behind their opaque paint.

Worked out on a coarse grid of places from the art itself, so that what is hidden is not missed in the pixels, and what
should show is.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underglass.optics.projection import art_from_px, px_from_art
from underglass.plan import Plan, corners_px
from underglass.proof.verdict.judge_levels import whole_area
from underglass.shot import UnderglassError

from .art_blocks import with_those_round
from .art_shown import Singles, art_shown, read_art
from .kept_art import Kept

Floats = NDArray[np.float64]

# Places across and up at which a frame is looked at, and the art of a level.
GRID = (64, 48)
ART_GRID = (48, 36)
# Art is looked at in so many blocks a side.
BLOCKS = 256
# Paint darker than this, in linear light, may well be black.
BRIGHT = 0.001
# Less alpha than this is not seen.
THIN = 0.02

# So many pieces of art are kept in blocks, 3 MB each.
MOST_KEPT = 64

_ROUND_IT = np.array([(0.0, 0.0), (1, 0), (-1, 0), (0, 1), (0, -1), (0.7, 0.7), (0.7, -0.7), (-0.7, 0.7), (-0.7, -0.7)])


@dataclass(frozen=True)
class Paint:
    """The art in blocks, rows from the top: the least and the greatest alpha in each, and the greatest linear light.

    ``mean`` (rows, columns, 4) is the light and alpha of the block alone, alpha multiplied in; ``spread`` by how much
    light differs in it and those round it, in the channel in which it does most.
    """

    least: Floats
    greatest: Floats
    light: Floats
    mean: Floats
    spread: Floats


@dataclass(frozen=True)
class PaintAt:
    """The ``paint`` of a level at the blocks ``at`` (rows, columns) that places meet, looked up when asked for.

    ``exact`` is where in rows and columns of blocks the places lie.
    """

    paint: Paint
    at: tuple[NDArray[np.int64], NDArray[np.int64]]
    exact: tuple[Floats, Floats]

    @property
    def least(self) -> Floats:
        """Return the least alpha at each place."""
        return self.paint.least[self.at]

    @property
    def greatest(self) -> Floats:
        """Return the greatest alpha at each place."""
        return self.paint.greatest[self.at]

    @property
    def light(self) -> Floats:
        """Return the greatest light at each place."""
        return self.paint.light[self.at]

    @property
    def mean(self) -> Floats:
        """Return the mean light and alpha at each place, (N, 4)."""
        return self.paint.mean[self.at]

    @property
    def spread(self) -> Floats:
        """Return by how much light differs about each place."""
        return self.paint.spread[self.at]

    @property
    def between(self) -> Floats:
        """Return light and alpha at each place, (N, 4), between the middles of blocks."""
        (rows, columns), (down, across) = self.paint.least.shape, self.exact
        down, across = np.clip(down - 0.5, 0, rows - 1), np.clip(across - 0.5, 0, columns - 1)
        top, left = down.astype(np.int64), across.astype(np.int64)
        bottom, right = np.minimum(top + 1, rows - 1), np.minimum(left + 1, columns - 1)
        y, x = (down - top)[:, None], (across - left)[:, None]
        mean = self.paint.mean
        upper = mean[top, left] * (1 - x) + mean[top, right] * x
        lower = mean[bottom, left] * (1 - x) + mean[bottom, right] * x
        return np.asarray(upper * (1 - y) + lower * y)


# Of a level that shows no drawing.
_NOTHING = Paint(np.zeros((1, 1)), np.zeros((1, 1)), np.zeros((1, 1)), np.zeros((1, 1, 4)), np.zeros((1, 1)))


@dataclass
class Sight:
    """What the plan shows; art is read once, when it is first asked for."""

    plan: Plan
    paints: Kept[Path, Paint | None] = field(default_factory=lambda: Kept(MOST_KEPT))
    _corners: Floats | None = None

    def shares(self, frame: int, *, nearest_alone: bool, blur_px: float = 0.0) -> dict[int, float]:
        """Return, by the number of each level, the share of the frame in which a proof pass of it must be whole.

        With ``nearest_alone`` a pass is written only where the level is the first that is not clear, and opaque. Places
        nearer than ``blur_px`` to an edge of paint do not count, nor those at the edge of what shows: of a strip
        between two places nothing is known. Levels from the first whose art cannot be read are left out.
        """
        found: dict[int, float] = {}
        row, offs = frame - int(self.plan.frames[0]), _ROUND_IT * blur_px if blur_px >= 1.0 else _ROUND_IT[:1]
        # Every place and those round it at once: a call of numpy for each would take longer than its work.
        places = (self._places() + offs[:, None]).reshape(-1, 2)
        open_to = np.ones(GRID[0] * GRID[1], dtype=bool)
        for number in range(len(self.plan.names)):
            there, paint = self._there(row, number, places)
            if paint is None:
                return found
            shows = there & (paint.least >= 1.0) if nearest_alone else there
            hides = there & (paint.greatest > 0.0 if nearest_alone else paint.greatest >= 1.0)
            whole, ends = shows.reshape(len(offs), -1).all(axis=0), hides.reshape(len(offs), -1).any(axis=0)
            found[number] = float(_inside(whole & open_to).mean())
            open_to &= ~ends
        return found

    def shown(self, frame: int, *, least: float = 0.0) -> dict[int, float]:
        """Return, by the number of each level, the share of the frame in which paint of it, however thin, shows.

        With ``least`` only paint counts that has so much alpha on average in a block of the art.
        Looked at by places on the art, so that a small thing is not missed between places of the frame.
        """
        found: dict[int, float] = {}
        row, (width, height) = frame - int(self.plan.frames[0]), self.plan.shot.camera.frame_px
        u, v = ((np.arange(count) + 0.5) / count for count in ART_GRID)
        on_art = np.stack(np.meshgrid(u, v), axis=-1).reshape(-1, 2)
        for number in range(len(self.plan.names)):
            corners = self._all_corners()[row, number]
            places = px_from_art(on_art, corners=corners)
            _, paint = self._painted(row, number, *on_art.T)
            if paint is None:
                break
            painted = paint.mean[:, 3] >= least if least else paint.greatest > THIN
            seen = (np.abs(places) < np.array([width, height]) / 2).all(axis=1) & painted
            for nearer in range(number):
                there, cover = self._there(row, nearer, places)
                assert cover is not None, "a level behind one whose art cannot be read is not come to"
                seen &= ~(there & (cover.least >= 1.0))
            found[number] = min(1.0, float(seen.mean()) * whole_area(corners) / (width * height))
        return found

    def is_anything_seen(self, frame: int) -> bool:
        """Return whether paint that is not black shows anywhere on the frame; True where that cannot be told."""
        places, row = self._places(), frame - int(self.plan.frames[0])
        open_to = np.ones(len(places), dtype=bool)
        for number in range(len(self.plan.names)):
            there, paint = self._there(row, number, places)
            if paint is None or (there & open_to & (paint.light > BRIGHT)).any():
                return True
            open_to &= ~(there & (paint.least >= 1.0))
        return False

    def expected(self, frame: int) -> Floats | None:
        """Return the light that the plan has at each place of the grid, (N, 3); None where art cannot be read.

        Art is taken block by block, so that what is finer than a block is evened out.
        """
        if any(self.at(frame, number, np.zeros((1, 2)))[1] is None for number in range(len(self.plan.names))):
            return None
        return self.light_from(frame, 0, self._places())

    def light_from(self, frame: int, first: int, places: Floats) -> Floats:
        """Return the light that the plan has at ``places`` (N, 2) px of the level ``first`` and those behind, (N, 3).

        Levels from the first whose art cannot be read are left out.
        """
        row = frame - int(self.plan.frames[0])
        light, open_to = np.zeros((len(places), 3)), np.ones(len(places))
        for number in range(first, len(self.plan.names)):
            there, paint = self._there(row, number, places)
            if paint is None:
                break
            rgba = paint.between * there[:, None]
            light += open_to[:, None] * rgba[:, :3]
            open_to *= 1.0 - rgba[:, 3]
        return light

    def at(self, frame: int, number: int, places: Floats) -> tuple[NDArray[np.bool_], PaintAt | None]:
        """Return which ``places`` (N, 2) px see the art of a level on a frame, and its paint there; None: not read."""
        return self._there(frame - int(self.plan.frames[0]), number, places)

    def on_art(self, frame: int, number: int, u: Floats, v: Floats) -> PaintAt | None:
        """Return the paint of a level at places on its art, (N,) each; None where it cannot be read."""
        return self._painted(frame - int(self.plan.frames[0]), number, u, v)[1]

    def _places(self) -> Floats:
        """Return the places of the grid, (N, 2) px from the middle of the frame, y up."""
        width, height = self.plan.shot.camera.frame_px
        x = ((np.arange(GRID[0]) + 0.5) / GRID[0] - 0.5) * width
        y = ((np.arange(GRID[1]) + 0.5) / GRID[1] - 0.5) * height
        places: Floats = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        return places

    def moves_px(self, one: int, other: int) -> float:
        """Return how far any corner of a level goes between two frames, px."""
        corners, begin = self._all_corners(), int(self.plan.frames[0])
        return float(np.linalg.norm(corners[other - begin] - corners[one - begin], axis=-1).max(initial=0.0))

    def _all_corners(self) -> Floats:
        if self._corners is None:
            self._corners = corners_px(self.plan)
        return self._corners

    def _there(self, row: int, number: int, places: Floats) -> tuple[NDArray[np.bool_], PaintAt | None]:
        """Return which ``places`` (N, 2) px see the art of a level, and its paint there."""
        u, v = art_from_px(places, corners=self._all_corners()[row, number]).T
        return self._painted(row, number, u, v)

    def _painted(self, row: int, number: int, u: Floats, v: Floats) -> tuple[NDArray[np.bool_], PaintAt | None]:
        there = (u > 0) & (u < 1) & (v > 0) & (v < 1)
        path = art_shown(self.plan, row, number)
        paint = _NOTHING if path is None else self._paint(path)
        if paint is None:
            return there, None
        rows, columns = paint.least.shape
        exact = (1 - v) * rows, u * columns
        at = (
            np.clip(exact[0].astype(np.int64), 0, rows - 1),
            np.clip(exact[1].astype(np.int64), 0, columns - 1),
        )
        return there, PaintAt(paint, at, exact)

    def _paint(self, path: Path) -> Paint | None:
        return self.paints.get(path, lambda: _read(path))


def _read(path: Path) -> Paint | None:
    """Return the art in blocks; None where it cannot be read."""
    try:
        return _in_blocks(read_art(path))
    except UnderglassError:
        return None


def _inside(seen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which places of the grid have their neighbours beside, above and below in it too, or the frame's edge."""
    padded = np.pad(seen.reshape(GRID[1], GRID[0]), 1, constant_values=True)
    middle = padded[1:-1, 1:-1]
    inside: NDArray[np.bool_] = middle & padded[:-2, 1:-1] & padded[2:, 1:-1] & padded[1:-1, :-2] & padded[1:-1, 2:]
    return inside


def _in_blocks(rgba: Singles) -> Paint:
    """Return the art in blocks; least and greatest count in those round a block: what is beside is not missed."""
    starts = [np.unique(np.linspace(0, n, min(BLOCKS, n) + 1).astype(int)[:-1]) for n in rgba.shape[:2]]
    least, greatest, total = (_reduced(rgba, by, starts) for by in (np.minimum, np.maximum, np.add))
    sizes = [np.diff(np.append(at, n)) for at, n in zip(starts, rgba.shape[:2], strict=True)]
    mean = total / (sizes[0][:, None] * sizes[1])[..., None]
    least, greatest = with_those_round(least, np.minimum), with_those_round(greatest, np.maximum)
    light = greatest[..., :3]
    # Copies: a view would keep all that it is a part of.
    kept = least[..., 3], greatest[..., 3], light.max(axis=-1), mean, (light - least[..., :3]).max(axis=-1)
    return Paint(*(np.array(values, dtype=np.float64) for values in kept))


def _reduced(rgba: Singles, by: np.ufunc, starts: Sequence[NDArray[np.int64]]) -> Floats:
    for axis, at in enumerate(starts):
        rgba = by.reduceat(rgba, at, axis=axis)
    return rgba.astype(np.float64)
