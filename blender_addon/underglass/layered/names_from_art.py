# SPDX-License-Identifier: GPL-3.0-or-later
"""Names that a shot can bear, made of whatever a painter called a layer: of levels, and of art files."""

import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from pathlib import PurePath

from ..shot.files.levels import MOST_NAME_BYTES, RESERVED_NAMES

# Leaves room in the 255 bytes of a file's name for a temporary one beside it, in any script.
_MOST_FILE_BYTES = 100
# Control characters, halves of characters, unassigned and private ones, line and paragraph separators.
_UNSEEN = {"Cc", "Cs", "Cn", "Co", "Zl", "Zp"}
# Of the format characters these two shape the words of living scripts; the others only hide or turn text round.
_JOINERS = "\u200c\u200d"
# What some system refuses in a file's name; the braces would read as the place of a drawing's name, and dollars and
# backquotes make a shell run what follows, even between double quotes.
_NOT_IN_FILES = re.compile(r'[\s_]*[\\/:*?"<>|{}%#$`]+[\s_]*')
# Source: Microsoft, Naming Files, Paths, and Namespaces: names of devices, with any suffix.
_DEVICE = re.compile(r"^(con|prn|aux|nul|conin\$|conout\$|(?:com|lpt)[0-9¹²³])(?=\s*(?:\.|$))", re.IGNORECASE)
# More is never kept, and a name may be as long as a hostile file likes.
_MOST_READ = 1000


def level_names(names: Iterable[str]) -> tuple[str, ...]:
    """Return a legal level name for each layer name, in order, all different; a good name stays as it is."""
    return _unique(names, _level_name, most=MOST_NAME_BYTES, same=str)


def file_names(names: Sequence[str], *, suffixes: Sequence[str]) -> tuple[str, ...]:
    """Return an art file name for each layer name, all different on systems that do not tell case apart too."""
    # Names are told apart without their suffix, so that two files of a level never look like one.
    stems = _unique(
        names, _file_stem, most=_MOST_FILE_BYTES, same=lambda stem: unicodedata.normalize("NFKC", stem).casefold()
    )
    return tuple(f"{stem}{suffix}" for stem, suffix in zip(stems, suffixes, strict=True))


def layer_name(file: str) -> str:
    """Return what a layer is called that lies in ``file``: without suffix and the number that only says its order."""
    stem = PurePath(file).stem
    return re.sub(r"^\d+[\s._-]+(?=\S)", "", stem)


def _unique(
    names: Iterable[str], legal: Callable[[str], str], *, most: int, same: Callable[[str], str]
) -> tuple[str, ...]:
    taken: dict[str, int] = {}
    made = []
    for name in names:
        first = candidate = _cut(legal(name), most)
        while same(candidate) in taken:
            # Counted on from where the last one of this name stopped, so that many of one name cost little.
            taken[same(first)] += 1
            number = f" {taken[same(first)]}"
            candidate = _cut(first, most - len(number)) + number
        taken[same(candidate)] = 1
        made.append(candidate)
    return tuple(made)


def _level_name(name: str) -> str:
    clean = readable(name)
    return f"{clean} level" if clean.lower() in RESERVED_NAMES else clean


def _file_stem(name: str) -> str:
    # A leading dot hides a file, and Windows drops dots and blanks at the end.
    stem = _NOT_IN_FILES.sub("_", readable(name)).strip(" ._-'") or "layer"
    return _DEVICE.sub(r"\1_", stem)


def readable(name: str, *, otherwise: str = "layer") -> str:
    """Return ``name`` on one line, composed, without what cannot be seen; ``otherwise`` where nothing is left."""
    text = "".join(_seen(character) for character in unicodedata.normalize("NFC", name[:_MOST_READ]))
    text = " ".join(text.split())
    return text if text.strip(_JOINERS + " ") else otherwise


def _seen(character: str) -> str:
    category = unicodedata.category(character)
    if category == "Cf":
        return character if character in _JOINERS else ""
    return " " if category in _UNSEEN else character


def _cut(text: str, most: int) -> str:
    """Return ``text`` cut to ``most`` bytes of UTF-8, at a whole character and without a blank at its end."""
    return text.encode()[:most].decode(errors="ignore").rstrip() or "layer"
