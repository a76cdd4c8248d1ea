"""What a unit of work leaves behind: its files, and the JSON that says what they must be. Read strictly: a result that
is cut short, damaged or of another unit is none, whoever sent it.
"""

import hashlib
import json
import math
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from underglass.proof.measure import Fit
from underglass.shot import UnderglassError

from .units import FORMAT, PASSES, PICTURE, READ, Unit

# Of a level, on a frame; a stack has a few dozen at most, and a scene may hold doubles.
_MOST_FITS = 100_000
# Larger than any result of ours, small enough to be read whole.
_MOST_JSON_BYTES = 64 * 2**20
# The files of each kind of unit; without a camera there is nothing to render.
_ENDINGS = {READ: {"npz"}, PASSES: set(), PICTURE: {"exr", "png"}}
# Of the digest of its bytes, in the name of a file.
_DIGITS = 12
# Stands for the digest of a file that a .blend is linked from and that is not there.
NOT_THERE = "0" * 64
# How a numbered run begins in what a result depends on; its number is a sign there, or Blender's sign of a tile.
_RUN = "numbered:"
# Blender's manual, "UDIM Tiles": the signs in a path that stand for the number of a tile.
_TILES = {"<UDIM>": "[0-9]{4}", "<UVTILE>": "u[0-9]+_v[0-9]+"}
_SHA256 = re.compile(r"[0-9a-f]{64}")


class UnitError(UnderglassError):
    """What should be the result of a unit is none: one line says why."""


@dataclass(frozen=True)
class UnitResult:
    """What came of ``unit``. ``files`` maps names to (bytes, SHA-256); ``rendered`` is False without a camera.

    ``fits`` are of its passes, by the number of the object in the scene; ``depends`` maps what else than the job's own
    files went into it, by its way from the .blend, to its SHA-256.
    """

    unit: Unit
    blender: str
    files: Mapping[str, tuple[int, str]]
    rendered: bool
    fits: Mapping[int, Fit | None]
    depends: Mapping[str, str]


def result_text(
    unit: Unit,
    *,
    blender: str,
    files: Mapping[str, Path],
    rendered: bool,
    fits: Mapping[int, Fit | None],
    depends: Mapping[str, str],
) -> str:
    """Return the JSON of a result, whose ``files`` lie there whole. Floats come back to the last bit."""
    record = {
        "format": FORMAT,
        "unit": unit.words(),
        "blender": blender,
        "files": {name: [path.stat().st_size, file_digest(path)] for name, path in files.items()},
        "rendered": rendered,
        "fits": [[number, None if fit is None else _fit_words(fit)] for number, fit in sorted(fits.items())],
        "depends": dict(depends),
    }
    return json.dumps(record) + "\n"


def named_by_content(path: Path, unit: Unit) -> Path:
    """Rename a file of ``unit`` so that its name tells its bytes, and return its new place.

    Two runs that do one unit then never mix their files: Blender writes the time of day into a picture.
    """
    place = path.with_name(f"{unit.name}-{file_digest(path)[:_DIGITS]}{path.suffix}")
    path.replace(place)
    return place


def read_result(folder: Path, unit: Unit) -> UnitResult | None:
    """Return what came of ``unit``, if it lies in ``folder`` whole; None where nothing does.

    Raises UnitError where something does that is not whole, OSError where it cannot be read.
    """
    path = folder / unit.result_file
    try:
        size = path.stat().st_size
        text = path.read_bytes() if size <= _MOST_JSON_BYTES else b""
    except FileNotFoundError:
        return None
    result = parse_result(text, unit)
    for name, (size, digest) in result.files.items():
        file = folder / name
        if not file.is_file() or file.stat().st_size != size or file_digest(file) != digest:
            raise UnitError(f"{file}: is not as it was made; the unit is done again")
    return result


