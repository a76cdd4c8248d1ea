# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture's colours held against the art's, at some hundred places of each level that it alone fills.

Which place of the art a pixel shows is told by the level's proof pass, and else by where the level was found or is
planned. Only places count at which the art is opaque and plain all about, and every nearer level is clear.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.optics.projection import art_from_px
from underglass.plan import Plan, corners_px
from underglass.plan.pass_light import fractions
from underglass.proof.measure.measured_corners import Fit

from ..judging.colour_change import DARK, LEAST_PLACES, MISSING, OTHER, Change, change_of
from ..judging.picture_faults import FrameColours
from .colour_samples import Sample
from .sight_of_levels import Sight

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Art that differs by more than this share of its light about a place does not tell one colour.
PLAIN = 0.25
# A level blurred by more than this shows no place of its art by itself.
MOST_BLUR_PX = 12.0
# A mean alpha from here on is 1, but for rounding.
OPAQUE = 0.9999
# So many levels without art are no single picture that went missing.
SEVERAL = 2
_ROUND_IT = np.array([(0.0, 0.0), (1, 0), (-1, 0), (0, 1), (0, -1), (0.7, 0.7), (0.7, -0.7), (-0.7, 0.7), (-0.7, -0.7)])


@dataclass(frozen=True, slots=True)
class Held:
    """The light of the art, what is seen there, and what the plan has behind it, (N, 3) each.

    ``rough`` where the art is nowhere plain, so that only means tell: of places on the same pixel of the art no more
    than one does, ``apart`` is the share of those that tell.
    """

    art: Floats
    seen: Floats
    behind: Floats
    rough: bool
    apart: float = 1.0

    def change(self) -> Change | None:
        """Return what was done to the colours, None for nothing."""
        return change_of(self.art, self.seen, behind=self.behind, rough=self.rough, apart=self.apart)


@dataclass
class Colours:
    """Holds samples of frames against the art that ``sight`` knows; ``blur_px`` (F, L) is how far edges are blurred."""

    sight: Sight
    blur_px: Floats

    def __post_init__(self) -> None:
        self._plan: Plan = self.sight.plan
        self._corners = corners_px(self._plan)

    def told(self, frame: int, samples: Mapping[int, Sample], fits: Mapping[int, Fit | None]) -> list[FrameColours]:
        """Return what is wrong with the colours of one frame: the levels that show it, and what was done to them."""
        seen: dict[int, Held] = {}
        off: dict[int, Change] = {}
        behind: list[int] = []
        for number, every in sorted(samples.items()):
            if not is_lit_fully(self._plan, frame, number):
                continue
            missing = [nearer for nearer, change in off.items() if change.kind == MISSING]
            sample = self._beside(frame, missing, every)
            if missing and len(sample.places) < LEAST_PLACES:
                # What stands in the place of missing art before it hides or tints it.
                behind.append(number)
                continue
            held = self._by_pixels(frame, number, sample, fits.get(number))
            change = None if held is None else held.change()
            if held is None:
                # Where the level was not found, only that it shows no art at all is sure.
                held = self._held(frame, number, Sample(sample.places, sample.light), None)
                change = None if held is None else held.change()
                change = change if change is not None and change.kind == MISSING else None
                if change is None:
                    continue
            assert held is not None
            seen[number] = held
            if change is not None:
                off[number] = change
        return _together(frame, off, seen, behind)

    def _beside(self, frame: int, levels: Sequence[int], sample: Sample) -> Sample:
        """Return the places of a sample at which none of some nearer ``levels`` is planned."""
        free = np.ones(len(sample.places), dtype=bool)
        for nearer in levels:
            u, v = art_from_px(sample.places, corners=self._corners[frame - int(self._plan.frames[0]), nearer]).T
            free &= (u < 0) | (u > 1) | (v < 0) | (v > 1)
        return sample if free.all() else sample.only(free)

    def _by_pixels(self, frame: int, number: int, sample: Sample, fit: Fit | None) -> Held | None:
        """Return what is seen of a level where its pass, or else its ``fit``, tells where on the art; None: nowhere."""
        if sample.u is not None:
            return self._held(frame, number, sample.only(np.isfinite(sample.u)), fit)
        return None if fit is None else self._held(frame, number, sample, fit)

    def _held(self, frame: int, number: int, sample: Sample, fit: Fit | None) -> Held | None:
        """Return art and what is seen where the level alone shows; None for too few places, or art that is not read."""
        row = frame - int(self._plan.frames[0])
        places, light, u, v = sample.places, sample.light, sample.u, sample.v
        blur = float(self.blur_px[row, number])
        if blur > MOST_BLUR_PX or len(places) < LEAST_PLACES:
            return None
        if u is None or v is None:
            corners = self._corners[row, number] if fit is None else fit.corners
            u, v = art_from_px(places, corners=corners).T
        paint = self.sight.on_art(frame, number, u, v)
        if paint is None:
            return None
        mean = paint.mean
        opaque = (paint.least >= 1.0) & (u > 0) & (u < 1) & (v > 0) & (v < 1) & np.isfinite(light).all(axis=1)
        plain = opaque & (paint.spread <= PLAIN * np.maximum(mean[:, :3].max(axis=1), DARK))
        # A filter takes in more than a pixel.
        about = _ROUND_IT * max(2.0, blur + 1.0)
        for rough, chosen in ((False, plain), (True, opaque)):
            kept = self._plain_about(frame, number, np.flatnonzero(chosen), (places, u, v), about, rough=rough)
            kept = self._alone(frame, number, kept, places, about)
            if len(kept) >= LEAST_PLACES:
                behind = self.sight.light_from(frame, number + 1, places[kept])
                return Held(mean[kept, :3], light[kept], behind, rough, self._apart(number, u[kept], v[kept]))
        return None

    def _apart(self, number: int, u: Floats, v: Floats) -> float:
        """Return the share of places on the art that lie on pixels of their own."""
        width, height = self._plan.shot.levels[number].art_px
        return len(np.unique(np.floor(u * width) + np.floor(v * height) * width)) / len(u)

    def _alone(self, frame: int, number: int, kept: Ints, places: Floats, about: Floats) -> Ints:
        """Return which of the ``kept`` places nothing that lies nearer covers; none where its art cannot be read."""
        for nearer in range(number):
            if len(kept) < LEAST_PLACES:
                break
            around = (places[kept] + about[:, None]).reshape(-1, 2)
            there, cover = self.sight.at(frame, nearer, around)
            if cover is None:
                return kept[:0]
            kept = kept[~(there & (cover.greatest > 0.0)).reshape(len(about), -1).any(axis=0)]
        return kept

    def _plain_about(
        self,
        frame: int,
        number: int,
        chosen: Ints,
        where: tuple[Floats, Floats, Floats],
        about: Floats,
        *,
        rough: bool,
    ) -> Ints:
        """Return which of the ``chosen`` places have opaque art all round them, of the same colour unless ``rough``."""
        places, u, v = (values[chosen] for values in where)
        corners = self._corners[frame - int(self._plan.frames[0]), number]
        by = art_from_px(places + about[:, None], corners=corners) - art_from_px(places, corners=corners)
        paint = self.sight.on_art(frame, number, (u + by[..., 0]).ravel(), (v + by[..., 1]).ravel())
        assert paint is not None, "the art was read before"
        mean = paint.mean.reshape(len(about), -1, 4)
        opaque = (mean[..., 3] >= OPAQUE).all(axis=0)
        if rough:
            return np.asarray(chosen[opaque])
        most = PLAIN * np.maximum(mean[0, :, :3].max(axis=1), DARK)
        return np.asarray(chosen[opaque & (np.abs(mean[..., :3] - mean[0, :, :3]).max(axis=(0, 2)) <= most)])


