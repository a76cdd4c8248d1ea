"""What of each level the plan shows in a frame: levels before it hide what lies behind their opaque paint.

Worked out on a coarse grid of places from the art itself, so that what is hidden is not missed in the pixels, and what
should show is.
"""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underglass.optics.projection import art_from_px, px_from_art
from underglass.plan import Plan, corners_px
from underglass.proof.judge import whole_area
from underglass.shot import UnderglassError

from .art import Singles, art_shown, read_art

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


_ROUND_IT = np.array([(0.0, 0.0), (1, 0), (-1, 0), (0, 1), (0, -1), (0.7, 0.7), (0.7, -0.7), (-0.7, 0.7), (-0.7, -0.7)])


@dataclass(frozen=True)
class Paint:
    """The art in blocks, rows from the top: the least and the greatest alpha in each, and the greatest linear light."""

    least: Floats
    greatest: Floats
    light: Floats


@dataclass(frozen=True)
class PaintAt:
    """The ``paint`` of a level at the blocks ``at`` (rows, columns) that places meet, looked up when asked for."""

    paint: Paint
    at: tuple[NDArray[np.int64], NDArray[np.int64]]

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


# Of a level that shows no drawing.
_NOTHING = Paint(np.zeros((1, 1)), np.zeros((1, 1)), np.zeros((1, 1)))


@dataclass
class Sight:
    """What the plan shows; art is read once, when it is first asked for."""

    plan: Plan
    paints: dict[Path, Paint | None] = field(default_factory=dict)
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

    def shown(self, frame: int) -> dict[int, float]:
        """Return, by the number of each level, the share of the frame in which paint of it, however thin, shows.

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
            seen = (np.abs(places) < np.array([width, height]) / 2).all(axis=1) & (paint.greatest > THIN)
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

    def _places(self) -> Floats:
        """Return the places of the grid, (N, 2) px from the middle of the frame, y up."""
        width, height = self.plan.shot.camera.frame_px
        x = ((np.arange(GRID[0]) + 0.5) / GRID[0] - 0.5) * width
        y = ((np.arange(GRID[1]) + 0.5) / GRID[1] - 0.5) * height
        places: Floats = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        return places

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
        at = (
            np.clip(((1 - v) * rows).astype(np.int64), 0, rows - 1),
            np.clip((u * columns).astype(np.int64), 0, columns - 1),
        )
        return there, PaintAt(paint, at)

    def _paint(self, path: Path) -> Paint | None:
        if path not in self.paints:
            try:
                self.paints[path] = _in_blocks(read_art(path))
            except UnderglassError:
                self.paints[path] = None
        return self.paints[path]


def _inside(seen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which places of the grid have their neighbours beside, above and below in it too, or the frame's edge."""
    padded = np.pad(seen.reshape(GRID[1], GRID[0]), 1, constant_values=True)
    middle = padded[1:-1, 1:-1]
    inside: NDArray[np.bool_] = middle & padded[:-2, 1:-1] & padded[2:, 1:-1] & padded[1:-1, :-2] & padded[1:-1, 2:]
    return inside


def _in_blocks(rgba: Singles) -> Paint:
    alpha = rgba[..., 3].astype(np.float64)
    light = rgba[..., :3].max(axis=-1).astype(np.float64)
    return Paint(_blocks(alpha, True), _blocks(alpha, False), _blocks(light, False))


def _blocks(values: Floats, least: bool) -> Floats:
    """Return the least or the greatest of each block and those round it, so that a pixel beside is counted in."""
    pick = np.minimum if least else np.maximum
    for axis in (0, 1):
        starts = np.unique(np.linspace(0, values.shape[axis], min(BLOCKS, values.shape[axis]) + 1).astype(int)[:-1])
        values = pick.reduceat(values, starts, axis=axis)
        padded = np.concatenate([values.take([0], axis), values, values.take([-1], axis)], axis=axis)
        count = values.shape[axis]
        parts = [padded.take(range(at, at + count), axis) for at in range(3)]
        values = pick(pick(parts[0], parts[1]), parts[2])
    return values
