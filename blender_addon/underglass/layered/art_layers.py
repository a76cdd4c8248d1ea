# SPDX-License-Identifier: GPL-3.0-or-later
"""Layered art as a painter hands it over: a canvas and its layers, nearest the lens first; nothing is decoded.

How a file spells it is `image_folder` and `openraster`; what a stand makes of it is `starting_shot`.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from ..image.art_size import MOST_PX, MOST_SIDE_PX
from ..shot.errors import Place, ShotError
from ..shot.words import shown
from .pixel_port import Painted

# Further than any painting reaches; a layer beyond it is a slip of the file.
MOST_OFFSET_PX = 1_000_000
NORMAL = "normal"

Source = Callable[[], bytes]


@dataclass(frozen=True)
class ArtLayer:
    """One layer: an image file whose upper left pixel lies ``left`` and ``top`` pixels from the canvas' upper left.

    ``source`` gives the bytes of the image file, undecoded, and ``suffix`` says what kind it is. ``opacity`` is 0 to 1.
    ``blend`` is how the painting program lays it over what is below, NORMAL for plain painting over. A reader that has
    decoded the layer anyway gives its pixels as ``painted`` too.
    """

    name: str
    left: int
    top: int
    size_px: tuple[int, int]
    opacity: float = 1.0
    visible: bool = True
    source: Source = field(default=bytes, compare=False, repr=False)
    suffix: str = ".png"
    blend: str = NORMAL
    painted: Callable[[], Painted] | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True)
class ArtGroup:
    """Layers that the painter put together, nearest the lens first; the rest is as for a layer."""

    name: str
    layers: "tuple[ArtLayer | ArtGroup, ...]"
    opacity: float = 1.0
    visible: bool = True
    blend: str = NORMAL


Part = ArtLayer | ArtGroup


@dataclass(frozen=True)
class LayeredArt:
    """A canvas of ``canvas_px`` (width, height) and its layers, nearest the lens first.

    ``place`` is the file or folder it was read from; ``remarks`` say what of it could not be taken over.
    """

    canvas_px: tuple[int, int]
    layers: tuple[Part, ...]
    place: Path = Path()
    remarks: tuple[str, ...] = ()

    def wrong(self, key: str, problem: str, remedy: str) -> ShotError:
        """Return an error about the layer or attribute ``key``, to be raised."""
        return ShotError(Place(self.place, 0, key), problem, remedy)


def check_size(size_px: tuple[int, int], *, said: Place) -> None:
    """Raise ShotError unless an image or a canvas of this size can be shot."""
    width, height = size_px
    size = f"is {width}×{height} px"
    if not width > 0 < height:
        raise ShotError(said, size, "save it with a width and a height")
    if max(size_px) > MOST_SIDE_PX or width * height > MOST_PX:
        remedy = f"our limit is {MOST_SIDE_PX} px a side and {MOST_PX // 10**6} million px; scale it down"
        raise ShotError(said, size, remedy)


def check_offset(left: int, top: int, *, said: Place) -> None:
    """Raise ShotError where a layer lies further from its canvas than any painting reaches."""
    if max(abs(left), abs(top)) > MOST_OFFSET_PX:
        remedy = f"move it onto the canvas; our limit is {MOST_OFFSET_PX} px"
        raise ShotError(said, f"lies at {shown(left)}, {shown(top)} px", remedy)
