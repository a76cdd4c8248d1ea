# SPDX-License-Identifier: GPL-3.0-or-later
"""A shot that appears in a folder: all of its files at once, or nothing, and no file that lies there is touched."""

import contextlib
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..errors import Place, ShotError
from .read import SHOT_FILE

_CANNOT = "choose a folder that can be written"
_OTHER = "choose a new or an empty folder"


@contextmanager
def appearing(folder: Path, *, beside_others: bool = False) -> Iterator[Path]:
    """Yield a folder to build a shot in, whose files go to ``folder`` in the end, which is made where it is not there.

    ``folder`` has to be new or empty; ``beside_others`` it may have files in it, as long as none of the shot's own is
    among them. Raises ShotError where something is in the way or cannot be written, and then leaves nothing; so does
    any error raised meanwhile.
    """
    _check_free(folder, beside_others=beside_others)
    with contextlib.ExitStack() as undo:
        _make(folder, undo)
        # Within the folder, so that the last step is a rename on one disk, wherever a link or a mount leads.
        making = folder / f".making-{secrets.token_hex(4)}"
        try:
            making.mkdir()
            yield making
            _move_in(making, folder, undo)
        except OSError as error:
            raise _cannot(folder, error) from error
        finally:
            shutil.rmtree(making, ignore_errors=True)
        undo.pop_all()


def _check_free(folder: Path, *, beside_others: bool) -> None:
    try:
        there = sorted(path.name for path in folder.iterdir()) if folder.exists() else []
    except OSError as error:
        raise ShotError(Place(folder), f"is no folder to write in ({error.strerror})", _CANNOT) from error
    if SHOT_FILE in there:
        raise ShotError(Place(folder), "has a shot already", _OTHER)
    if there and not beside_others:
        raise ShotError(Place(folder), f"is not empty ({there[0]!r} lies in it)", _OTHER)


def _move_in(making: Path, folder: Path, undo: contextlib.ExitStack) -> None:
    """Move what was made into place, the shot file last: without it there is no shot."""
    files = [path.relative_to(making) for path in making.rglob("*") if not path.is_dir()]
    taken = next((folder / file for file in sorted(files) if (folder / file).exists()), None)
    if taken is not None:
        raise ShotError(Place(taken), "is there already", _OTHER)
    for file in sorted(files, key=lambda file: (file == Path(SHOT_FILE), file)):
        _make((folder / file).parent, undo)
        (making / file).replace(folder / file)
        undo.callback((folder / file).unlink, missing_ok=True)


def _make(folder: Path, undo: contextlib.ExitStack) -> None:
    """Make a folder and those it lies in; ``undo`` takes away those that were not there, once nothing is in them."""
    for parent in reversed([parent for parent in (folder, *folder.parents) if not parent.exists()]):
        try:
            parent.mkdir()
        except OSError as error:
            raise _cannot(folder, error) from error
        undo.callback(_remove, parent)


def _remove(folder: Path) -> None:
    # Goes only where it is empty: whatever was made in it stays.
    with contextlib.suppress(OSError):
        folder.rmdir()


def _cannot(folder: Path, error: OSError) -> ShotError:
    return ShotError(Place(folder), f"cannot be written ({error.strerror or error})", _CANNOT)
