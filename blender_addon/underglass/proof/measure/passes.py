# SPDX-License-Identifier: GPL-3.0-or-later
"""From a file of passes to the fits of its levels, whoever rendered it and whoever reads its bytes.

Beside the levels' passes lies that of the datum, a triangle of known coordinates that is fixed to the camera: what it
shows in a pixel is the place of that pixel's sample, so that nobody has to know where in its pixel a sample lies.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from ...image.pass_file import Floats32, PassFileError, read_pass_file
from ...optics.sample_grid import Grid
from .measured_corners import FEWEST_PIXELS, SAMPLE_SPREAD_PX, Fit, Floats, Rounding, fit_level

# How the stage names the pass of the first, second… of the scene's marked objects, and that of the datum.
_STEM = "level"
DATUM = "datum"
# Half a last bit of the datum's coordinates in the frame, which lie below one half.
DATUM_ROUNDING = 2.0**-26
# The scatter of samples whose places are known: the last bits of coordinates, of the level's and of the datum's.
KNOWN_SCATTER_PX = 2e-5

# u, v and the mark of what was hit, (H, W) each, rows from the top.
Pass = tuple[Floats32, Floats32, Floats32]


@dataclass(frozen=True)
class Datum:
    """How the datum's coordinates turn into places: ``start`` + coordinate · ``span``, (2,) px of the frame each.

    ``rounding`` is how far single precision may have displaced it.
    """

    start: tuple[float, float]
    span: tuple[float, float]
    rounding: Rounding


@dataclass(frozen=True)
class PassFile:
    """One file of passes of a frame: ``names`` are those in it, on ``grid``; ``datum`` None where none could be put in.

    ``roundings`` tells how far single precision may have displaced each level.
    """

    frame: int
    path: Path
    names: tuple[str, ...]
    grid: Grid
    datum: Datum | None
    roundings: Mapping[str, Rounding] = field(default_factory=dict)


@dataclass(frozen=True)
class Lattice:
    """Where the samples of a frame lie, against the pixels' centres, as the datum tells.

    ``spacing`` px of the frame lie between two samples of a render of ``columns`` × ``rows``. ``shift`` (2,) px,
    ``scale`` (2,) and ``shear`` (2,) are those of the map from centres to samples, and ``farthest_px`` is the largest
    distance between the two; all NaN without a datum. ``hidden`` samples do not show the datum, which nothing hides but
    what is no level; ``placed`` tells whether there was a datum to be seen.
    """

    spacing: float
    columns: int
    rows: int
    shift: tuple[float, float] = (np.nan, np.nan)
    scale: tuple[float, float] = (np.nan, np.nan)
    shear: tuple[float, float] = (np.nan, np.nan)
    farthest_px: float = np.nan
    hidden: int = 0
    placed: bool = False


@dataclass(frozen=True)
class MeasuredFrame:
    """What the pixels of one frame say, by the number of the object among the scene's marked ones.

    A fit, or None where there were too few ``hits``: samples that met the level at all.
    """

    fits: Mapping[int, Fit | None]
    lattice: Lattice
    hits: Mapping[int, int] = field(default_factory=dict)


def read_passes(path: Path, names: Sequence[str]) -> dict[str, Pass]:
    """Return each named pass of an EXR file; raises PassFileError."""
    return passes_of(read_pass_file(path), names=names, file=path)


def passes_of(channels: Mapping[str, Floats32], *, names: Sequence[str], file: Path) -> dict[str, Pass]:
    """Return each named pass out of all ``channels`` of ``file``; PassFileError where one is not there."""
    stems = {name.rsplit(".", 2)[-2]: name.rsplit(".", 1)[0] for name in channels if "." in name}
    passes = {}
    for name in names:
        parts = [f"{stems.get(name, '')}.{letter}" for letter in "RGB"]
        if any(part not in channels for part in parts):
            raise PassFileError(f"{file}: holds no pass {name}; render it again")
        u, v, hit = (channels[part] for part in parts)
        passes[name] = u, v, hit
    return passes


def object_number(name: str) -> int:
    """Return which of the scene's marked objects the pass ``name`` is of, from 0."""
    return int(name.removeprefix(_STEM))


