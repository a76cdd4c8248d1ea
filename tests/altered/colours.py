# SPDX-License-Identifier: GPL-3.0-or-later
"""Colours: of the picture alone, of the passes, of both; levels without their art; numbers that are none."""

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from altered.delivery import ALL, Delivery, Frame
from altered.kinds import CYCLES, EEVEE, Caught, Kind, Tolerated, of_axes, span
from altered.shots import BIRD, BOAT, HILLS, NAMES, SKY
from underglass.image.picture_png import light_from_srgb

# Pixels of red, green and blue, (3, H, W).
Pixels = NDArray[Any]
Change = Callable[[Pixels], Pixels]
SPOILT = (4, 5, 6)
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


def encoded(rgb: Pixels) -> Pixels:
    """Return light as codes of sRGB (IEC 61966-2-1)."""
    low, high = 12.92 * rgb, 1.055 * np.maximum(rgb, 0.0) ** (1 / 2.4) - 0.055
    return np.where(rgb <= 0.0031308, low, high)


def gamma(rgb: Pixels, power: float) -> Pixels:
    """Return light to a power; less than none stays."""
    return np.sign(rgb) * np.abs(rgb) ** power


def matrixed(rgb: Pixels, rows: tuple[tuple[float, float, float], ...]) -> Pixels:
    """Return light through a matrix."""
    return np.einsum("ij,jhw->ihw", np.array(rows), rgb)


def saturated(rgb: Pixels, by: float) -> Pixels:
    """Return light of another saturation."""
    grey = np.einsum("i,ihw->hw", LUMINANCE, rgb)[None]
    return grey + (rgb - grey) * by


def coarse(rgb: Pixels, steps: int) -> Pixels:
    """Return light in so few steps."""
    return np.round(rgb * steps) / steps


def noisy(rgb: Pixels, sigma: float) -> Pixels:
    """Return light with noise."""
    return rgb + np.random.default_rng(3).normal(0, sigma, rgb.shape)


# From the primaries of Rec. 709 to those of ACEScg, and to XYZ (D65), to three digits.
TO_ACESCG = ((0.613, 0.340, 0.047), (0.070, 0.916, 0.014), (0.021, 0.110, 0.869))
TO_XYZ = ((0.412, 0.358, 0.180), (0.213, 0.715, 0.072), (0.019, 0.119, 0.950))

GRADES: dict[str, Change] = {
    "encoded as sRGB": encoded,
    "encoded twice": lambda rgb: encoded(encoded(rgb)),
    "decoded from sRGB": lambda rgb: light_from_srgb(np.clip(rgb, 0, 1)),
    "gamma 2.2": partial(gamma, power=2.2),
    "gamma 1/2.2": partial(gamma, power=1 / 2.2),
    "gamma 1.2": partial(gamma, power=1.2),
    "a stop up": lambda rgb: rgb * 2.0,
    "a stop down": lambda rgb: rgb * 0.5,
    "a third of a stop up": lambda rgb: rgb * 2 ** (1 / 3),
    "warmer": lambda rgb: rgb * np.array([1.25, 1.0, 0.8])[:, None, None],
    "grey": partial(saturated, by=0.0),
    "half as saturated": partial(saturated, by=0.5),
    "red and green exchanged": lambda rgb: rgb[[1, 0, 2]],
    "red and blue exchanged": lambda rgb: rgb[[2, 1, 0]],
    "colours moved on by one": lambda rgb: rgb[[1, 2, 0]],
    "inverted": lambda rgb: 1.0 - rgb,
    "lifted by 0.1": lambda rgb: rgb + 0.1,
    "clipped at 0.2": lambda rgb: np.clip(rgb, 0, 0.2),
    "in 4 steps": partial(coarse, steps=4),
    "to the primaries of ACEScg": partial(matrixed, rows=TO_ACESCG),
    "to XYZ": partial(matrixed, rows=TO_XYZ),
    "noise of 0.2": partial(noisy, sigma=0.2),
    "red alone": lambda rgb: rgb * np.array([1.0, 0.0, 0.0])[:, None, None],
    "blue missing": lambda rgb: rgb * np.array([1.0, 1.0, 0.0])[:, None, None],
}
# Of a picture this leaves next to nothing, which is a hole.
WHOLE_NUMBERS = "in whole numbers"
FAINT: dict[str, tuple[Change, str]] = {
    "noise of 0.0005": (partial(noisy, sigma=0.0005), "less than the noise of a render"),
    "a thousandth brighter": (lambda rgb: rgb * 1.001, "nobody sees it"),
    "through half floats": (lambda rgb: rgb.astype(np.float16), "half floats hold light to a two-thousandth"),
}


