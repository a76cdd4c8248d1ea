# SPDX-License-Identifier: GPL-3.0-or-later
"""From layered art to a shot on disk: its art files and its shot.toml, all of it or nothing."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from ..shot.errors import ShotError
from ..shot.files.new_folder import appearing
from ..shot.files.read import read_shot
from ..shot.files.write import write_shot
from ..shot.model import Shot
from .art_groups import Groups, parts_that_show
from .art_layers import ArtLayer, LayeredArt, Part
from .level_art import bounds_of, place_art
from .names_from_art import file_names, level_names
from .pixel_port import Pixels
from .starting_shot import ART_FOLDER, check_count, starting_shot


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
    with appearing(folder) as making:
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
