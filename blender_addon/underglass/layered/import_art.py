"""From layered art to a shot on disk: its art files and its shot.toml, all of it or nothing."""

import contextlib
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from ..shot.errors import Place, ShotError
from ..shot.model import Shot
from ..shot.read import SHOT_FILE, read_shot
from ..shot.write import write_shot
from .groups import Groups, parts_that_show
from .model import ArtLayer, LayeredArt, Part
from .names import file_names, level_names
from .pixels import Pixels
from .placing import bounds_of, place_art
from .starting_shot import ART_FOLDER, check_count, starting_shot

_CANNOT = "choose a folder that can be written"


def import_art(
    art: LayeredArt, *, folder: Path, pixels: Pixels, groups: str = Groups.KEEP, units: str = "in", title: str = ""
) -> tuple[Shot, tuple[str, ...]]:
    """Make a shot of ``art`` in ``folder``, which is new or empty; return it, and remarks on what was not taken over.

    ``groups`` is "keep", each layer a level of its own, or "flatten", each group one level. ``pixels`` decodes what has
    to be painted anew; a layer that shows in full is copied byte for byte. Raises ShotError, and then leaves nothing.
    """
    parts, remarks = parts_that_show(art, groups=Groups(groups))
    check_count(art, len(parts), units=units)
    names = level_names(part.name for part in parts)
    stems = file_names(names, suffixes=[""] * len(names))
    said = [*art.remarks, *remarks, *_renamed(parts, names)]
    with _all_or_nothing(folder) as making:
        art_folder = making / ART_FOLDER
        art_folder.mkdir()
        files = []
        for part, stem in zip(parts, stems, strict=True):
            rearmost = part is parts[-1]
            file, found = place_art(part, art=art, stem=art_folder / stem, rearmost=rearmost, pixels=pixels)
            files.append(f"{ART_FOLDER}/{file.name}")
            said += found
        layers = tuple(_as_layer(part, name) for part, name in zip(parts, names, strict=True))
        shot = starting_shot(replace(art, layers=layers), folder=making, title=title, units=units, files=files)
        shot = _written(shot, making, art)
    return replace(shot, folder=folder, places={}), tuple(said)


def _written(shot: Shot, making: Path, art: LayeredArt) -> Shot:
    """Write the shot and read it back, so that nothing is handed over that the other commands would refuse."""
    write_shot(shot, making)
    try:
        return read_shot(making)
    except ShotError as error:
        # The file it was said in is about to go.
        raise art.wrong(error.place.key, error.problem, error.remedy) from error


def _renamed(parts: tuple[Part, ...], names: tuple[str, ...]) -> Iterator[str]:
    for part, name in zip(parts, names, strict=True):
        if part.name != name:
            yield f"{part.name[:60]!r} is the level {name!r}: names of levels are short, plain and all different"


def _as_layer(part: Part, name: str) -> ArtLayer:
    """Return the layer that a level shows; a group's is as large as all that is in it."""
    left, top, right, bottom = bounds_of(part)
    return ArtLayer(name, left, top, (right - left, bottom - top))


@contextmanager
def _all_or_nothing(folder: Path) -> Iterator[Path]:
    """Yield a folder to build in, whose files go to ``folder`` in the end; where that fails, nothing is left."""
    _check_free(folder)
    parents = [parent for parent in (folder, *folder.parents) if not parent.exists()]
    # Within the folder, so that the last step is a rename on one disk, wherever a link or a mount leads.
    making = folder / f".making-{secrets.token_hex(4)}"
    try:
        making.mkdir(parents=True)
        yield making
        _move_in(making, folder)
    except OSError as error:
        raise ShotError(Place(folder), f"cannot be written ({error.strerror or error})", _CANNOT) from error
    finally:
        shutil.rmtree(making, ignore_errors=True)
        for parent in parents:
            # Goes only where it is empty: whatever was made in it stays.
            with contextlib.suppress(OSError):
                parent.rmdir()


def _check_free(folder: Path) -> None:
    try:
        there = sorted(path.name for path in folder.iterdir()) if folder.exists() else []
    except OSError as error:
        raise ShotError(Place(folder), f"is no folder to write in ({error.strerror})", _CANNOT) from error
    if SHOT_FILE in there:
        raise ShotError(Place(folder), "has a shot already", "choose a new or an empty folder")
    if there:
        raise ShotError(Place(folder), f"is not empty ({there[0]!r} lies in it)", "choose a new or an empty folder")


def _move_in(making: Path, folder: Path) -> None:
    """Move what was made into place, the shot file last: without it there is no shot."""
    with contextlib.ExitStack() as undo:
        for path in sorted(making.iterdir(), key=lambda path: path.name == SHOT_FILE):
            path.replace(folder / path.name)
            undo.callback((folder / path.name).replace, path)
        undo.pop_all()
