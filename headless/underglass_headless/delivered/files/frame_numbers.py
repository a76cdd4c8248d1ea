# SPDX-License-Identifier: GPL-3.0-or-later
"""Which number in a file's name is the frame's: read by fileseq, and held against the other names in the folder."""

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from fileseq.exceptions import FileSeqException
from fileseq.filesequence import FileSequence

_DIGITS = re.compile(r"\d+", re.ASCII)
# No frame has so long a number, but a day has: 20260131.
DIGITS_OF_A_DATE = 8
_WHOLE = re.compile(r"-?\d+", re.ASCII)


@dataclass(frozen=True)
class Numbered:
    """A name taken apart: what comes before the number of the ``frame``, and what after it."""

    stem: str
    frame: int
    tail: str


def without_controls(name: str) -> str:
    """Return a file's name without control characters, such as a line end: its frame is told by the rest."""
    return "".join(character for character in name if unicodedata.category(character) != "Cc")


def numbers_in(names: Iterable[str]) -> dict[str, Numbered]:
    """Return names in one folder taken apart, those that have the number of a frame.

    That is the number before the suffix, or before more suffixes than one, as fileseq has it. Where it is the same in
    all names that are otherwise alike, and one other number runs on in them, it is that: in a_0001_v2, a_0002_v2 and
    in a.0001_left, a.0002_left.
    """
    alike: dict[str, list[str]] = {}
    for name in dict.fromkeys(names):
        alike.setdefault(_DIGITS.sub("#", name), []).append(name)
    found: dict[str, Numbered] = {}
    for group in alike.values():
        place = _running(group)
        for name in group:
            number = _by_fileseq(name) if place is None else _by_place(name, place)
            if number is not None:
                found[name] = number
    return found


def _running(names: Sequence[str]) -> int | None:
    """Return which number of these names runs on in them, if it is another one than fileseq's; else None."""
    columns = list(zip(*([match[0] for match in _DIGITS.finditer(name)] for name in names), strict=True))
    changing = [place for place, column in enumerate(columns) if len({int(text) for text in column}) > 1]
    if len(changing) != 1:
        return None
    place = changing[0]
    usual = _by_fileseq(names[0])
    if usual is not None:
        its = len(_DIGITS.findall(usual.stem))
        is_date = len(columns[its][0]) >= DIGITS_OF_A_DATE
        if its == place or (len(columns[place][0]) < len(columns[its][0]) and not is_date):
            return None
    values = sorted({int(text) for text in columns[place]})
    return place if any(after == before + 1 for before, after in pairwise(values)) else None


def _by_place(name: str, place: int) -> Numbered:
    match = list(_DIGITS.finditer(name))[place]
    return Numbered(name[: match.start()], int(match[0]), name[match.end() :])


def _by_fileseq(name: str) -> Numbered | None:
    try:
        # fileseq takes what stands before a backslash for a folder.
        one = next(iter(FileSequence.findSequencesInList([name.replace("\\", "_")])), None)
    except (FileSeqException, ValueError):
        return None
    frames = None if one is None else one.frameSet()
    if one is None or frames is None or len(frames) != 1:
        return None
    begin, end, frame = len(one.basename()), len(name) - len(one.extension()), int(str(frames[0]))
    if not _WHOLE.fullmatch(name[begin:end]) or int(name[begin:end]) != frame:
        return None
    if name[begin] == "-" and name[:begin][-1:].isalnum():
        # In s01-0012.exr the sign only parts the number from the name.
        begin, frame = begin + 1, -frame
    return Numbered(name[:begin], frame, name[end:])