def grade(delivery: Delivery, change: Change, frames: tuple[int, ...] = SPOILT) -> None:
    """Change the colours of the picture, and leave its passes."""
    delivery.edit(frames, lambda frame: _recolour(frame, frame.picture, change))


def recolour_passes(delivery: Delivery, change: Change, *, picture: bool) -> None:
    """Change the colours of the passes as if they were colours, and with ``picture`` those of the picture too."""

    def edit(frame: Frame) -> None:
        for names in _triples(frame):
            _recolour(frame, names, change)
        if picture:
            _recolour(frame, frame.picture, change)

    delivery.edit(SPOILT, edit)


def _triples(frame: Frame) -> list[list[str]]:
    stems = dict.fromkeys(name.rpartition(".")[0] for name in frame.passes)
    found = [[f"{stem}.{letter}" for letter in "RGB"] for stem in stems]
    return [names for names in found if set(names) <= set(frame.channels)]


def _recolour(frame: Frame, names: list[str], change: Change) -> None:
    kinds = [frame.channels[name].dtype for name in names]
    rgb = change(np.stack([frame.channels[name].astype(np.float64) for name in names]))
    for name, pixels, kind in zip(names, rgb, kinds, strict=True):
        frame.channels[name] = pixels.astype(kind)


# -- art ---------------------------------------------------------------------------------------------------------------


def painted_over(delivery: Delivery, levels: tuple[int, ...], colour: tuple[float, float, float]) -> None:
    """Give levels one colour wherever they show, as Blender shows art that it does not find."""

    def change(frame: Frame) -> None:
        left = np.ones(frame.shape)
        # Cycles marks all levels down to the first that is opaque: that is the one which shows.
        for level in reversed(range(len(NAMES))):
            mark = np.clip(frame.channels[frame.mark(level)].astype(np.float64), 0, 1)
            shows = mark if frame.fringes else mark * left
            left = left - shows
            if level in levels:
                for name, value in zip(frame.picture, colour, strict=True):
                    pixels = frame.channels[name]
                    frame.channels[name] = (pixels * (1 - shows) + value * shows).astype(pixels.dtype)

    delivery.edit(SPOILT, change)


def of_one_colour(delivery: Delivery, colour: tuple[float, float, float], *, passes: bool) -> None:
    """Give the whole picture one colour; without ``passes`` those are empty too."""

    def change(frame: Frame) -> None:
        for name, value in zip(frame.picture, colour, strict=True):
            frame.channels[name][:] = value
        for name in () if passes else frame.passes:
            frame.channels[name][:] = 0

    delivery.edit(SPOILT, change)


def other_picture(delivery: Delivery, frame_from: int, frames: tuple[int, ...]) -> None:
    """Put the picture of one frame beside the passes of others."""
    held = delivery.original(frame_from)

    def change(frame: Frame) -> None:
        for name in (*frame.picture, frame.alpha):
            frame.channels[name] = held.channels[name]

    delivery.edit(frames, change)


# -- numbers that are none ---------------------------------------------------------------------------------------------


