# SPDX-License-Identifier: GPL-3.0-or-later
"""Writing results: a file appears whole or not at all, and an earlier one stays until all new ones are complete.

What is written is the business of the other modules.
"""

import contextlib
import errno
import functools
import hashlib
import os
import platform
import re
import secrets
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from underglass.shot import UnderglassError
from underglass.shot.files.replace_files import write_through

_MAKING = ".making-"
# Runs that end together get into one another's way once or twice.
_MOST_TURNS = 50
_FULL = {errno.ENOSPC, errno.EDQUOT}
_REMEDY = "choose a place that can be written and has room"


class ResultError(UnderglassError):
    """A result cannot be written: one line with the path and the reason."""


@contextmanager
def work_folder(place: Path) -> Iterator[Path]:
    """Yield a folder in ``place`` for what is in the making; it is gone afterwards, whatever happened.

    ``place`` is made where needed, and freed of what runs on this machine left that were killed. Raises ResultError,
    also for a full disk inside.
    """
    with made_folder(place):
        try:
            place.mkdir(parents=True, exist_ok=True)
            _sweep(place)
            folder = Path(tempfile.mkdtemp(prefix=making_name(), dir=place))
        except OSError as error:
            raise ResultError(f"{place}: cannot be written: {error.strerror or error}; {_REMEDY}") from None
        try:
            yield folder
        except OSError as error:
            if error.errno not in _FULL:
                raise
            # What writes to an open file does not know its name.
            raise ResultError(f"{error.filename or place}: cannot be written: {error.strerror}; {_REMEDY}") from None
        finally:
            shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def made_folder(place: Path) -> Iterator[None]:
    """Remove a folder that was made inside and is empty at the end, with what was made for it above."""
    made = [path for path in (place, *place.parents) if not os.path.exists(path)]  # noqa: PTH110 - it never raises
    try:
        yield
    finally:
        for path in made:
            # one that holds something stays, and so do those above it
            with contextlib.suppress(OSError):
                path.rmdir()


def making_name() -> str:
    """Return how the name of everything begins that this process has in the making; `work_folder` sweeps by it."""
    return f"{_MAKING}{_machine()}-{os.getpid()}-"


def write_text(path: Path, text: str) -> None:
    """Put ``text`` into the file ``path`` as UTF-8, line ends as they are; raises ResultError.

    What UTF-8 cannot spell (half a character, from a file name in another encoding) is written as ``\\udc80``, which
    JSON reads back as what it was.
    """
    write_bytes(path, _encoded(text))


def write_bytes(path: Path, data: bytes) -> None:
    """Put ``data`` into the file ``path``, making its folder where needed; raises ResultError.

    Written beside its place and renamed into it. A link is followed: the file that it points to is replaced.
    """
    _write_all({path: data})


def publish(texts: Mapping[Path, str], *, made: Path, placed: Path, making: Path) -> None:
    """Put the folder ``made`` in the place ``placed``, and each of ``texts`` into its file, in order; or nothing.

    All is written before anything is renamed. An earlier ``placed`` goes to the work folder ``making``; where ``made``
    is empty, nothing takes its place. Raises ResultError; what was there before is then as it was.
    """
    _write_all({path: _encoded(text) for path, text in texts.items()}, folders=(made, placed, making))


def _encoded(text: str) -> bytes:
    return text.encode("utf-8", errors="backslashreplace")


def _write_all(data: Mapping[Path, bytes], *, folders: tuple[Path, Path, Path] | None = None) -> None:
    parts: list[tuple[Path, Path]] = []
    with contextlib.ExitStack() as at_end:
        for path, content in data.items():
            at_end.enter_context(made_folder(path.parent))
            with _named(path):
                parts.append(_part(path))
                at_end.callback(_forget, parts[-1][0])
                write_through(parts[-1][0], content)
        with contextlib.ExitStack() as undo:
            if folders is not None:
                with _named(folders[1]):
                    _swap(*folders, undo=undo)
            for path, (part, target) in zip(data, parts, strict=True):
                with _named(path):
                    part.replace(target)
            undo.pop_all()


def _forget(part: Path) -> None:
    with contextlib.suppress(OSError, ValueError):
        part.unlink(missing_ok=True)


def _part(path: Path) -> tuple[Path, Path]:
    """Return a new name beside the file that ``path`` leads to, and that file; a folder there is an error.

    What killed runs left beside it is swept.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    target = path.resolve()
    with contextlib.suppress(OSError):
        _sweep(target.parent)
    if target.is_dir():
        raise ResultError(f"{path}: cannot be written: it is a folder; {_REMEDY}")
    return target.with_name(f"{making_name()}{secrets.token_hex(4)}.part"), target


def _swap(made: Path, placed: Path, making: Path, *, undo: contextlib.ExitStack) -> None:
    """Put the folder ``made`` where ``placed`` is; ``undo`` learns how to take every step back.

    Another run may put its own there at the same moment: then that is put aside as well.
    """
    for turn in range(_MOST_TURNS):
        earlier = making / f"earlier {placed.name} {turn}"
        with contextlib.suppress(FileNotFoundError):
            placed.replace(earlier)
            undo.callback(_put_back, earlier, placed)
        if not any(made.iterdir()):
            return
        try:
            made.replace(placed)
        except OSError as error:
            if error.errno not in {errno.ENOTEMPTY, errno.EEXIST} or turn == _MOST_TURNS - 1:
                raise
        else:
            undo.callback(placed.replace, made)
            return


def _put_back(earlier: Path, placed: Path) -> None:
    # one that another run had put there meanwhile is newer
    with contextlib.suppress(OSError):
        earlier.replace(placed)


@contextmanager
def _named(path: Path) -> Iterator[None]:
    """Turn what goes wrong inside into one line that names ``path``."""
    try:
        yield
    except (OSError, RuntimeError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ResultError(" ".join(f"{path}: cannot be written: {reason}; {_REMEDY}".split())) from error


@functools.cache
def _machine() -> str:
    """Return a word for the machine whose processes this one can see: containers may have one name, and each its own.

    Of a long name or its signs nothing may be dropped.
    """
    facts = [platform.node().encode("utf-8", "backslashreplace")]
    # Where the system tells them: the numbers of processes are counted anew in every such space, and at every start.
    with contextlib.suppress(OSError):
        facts.append(b"space %d" % Path("/proc/self/ns/pid").stat().st_ino)
    with contextlib.suppress(OSError):
        facts.append(b"start " + Path("/proc/sys/kernel/random/boot_id").read_bytes().strip())
    return hashlib.sha256(b"\0".join(facts)).hexdigest()[:12]


def _sweep(place: Path) -> None:
    """Remove what processes of this machine that are gone had in the making; another machine's may still be alive."""
    name = re.compile(f"{re.escape(_MAKING)}{_machine()}-([0-9]+)-.*")
    for path in place.iterdir():
        match = name.fullmatch(path.name)
        if match is None or _is_alive(int(match[1])):
            continue
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            with contextlib.suppress(OSError):
                path.unlink()


def _is_alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True
