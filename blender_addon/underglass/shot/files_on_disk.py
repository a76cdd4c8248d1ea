# SPDX-License-Identifier: GPL-3.0-or-later
"""Files of a shot on disk: where they may lie, and their text, read with every failure named.

What the text means is not known here.
"""

import stat
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path, PureWindowsPath
from types import MappingProxyType

from .errors import Place, ShotError
from .words import has_control_characters, shown

MOST_TEXT_BYTES = 32 * 1024 * 1024
BOM = b"\xef\xbb\xbf"
_instead: ContextVar[Mapping[Path, str]] = ContextVar("instead", default=MappingProxyType({}))
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")


@contextmanager
def reading_instead(texts: Mapping[Path, str]) -> Iterator[None]:
    """Let files be read as if they had ``texts``, by path, whatever is on disk; as they would be once written."""
    before = _instead.set(texts)
    try:
        yield
    finally:
        _instead.reset(before)


def read_text(path: Path, *, said: Place) -> str:
    """Return the text of ``path`` without a byte-order mark; ``said`` is where the shot names the file."""
    if path in _instead.get():
        return _instead.get()[path].removeprefix(BOM.decode("utf-8"))
    size = ordinary_size(path, said=said)
    if size > MOST_TEXT_BYTES:
        problem = f"{path.name} is {size / 2**20:.0f} MB"
        raise ShotError(said, problem, f"a file of text may have {MOST_TEXT_BYTES // 2**20} MB; split the shot")
    try:
        data = path.read_bytes()
    except OSError as error:
        raise ShotError(said, f"{path.name} cannot be read ({error.strerror})", "make it readable") from error
    return _decoded(data, path)


_NAME_SHOT = "name the shot.toml; a .blend is given with --scene"
# How files begin that are no text, what they are, and what would be right.
_NO_TEXT = (
    (b"BLENDER", "a Blender file", _NAME_SHOT),
    (b"\x28\xb5\x2f\xfd", "a packed Blender file", _NAME_SHOT),
    (b"\x1f\x8b", "a packed file (gzip)", "unpack it"),
    (b"PK\x03\x04", "a packed file, as a spreadsheet is saved", "export it as text: CSV, in UTF-8"),
    (b"\x89PNG", "a PNG picture", "name a file of text"),
    (b"\x76\x2f\x31\x01", "an EXR picture", "name a file of text; a folder of frames is given with --frames-from"),
)


def _decoded(data: bytes, path: Path) -> str:
    for start, what, remedy in _NO_TEXT:
        if data.startswith(start):
            raise ShotError(Place(path), f"is {what}, not text", remedy)
    if data.startswith(_UTF_16):
        raise ShotError(Place(path, 1), "is UTF-16 text", "save it as UTF-8")
    try:
        return data.removeprefix(BOM).decode("utf-8")
    except UnicodeDecodeError as error:
        line = error.object.count(b"\n", 0, error.start) + 1
        problem = f"is not UTF-8 text (byte 0x{error.object[error.start]:02x})"
        raise ShotError(Place(path, line), problem, "save it as UTF-8") from error


def ordinary_size(path: Path, *, said: Place) -> int:
    """Return the size of the file at ``path`` in bytes; raises ShotError where there is no ordinary file."""
    try:
        status = path.stat()
    except FileNotFoundError as error:
        raise ShotError(said, f"there is no file '{path}'", "put it there or correct the path") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ShotError(said, f"'{path}' cannot be read ({reason})", "make it readable") from error
    if stat.S_ISDIR(status.st_mode):
        raise ShotError(said, f"'{path}' is a folder", "name a file")
    if not stat.S_ISREG(status.st_mode):
        # A pipe or a device would keep the reader waiting for ever.
        raise ShotError(said, f"'{path}' is not an ordinary file", "name a file on disk")
    return status.st_size


def inside(folder: Path, *, relative: str, said: Place) -> Path:
    """Return the path of ``relative`` within the shot's folder; raises ShotError where it leads out of it.

    A shot must travel as one folder, so absolute paths, `..` and links that point outside are refused.
    """
    if not relative.strip() or has_control_characters(relative):
        raise ShotError(said, f"is {shown(relative)}", "name a file in the shot's folder")
    if "\\" in relative:
        raise ShotError(said, f"{shown(relative)} has backslashes", "write the path with forward slashes (/)")
    if relative.startswith("/") or PureWindowsPath(relative).drive:
        raise ShotError(said, f"{shown(relative)} is an absolute path", "write a path relative to the shot's folder")
    path = folder / relative
    try:
        is_inside = path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError, ValueError) as error:  # a loop of links is a RuntimeError before Python 3.13
        raise ShotError(said, f"{shown(relative)} cannot be followed", "put the file itself there") from error
    if ".." in path.parts[len(folder.parts) :] or not is_inside:
        raise ShotError(said, f"{shown(relative)} leaves the shot's folder", "put the file in the shot's folder")
    return path