def put_number(delivery: Delivery, which: str, value: float, share: float) -> None:
    """Put a number into a share of a channel's pixels."""

    def change(frame: Frame) -> None:
        name = {"picture": frame.picture[1], "alpha": frame.alpha, "pass": frame.mark(SKY), "coordinate": ""}[which]
        name = name or next(name for name in frame.passes if name.endswith(".R"))
        flat = frame.channels[name].reshape(-1).copy()
        at = np.random.default_rng(8).permutation(len(flat))[: max(1, int(share * len(flat)))]
        flat[at] = value
        frame.channels[name] = flat.reshape(frame.shape)

    delivery.edit(SPOILT, change)


def set_alpha(delivery: Delivery, value: float) -> None:
    """Set the picture's alpha all over."""
    delivery.edit(
        ALL, lambda frame: frame.channels.update({frame.alpha: np.full_like(frame.channels[frame.alpha], value)})
    )


def kinds() -> Iterator[Kind]:
    """Yield the kinds of this family."""
    graded = Caught(("colours-differ",), span(SPOILT), also=("art-not-found",), most=2)
    for name, change in GRADES.items():
        yield Kind("picture graded", name, partial(grade, change=change), graded)
    whole = Caught(("colours-differ",), (1, 10), most=2)
    yield Kind("picture graded", "encoded as sRGB, every frame", partial(grade, change=encoded, frames=ALL), whole)
    yield Kind(
        "picture graded", "a stop down, every frame", partial(grade, change=GRADES["a stop down"], frames=ALL), whole
    )
    for name, (change, why) in FAINT.items():
        yield Kind("picture graded", name, partial(grade, change=change), Tolerated(why))
    recoloured = Caught(("passes-recoloured",), span(SPOILT), also=("colours-differ",), most=3)
    chosen = ("encoded as sRGB", "decoded from sRGB", "gamma 1/2.2", "a stop up", "a stop down", "a third of a stop up",
              "to the primaries of ACEScg", "lifted by 0.1", "grey", "half as saturated", "inverted", "in 4 steps",
              "clipped at 0.2", WHOLE_NUMBERS)  # fmt: skip
    for name in chosen:
        for picture in (True, False):
            label = f"{name}{' with the picture' if picture else ''}"
            grade_by = GRADES.get(name, partial(coarse, steps=1))
            change_all = partial(recolour_passes, change=grade_by, picture=picture)
            yield Kind("passes recoloured", label, change_all, recoloured)
    yield from _exchanged_colours()
    yield from _arts()
    yield from _numbers()


def _exchanged_colours() -> Iterator[Kind]:
    swapped = Caught(("passes-exchanged", "passes-recoloured"), span(SPOILT), also=("colours-differ",), most=3)
    for name in ("red and green exchanged", "red and blue exchanged", "colours moved on by one"):
        for picture in (True, False):
            label = f"{name}{' with the picture' if picture else ''}"
            change = partial(recolour_passes, change=GRADES[name], picture=picture)
            yield Kind("passes recoloured", label, change, swapped)


