"""Saving a shot over its own files: only over what was read, amended, and read back before the old texts go."""

import contextlib
import secrets
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import fields
from pathlib import Path

from .amend import amend_shot, with_files
from .errors import Place, ShotError
from .model import Shot
from .read import read_shot
from .replacing import replace_files, write_through
from .stamp import shot_file_of, stamp, texts_of

_ELSEWHERE = "save the shot elsewhere"


def save_amended(old: Shot, new: Shot, *, expected: str) -> tuple[Path, ...]:
    """Amend the files that ``old`` was read from so that they say ``new``; return those that changed.

    ``expected`` is their `stamp` of when they were read. Raises ShotError, and leaves every file as it was, where
    somebody else has changed them since, where one cannot be written, or where they would not read back as ``new``.
    """
    file = shot_file_of(old)
    if stamp(file) != expected:
        raise ShotError(Place(file), "was changed on disk since it was read", f"reload it, or {_ELSEWHERE}")
    texts = texts_of(old)
    amended = amend_shot(old, new, texts=texts)
    for path in amended:
        if path not in texts and path.exists():
            remedy = "name it in shot.toml, or move it away"
            raise ShotError(Place(path), "is in the way: the shot does not name it", remedy)
    with _put_back_on_error(amended):
        replace_files(amended)
        _require(file, with_files(old, new))
    return tuple(amended)


def _require(file: Path, wanted: Shot) -> None:
    """Raise ShotError unless the files read back as ``wanted``."""
    try:
        found = read_shot(file)
    except ShotError as error:
        raise ShotError(error.place, f"as it would be saved, {error.problem}", error.remedy) from error
    for part in fields(Shot):
        if part.compare and getattr(found, part.name) != getattr(wanted, part.name):
            problem = f"would not read back as it is: {part.name.replace('_', ' ')} differ"
            raise ShotError(Place(file), problem, _ELSEWHERE)


@contextmanager
def _put_back_on_error(paths: Iterable[Path]) -> Iterator[None]:
    """Give every file its earlier bytes again where an error is raised; a file that was not there goes.

    The bytes are kept beside each file meanwhile, so that a full disk or a power cut cannot lose them.
    """
    kept: dict[Path, Path | None] = {}
    try:
        for path in paths:
            kept[path.resolve()] = _copy(path.resolve())
        yield
    except BaseException:
        for path, copy in kept.items():
            if copy is None:
                path.unlink(missing_ok=True)
            else:
                copy.replace(path)
        raise
    for copy in kept.values():
        if copy is not None:
            with contextlib.suppress(OSError):
                copy.unlink()


def _copy(path: Path) -> Path | None:
    """Write a copy of a file beside it; None where there is no file."""
    copy = path.with_name(f".{path.name[:64]}.{secrets.token_hex(4)}.kept")
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return None
    try:
        write_through(copy, data)
    except OSError as error:
        copy.unlink(missing_ok=True)
        remedy = f"make the folder writable, or {_ELSEWHERE}"
        raise ShotError(Place(path), f"cannot be written ({error.strerror})", remedy) from error
    return copy
