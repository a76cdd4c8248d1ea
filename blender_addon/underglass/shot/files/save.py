# SPDX-License-Identifier: GPL-3.0-or-later
"""Saving a shot over its own files: only over what was read, amended, and read back before the old texts go."""

import contextlib
import secrets
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import fields
from pathlib import Path

from ..errors import Place, ShotError
from ..files_on_disk import reading_instead
from ..model import Shot
from .amend_files import amend_shot, with_files
from .read import read_shot
from .replace_files import replace_files, write_through
from .stamp import sheet_paths, shot_file_of, stamp, texts_of

_ELSEWHERE = "save the shot elsewhere"


def _nothing(_shot: Shot) -> None:
    pass


def save_amended(
    old: Shot,
    new: Shot,
    *,
    expected: str,
    texts: Mapping[Path, str] | None = None,
    check: Callable[[Shot], object] = _nothing,
) -> tuple[Path, ...]:
    """Amend the files that ``old`` was read from so that they say ``new``; return those that changed.

    ``expected`` is their `stamp`; ``texts`` and ``check`` are as in `texts_to_save`. Raises ShotError, and leaves every
    file as it was, where somebody else has changed them since, where one cannot be written, or where they would not
    read back as ``new``.
    """
    _require_as_read(shot_file_of(old), expected)
    return write_amended(old, new, texts_to_save(old, new, texts=texts, check=check), expected=expected)


def write_amended(old: Shot, new: Shot, amended: Mapping[Path, str], *, expected: str) -> tuple[Path, ...]:
    """Write the texts ``amended``, as `texts_to_save` gave them for the same shots, and return the files that changed.

    Raises ShotError, and leaves every file as it was, as `save_amended` does.
    """
    file = shot_file_of(old)
    _require_as_read(file, expected)
    with _put_back_on_error(amended):
        replace_files(amended)
        _require(file, with_files(old, new))
    return tuple(amended)


def texts_to_save(
    old: Shot, new: Shot, *, texts: Mapping[Path, str] | None = None, check: Callable[[Shot], object] = _nothing
) -> dict[Path, str]:
    """Return the texts of the files that saving ``new`` would change; nothing is written.

    ``texts`` are those that ``old`` was read from, where others lie there by now. They are read back as they would be,
    and what is read is given to ``check``, which raises where it is no shot to be kept. Raises ShotError.
    """
    file = shot_file_of(old)
    said = texts_of(old) if texts is None else texts
    amended = {**said, **amend_shot(old, new, texts=said)}
    for path, text in amended.items():
        on_disk = _on_disk(path)
        if on_disk is not None and on_disk not in (text, said.get(path)) and not _is_named(file, path):
            remedy = "name it in shot.toml, or move it away"
            raise ShotError(Place(path), "is in the way: the shot does not name it", remedy)
    with reading_instead(amended):
        check(_require(file, with_files(old, new)))
    changed = [path for path, text in amended.items() if _on_disk(path) != text]
    # the shot file last: it is the one that names the others
    return {path: amended[path] for path in sorted(changed, key=lambda path: path == file)}


def _require_as_read(file: Path, expected: str) -> None:
    """Raise ShotError where the files of a shot are not in the state ``expected``."""
    if stamp(file) != expected:
        raise ShotError(Place(file.parent), "was changed on disk since it was read", f"reload it, or {_ELSEWHERE}")


def _on_disk(path: Path) -> str | None:
    """Return the text of a file with its byte-order mark; None where there is none, or none that can be read."""
    try:
        return path.read_bytes().decode("utf-8")
    except (OSError, ValueError):
        return None


def _is_named(file: Path, path: Path) -> bool:
    """Return whether the shot file on disk is ``path`` or names it."""
    return path in sheet_paths(file)


def _require(file: Path, wanted: Shot) -> Shot:
    """Return what the files read back as; raises ShotError unless that is ``wanted``."""
    try:
        found = read_shot(file)
    except ShotError as error:
        raise ShotError(error.place, f"as it would be saved, {error.problem}", error.remedy) from error
    for part in fields(Shot):
        if part.compare and getattr(found, part.name) != getattr(wanted, part.name):
            problem = f"would not read back as it is: {part.name.replace('_', ' ')} differ"
            raise ShotError(Place(file), problem, _ELSEWHERE)
    return found


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
