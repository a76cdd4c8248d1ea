"""The stand from the side, to scale, as pixels: the bed, each level at its height, the lens and what it takes in.

Numbers name the levels in the order of the list, nearest the lens first. Free of Blender.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..plan.model import Plan

# A pixel is a number whose bytes, lowest first, are red, green, blue and alpha, as an icon takes it.
Image = NDArray[np.int32]
Colour = tuple[float, ...]
Floats = NDArray[np.float64]

# Digits five pixels high and three wide, a row a string.
DIGITS = {
    "0": ("###", "# #", "# #", "# #", "###"),
    "1": (" # ", "## ", " # ", " # ", "###"),
    "2": ("###", "  #", "###", "#  ", "###"),
    "3": ("###", "  #", " ##", "  #", "###"),
    "4": ("# #", "# #", "###", "  #", "  #"),
    "5": ("###", "#  ", "###", "  #", "###"),
    "6": ("###", "#  ", "###", "# #", "###"),
    "7": ("###", "  #", " # ", " # ", " # "),
    "8": ("###", "# #", "###", "# #", "###"),
    "9": ("###", "# #", "###", "  #", "###"),
}
# The same as they are drawn, rows from the bottom, each point two pixels wide and high.
SHAPES = {
    digit: np.array([[point == "#" for point in row] for row in rows[::-1]]).repeat(2, axis=0).repeat(2, axis=1)
    for digit, rows in DIGITS.items()
}
MARGIN = 14
# A level may lie a hair above another: their numbers are kept this many pixels apart.
LEAST_APART = 13
GLASS = (0.30, 0.66, 0.85, 1.0)
CHOSEN = (0.98, 0.72, 0.22, 1.0)
# How strongly the edges of what the lens takes in, and the lines to the numbers, are drawn.
FAINT = 0.5


@dataclass(frozen=True)
class Side:
    """A stack from the side over all frames, in pixels of a picture of ``size``; one scale for the whole shot.

    ``heights``, ``lefts`` and ``rights`` (F, L) of the levels; ``lens`` (F,) its height; ``cone`` (F, 2, 4) both edges
    of what it takes in, x and y of either end.
    """

    names: tuple[str, ...]
    size: tuple[int, int]
    heights: Floats
    lefts: Floats
    rights: Floats
    lens: Floats
    cone: Floats


def side_of(plan: Plan, *, size: tuple[int, int]) -> Side:
    """Return the stack of ``plan`` from the side, as large as a picture of ``size`` takes it."""
    width, height = size
    tracks = plan.tracks
    fields = plan.shot.camera.frame_px[0] / plan.scale / 2
    halves = np.array([level.art_width / 2 for level in plan.shot.levels])
    east = tracks.levels["east"] - tracks.camera["east"][:, None]
    reach = float(max(fields.max(), (np.abs(east) + halves).max()))
    scale = min((width - 4 * MARGIN) / (2 * reach), (height - 2.5 * MARGIN) / float(tracks.camera["height"].max()))
    middle, lens = width / 2, MARGIN + scale * tracks.camera["height"]
    rows = np.arange(len(fields))
    rear = plan.distance.argmax(axis=1)
    half, foot = scale * fields[rows, rear], lens - scale * plan.distance[rows, rear]
    # without perspective the lens takes in as much at every height
    top = np.where(np.ptp(plan.scale, axis=1) == 0, half, 0.0)
    cone = [np.stack([middle + side * top, lens, middle + side * half, foot], axis=-1) for side in (-1, 1)]
    return Side(
        names=plan.names,
        size=size,
        heights=MARGIN + scale * tracks.levels["height"],
        lefts=middle + scale * (east - halves),
        rights=middle + scale * (east + halves),
        lens=lens,
        cone=np.stack(cone, axis=1),
    )


def elevation(side: Side, row: int, *, ink: tuple[float, float, float], chosen: str) -> Image:
    """Return the stand on the frame of ``row`` as (height, width) pixels, premultiplied, rows from the bottom.

    ``ink`` is the colour of bed, lens and numbers; the level named ``chosen`` is marked.
    """
    width, height = side.size
    picture = np.zeros((height, width), dtype=np.int32)
    line, dim = pixel((*ink, 1.0)), pixel(_faint(ink))
    picture[MARGIN, MARGIN : width - MARGIN + 1] = line
    heights, lefts, rights = (track[row].tolist() for track in (side.heights, side.lefts, side.rights))
    labels, numbers = _apart(heights), width - MARGIN - 8
    slanted = [(*ends, dim) for ends in side.cone[row].tolist()]
    for number, name in enumerate(side.names):
        colour, pale = _LIT[name == chosen]
        _bar(picture, heights[number], lefts[number], rights[number], colour)
        _number(picture, str(number + 1), (numbers, labels[number] - 5), colour)
        slanted.append((rights[number] + 2, heights[number], numbers - 3, labels[number], pale))
    _lines(picture, slanted)
    _camera(picture, (width / 2, float(side.lens[row])), line)
    return picture


def _apart(heights: list[float]) -> list[float]:
    """Return heights, highest first, moved down where two would be written over each other."""
    placed: list[float] = []
    for value in heights:
        placed.append(min(value, placed[-1] - LEAST_APART) if placed else value)
    low = MARGIN - placed[-1]
    if low > 0:
        for index in range(len(placed) - 1, -1, -1):
            floor = MARGIN if index == len(placed) - 1 else placed[index + 1] + LEAST_APART
            placed[index] = max(placed[index], floor)
    return placed


def _bar(picture: Image, y: float, left: float, right: float, colour: int) -> None:
    """Draw a level line, two pixels thick."""
    low = round(y)
    picture[max(low, 0) : max(low + 2, 0), max(round(left), 0) : max(round(right) + 1, 0)] = colour


def _lines(picture: Image, lines: list[tuple[float, float, float, float, int]]) -> None:
    """Draw slanted lines, each from x, y to x, y in its colour, all at once; the last are on top."""
    ends = np.array([line[:4] for line in lines]).T.reshape(2, 2, 1, -1) + 0.5
    height, width = picture.shape
    count = int(np.abs(ends[1] - ends[0]).max()) + 2
    x, y = (ends[0] + (ends[1] - ends[0]) * np.linspace(0.0, 1.0, count)[:, None]).astype(np.int32)
    colours = np.array([line[4] for line in lines], dtype=np.int32)
    if min(x.min(), y.min()) < 0 or x.max() >= width or y.max() >= height:
        inside = (x >= 0) & (x < width) & (y >= 0) & (y < height)
        picture[y[inside], x[inside]] = np.broadcast_to(colours, x.shape)[inside]
    else:
        picture.reshape(-1)[y * width + x] = colours


def pixel(colour: Colour) -> int:
    """Return a premultiplied colour as the number of a pixel."""
    red, green, blue, alpha = (round(255 * min(max(part, 0.0), 1.0)) for part in colour)
    number = red | green << 8 | blue << 16 | alpha << 24
    return number - (1 << 32) if number >= 1 << 31 else number


def _faint(colour: Colour) -> Colour:
    return (*(FAINT * value for value in colour[:3]), FAINT)


# A level's colour and that of the line to its number; those of the chosen one second.
_LIT = tuple((pixel(colour), pixel(_faint(colour))) for colour in (GLASS, CHOSEN))


def _camera(picture: Image, place: tuple[float, float], colour: int) -> None:
    """Draw a lens looking down: a box with a barrel."""
    x, y = round(place[0]), round(place[1])
    picture[max(y + 3, 0) : y + 12, max(x - 8, 0) : x + 9] = colour
    picture[max(y, 0) : y + 3, max(x - 4, 0) : x + 5] = colour


def _number(picture: Image, text: str, place: tuple[float, float], colour: int) -> None:
    """Write a number with its lower left at ``place``, each point of a digit two pixels wide and high."""
    x, y = max(round(place[0]), 0), max(round(place[1]), 0)
    for digit in text:
        shape = SHAPES[digit]
        room = picture[y : y + shape.shape[0], x : x + shape.shape[1]]
        np.copyto(room, colour, where=shape[: room.shape[0], : room.shape[1]])
        x += 8
