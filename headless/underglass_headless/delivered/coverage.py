"""Coverage: does each level show on a delivered frame wherever the plan and the art let it, and nowhere else?

Only places are asked where the answer is certain: away from edges of levels and paint by what filters and blur can
reach.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from underglass.optics.projection import art_from_px
from underglass.plan import Plan
from underglass.proof.delivered_fits import FULL, FULL_OF_SHARED, LevelPass, are_shared
from underglass.proof.gaps import COVERED, CUT_OFF, HOLE, STRANGE, THROUGH, TOO_MUCH, Gap
from underglass.proof.measure import Fit

from ..proof.exr import Channel
from .alpha import ALL_BRIGHT, ALL_OPAQUE, ANY_OPAQUE, ANY_PAINT, Alphas
from .art import art_shown
from .lines import Lines, Mask

Floats = NDArray[np.float64]

# A pixel's filter, and that of a texture, reach no farther than this from its centre, px.
FILTER_ROOM_PX = 2.5
# A pass whose fit is no better known than this says nothing of its neighbours, px.
MOST_UNCERTAIN_PX = 4.0
# A level is elsewhere if its corners are so far out, px. What leaves more than WILD_PX is no fit of one plane.
MOVED_PX = 2.0
WILD_PX = 1.0
# Of a level that is in its place no larger share of pixels is strange.
FEW_STRANGE = 0.1
# Fewer places than these may be chance: a denoiser, a firefly.
FEWEST = 4
# A mark of more than this is a level that shows.
SOME_MARK = 0.02
CLEAR_OF_0 = 0.05
# All levels together fill no more than one pixel.
MOST_OF_A_PIXEL = 1.1
# Half floats tell a coordinate no better than by half of this share of the art.
STRANGE_SHARE = 0.002
# A level covers what its art leaves clear if it does so at so many of the places where that could be seen.
MOSTLY = 0.9
# Light of less than this is none.
BLACK = 1e-6


@dataclass(frozen=True)
class _Level:
    """What one level does at the places, (N,) each.

    It ``shows`` in its pass, ``should`` for certain, or is ``barred`` for certain. Inside its outline it is certainly
    ``clear_inside``, or its paint ``bright``: opaque and not black. Its coordinates are ``strange``,
    or are there ``unmarked``, where levels share them. ``through`` which level it shows that should hide it; else -1.
    Where it is ``solid`` it or a nearer one has to show. Of one that is ``gone`` nothing is in its pass: only where it
    should show, or is unmarked, tells of it.
    """

    number: int
    shows: Mask
    should: Mask
    barred: Mask
    clear_inside: Mask
    bright: Mask
    strange: Mask
    unmarked: Mask
    through: NDArray[np.int64]
    solid: Mask
    gone: bool = False


@dataclass(frozen=True)
class _Seen:
    """One frame: its passes and fits by the level's number, the planned ``corners`` (L, 4, 2) px.

    ``room_px`` is how near an edge nothing is certain. With ``nearest_alone`` passes tell of the first paint alone;
    ``is_moved`` says that some level is elsewhere.
    """

    frame: int
    passes: Mapping[int, LevelPass]
    fits: Mapping[int, Fit | None]
    corners: Floats
    room_px: float
    nearest_alone: bool
    is_moved: bool


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
        moved = _is_moved(fits, corners)
        seen = _Seen(frame, passes, fits, corners, margin_px + FILTER_ROOM_PX, nearest_alone, moved)
        looked = list(self._levels(seen, lines, places))
        if not looked:
            return ()
        return tuple(_judged(looked, lines, _light(picture, lines), shared=nearest_alone))

    @cached_property
    def _lines(self) -> Lines:
        return Lines.of(self.plan.shot.camera.frame_px)

    def _levels(self, seen: _Seen, lines: Lines, places: tuple[Floats, Floats]) -> Iterator[_Level]:
        """Yield the levels from the nearest on; one of which nothing is known makes what is behind it uncertain."""
        row, nearest_alone = seen.frame - int(self.plan.frames[0]), seen.nearest_alone
        # Where nothing nearer can hide anything, and which level it is that certainly hides all; -1 for none.
        open_to, hider = np.ones(len(lines.rows), dtype=bool), np.full(len(lines.rows), -1)
        # Where no level is of which there is no pass: any of the others shows there, if one is opaque.
        told = open_to.copy()
        for number in range(len(self.plan.names)):
            made = seen.passes.get(number)
            outline = _outline(seen, number, made, lines, places)
            if outline is None:
                # It may hide anything.
                open_to[:] = False
                if made is None:
                    told[:] = False
                continue
            corners, room, is_sure = outline.corners, outline.room_px, outline.is_sure
            u, v = _art_from_px(places, corners)
            across, up = _size_px(corners)
            rooms = room / across, room / up
            inside = _between(u, room / across) & _between(v, room / up)
            outside = ~(_between(u, -room / across) & _between(v, -room / up))
            marks = self._marks(row, number, (u, v), room, (across, up))
            hit, known = _no_pass(lines) if made is None else lines.values(made.hit, made.left, made.top)
            shows = hit > SOME_MARK
            if made is None or marks is None or not shows.any():
                if marks is not None:
                    opaque = inside & (marks & ALL_OPAQUE > 0)
                    # Coordinates that levels share are in the passes of any.
                    other = next(iter(seen.passes.values()), None) if nearest_alone else None
                    bare = None if other is None else _unmarked(other, (u, v), inside, rooms, lines)
                    yield _gone(number, opaque & open_to, opaque & told, bare)
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
            strange = _strange(made, hit, (u, v), rooms, lines) if is_sure else np.zeros_like(shows)
            hidden = through >= 0
            if is_sure and hidden.sum() >= FEWEST:
                # What shows through has its own coordinates there; with others it is its pass that is wrong.
                if nearest_alone:
                    wrong = hidden & _is_too_much_marked(seen, lines)
                else:
                    wrong = hidden & ~_of_the_level(made, (u * hit, v * hit), rooms, lines)
                strange, through = strange | wrong, np.where(wrong, -1, through)
            bright = inside & opaque & open_to & (marks & ALL_BRIGHT > 0)
            unmarked = _unmarked(made, (u, v), inside & ~shows, rooms, lines) if nearest_alone else np.zeros_like(shows)
            solid = inside & told & known & opaque
            yield _Level(number, shows, should, barred, inside & thin, bright, strange, unmarked, through, solid)
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


@dataclass(frozen=True)
class _Outline:
    """A level's ``corners`` (4, 2) px, how near its edges nothing is certain, and whether that was measured."""

    corners: Floats
    room_px: float
    is_sure: bool


