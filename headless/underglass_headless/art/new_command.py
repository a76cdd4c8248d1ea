# SPDX-License-Identifier: GPL-3.0-or-later
"""Making a shot of layered art from the command line, and telling what came of it."""

from collections.abc import Callable
from pathlib import Path

from underglass.layered import LayeredArt, import_art, read_layered
from underglass.layered.read_layered_art import PSD_SUFFIXES
from underglass.shot import Shot
from underglass.shot.units import in_units

from .pillow_pixels import PillowPixels


def make_shot(art: Path, *, folder: Path, groups: str, units: str, echo: Callable[[str], object]) -> Shot:
    """Make a shot of the layered art at ``art`` in ``folder``, say what it is, and return it; raises ShotError."""
    shot, remarks = import_art(read_any(art), folder=folder, pixels=PillowPixels(), groups=groups, units=units)
    for remark in remarks:
        echo(f"note: {remark}")
    width, height = shot.camera.frame_px
    levels = f"{len(shot.levels)} level{'s' if len(shot.levels) > 1 else ''}"
    echo(f"made {folder / 'shot.toml'}: {levels}, a frame of {width}×{height} px")
    for level in shot.levels:
        at, wide = (
            f"{in_units(round(length, 9), shot.units):g} {shot.units}" for length in (level.height, level.art_width)
        )
        echo(f"  {level.name}: height {at}, art {wide} wide, {level.art}")
    return shot


def read_any(path: Path) -> LayeredArt:
    """Return the layers of a folder of images, an OpenRaster file or a layered PSD; raises ShotError."""
    if path.suffix.lower() in PSD_SUFFIXES and not path.is_dir():
        # Imported here, so that the other kinds do not wait for it.
        from .psd_layers import read_psd

        return read_psd(path)
    return read_layered(path)