def measure_frame(
    files: Sequence[PassFile], *, read: Callable[[Path, Sequence[str]], dict[str, Pass]] = read_passes
) -> MeasuredFrame:
    """Return what the ``files`` of one frame say, then let go of them: a proof's disk stays flat."""
    fits: dict[int, Fit | None] = {}
    hits: dict[int, int] = {}
    lattice = None
    for file in files:
        passes = read(file.path, [*file.names, *([DATUM] if file.datum else [])])
        file.path.unlink()
        x, y, lattice = _places(file, passes)
        for name in file.names:
            u, v, hit = passes[name]
            hits[object_number(name)] = int((hit > 0.5).sum())
            fits[object_number(name)] = fit_level(
                u,
                v=v,
                hit=hit,
                x=x,
                y=y,
                spacing=file.grid.spacing,
                sample_px=SAMPLE_SPREAD_PX if file.datum is None else _read_to(file.datum) / file.grid.spacing,
                scatter_px=None if file.datum is None else KNOWN_SCATTER_PX,
                roundings=_roundings(file, name),
            )
    assert lattice is not None, "a frame has a file"
    return MeasuredFrame(fits, lattice, hits)


def _read_to(datum: Datum) -> float:
    """Return within how many px the datum's coordinates tell a place."""
    return DATUM_ROUNDING * max(datum.span)


def _roundings(file: PassFile, name: str) -> tuple[Rounding, ...]:
    own = file.roundings.get(name, Rounding())
    return (own,) if file.datum is None else (own, file.datum.rounding)


def _places(file: PassFile, passes: Mapping[str, Pass]) -> tuple[Floats, Floats, Lattice]:
    """Return the picture coordinates of every sample of ``file``, and how they lie on the grid of its pixels."""
    grid = file.grid
    centre_x, centre_y = grid.centres()
    lattice = Lattice(grid.spacing, grid.columns, grid.rows)
    if file.datum is None:
        return centre_x, centre_y, lattice
    u, v, hit = (np.asarray(part, dtype=np.float64) for part in passes[DATUM])
    with np.errstate(divide="ignore", invalid="ignore"):
        # A mark of 2, where two surfaces were met, has twice the coordinates too.
        x = np.where(hit > 0, file.datum.start[0] + u / hit * file.datum.span[0], np.nan)
        y = np.where(hit > 0, file.datum.start[1] + v / hit * file.datum.span[1], np.nan)
    centre_x, centre_y = (np.broadcast_to(centre, x.shape) for centre in (centre_x, centre_y))
    lattice = _lattice(lattice, x, y, centre_x, centre_y)
    known = np.isfinite(x)
    if known.any():
        # Where something hides the datum the levels should show all the same: their pixels count as missing there.
        x, y = np.where(known, x, centre_x + lattice.shift[0]), np.where(known, y, centre_y + lattice.shift[1])
    return x, y, lattice


def _lattice(bare: Lattice, x: Floats, y: Floats, centre_x: Floats, centre_y: Floats) -> Lattice:
    """Return the linear map from the pixels' centres to the places of their samples, by least squares."""
    known = np.isfinite(x)
    bare = replace(bare, hidden=int((~known).sum()), placed=True)
    if known.sum() < FEWEST_PIXELS:
        return bare
    basis = np.column_stack([np.ones(known.sum()), centre_x[known], centre_y[known]])
    places = np.column_stack([x[known], y[known]])
    (shift, along, up), *_ = np.linalg.lstsq(basis, places, rcond=None)
    return replace(
        bare,
        shift=(float(shift[0]), float(shift[1])),
        scale=(float(along[0]), float(up[1])),
        shear=(float(up[0]), float(along[1])),
        farthest_px=float(np.hypot(x[known] - centre_x[known], y[known] - centre_y[known]).max()),
    )