def _outline(
    seen: _Seen, number: int, made: LevelPass | None, lines: Lines, places: tuple[Floats, Floats]
) -> _Outline | None:
    """Return where a level is: as measured, or as planned where that tells more; None where neither is known."""
    planned = _Outline(seen.corners[number], seen.room_px, False)
    fit = seen.fits.get(number)
    if made is None or fit is None or fit.tilted or fit.uncertainty_px > MOST_UNCERTAIN_PX:
        # A few wrong pixels may have spoilt the fit of a level that is in its place.
        if made is not None and fit is not None and _spoilt(made, planned, lines, places) < FEW_STRANGE:
            return replace(planned, is_sure=True)
        return None if seen.is_moved else planned
    # What was made larger has edges that are softer by as much.
    larger = max(
        1.0, *(a / max(b, 1e-9) for a, b in zip(_size_px(fit.corners), _size_px(planned.corners), strict=True))
    )
    measured = _Outline(fit.corners, seen.room_px * larger + fit.uncertainty_px, True)
    if fit.residual_px > WILD_PX and _spoilt(made, planned, lines, places) < FEW_STRANGE:
        return replace(planned, is_sure=True)
    return measured


def _spoilt(made: LevelPass, outline: _Outline, lines: Lines, places: tuple[Floats, Floats]) -> float:
    """Return the share of the pixels which the level fills whose coordinates are not those of the outline."""
    hit, _ = lines.values(made.hit, made.left, made.top)
    whole = int((hit >= _full(made)).sum())
    across, up = _size_px(outline.corners)
    rooms = outline.room_px / across, outline.room_px / up
    strange = _strange(made, hit, _art_from_px(places, outline.corners), rooms, lines)
    return float(strange.sum()) / whole if whole else 1.0


def _strange(made: LevelPass, hit: Floats, uv: tuple[Floats, Floats], rooms: tuple[float, float], lines: Lines) -> Mask:
    """Return where a pixel that the level fills has coordinates farther than ``rooms`` from ``uv``, or no numbers."""
    return np.asarray((hit >= _full(made)) & ~_of_the_level(made, (uv[0] * hit, uv[1] * hit), rooms, lines))


def _gone(number: int, should: Mask, solid: Mask, unmarked: Mask | None) -> _Level:
    """Return a level of whose pass nothing is there."""
    none, nobody = np.zeros_like(should), np.full(len(should), -1)
    unmarked = none if unmarked is None else unmarked
    return _Level(number, none, should, none, none, none, none, unmarked, nobody, solid, gone=True)


