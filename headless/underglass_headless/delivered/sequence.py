"""Finding the frames in a folder: which files belong to one sequence, by their numbers, read and spelled by fileseq."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from fileseq.filesequence import FileSequence

from underglass.proof.deliveries import frame_list
from underglass.proof.wording import plain
from underglass.shot import UnderglassError

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
    """The files of one sequence: ``stem`` is what comes before the number, ``files`` (number, file), doubles too."""

    folder: Path
    stem: str
    files: tuple[tuple[int, Path], ...]

    @property
    def frames(self) -> tuple[int, ...]:
        """Numbers that are there, in order, each once."""
        return tuple(sorted({frame for frame, _ in self.files}))

    @property
    def pattern(self) -> str:
        """How its files are named, such as beauty.#.exr."""
        widths = {len(path.stem) - len(self.stem) for _, path in self.files}
        number = FileSequence.getPaddingChars(min(widths)) if len(widths) == 1 else "@"
        return f"{self.stem}{number}{self.files[0][1].suffix}"

    @property
    def named(self) -> str:
        """The sequence with its frames, such as beauty.#.exr 1-24,30."""
        return f"{self.pattern} {frame_list(self.frames)}"


def find_sequences(place: Path) -> list[FrameSequence]:
    """Return the sequences of EXR files at ``place``: a folder, or a pattern in one such as DIR/beauty.####.exr.

    Raises DeliveryError where there is none.
    """
    stem = None
    folder = place
    # Unlike Path.is_dir, a pattern must not be looked for as a folder first: a folder may be named so.
    if not place.is_dir() and _PATTERN.search(place.name):
        folder, stem = place.parent, _PATTERN.split(place.name)[0]
    try:
        files = sorted(path for path in folder.iterdir() if not path.name.startswith("."))
    except FileNotFoundError:
        raise DeliveryError(f"{place}: is not there; name the folder that the frames lie in") from None
    except NotADirectoryError:
        raise DeliveryError(f"{place}: is a file; name the folder that the frames lie in") from None
    except OSError as error:
        raise DeliveryError(f"{place}: cannot be read ({error.strerror}); make it readable") from None
    found = [
        FrameSequence(folder, name, tuple(members))
        for name, members in sorted(_sorted_out(files).items())
        if stem in (None, name)
    ]
    if not found:
        raise DeliveryError(_nothing(place, files))
    return found


def the_one(sequences: Iterable[FrameSequence], *, place: Path) -> FrameSequence:
    """Return the one sequence there is; DeliveryError names them where there are more."""
    found = list(sequences)
    if len(found) == 1:
        return found[0]
    names = ", ".join(plain(one.named) for one in found[:_MOST_NAMED])
    more = f" and {len(found) - _MOST_NAMED} more" if len(found) > _MOST_NAMED else ""
    example = found[0].folder / found[0].pattern
    raise DeliveryError(f"{place}: holds {len(found)} sequences: {names}{more}; name one, such as {example}")


def _sorted_out(files: Iterable[Path]) -> dict[str, list[tuple[int, Path]]]:
    """Return (number, file) of each EXR file that has a number before its suffix, by what comes before that."""
    found: dict[str, list[tuple[int, Path]]] = {}
    for path in files:
        if path.suffix.lower() != SUFFIX or not path.is_file():
            continue
        stem, frame = _number(path.name)
        if frame is not None:
            found.setdefault(stem, []).append((frame, path))
    return {stem: sorted(members) for stem, members in found.items()}


def _number(name: str) -> tuple[str, int | None]:
    """Return what comes before the number in a file's name, and the number; None where there is none."""
    one = next(iter(FileSequence.findSequencesInList([name])))
    frames = one.frameSet()
    if frames is None or len(frames) != 1:
        return name, None
    stem, frame = one.basename(), int(str(frames[0]))
    if frame < 0 and stem[-1:].isalnum():
        # In s01-0012.exr the sign only parts the number from the name.
        return f"{stem}-", -frame
    return stem, frame


def _nothing(place: Path, files: Iterable[Path]) -> str:
    kinds = sorted({path.suffix.lower() for path in files} & _OTHERS)
    if kinds:
        return f"{place}: holds {', '.join(kinds)} files but no EXR frames with a number; deliver the EXR frames"
    return f"{place}: holds no EXR frames with a number, such as beauty.0001.exr; name the folder that they lie in"
