# SPDX-License-Identifier: GPL-3.0-or-later
"""Finding the frames in a folder: which files belong to one sequence, by their numbers, spelled as fileseq does."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from fileseq.filesequence import FileSequence

from underglass.proof.wording import plain
from underglass.shot import UnderglassError
from underglass.shot.words import first_of

from .frame_lists import frame_list
from .frame_numbers import numbers_in, without_controls

SUFFIX = ".exr"
# Pictures that people deliver too, and that hold no coordinates.
_OTHERS = {".png", ".tif", ".tiff", ".jpg", ".jpeg", ".dpx", ".mov", ".mp4"}
_MOST_NAMED = 5
# beauty.####.exr, beauty.@.exr and beauty.%04d.exr all stand for a run of files.
_PATTERN = re.compile(r"[#@]+|%0?\d*d")


class DeliveryError(UnderglassError):
    """Frames that were pointed at are not there, or it is not clear which are meant: one line."""


@dataclass(frozen=True)
class FrameSequence:
    """The files of one sequence: ``stem`` comes before the number, ``tail`` after it (such as .exr or .v2.exr).

    ``files`` are (number, file), doubles among them.
    """

    folder: Path
    stem: str
    tail: str
    files: tuple[tuple[int, Path], ...]

    @property
    def frames(self) -> tuple[int, ...]:
        """Numbers that are there, in order, each once."""
        return tuple(sorted({frame for frame, _ in self.files}))

    @property
    def pattern(self) -> str:
        """How its files are named, such as beauty.#.exr."""
        names = [without_controls(path.name) for _, path in self.files]
        widths = {len(name) - len(self.stem) - len(self.tail) for name in names}
        number = FileSequence.getPaddingChars(min(widths)) if len(widths) == 1 else "@"
        return f"{self.stem}{number}{names[0][len(names[0]) - len(self.tail) :]}"

    @property
    def named(self) -> str:
        """The sequence with its frames, such as beauty.#.exr 1-24,30."""
        return f"{self.pattern} {frame_list(self.frames)}"


def find_sequences(place: Path) -> list[FrameSequence]:
    """Return the sequences of EXR files at ``place``: a folder, or a pattern in one such as DIR/beauty.####.exr.

    Raises DeliveryError where there is none.
    """
    pattern = ""
    folder = place
    # Unlike Path.is_dir, a pattern must not be looked for as a folder first: a folder may be named so.
    if not place.is_dir() and _PATTERN.search(place.name):
        folder, pattern = place.parent, place.name
    try:
        files = sorted(path for path in folder.iterdir() if not path.name.startswith("."))
    except FileNotFoundError:
        raise DeliveryError(f"{place}: is not there; name the folder that the frames lie in") from None
    except NotADirectoryError:
        raise DeliveryError(f"{place}: is a file; name the folder that the frames lie in") from None
    except OSError as error:
        raise DeliveryError(f"{place}: cannot be read ({error.strerror}); make it readable") from None
    found = [
        FrameSequence(folder, stem, tail, tuple(members))
        for (stem, tail), members in sorted(_sorted_out(files).items())
        if not pattern or _stands_for(pattern, stem, tail)
    ]
    if not found:
        raise DeliveryError(_nothing(place, files))
    return found


def _stands_for(pattern: str, stem: str, tail: str) -> bool:
    """Return whether a pattern means the sequence with this beginning and end; its end, or .exr, may be left out."""
    ends = {tail, tail.removesuffix(SUFFIX), ""}
    return any(
        pattern[: match.start()] == stem and pattern[match.end() :].lower() in ends
        for match in _PATTERN.finditer(pattern)
    )


def the_one(sequences: Iterable[FrameSequence], *, place: Path) -> FrameSequence:
    """Return the one sequence there is; DeliveryError names them where there are more."""
    found = list(sequences)
    if len(found) == 1:
        return found[0]
    names = first_of([plain(one.named) for one in found], _MOST_NAMED)
    example = found[0].folder / found[0].pattern
    raise DeliveryError(f"{place}: holds {len(found)} sequences: {names}; name one, such as {example}")


def strays_beside(sequence: FrameSequence, others: Iterable[FrameSequence]) -> list[tuple[int, str]]:
    """Return (number, name) of EXR files of no sequence that are named as a frame of this one is, and more.

    A second upload is put beside the first as beauty.0008 (1).exr, or as beauty.0008 - Copy.exr.
    """
    known = {path for one in (sequence, *others) for _, path in one.files}
    names = [path.name for path in sorted(sequence.folder.iterdir()) if path not in known]
    names = [name for name in names if name.lower().endswith(SUFFIX) and not name.startswith(".")]
    # The longest first: beauty.1 is the beginning of beauty.12 too.
    own = sorted(((path.stem, number) for number, path in sequence.files), key=lambda one: -len(one[0]))
    found = []
    for name in names:
        number = next((number for stem, number in own if stem in name), None)
        if number is not None:
            found.append((number, name))
    return found


def _sorted_out(files: Iterable[Path]) -> dict[tuple[str, str], list[tuple[int, Path]]]:
    """Return (number, file) of each EXR file that has a number, by what comes before it and what after it."""
    names = {path: without_controls(path.name) for path in files}
    names = {path: name for path, name in names.items() if name.lower().endswith(SUFFIX)}
    found: dict[tuple[str, str], list[tuple[int, Path]]] = {}
    numbered = numbers_in(names.values())
    for path, name in names.items():
        if (number := numbered.get(name)) is not None:
            found.setdefault((number.stem, number.tail.lower()), []).append((number.frame, path))
    # Folders are no frames; one beside frames that is named as they are stands in the place of a frame.
    return {kind: sorted(members) for kind, members in found.items() if not all(path.is_dir() for _, path in members)}


def _nothing(place: Path, files: Iterable[Path]) -> str:
    kinds = sorted({path.suffix.lower() for path in files} & _OTHERS)
    if kinds:
        return f"{place}: holds {', '.join(kinds)} files but no EXR frames with a number; deliver the EXR frames"
    below = sorted(path for path in files if path.is_dir() and _holds_frames(path))
    where = f"{first_of([plain(str(path)) for path in below], _MOST_NAMED)}" if below else "the folder that they lie in"
    return f"{place}: holds no EXR frames with a number, such as beauty.0001.exr; name {where}"


def _holds_frames(folder: Path) -> bool:
    """Return whether a folder has EXR frames in it."""
    try:
        return bool(_sorted_out(folder.iterdir()))
    except OSError:
        return False
