# SPDX-License-Identifier: GPL-3.0-or-later
"""How programs spell the channels of a frame, and which of them are proof passes and which the picture.

Blender writes LAYER.PASS.R; others red or Red, small letters, X Y Z, U V (the names of coordinates in a UV pass), or
parts named by layer with plain R, G, B in them, which `read_exr` puts together.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

# In small letters: what stands for the first three channels of a pass, most usual first.
_COLOURS = (("r", "g", "b"), ("red", "green", "blue"))
_TRIPLES = (*_COLOURS, ("x", "y", "z"), ("u", "v", "w"), ("u", "v", "z"), ("u", "v", "a"), ("u", "v", "alpha"))
_PAIR = ("u", "v")
_ALPHAS = ("a", "alpha")
# A pass after any number of layers; programs part them by dots, or by what is left of dots that they do not take.
_PASS = re.compile(r"(?:(?P<layer>.*)[./:_ ])?(?P<pass>proof(?:u|v|\d{1,4}(?:u\d{1,3}v\d{1,3})?))", re.I | re.S)
# Where the picture itself lies: a layer's Combined, or no layer at all; else a layer or part of one of these names.
_PICTURE = ("combined", "")
_ALSO_PICTURE = ("rgba", "rgb", "beauty", "main", "color", "colour", "image")
# Passes of three channels that Blender writes by itself (manual, "Passes"), and those of Cryptomatte.
_BLENDERS = re.compile(
    r"|rgba?|combined|composite|beauty|position|normal|vector|uv|(diffuse|diff|glossy|gloss|transmission|trans|volume"
    r"|subsurface) ?(dir|direct|ind|indirect|col|color)|volume ?(scatter|transmit)|emit|emission|env|environment|ao"
    r"|ambient occlusion|shadow|shadow catcher|transparent|noisy.*|denoising.*|debug.*|crypto.*|grease ?pencil",
    re.I,
)
# Ranked pairs of Cryptomatte are red, green and blue in name alone.
_NO_PICTURE = "crypto"
# Of luminance-chroma files: Y and these.
_CHROMA = {"ry", "by"}


@dataclass(frozen=True)
class Spelling:
    """How one file spells its channels: by standard name, such as ViewLayer.proof0.R, the file's own.

    ``passes`` holds those of proof passes, ``picture`` the file's own names of red, green, blue, and alpha where there
    is one. ``unmarked`` names passes, without their letter, that have no channel for where the level is hit.
    """

    passes: Mapping[str, str]
    picture: tuple[str, ...]
    unmarked: tuple[str, ...] = ()


def spelling_of(names: Iterable[str]) -> Spelling:
    """Return how a file with channels of these ``names``, in the order of the file, spells passes and picture."""
    by_stem: dict[str, dict[str, str]] = {}
    for name in names:
        stem, letter = _parted(name)
        by_stem.setdefault(stem, {}).setdefault(letter.lower(), name)
    passes: dict[str, str] = {}
    unmarked = []
    layers: list[str] = []
    for stem, letters in by_stem.items():
        if (match := _PASS.fullmatch(stem)) is None:
            continue
        layer, own = match["layer"], match["pass"].lower()
        layers.append(layer or "")
        standard = f"{layer}.{own}" if layer else own
        if f"{standard}.R" in passes:
            continue
        found = _first_of(letters, _TRIPLES)
        if not found and all(letter in letters for letter in _PAIR):
            found = [letters[letter] for letter in _PAIR]
            unmarked.append(standard)
        passes |= {f"{standard}.{letter}": name for letter, name in zip("RGB", found, strict=False)}
        if not found and letters:
            # A pass of one value has one channel, whatever its letter.
            passes[f"{standard}.X"] = next(iter(letters.values()))
    return Spelling(passes, tuple(_picture(by_stem, layers)), tuple(unmarked))


def is_pass(name: str) -> bool:
    """Return whether a channel of this name is one of a proof pass."""
    return _PASS.fullmatch(_parted(name)[0]) is not None


def lacks_of_picture(names: Iterable[str]) -> tuple[str, ...]:
    """Return which of red, green and blue are not there, of a picture as such a file would name it; none: it is whole.

    A file without any of them has no picture.
    """
    names = list(names)
    if spelling_of(names).picture or is_chroma(names):
        return ()
    found: set[str] = set()
    for name in names:
        stem, letter = _parted(name)
        end = re.split(r"[./:_ ]", stem)[-1].lower()
        if _PASS.fullmatch(stem) is None and end in (*_PICTURE, *_ALSO_PICTURE):
            found |= {
                color
                for family in _COLOURS
                for color, own in zip(_COLOURS[1], family, strict=True)
                if own == letter.lower()
            }
    return tuple(color for color in _COLOURS[1] if color not in found)


def unknown_passes(names: Iterable[str], picture: Sequence[str]) -> tuple[str, ...]:
    """Return the passes of three channels, without their letters, that are no ``picture`` and none of Blender's own.

    Proof passes that were given another name are among these.
    """
    by_stem: dict[str, dict[str, str]] = {}
    for name in names:
        stem, letter = _parted(name)
        by_stem.setdefault(stem, {}).setdefault(letter.lower(), name)
    of_picture = {_parted(name)[0] for name in picture}
    return tuple(
        stem
        for stem, letters in by_stem.items()
        if stem not in of_picture
        and _first_of(letters, _TRIPLES)
        and not _BLENDERS.fullmatch(re.split(r"[./:]", stem)[-1])
    )


def is_chroma(names: Iterable[str]) -> bool:
    """Return whether channels of these names hold luminance and chroma in place of red, green and blue."""
    return _CHROMA.issubset(name.rpartition(".")[2].lower() for name in names)


def _parted(name: str) -> tuple[str, str]:
    """Return layer and letter; a pass of one value may have no letter."""
    stem, _, letter = name.rpartition(".")
    match = _PASS.fullmatch(letter)
    return (name, "") if match and match["pass"].lower() not in ("proofu", "proofv") else (stem, letter)


def _first_of(letters: Mapping[str, str], families: Iterable[tuple[str, ...]]) -> list[str]:
    return next(
        ([letters[letter] for letter in family] for family in families if all(letter in letters for letter in family)),
        [],
    )


def _picture(by_stem: Mapping[str, Mapping[str, str]], layers: Sequence[str]) -> list[str]:
    """Return the names of the picture's channels; where no layer has a name for it, of the only one with colours.

    Of several pictures it is the one in the first of the ``layers`` that hold proof passes.
    """
    coloured = [
        stem
        for stem, letters in by_stem.items()
        if _PASS.fullmatch(stem) is None and _NO_PICTURE not in stem.lower() and _first_of(letters, _COLOURS)
    ]
    if layers:
        coloured.sort(key=lambda stem: re.split(r"[./:_ ]", stem)[:-1] != re.split(r"[./:_ ]", layers[0]))
    ends = [re.split(r"[./:_ ]", stem)[-1].lower() for stem in coloured]
    for wanted in (*_PICTURE, *_ALSO_PICTURE):
        if wanted in ends:
            stem = coloured[ends.index(wanted)]
            break
    else:
        if len(coloured) != 1:
            return []
        stem = coloured[0]
    letters = by_stem[stem]
    alpha = next((letters[letter] for letter in _ALPHAS if letter in letters), None)
    return [*_first_of(letters, _COLOURS), *([] if alpha is None else [alpha])]