def is_lit_fully(plan: Plan, frame: int, number: int) -> bool:
    """Return whether a level is in full light on ``frame``: exposures of the shot may dim it, or show it never."""
    exposures, name = plan.shot.exposures, plan.names[number]
    if not exposures:
        return True
    own = [one for one in exposures if one.levels is None or name in one.levels]
    return len(own) == 1 and all(not one.stops and fractions(one, frames=[frame])[0] == 1.0 for one in own)


def _together(
    frame: int, off: Mapping[int, Change], seen: Mapping[int, Held], behind: Sequence[int]
) -> list[FrameColours]:
    """Return one change of all levels that are off, and one of those whose art is missing, before those ``behind``.

    What was done to a frame shows in each of its levels, in some as one thing and in some as another.
    """
    if not off:
        return []
    found = []
    for numbers in ([n for n in off if off[n].kind == MISSING], [n for n in off if off[n].kind != MISSING]):
        if not numbers:
            continue
        whole = _of_all([seen[number] for number in numbers])
        missing = off[numbers[0]].kind == MISSING
        told = sorted(numbers)
        if missing and len(numbers) >= SEVERAL and set(seen) == set(numbers):
            # Where no level showed its art the whole folder was away.
            told, behind = sorted([*numbers, *behind]), ()
        if whole is None or (whole.kind == MISSING) != missing:
            whole = max((off[number] for number in numbers), key=lambda change: change.amount)
            whole = whole if missing or len(numbers) == 1 else Change(OTHER, whole.amount)
        # Which levels tell of a frame changes from frame to frame: of all no names are kept.
        everywhere = not missing and len(numbers) == len(seen)
        found.append(FrameColours(frame, () if everywhere else tuple(told), whole, tuple(behind) if missing else ()))
    return found


def _of_all(held: Sequence[Held]) -> Change | None:
    """Return what was done to the colours of several levels together."""
    art, light, behind = (np.concatenate([getattr(one, what) for one in held]) for what in ("art", "seen", "behind"))
    return Held(art, light, behind, any(one.rough for one in held), min(one.apart for one in held)).change()