def _unmarked(
    made: LevelPass, uv: tuple[Floats, Floats], where: Mask, rooms: tuple[float, float], lines: Lines
) -> Mask:
    """Return ``where`` coordinates that levels share are those of this one, though its mark is not there."""
    # Near the corner at which both are 0 coordinates are no more than what a filter left of them.
    found = where & (uv[0] > CLEAR_OF_0) & (uv[1] > CLEAR_OF_0)
    found &= _of_the_level(made, uv, rooms, lines)
    return np.asarray(found & (lines.values(made.u, made.left, made.top)[0] != 0))


def _is_too_much_marked(seen: _Seen, lines: Lines) -> Mask:
    """Return where the marks of levels, each of which tells of its share of the pixel, are more than a pixel."""
    marks = [lines.values(made.hit, made.left, made.top)[0] for made in seen.passes.values()]
    return np.asarray(np.sum(marks, axis=0) > MOST_OF_A_PIXEL)


def _full(made: LevelPass) -> float:
    """Return the mark of a pixel that shows nothing but the level; where levels share passes it is a stricter one."""
    return FULL_OF_SHARED if made.fringes else FULL


def _of_the_level(made: LevelPass, wanted: tuple[Floats, Floats], rooms: tuple[float, float], lines: Lines) -> Mask:
    """Return where both coordinates are within ``rooms`` of the ``wanted``; what is no number is not."""
    fits = np.ones(len(lines.rows), dtype=bool)
    for values, along, room in zip((made.u, made.v), wanted, rooms, strict=True):
        read, _ = lines.values(values, made.left, made.top)
        with np.errstate(invalid="ignore"):
            fits &= np.abs(read - along) <= room + STRANGE_SHARE
    return fits


def _size_px(corners: Floats) -> tuple[float, float]:
    """Return how wide and how high the art is on the frame, px."""
    return float(np.linalg.norm(corners[1] - corners[0])), float(np.linalg.norm(corners[3] - corners[0]))


def _is_moved(fits: Mapping[int, Fit | None], corners: Floats) -> bool:
    """Return whether any level was surely measured elsewhere than planned."""
    return any(
        fit is not None
        and fit.uncertainty_px <= MOST_UNCERTAIN_PX
        and float(np.abs(fit.corners - corners[number]).max()) > MOVED_PX + 2 * fit.uncertainty_px
        for number, fit in fits.items()
    )


def _art_from_px(places: tuple[Floats, Floats], corners: Floats) -> tuple[Floats, Floats]:
    """Return u and v of the art, (N,) each, at places x, y px: `art_from_px` along each axis."""
    (start, right, up) = art_from_px(np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)]), corners=corners)
    u, v = (start[axis] + (right - start)[axis] * places[0] + (up - start)[axis] * places[1] for axis in (0, 1))
    return u, v


def _between(along: Floats, edge: float) -> Mask:
    return np.asarray((along > edge) & (along < 1 - edge))


def _no_pass(lines: Lines) -> tuple[Floats, Mask]:
    return np.zeros(len(lines.rows)), np.zeros(len(lines.rows), dtype=bool)


def _light(picture: Sequence[Channel], lines: Lines) -> Floats | None:
    """Return how bright the picture is at the places; None where there is none."""
    if not picture:
        return None
    found = [lines.values(colour.pixels, colour.left, colour.top) for colour in picture]
    # What the file does not hold is not black.
    return np.asarray(np.max([np.where(known, np.abs(values), np.inf) for values, known in found], axis=0))