def _arts() -> Iterator[Kind]:
    magenta = (1.0, 0.0, 1.0)
    # Of stems that are nowhere wide enough for a filter no colour is told. Art that is really missing shows all over.
    for level in (BIRD, BOAT, HILLS, SKY):
        expected = Caught(("art-not-found",), span(SPOILT), subject=NAMES[level], also=("colours-differ",), most=2)
        name = f"magenta in place of the {NAMES[level]}"
        yield Kind("art", name, partial(painted_over, levels=(level,), colour=magenta), expected)
    every = Caught(("art-not-found", "frame-one-colour"), span(SPOILT), also=("colours-differ",), most=6)
    yield Kind("art", "magenta in place of all", partial(painted_over, levels=tuple(range(5)), colour=magenta), every)
    # Black in the place of a level cannot be told from a hole in the picture.
    other = Caught(("colours-differ", "art-not-found", "frame-hole"), span(SPOILT), most=2)
    for level, colour in ((BOAT, (0.0, 0.0, 0.0)), (SKY, (0.8, 0.8, 0.8)), (HILLS, (0.0, 0.5, 0.0))):
        name = f"one colour in place of the {NAMES[level]}"
        yield Kind("art", name, partial(painted_over, levels=(level,), colour=colour), other)
    flat = Caught(("frame-one-colour",), span(SPOILT), also=("colours-differ",), most=2)
    for name, colour in (("grey", (0.2, 0.2, 0.2)), ("white", (1.0, 1.0, 1.0)), ("red", (0.7, 0.0, 0.0))):
        yield Kind(
            "one colour", f"{name} beside whole passes", partial(of_one_colour, colour=colour, passes=True), flat
        )
        empty = Caught(("frame-one-colour", "not-proved"), span(SPOILT), also=("frame-hole", "in-the-way"), most=3)
        yield Kind("one colour", f"{name}, passes empty", partial(of_one_colour, colour=colour, passes=False), empty)
    black = Caught(("frame-black",), span(SPOILT), most=1)
    none = (0.0, 0.0, 0.0)
    yield Kind("one colour", "black beside whole passes", partial(of_one_colour, colour=none, passes=True), black)
    yield Kind("one colour", "black, passes empty", partial(of_one_colour, colour=none, passes=False), black)
    nearly = Caught(("frame-black", "frame-one-colour", "colours-differ"), span(SPOILT), most=2)
    faint = (1e-7, 0.0, 0.0)
    yield Kind("one colour", "all but black", partial(of_one_colour, colour=faint, passes=True), nearly)
    identical = ("frames-identical", "colours-differ", "frame-shows-another")
    for name, source, frames in (
        ("its neighbour's picture", 4, (5,)),
        ("a picture held on three frames", 4, (5, 6)),
        ("a picture held to the end", 6, (7, 8, 9, 10)),
        ("one picture all through", 1, tuple(range(2, 11))),
    ):
        # The frame that the picture is of may be named with it.
        expected = Caught(identical, None, also=("passes-of-another-frame",), most=3)
        yield Kind("one colour", name, partial(other_picture, frame_from=source, frames=frames), expected)


def _numbers() -> Iterator[Kind]:
    for which in ("picture", "alpha", "pass", "coordinate"):
        for name, value, share in (
            ("a NaN", np.nan, 0.0),
            ("a hundredth NaN", np.nan, 0.01),
            ("an infinity", np.inf, 0.0),
            ("a negative infinity", -np.inf, 0.0),
        ):
            change = partial(put_number, which=which, value=value, share=share)
            yield Kind("numbers", f"{name} in the {which}", change, Caught(("frame-nan",), span(SPOILT), most=1))
    huge = Caught(("colours-differ", "frame-nan"), span(SPOILT), most=2)
    yield Kind(
        "numbers", "a tenth of the picture −1", partial(put_number, which="picture", value=-1.0, share=0.1), huge
    )
    marks = Caught(("strange-pixels", "passes-recoloured", "cut-off", "shows-too-much"), span(SPOILT), most=2)
    yield Kind("numbers", "a tenth of a mark 0.5", partial(put_number, which="pass", value=0.5, share=0.1), marks)
    strays = Caught(
        ("strange-pixels", "not-flat", "passes-recoloured", "cut-off", *of_axes("east", "north", "width", "height")),
        span(SPOILT),
        most=3,
    )
    bad = partial(put_number, which="coordinate", value=0.5, share=0.2)
    yield Kind("numbers", "a fifth of a coordinate 0.5", bad, strays, engines=(CYCLES, EEVEE))
    for value in (0.0, 0.5, 1.0):
        yield Kind(
            "numbers",
            f"alpha of {value:g} all over",
            partial(set_alpha, value=value),
            Tolerated("no level is told by the picture's alpha"),
        )
