# SPDX-License-Identifier: GPL-3.0-or-later
"""The stamp of a shot's files: it tells whether anybody has changed them since they were read.

What the files mean is hardly asked, so that a broken or a missing one has a stamp too.
"""

import csv
import hashlib
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path

from ..errors import Place, ShotError
from ..files_on_disk import BOM, ordinary_size, read_text
from ..model import Shot
from .drawings import FRAME
from .read import SHOT_FILE

_DIGITS, _DIGITS_OF_ONE = 32, 12
# What the shot file and its sheets are called in a stamp; art goes by its path.
_SHOT, _SHEETS = "shot", ("schedule", "chart", "drawings")


def stamp(shot_file: Path) -> str:
    """Return hexadecimal digits that change with the bytes of a shot.toml and of the sheets that it names.

    Art counts by its size and its time of change. Nothing is raised: a file that is missing counts too.
    """
    digest = hashlib.sha256()
    for label, part in _parts(shot_file):
        # Lengths keep one part from passing for the end of the part before.
        length = "missing" if part is None else len(part)
        digest.update(f"{len(label)} {length} {label}".encode("utf-8", "surrogatepass") + (part or b""))
    return digest.hexdigest()[:_DIGITS]


def digests(shot_file: Path) -> dict[str, str]:
    """Return hexadecimal digits of each file that makes a shot, by its path in the shot's folder: which of them changed
    since is told by these. A file that is missing has none.
    """
    document = _document(_bytes(shot_file) or b"")
    return {
        str(document[label]) if label in _SHEETS else shot_file.name if label == _SHOT else label: hashlib.sha256(
            part
        ).hexdigest()[:_DIGITS_OF_ONE]
        for label, part in _parts(shot_file)
        if part is not None
    }


def shot_file_of(shot: Shot) -> Path:
    """Return the file that a shot was read from: one may go by another name than shot.toml."""
    return shot.place("title").file if "title" in shot.places else shot.folder / SHOT_FILE


def texts_of(shot: Shot) -> dict[Path, str]:
    """Return the present texts of a shot's files: shot.toml, schedule, chart and drawings, byte-order marks and all.

    Raises ShotError where one cannot be read.
    """
    file = shot_file_of(shot)
    paths = [file, *(shot.folder / name for name in (shot.schedule_file, shot.chart_file, shot.drawings_file) if name)]
    return {path: _text(path) for path in paths}


def sheet_paths(shot_file: Path) -> list[Path]:
    """Return a shot.toml and the sheets that it names, as it is on disk; a broken one names none."""
    document = _document(_bytes(shot_file) or b"")
    names = (document.get(key) for key in _SHEETS)
    return [shot_file, *(shot_file.parent / name for name in names if isinstance(name, str))]


def _text(path: Path) -> str:
    text = read_text(path, said=Place(path))
    return ("\ufeff" if path.read_bytes().startswith(BOM) else "") + text


def _parts(shot_file: Path) -> Iterator[tuple[str, bytes | None]]:
    """Yield a label and the bytes of all that makes a shot; None for what is missing."""
    data = _bytes(shot_file)
    yield _SHOT, data
    document = _document(data or b"")
    sheets: dict[str, bytes | None] = {}
    for key in _SHEETS:
        if isinstance(name := document.get(key), str):
            sheets[key] = _bytes(shot_file.parent / name)
            yield key, sheets[key]
    for name in _art(document, sheets.get("drawings") or b""):
        yield name, _state(shot_file.parent / name)


def _document(data: bytes) -> Mapping[str, object]:
    """Return what a shot.toml says; nothing where it cannot be read."""
    try:
        return tomllib.loads(data.removeprefix(BOM).decode("utf-8"))
    except (ValueError, RecursionError):
        return {}


def _art(document: Mapping[str, object], drawings: bytes) -> list[str]:
    """Return the image files that a shot.toml names, those of every drawing too, each once."""
    levels = document.get("level")
    names: list[str] = []
    for level in levels if isinstance(levels, list) else []:
        art = level.get("art") if isinstance(level, dict) else None
        if not isinstance(art, str):
            continue
        called = _drawn(drawings, level.get("name")) if "{drawing}" in art else [""]
        names += [art.replace("{drawing}", drawing) for drawing in called]
    return list(dict.fromkeys(names))


def _drawn(drawings: bytes, level: object) -> list[str]:
    """Return what stands in the column of a level, in order of first use."""
    lines = drawings.removeprefix(BOM).decode("utf-8", "replace").splitlines()
    kept = [line for line in lines if line.strip() and not line.lstrip().startswith("#")]
    try:
        rows = [[cell.strip() for cell in row] for row in csv.reader(kept, skipinitialspace=True)]
    except csv.Error:
        return []
    if not rows or not isinstance(level, str) or level == FRAME or level not in rows[0]:
        return []
    column = rows[0].index(level)
    return list(dict.fromkeys(row[column] for row in rows[1:] if column < len(row)))


def _bytes(path: Path) -> bytes | None:
    try:
        # A pipe or a device would keep the reader waiting for ever.
        ordinary_size(path, said=Place(path))
        return path.read_bytes()
    except (ShotError, OSError):
        return None


def _state(path: Path) -> bytes | None:
    try:
        status = path.stat()
    except (OSError, ValueError):
        return None
    return f"{status.st_size} {status.st_mtime_ns}".encode()
