"""From a file of passes to the fits of its levels, whoever rendered it and whoever reads its bytes."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from ..optics.projection import pixel_centres
from .measure import Fit, fit_level
from .pass_file import Floats32, PassFileError, read_pass_file

# Passes of this many levels are rendered together; each is a whole frame of floats in memory.
LEVELS_A_RENDER = 8
# How the stage names the pass of the first, second… of the scene's marked objects.
_STEM = "level"

# u, v and the mark of what was hit, (H, W) each, rows from the top.
Pass = tuple[Floats32, Floats32, Floats32]


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


def measure_file(
    path: Path,
    *,
    names: Sequence[str],
    size: tuple[int, int],
    step: int,
    read: Callable[[Path, Sequence[str]], dict[str, Pass]] = read_passes,
) -> dict[str, Fit | None]:
    """Return the fit of each pass in ``names`` of one file, then let go of the file: a proof's disk stays flat.

    The file holds every ``step``-th pixel of a frame of ``size`` px.
    """
    columns_x, rows_y = pixel_centres(size, step=step)
    passes = read(path, names)
    path.unlink()
    return {
        name: fit_level(u, v=v, hit=hit, columns_x=columns_x, rows_y=rows_y, spacing=step)
        for name, (u, v, hit) in passes.items()
    }