def _judged(levels: Sequence[_Level], lines: Lines, light: Floats | None, *, shared: bool) -> Iterator[Gap]:
    """Yield the gaps, from what concerns most of the frame to what concerns one level."""
    size = float(lines.weight.sum())
    any_shows = np.logical_or.reduce([level.shows for level in levels])
    unmarked = _of_one_each([level.unmarked & ~any_shows for level in levels])
    solid = np.logical_or.reduce([level.solid for level in levels])
    unmarked = [bare for level, bare in zip(levels, unmarked, strict=True) if not level.gone]
    levels = [level for level in levels if not level.gone]
    if not levels:
        return
    should = np.logical_or.reduce([level.should for level in levels])
    empty = should & ~any_shows
    if light is not None:
        # Where a level is gone with all that is behind it the picture tells that it is a hole.
        empty = empty | (solid & ~any_shows & (light <= BLACK))
        yield from _gap(HOLE, None, empty & (light <= BLACK), lines, size)
        covered = empty & (light > BLACK)
        if _of_one_level(levels, covered, shared=shared):
            empty = empty & ~covered
        else:
            yield from _gap(COVERED, None, covered, lines, size)
        seen_bright = np.logical_or.reduce([level.bright & level.shows for level in levels])
        for gap in _gap(HOLE, None, seen_bright & (light <= BLACK), lines, size):
            yield replace(gap, only_picture=True)
    else:
        yield from _gap(HOLE, None, empty, lines, size)
    explained = empty
    missing = [level.should & ~level.shows for level in levels]
    for at, level in enumerate(levels):
        too_much = level.barred & level.shows
        rear_missing = _any(missing[at + 1 :], lines)
        rear_should = _any([rear.should for rear in levels[at + 1 :]], lines)
        blocks = level.shows & level.clear_inside & rear_should
        blocked = blocks & rear_missing & ~explained
        if blocked.sum() >= FEWEST and blocked.sum() >= MOSTLY * blocks.sum():
            too_much = too_much | blocked
        yield from _gap(TOO_MUCH, level.number, too_much, lines, size)
        through = _any([rear.through == level.number for rear in levels[at + 1 :]], lines)
        yield from _gap(THROUGH, level.number, through, lines, size)
        if too_much.sum() >= FEWEST:
            explained = explained | (level.shows & level.clear_inside)
        yield from _gap(STRANGE, level.number, level.strange, lines, size)
    # Coordinates that are there are of something that shows.
    missing = [(lost | bare) & ~explained for lost, bare in zip(missing, unmarked, strict=True)]
    yield from _covered(levels, missing, lines, size)


def _of_one_each(unmarked: Sequence[Mask]) -> list[Mask]:
    """Return the places at which coordinates are there without a mark, each for the level that has the most of them.

    Where two levels have nearly the same coordinates, it is not the one that has them there by chance.
    """
    left = list(unmarked)
    for at in sorted(range(len(left)), key=lambda at: -int(unmarked[at].sum())):
        left = [mask if other == at else mask & ~left[at] for other, mask in enumerate(left)]
    return left


def _of_one_level(levels: Sequence[_Level], empty: Mask, *, shared: bool) -> bool:
    """Return whether it is one level alone that is missing where no level shows at all.

    Where levels have ``shared`` coordinates, those are still there.
    """
    if shared:
        bare = np.logical_or.reduce([level.unmarked for level in levels])
        return bool((bare & empty).sum() >= MOSTLY * empty.sum())
    expected = [int((level.should & empty).sum()) for level in levels]
    alone = sum(count > 0 for count in expected) == 1
    for level, count in zip(levels, expected, strict=True):
        missing_elsewhere = int((level.should & ~level.shows & ~empty).sum())
        if count >= MOSTLY * empty.sum() and (alone or missing_elsewhere >= FEWEST):
            return True
    return False


def _covered(levels: Sequence[_Level], missing: Sequence[Mask], lines: Lines, size: float) -> Iterator[Gap]:
    """Yield what hides levels: a thing that stands before one hides that and all that is behind it there."""
    rest = list(missing)
    for at, level in enumerate(levels):
        lost = rest[at]
        if lost.sum() < FEWEST:
            continue
        behind = _any([rear.should & lost for rear in levels[at + 1 :]], lines)
        behind_lost = _any(
            [rear.should & lost & gone for rear, gone in zip(levels[at + 1 :], rest[at + 1 :], strict=True)], lines
        )
        shows_behind = _any([rear.shows & lost & rear.should for rear in levels[at + 1 :]], lines)
        is_thing = behind.any() and behind_lost.sum() >= MOSTLY * behind.sum() and not shows_behind.sum() > FEWEST
        yield from _gap(COVERED if is_thing else CUT_OFF, level.number, lost, lines, size)
        if is_thing:
            rest = [gone & ~lost for gone in rest]


def _any(masks: Sequence[Mask], lines: Lines) -> Mask:
    return np.logical_or.reduce(masks) if len(masks) else np.zeros(len(lines.rows), dtype=bool)


def _gap(code: str, level: int | None, wrong: Mask, lines: Lines, size: float) -> Iterator[Gap]:
    """Yield one gap, if the places are more than chance."""
    if wrong.sum() < FEWEST:
        return
    rows, columns = lines.rows[wrong], lines.columns[wrong]
    box = int(columns.min()), int(rows.min()), int(columns.max()) + 1, int(rows.max()) + 1
    # Lines stand for what lies beside them, which may be more than there is.
    most = (box[2] - box[0]) * (box[3] - box[1]) / size
    yield Gap(code, level, min(float(lines.weight[wrong].sum()) / size, most), box)
