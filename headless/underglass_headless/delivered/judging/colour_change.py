# SPDX-License-Identifier: GPL-3.0-or-later
"""What was done to colours: light that is seen held against the light of the art, place by place, and named.

Knows no plan and no file. Medians over places, so that a few that show something else change nothing.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from underglass.image.picture_png import light_from_srgb, srgb_from_light

Floats = NDArray[np.float64]

NAN = float("nan")
# Fewer places than this tell nothing.
LEAST_PLACES = 24
# Colours that differ by less than this share mostly are those of the art: filters, noise and rounding change as much.
MOST_DIFFERENCE = 0.05
# So large a share of the places that are off by so much tell too: a part of the art was painted anew, or is mirrored.
MOST_ODD, ODD_DIFFERENCE = 0.25, 0.15
# Means of colours, of which thousands are looked at in a delivery, differ by so many standard errors by no chance.
MEAN_IS_SURE = 4.5
# Light as weak as this is not held to a share of itself.
DARK = 0.02
# A known change leaves less than this share between what it makes of the art and what is seen.
EXPLAINED = 0.02
# The same of rough art, where it also leaves less than half of the difference.
EXPLAINED_OF_ROUGH = 0.15
# Rows from light of the primaries of sRGB (ITU-R BT.709, white D65) to light of others: of ACEScg (AP1, white adapted
# to that of ACES by Bradford's matrix, S-2014-004), and of ITU-R BT.2020.
_ACESCG = np.array([(0.613097, 0.339523, 0.047379), (0.070194, 0.916354, 0.013452), (0.020616, 0.109570, 0.869815)])
_BT2020 = np.array([(0.627404, 0.329283, 0.043313), (0.069097, 0.919540, 0.011362), (0.016391, 0.088013, 0.895595)])

MISSING, ENCODED, DECODED, GAMMA, EXCHANGED, EXPOSED = (
    *("missing", "encoded", "decoded", "gamma", "exchanged", "exposed"),
)
TINTED, PRIMARIES, OTHER, BLACK, SATURATED, LIFTED, IN_STEPS, PARTLY = (
    *("tinted", "primaries", "other", "black", "saturated", "lifted", "in steps", "partly"),
)

# Weaker light than this is none; of so much less than none no filter makes more than this share of places.
NO_LIGHT = 1e-6
LESS_THAN_NONE, MOST_LESS = -0.1, 0.02
# Light was rounded where it has so many times fewer values than places, or than the art.
FEWER_STEPS, MOST_OF_ONE = 4, 0.7
# Grey of light (ITU-R BT.709), and rows from its primaries to XYZ.
_GREY = np.array((0.2126, 0.7152, 0.0722))
_XYZ = np.array([(0.412391, 0.357584, 0.180481), (0.212639, 0.715169, 0.072192), (0.019331, 0.119195, 0.950532)])
# Nearer to once as bright is no exposure.
SAME_LIGHT = 0.02


@dataclass(frozen=True)
class Change:
    """What was done to colours: its ``kind``, in words what it is more exactly, and how much where it has a measure.

    ``amount`` of an exposure is how many times as bright it is, of a lift what was added, of what is so partly the
    share of places that differ, otherwise by what share colours differ in the middle. ``others`` would explain it as
    well: what was done to all frames alike is told by those that have it in common.
    """

    kind: str
    amount: float
    which: str = ""
    others: tuple["Change", ...] = field(default=(), compare=False)


def change_of(art: Floats, seen: Floats, *, behind: Floats, rough: bool = False, apart: float = 1.0) -> Change | None:
    """Return what was done to light ``art`` (N, 3) to be ``seen`` (N, 3); None for nothing, or too few places.

    ``behind`` (N, 3) is the light of what lies behind the art there. Of ``rough`` art, finer than it is known here,
    means over all places are compared; ``apart`` is the share of the places that tell something of their own.
    """
    if len(art) < LEAST_PLACES or (_is_as_on_average(art, seen, apart) if rough else _is_as_planned(art, seen)):
        return None
    middle = float(np.median(_difference(art, seen)))
    if np.median(seen.max(axis=1)) <= NO_LIGHT:
        return Change(BLACK, middle)
    lit = seen.max(axis=1) > NO_LIGHT
    if LEAST_PLACES <= lit.sum() < len(lit):
        # A part may be black, and the rest as it is planned, or changed: that tells more.
        return change_of(art[lit], seen[lit], behind=behind[lit], rough=rough, apart=apart) or Change(BLACK, middle)
    # What changes nothing explains nothing: most places may be as planned, and only some of them not.
    explained = min(EXPLAINED_OF_ROUGH, middle / 2) if rough else min(EXPLAINED, middle / 2)
    found = sorted(_explanations(art, seen), key=lambda one: one[0])
    best = found[0]
    if best[0] > explained and _is_in_steps(art, seen):
        return Change(IN_STEPS, middle)
    if best[0] > explained or best[1] in (TINTED, SATURATED, LIFTED, GAMMA):
        # Of art of one tone anything is a tint, and much else.
        missing = np.median(_is_of_no_art(seen, behind))
        if missing > 0 and not np.median(_is_of_no_art(art, behind)) > 0:
            return Change(MISSING, middle)
    if best[0] > explained:
        odd = float((_difference(art, seen) > ODD_DIFFERENCE).mean())
        return Change(PARTLY, odd) if middle <= MOST_DIFFERENCE and odd > MOST_ODD else Change(OTHER, middle)
    fitting = [
        Change(kind, middle if np.isnan(amount) else amount, which)
        for left, kind, amount, which in found
        # What another frame shows better may be a little out here.
        if left <= 2 * explained
    ]
    return replace(fitting[0], others=tuple(fitting[1:]))


def _is_in_steps(art: Floats, seen: Floats) -> bool:
    """Return whether light that is seen has a few values, where the art has many; one alone is something else."""
    of_art = np.unique(art.round(4), axis=0)
    values, often = np.unique(seen.round(4), axis=0, return_counts=True)
    is_one = often.max() > MOST_OF_ONE * len(seen)
    return bool(not is_one and len(values) <= min(len(seen), len(of_art)) / FEWER_STEPS)


def _is_of_no_art(seen: Floats, behind: Floats) -> NDArray[np.bool_]:
    """Return which places (N,) show what is shown in the place of an image that is missing.

    That is magenta, at full light or (Cycles of Blender 4.5 and 5.0, and EEVEE) weaker and clearer from the middle
    of the level to its edges: of ``behind`` a share shows through, and no more green than that. Read off renders.
    """
    red, green, blue = seen.T
    pure = (green < 0.01) & (np.abs(red - blue) < 0.01) & (np.minimum(red, blue) > 0.03)
    with np.errstate(divide="ignore", invalid="ignore"):
        through = np.clip(np.where(behind[:, 1] > 0.05, green / behind[:, 1], 1.0), 0.0, 1.0)
    added = seen - through[:, None] * behind
    covered = 1.0 - through
    least, most = np.minimum(added[:, 0], added[:, 2]), np.maximum(added[:, 0], added[:, 2])
    even = most - least <= 0.1 * most + 0.02
    # Cycles adds as much magenta as it covers; EEVEE weakens it once more.
    amount = (least >= 0.5 * covered**2) & (most <= 1.2 * covered)
    return np.asarray(pure | ((covered > 0.15) & even & amount))


def _is_as_planned(art: Floats, seen: Floats) -> bool:
    off = _difference(art, seen)
    if (seen.min(axis=1) < LESS_THAN_NONE).mean() > MOST_LESS:
        return False
    return bool(np.median(off) <= MOST_DIFFERENCE and (off > ODD_DIFFERENCE).mean() <= MOST_ODD)


def _is_as_on_average(art: Floats, seen: Floats, apart: float) -> bool:
    """Return whether means agree, to what so many places tell of a mean."""
    if apart * len(art) < LEAST_PLACES:
        return True
    off = seen - art
    error = MEAN_IS_SURE * off.std(axis=0) / np.sqrt(max(1.0, apart * len(off)))
    return bool((np.abs(off.mean(axis=0)) <= MOST_DIFFERENCE * max(float(art.mean(axis=0).max()), DARK) + error).all())


def _difference(wanted: Floats, seen: Floats) -> Floats:
    """Return by what share each place differs in the channel that differs most, (N,)."""
    scale = np.maximum(wanted.max(axis=1), DARK)
    return np.asarray(np.abs(seen - wanted).max(axis=1) / scale)


def _explanations(art: Floats, seen: Floats) -> Iterator[tuple[float, str, float, str]]:
    """Yield, the most special first, what is left after a known change, its kind, how much and which it is.

    Of changes that leave as little the first counts: a grey of one tone can be come by in many ways.
    """

    def left(made: Floats) -> float:
        # By steps, so that rounding does not choose among those that fit.
        return round(float(np.median(_difference(made, seen))) / (EXPLAINED / 2)) * (EXPLAINED / 2)

    yield left(srgb_from_light(art)), ENCODED, NAN, ""
    yield left(light_from_srgb(art)), DECODED, NAN, ""
    for exponent in (1 / 2.2, 2.2, *_exponents(art, seen)):
        yield left(np.maximum(art, 0.0) ** exponent), GAMMA, NAN, f"{exponent:.3g}"
    for order in permutations(range(3)):
        if order != (0, 1, 2):
            yield left(art[:, order]), EXCHANGED, NAN, "".join("RGB"[channel] for channel in order)
    for name, matrix in (("ACEScg", _ACESCG), ("Rec.2020", _BT2020), ("XYZ", _XYZ)):
        yield left(art @ matrix.T), PRIMARIES, NAN, name
    grey = (art @ _GREY)[:, None]
    apart = np.abs(art - grey) > DARK
    if apart.any():
        by = round(float(np.median((seen - grey)[apart] / (art - grey)[apart])), 2)
        if abs(by - 1) > SAME_LIGHT:
            yield left(grey + (art - grey) * by), SATURATED, NAN, f"{by:.3g}"
    more = float(np.median(seen - art))
    if abs(more) > SAME_LIGHT:
        yield left(art + more), LIFTED, more, ""
    bright = art > DARK
    gain = float(np.median(seen[bright] / art[bright])) if bright.any() else NAN
    if np.isfinite(gain):
        if abs(gain - 1) > SAME_LIGHT:
            yield left(art * gain), EXPOSED, gain, ""
        gains = np.array([_gain(art[:, channel], seen[:, channel], gain) for channel in range(3)])
        if np.abs(gains - 1).max() > SAME_LIGHT:
            yield left(art * gains), TINTED, NAN, " : ".join(f"{one:.3g}" for one in gains)


def _exponents(art: Floats, seen: Floats) -> list[float]:
    """Return the power that most light was raised to, if any; what is near 1 tells of none."""
    fair = (art > DARK) & (art < 1 - DARK) & (seen > 0)
    if fair.sum() < LEAST_PLACES:
        return []
    exponent = round(float(np.median(np.log(seen[fair]) / np.log(art[fair]))), 2)
    return [exponent] if exponent > 0.05 and abs(exponent - 1) > SAME_LIGHT else []


def _gain(art: Floats, seen: Floats, otherwise: float) -> float:
    bright = art > DARK
    return float(np.median(seen[bright] / art[bright])) if bright.any() else otherwise
