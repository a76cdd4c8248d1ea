# SPDX-License-Identifier: GPL-3.0-or-later
"""What a unit of work leaves behind: its files, and the JSON that says what they must be. Read strictly: a result that
is cut short, damaged or of another unit is none, whoever sent it.
"""

import hashlib
import json
import math
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from underglass.proof.measure.measured_corners import Fit
from underglass.proof.measure.passes import Lattice, MeasuredFrame
from underglass.shot import UnderglassError

from .units_of_work import FORMAT, PASSES, PICTURE, READ, SWEEP, Unit

# Of a level, on a frame; a stack has a few dozen at most, and a scene may hold doubles.
_MOST_FITS = 100_000
# Larger than any result of ours, small enough to be read whole.
_MOST_JSON_BYTES = 64 * 2**20
# The files of each kind of unit; without a camera there is nothing to render.
_ENDINGS = {READ: {"npz"}, SWEEP: set(), PASSES: set(), PICTURE: {"exr", "png"}}
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

    ``measured`` is what its passes say, by frame; ``depends`` maps what else than the job's own
    files went into it, by its way from the .blend, to its SHA-256.
    """

    unit: Unit
    blender: str
    files: Mapping[str, tuple[int, str]]
    rendered: bool
    measured: Mapping[int, MeasuredFrame]
    depends: Mapping[str, str]


def result_text(
    unit: Unit,
    *,
    blender: str,
    files: Mapping[str, Path],
    rendered: bool,
    measured: Mapping[int, MeasuredFrame],
    depends: Mapping[str, str],
) -> str:
    """Return the JSON of a result, whose ``files`` lie there whole. Floats come back to the last bit."""
    record = {
        "format": FORMAT,
        "unit": unit.words(),
        "blender": blender,
        "files": {name: [path.stat().st_size, file_digest(path)] for name, path in files.items()},
        "rendered": rendered,
        "measured": [[frame, _frame_words(seen)] for frame, seen in sorted(measured.items())],
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
        measured = {int(frame): _frame(words) for frame, words in record["measured"]}
        if set(measured) != (set(unit.frames) if rendered and unit.kind in {SWEEP, PASSES} else set()):
            raise ValueError("it has other frames than it should")
    except RecursionError:
        raise UnitError(f"{unit.result_file}: is no result of {unit.told()} (too deep)") from None
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        reason = " ".join(str(error).split())[:120]
        raise UnitError(f"{unit.result_file}: is no result of {unit.told()} ({reason})") from None
    return UnitResult(unit, record["blender"], files, rendered, measured, depends)


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


def _frame_words(seen: MeasuredFrame) -> dict[str, Any]:
    one = seen.lattice
    return {
        "lattice": {
            "spacing": float(one.spacing),
            "size": [int(one.columns), int(one.rows)],
            # Without a datum these are no numbers, and JSON has none such.
            "map": None
            if math.isnan(one.farthest_px)
            else [*map(float, (*one.shift, *one.scale, *one.shear, one.farthest_px))],
            "hidden": int(one.hidden),
            "placed": bool(one.placed),
        },
        "hits": [[number, int(count)] for number, count in sorted(seen.hits.items())],
        "fits": [[number, None if fit is None else _fit_words(fit)] for number, fit in sorted(seen.fits.items())],
    }


def _frame(words: Mapping[str, Any]) -> MeasuredFrame:
    said = words["lattice"]
    columns, rows = map(int, said["size"])
    if not isinstance(said["placed"], bool):
        raise ValueError("a datum is placed or is not")
    lattice = Lattice(_real(said["spacing"]), columns, rows, hidden=int(said["hidden"]), placed=said["placed"])
    if said["map"] is not None:
        shift_x, shift_y, scale_x, scale_y, shear_x, shear_y, farthest = map(_real, said["map"])
        lattice = replace(
            lattice,
            shift=(shift_x, shift_y),
            scale=(scale_x, scale_y),
            shear=(shear_x, shear_y),
            farthest_px=farthest,
        )
    if len(words["fits"]) > _MOST_FITS:
        raise ValueError("it has too many fits")
    fits = {int(number): None if fit is None else _fit(fit) for number, fit in words["fits"]}
    return MeasuredFrame(fits, lattice, {int(number): int(count) for number, count in words["hits"]})


def _fit_words(fit: Fit) -> dict[str, Any]:
    return {
        "corners": _places_words(fit.corners),
        "uncertainty_px": float(fit.uncertainty_px),
        "residual_px": float(fit.residual_px),
        "pixels": int(fit.pixels),
        "tilted": bool(fit.tilted),
        "area_px": float(fit.area_px),
        "seen": None if fit.seen is None else _places_words(fit.seen),
        "seen_uncertainty_px": None if math.isnan(fit.seen_uncertainty_px) else float(fit.seen_uncertainty_px),
        "worst_px": float(fit.worst_px),
        "strange_px": float(fit.strange_px),
        "counts": [int(fit.strange), int(fit.doubled), int(fit.missing)],
    }


def _fit(words: Mapping[str, Any]) -> Fit:
    if not isinstance(words["tilted"], bool):
        raise ValueError("a fit is tilted or is not")
    strange, doubled, missing = map(int, words["counts"])
    certain = words["seen_uncertainty_px"]
    return Fit(
        _places(words["corners"]),
        _real(words["uncertainty_px"]),
        _real(words["residual_px"]),
        int(words["pixels"]),
        words["tilted"],
        _real(words["area_px"]),
        None if words["seen"] is None else _places(words["seen"]),
        math.nan if certain is None else _real(certain),
        worst_px=_real(words["worst_px"]),
        strange=strange,
        strange_px=_real(words["strange_px"]),
        doubled=doubled,
        missing=missing,
    )


def _places_words(places: Any) -> list[list[float]]:
    return [[float(x), float(y)] for x, y in places]


def _places(words: Any) -> Any:
    places = np.array([[_real(x), _real(y)] for x, y in words], dtype=np.float64)
    if places.shape != (4, 2):
        raise ValueError("a fit has four corners")
    return places


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
