# SPDX-License-Identifier: GPL-3.0-or-later
"""A shot to start from: the layers of a painting on a stand, so spread that the picture is the painting.

The canvas is the frame. Each level is as wide as its layer fills of the field at its distance, so that through the lens
every pixel stands where it was painted; what moves then is the operator's to say.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ..optics import projection, thin_lens
from ..shot.files.camera_and_stand import LEAST_FRAME_PX
from ..shot.gates import NAMED_GATES
from ..shot.model import Camera, Focus, Gate, Level, Projection, Shot, Stand
from ..shot.quantity import MOST_METRES
from ..shot.units import METRES_PER_MM, metres_from
from .art_layers import ArtLayer, LayeredArt
from .names_from_art import file_names, readable

MOST_FRAME_WIDTH = 2048
GATE = "academy-35"
# A canvas whose proportions are this near those of the gate is shot through the whole of it, in parts.
_GATE_FITS = 0.01
FOCAL_MM = 50.0
F_STOP = 8.0
FPS = 24.0
FRAMES = (1, 96)
ART_FOLDER = "art"


@dataclass(frozen=True)
class _Stand:
    """A usual stand in its own unit: from lens to rearmost level, how near a level may come, what is a round number.

    ``below`` is left free under the rearmost level: one that holds its size rides down as the camera trucks in.
    """

    camera: float
    nearest: float
    least_gap: float
    most_camera: float
    step: float
    below: float


_STANDS = {
    "in": _Stand(48.0, 18.0, 1.5, 96.0, 0.25, 12.0),
    "cm": _Stand(120.0, 45.0, 4.0, 240.0, 0.5, 30.0),
    "mm": _Stand(1200.0, 450.0, 40.0, 2400.0, 5.0, 300.0),
}


def most_levels(units: str) -> int:
    """Return how many levels a stand takes with its camera as high as it goes."""
    stand = _STANDS[units]
    return int((stand.most_camera - stand.nearest) / stand.least_gap) + 1


def starting_shot(
    art: LayeredArt, *, folder: Path, title: str = "", units: str = "in", files: Sequence[str] = ()
) -> Shot:
    """Return a still shot in which each layer of ``art`` is a level that looks as it lies on the canvas.

    ``art`` has layers alone, no groups, with names fit for levels; ``files`` are their art files within ``folder``.
    Raises ShotError for more levels than a stand takes, and for a layer too large or too far out for one.
    """
    layers = [layer for layer in art.layers if isinstance(layer, ArtLayer)]
    check_count(art, len(layers), units=units)
    frame_px = frame_of(art.canvas_px)
    gate = gate_of(frame_px)
    camera_height, heights = spread(len(layers), units=units)
    focus = len(layers) // 2
    image = thin_lens.image_distance(FOCAL_MM * METRES_PER_MM, focus=camera_height - heights[focus])
    scale = projection.px_per_metre(
        [camera_height - height for height in heights],
        frame_width=frame_px[0],
        gate_width=gate.width,
        squeeze=1.0,
        image=image,
    )
    names = file_names([layer.name for layer in layers], suffixes=[layer.suffix for layer in layers])
    files = files or [f"{ART_FOLDER}/{name}" for name in names]
    # Pixels of the frame for one of the canvas.
    zoom = frame_px[0] / art.canvas_px[0]
    levels = [
        _level(layer, art, file, height, metres_per_px=zoom / float(k))
        for layer, file, height, k in zip(layers, files, heights, scale, strict=True)
    ]
    if not _fills_the_frame(layers[-1], art.canvas_px, frame_px, zoom):
        levels[-1] = replace(levels[-1], covers=())
    return Shot(
        title=readable(title or art.place.stem, otherwise="Untitled"),
        units=units,
        fps=FPS,
        frames=FRAMES,
        camera=Camera(
            projection=Projection.PERSPECTIVE,
            frame_px=frame_px,
            height=camera_height,
            gate=gate,
            focal=FOCAL_MM * METRES_PER_MM,
            f_stop=F_STOP,
            focus=Focus(level=layers[focus].name),
        ),
        levels=tuple(levels),
        stand=Stand(least_gap=metres_from(_STANDS[units].least_gap, units)),
        folder=folder,
    )


def check_count(art: LayeredArt, count: int, *, units: str) -> None:
    """Raise ShotError unless there is a level, and no more than a stand takes."""
    if not count:
        raise art.wrong("layers", "has no layer that shows", "make at least one visible")
    if count > (most := most_levels(units)):
        raise art.wrong("layers", f"makes {count} levels", f"a stand takes {most}: merge some, or flatten the groups")


def frame_of(canvas_px: tuple[int, int]) -> tuple[int, int]:
    """Return the size of the frame for a canvas: its proportions, even numbers, at most MOST_FRAME_WIDTH wide.

    Where the numbers do not come out even, a little of the canvas' top and bottom falls outside, never less than all.
    """
    width = max(min(canvas_px[0], MOST_FRAME_WIDTH) // 2 * 2, LEAST_FRAME_PX)
    height = int(canvas_px[1] * width / canvas_px[0]) // 2 * 2
    return width, max(height, LEAST_FRAME_PX)


def gate_of(frame_px: tuple[int, int]) -> Gate:
    """Return the Academy gate where the frame has its proportions, else one of its width with the frame's."""
    width_mm, named_mm = NAMED_GATES[GATE].size_mm
    height_mm = width_mm * frame_px[1] / frame_px[0]
    if abs(height_mm / named_mm - 1) <= _GATE_FITS:
        return Gate(width_mm * METRES_PER_MM, named_mm * METRES_PER_MM, GATE)
    # To a tenth of a micron, which is what a person would write down.
    return Gate(round(width_mm, 4) * METRES_PER_MM, round(height_mm, 4) * METRES_PER_MM)


