# SPDX-License-Identifier: GPL-3.0-or-later
"""Coverage: does each level show on a delivered frame wherever the plan and the art let it, and nowhere else?

Only places are asked where the answer is certain: away from edges of levels and paint by what filters and blur can
reach.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from underglass.plan import Plan
from underglass.proof.measure.measured_corners import Fit

from ...exr.read_exr import Channel
from ..files.pass_fits import LevelPass, are_shared
from ..judging.level_gaps import Gap
from .art_shown import art_shown
from .certain_alpha import ALL_BRIGHT, ALL_OPAQUE, ANY_OPAQUE, ANY_PAINT, Alphas
from .gaps_of_levels import FEWEST, gaps_among
from .level_at_places import LevelAtPlaces, gone_level
from .lines_of_pixels import Lines, Mask
from .outlines import SeenFrame, any_moved, art_at, between, of_the_level, outline_of, size_px, strange_at, unmarked_at

Floats = NDArray[np.float64]

# A pixel's filter, and that of a texture, reach no farther than this from its centre, px.
FILTER_ROOM_PX = 2.5
# A mark of more than this is a level that shows.
SOME_MARK = 0.02
# All levels together fill no more than one pixel.
MOST_OF_A_PIXEL = 1.1


@dataclass
class Coverage:
    """Looks for gaps in the frames of ``plan``; art and places are kept from one frame to the next."""

    plan: Plan
    alphas: Alphas = field(default_factory=Alphas)

    def gaps(
        self,
        frame: int,
        *,
        passes: Mapping[int, LevelPass],
        fits: Mapping[int, Fit | None],
        corners: Floats,
        margin_px: float,
        picture: Sequence[Channel],
    ) -> tuple[Gap, ...]:
        """Return what does not show as it should on one frame.

        ``corners`` (L, 4, 2) px are the planned ones; ``margin_px`` is how far edges are blurred; ``picture`` are
        the channels of red, green and blue, none where there is no picture.
        """
        lines = self._lines
        width, height = self.plan.shot.camera.frame_px
        places = lines.columns + 0.5 - width / 2, height / 2 - lines.rows - 0.5
        # EEVEE writes passes that levels share, and only of the first paint, if that is opaque.
        nearest_alone = are_shared(passes)
        moved = any_moved(fits, corners)
        seen = SeenFrame(frame, passes, fits, corners, margin_px + FILTER_ROOM_PX, nearest_alone, moved)
        looked = list(self._levels(seen, lines, places))
        if not looked:
            return ()
        return tuple(gaps_among(looked, lines, _light(picture, lines), shared=nearest_alone))

    @cached_property
    def _lines(self) -> Lines:
        return Lines.of(self.plan.shot.camera.frame_px)

    def _levels(self, seen: SeenFrame, lines: Lines, places: tuple[Floats, Floats]) -> Iterator[LevelAtPlaces]:
        """Yield the levels from the nearest on; one of which nothing is known makes what is behind it uncertain."""
        row, nearest_alone = seen.frame - int(self.plan.frames[0]), seen.nearest_alone
        # Where nothing nearer can hide anything, and which level it is that certainly hides all; -1 for none.
        open_to, hider = np.ones(len(lines.rows), dtype=bool), np.full(len(lines.rows), -1)
        # Where no level is of which there is no pass: any of the others shows there, if one is opaque.
        told = open_to.copy()
        for number in range(len(self.plan.names)):
            made = seen.passes.get(number)
            outline = outline_of(seen, number, made, lines, places)
            if outline is None:
                # It may hide anything.
                open_to[:] = False
                if made is None:
                    told[:] = False
                continue
            corners, room, is_sure = outline.corners, outline.room_px, outline.is_sure
            u, v = art_at(places, corners)
            across, up = size_px(corners)
            rooms = room / across, room / up
            # Art is clear beyond its edge, and evened out between the middles of its pixels: however large those are.
            art = self.plan.shot.levels[number].art_px
            inside = between(u, room / across + 0.5 / art[0]) & between(v, room / up + 0.5 / art[1])
            outside = ~(between(u, -room / across) & between(v, -room / up))
            marks = self._marks(row, number, (u, v), room, (across, up))
            hit, known = _no_pass(lines) if made is None else lines.values(made.hit, made.left, made.top)
            shows = hit > SOME_MARK
            if made is None or marks is None or not shows.any():
                if marks is not None:
                    opaque = inside & (marks & ALL_OPAQUE > 0)
                    # Coordinates that levels share are in the passes of any.
                    other = next(iter(seen.passes.values()), None) if nearest_alone else None
                    bare = None if other is None else unmarked_at(other, (u, v), inside, rooms, lines)
                    yield gone_level(number, opaque & open_to, opaque & told, bare)
                # It may hide what is behind it, or not be there at all.
                open_to &= outside
                if made is None:
                    told &= outside
                continue
            opaque, paint = marks & ALL_OPAQUE > 0, marks & ANY_PAINT > 0
            thin = ~paint if nearest_alone else marks & ANY_OPAQUE == 0
            should = inside & open_to & known & (opaque if nearest_alone else True)
            barred = known & (outside | (inside & ~paint if nearest_alone else False))
            through = np.where(shows, hider, -1)
            strange = strange_at(made, hit, (u, v), rooms, lines) if is_sure else np.zeros_like(shows)
            hidden = through >= 0
            if is_sure and hidden.sum() >= FEWEST:
                # What shows through has its own coordinates there; with others it is its pass that is wrong.
                if nearest_alone:
                    wrong = hidden & _is_too_much_marked(seen, lines)
                else:
                    wrong = hidden & ~of_the_level(made, (u * hit, v * hit), rooms, lines)
                strange, through = strange | wrong, np.where(wrong, -1, through)
            bright = inside & opaque & open_to & (marks & ALL_BRIGHT > 0)
            unmarked = (
                unmarked_at(made, (u, v), inside & ~shows, rooms, lines) if nearest_alone else np.zeros_like(shows)
            )
            solid = inside & told & known & opaque
            yield LevelAtPlaces(
                *(number, shows, should, barred, inside & thin, bright, strange, unmarked, through, solid),
                _how_much(hit),
            )
            open_to &= outside | (inside & thin)
            hider[inside & opaque & (hider < 0)] = number

    def _marks(
        self, row: int, number: int, uv: tuple[Floats, Floats], room_px: float, size_px: tuple[float, float]
    ) -> NDArray[np.uint8] | None:
        path = art_shown(self.plan, row, number)
        if path is None:
            return np.zeros(len(uv[0]), dtype=np.uint8)
        width, height = self.plan.shot.levels[number].art_px
        per_px = min(size_px[0] / width, size_px[1] / height)
        found = self.alphas.blocks(path, room_px / max(per_px, 1e-9) + 1.0)
        if found is None:
            return None
        return found.at(*uv, (width, height)) if found.holds_paint else np.zeros(len(uv[0]), dtype=np.uint8)


def _how_much(hit: Floats) -> Floats:
    """Return how much of each pixel shows a level, by its mark.

    One that was made up of coordinates knows halves alone, and they say nothing of that.
    """
    return np.ceil(hit) if np.isin(hit, (0.0, 0.5, 1.0)).all() else hit


def _is_too_much_marked(seen: SeenFrame, lines: Lines) -> Mask:
    """Return where the marks of levels, each of which tells of its share of the pixel, are more than a pixel."""
    marks = [lines.values(made.hit, made.left, made.top)[0] for made in seen.passes.values()]
    return np.asarray(np.sum(marks, axis=0) > MOST_OF_A_PIXEL)


def _no_pass(lines: Lines) -> tuple[Floats, Mask]:
    return np.zeros(len(lines.rows)), np.zeros(len(lines.rows), dtype=bool)


def _light(picture: Sequence[Channel], lines: Lines) -> Floats | None:
    """Return how bright the picture is at the places; None where there is none."""
    if not picture:
        return None
    found = [lines.values(colour.pixels, colour.left, colour.top) for colour in picture]
    # What the file does not hold is not black.
    return np.asarray(np.max([np.where(known, np.abs(values), np.inf) for values, known in found], axis=0))