def parse_result(text: bytes, unit: Unit) -> UnitResult:
    """Return the result that ``text`` spells; raises UnitError for anything that is no result of ``unit``."""
    try:
        record = json.loads(text)
        if record["format"] != FORMAT or Unit.from_words(record["unit"]) != unit:
            raise ValueError("it is of another unit")
        files = {_file_name(name, unit): (int(size), _digest(sha)) for name, (size, sha) in record["files"].items()}
        rendered = record["rendered"]
        if not isinstance(rendered, bool) or not isinstance(record["blender"], str):
            raise ValueError("it lacks what it should say")
        endings = {name.rpartition(".")[2] for name in files}
        if endings != (_ENDINGS[unit.kind] if rendered else set()):
            raise ValueError("it has other files than it should")
        depends = {str(name): _digest(sha) for name, sha in record["depends"].items()}
        if len(record["fits"]) > _MOST_FITS:
            raise ValueError("it has too many fits")
        fits = {int(number): None if words is None else _fit(words) for number, words in record["fits"]}
    except RecursionError:
        raise UnitError(f"{unit.result_file}: is no result of {unit.told()} (too deep)") from None
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        reason = " ".join(str(error).split())[:120]
        raise UnitError(f"{unit.result_file}: is no result of {unit.told()} ({reason})") from None
    return UnitResult(unit, record["blender"], files, rendered, fits, depends)


def file_digest(path: Path) -> str:
    """Return the SHA-256 of a file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def run_name(first: str) -> str:
    """Return how a numbered run is named in ``depends``, which ``first`` is a file of, or its path with a tile's sign.

    A file that joins the run changes what is seen as much as one that is repainted, so that its listing counts too.
    """
    path = Path(first)
    if not any(sign in path.name for sign in _TILES):
        path = path.with_name(f"{path.stem.rstrip('0123456789')}#{path.suffix}")
    return f"{_RUN}{path}"


def members_of(first: Path) -> list[Path]:
    """Return the files of the numbered run, or the tiles, that ``first`` names as for `run_name`; sorted."""
    return _listed(Path(run_name(str(first)).removeprefix(_RUN)))


def depend_digest(origin: Path, name: str) -> str:
    """Return the digest of what ``depends`` has under ``name``, a way from the folder ``origin``.

    Of a file that is its bytes', and `NOT_THERE` without it; of a numbered run its file names'. Raises OSError.
    """
    if name.startswith(_RUN):
        names = [path.name for path in _listed(origin / name.removeprefix(_RUN))]
        return hashlib.sha256(b"\0".join(map(os.fsencode, names))).hexdigest()
    try:
        return file_digest(origin / name)
    except FileNotFoundError:
        return NOT_THERE


def _listed(run: Path) -> list[Path]:
    """Return the files of a run, in whose name a sign stands for the number; none where there is no such folder."""
    sign = next((sign for sign in _TILES if sign in run.name), "#")
    before, _, after = run.name.rpartition(sign)
    member = re.compile(f"{re.escape(before)}{_TILES.get(sign, '[0-9]+')}{re.escape(after)}")
    try:
        return sorted(path for path in run.parent.iterdir() if member.fullmatch(path.name))
    except OSError:
        return []


def _fit_words(fit: Fit) -> dict[str, Any]:
    return {
        "corners": [[float(x), float(y)] for x, y in fit.corners],
        "uncertainty_px": float(fit.uncertainty_px),
        "residual_px": float(fit.residual_px),
        "pixels": int(fit.pixels),
        "tilted": bool(fit.tilted),
        "area_px": float(fit.area_px),
    }


def _fit(words: Mapping[str, Any]) -> Fit:
    corners = np.array([[_real(x), _real(y)] for x, y in words["corners"]], dtype=np.float64)
    if corners.shape != (4, 2):
        raise ValueError("a fit has four corners")
    if not isinstance(words["tilted"], bool):
        raise ValueError("a fit is tilted or is not")
    return Fit(
        corners,
        _real(words["uncertainty_px"]),
        _real(words["residual_px"]),
        int(words["pixels"]),
        words["tilted"],
        _real(words["area_px"]),
    )


def _real(value: Any) -> float:
    """Return a float; NaN and infinities are none, since a comparison with them would let anything pass."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError("a number is none")
    return float(value)


def _digest(value: Any) -> str:
    if not isinstance(value, str) or not _SHA256.fullmatch(value):
        raise ValueError("a digest is none")
    return value


def _file_name(name: Any, unit: Unit) -> str:
    """Return the name of a file of ``unit``: its own name and an ending, so that none can be put elsewhere."""
    if not isinstance(name, str) or not re.fullmatch(
        rf"{re.escape(unit.name)}-[0-9a-f]{{{_DIGITS}}}\.(npz|exr|png)", name
    ):
        raise ValueError("a file has a name that it may not have")
    return name