def spread(count: int, *, units: str) -> tuple[float, tuple[float, ...]]:
    """Return the heights of the camera and of ``count`` levels, nearest the lens first, in metres and round numbers.

    Beyond the least gap, distances grow by equal ratios: a truck then carries each level past the next by about the
    same on screen, and the room is where the far levels, which look alike close together, can use it.
    """
    stand = _STANDS[units]
    camera = max(stand.camera, stand.nearest + (count - 1) * stand.least_gap)
    room = camera - stand.nearest - (count - 1) * stand.least_gap
    heights = []
    for index in range(count):
        share = index / (count - 1) if count > 1 else 1.0
        ratio = camera / stand.nearest
        further = round(room * (ratio**share - 1) / (ratio - 1) / stand.step) * stand.step
        heights.append(metres_from(stand.below + camera - stand.nearest - index * stand.least_gap - further, units))
    return metres_from(stand.below + camera, units), tuple(heights)


def _level(layer: ArtLayer, art: LayeredArt, file: str, height: float, *, metres_per_px: float) -> Level:
    across, up = _centre_px(layer, art.canvas_px)
    width, east, north = (px * metres_per_px for px in (layer.size_px[0], across, up))
    if max(width, abs(east), abs(north)) > MOST_METRES:
        raise art.wrong(layer.name, "is far larger than its canvas, or far from it", "crop it, and move it there")
    return Level(layer.name, file, width, height, layer.size_px, east=east, north=north)


def _centre_px(layer: ArtLayer, canvas_px: tuple[int, int]) -> tuple[float, float]:
    """Return where the centre of a layer lies from the centre of the canvas, pixels to the right and up."""
    width, height = layer.size_px
    return layer.left + width / 2 - canvas_px[0] / 2, canvas_px[1] / 2 - layer.top - height / 2


def _fills_the_frame(layer: ArtLayer, canvas_px: tuple[int, int], frame_px: tuple[int, int], zoom: float) -> bool:
    """Return whether a layer reaches over all four edges of the frame."""
    centre = _centre_px(layer, canvas_px)
    return all(
        abs(place) * zoom + frame / 2 <= side * zoom / 2 + 1e-9 * frame
        for place, frame, side in zip(centre, frame_px, layer.size_px, strict=True)
    )
