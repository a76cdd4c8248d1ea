"""The stand from the side, to scale, as pixels: the bed, each level at its height, the lens and what it takes in.

Numbers name the levels in the order of the list, nearest the lens first. Free of Blender.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..plan.model import Plan

# A pixel is a number whose bytes, lowest first, are red, green, blue and alpha, as an icon takes it.
Image = NDArray[np.int32]
Colour = tuple[float, ...]
Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
# What is drawn at once: pixels of the picture as it lies in memory, row behind row from the bottom, and their colour.
Mark = tuple[tuple[slice | Indices, int], ...]

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
# How high a digit is drawn, and how far it is from one to the next: its points are two pixels wide and high.
DIGIT_HIGH, DIGIT_STEP = 10, 8
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
    of what it takes in, x and y of either end. As they are drawn: ``places`` has of every frame height, left, right and
    height of the number of each level, then the cone, and last the height of the lens; ``edges`` (F, N) are the pixels
    of the cone.
    """

    names: tuple[str, ...]
    size: tuple[int, int]
    heights: Floats
    lefts: Floats
    rights: Floats
    lens: Floats
    cone: Floats
    places: list[list[int]]
    edges: Indices


class Paper:
    """A picture (height, width) of pixels, premultiplied, rows from the bottom, that is drawn anew frame after frame.

    What is no longer there is wiped out mark by mark: to clear the whole takes longer than to draw it.
    """

    def __init__(self, size: tuple[int, int]) -> None:
        width, height = size
        self.pixels: NDArray[np.int32] = np.zeros(width * height, dtype=np.int32)
        self._drawn: list[Mark] = []

    def draw(self, marks: list[Mark]) -> None:
        """Draw ``marks``, later ones over earlier ones, in place of what was drawn before."""
        pixels = self.pixels
        alike = len(marks) == len(self._drawn)
        for number, mark in enumerate(self._drawn):
            if not (alike and mark is marks[number]):
                for place, _ in mark:
                    pixels[place] = 0
        for mark in marks:
            for place, colour in mark:
                pixels[place] = colour
        self._drawn = marks


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
    ends, heights = np.stack(cone, axis=1), MARGIN + scale * tracks.levels["height"]
    lefts, rights = middle + scale * (east - halves), middle + scale * (east + halves)
    levels = np.stack([heights, lefts, rights, _apart(heights, high=height)], axis=-1).reshape(len(rows), -1)
    drawn = np.rint(ends)
    numbers = np.concatenate([levels, drawn.reshape(len(rows), -1), lens[:, None]], axis=1)
    places = np.rint(numbers).astype(int).tolist()
    return Side(plan.names, size, heights, lefts, rights, lens, ends, places, _pixels_of(drawn, size))


def _pixels_of(ends: Floats, size: tuple[int, int]) -> Indices:
    """Return the pixels (F, N) of lines between ``ends`` (F, 2, 4), steep ones: as many for all, some of them twice."""
    (width, height), count = size, int(np.ptp(ends[..., 1::2], axis=-1).max()) + 1
    share = np.linspace(0.0, 1.0, count)
    begin, way = ends[..., :2, None], (ends[..., 2:] - ends[..., :2])[..., None]
    x, y = np.moveaxis(np.rint(begin + way * share), 2, 0)
    pixels = np.clip(y, 0, height - 1) * width + np.clip(x, 0, width - 1)
    return pixels.astype(np.intp).reshape(len(ends), -1)


def elevation(side: Side, row: int, *, ink: tuple[float, float, float], chosen: str) -> list[Mark]:
    """Return the stand on the frame of ``row`` as marks on a paper; those that are as on another frame are the same.

    ``ink`` is the colour of bed, lens and edges of what it takes in; the level named ``chosen`` is marked.
    """
    size, places = side.size, side.places[row]
    line, dim = _lit(ink)
    marks = [_bed(size, line), ((side.edges[row], dim),)]
    for number, name in enumerate(side.names):
        lit = _lit(CHOSEN if name == chosen else GLASS)
        marks.append(_level(size, tuple(places[4 * number : 4 * number + 4]), number + 1, lit))
    marks.append(_camera(size, places[-1], line))
    return marks


def _apart(heights: Floats, *, high: int) -> Floats:
    """Return heights (F, L), highest first, moved where two numbers would be written over each other, or outside."""
    placed = np.minimum(heights, high - DIGIT_HIGH)
    count = placed.shape[1]
    for index in range(1, count):
        placed[:, index] = np.minimum(placed[:, index], placed[:, index - 1] - LEAST_APART)
    # what would come to lie below the bed is pushed up again from there
    for index in range(count - 1, -1, -1):
        floor = placed[:, index + 1] + LEAST_APART if index < count - 1 else MARGIN
        placed[:, index] = np.clip(placed[:, index], floor, high - DIGIT_HIGH)
    return placed


def pixel(colour: Colour) -> int:
    """Return a premultiplied colour as the number of a pixel."""
    red, green, blue, alpha = (round(255 * min(max(part, 0.0), 1.0)) for part in colour)
    number = red | green << 8 | blue << 16 | alpha << 24
    return number - (1 << 32) if number >= 1 << 31 else number


def _faint(colour: Colour) -> Colour:
    return (*(FAINT * value for value in colour[:3]), FAINT)


@lru_cache(maxsize=16)
def _lit(colour: Colour) -> tuple[int, int]:
    """Return the pixel of a colour, and that of its faint lines."""
    return pixel((*colour[:3], 1.0)), pixel(_faint(colour))


@lru_cache(maxsize=4)
def _bed(size: tuple[int, int], colour: int) -> Mark:
    return ((_run(size, MARGIN, MARGIN, size[0] - MARGIN), colour),)


@lru_cache(maxsize=1024)
def _level(size: tuple[int, int], place: tuple[int, ...], number: int, lit: tuple[int, int]) -> Mark:
    """Return a level of a height, a left, a right and a height of its number: its line, two pixels thick, and that."""
    (y, left, right, label), (colour, pale) = place, lit
    numbers = size[0] - MARGIN - DIGIT_STEP
    shape = _number(number, size[0]) + ((label - DIGIT_HIGH // 2) * size[0] + numbers)
    lead = _lead(size, (right + 2, y), (numbers - 3, label))
    return (
        *((run, pale) for run in lead),
        *((_run(size, line, left, right), colour) for line in (y, y + 1)),
        (shape, colour),
    )


def _lead(size: tuple[int, int], begin: tuple[int, int], end: tuple[int, int]) -> list[slice]:
    """Return a line to the right from ``begin`` to ``end``, x and y each, as a run of pixels in each row it crosses."""
    (x, y), (to_x, to_y) = begin, end
    rows, way, length = abs(to_y - y) + 1, (1 if to_y > y else -1), to_x - x + 1
    bounds = [x + length * number // rows for number in range(rows + 1)]
    return [_run(size, y + way * number, bounds[number], bounds[number + 1] - 1) for number in range(rows)]


@lru_cache(maxsize=256)
def _camera(size: tuple[int, int], y: int, colour: int) -> Mark:
    """Return a lens at a height, looking down: a box with a barrel."""
    middle = size[0] // 2
    halves = [4] * 3 + [8] * 9
    return tuple((_run(size, y + row, middle - half, middle + half), colour) for row, half in enumerate(halves))


@lru_cache(maxsize=64)
def _number(number: int, width: int) -> Indices:
    """Return the pixels of a number whose lower left corner is the first pixel of a picture."""
    rows = [" ".join(parts) for parts in zip(*(DIGITS[digit] for digit in str(number)), strict=True)]
    points = np.array([[point == "#" for point in row] for row in rows[::-1]])
    y, x = np.nonzero(points.repeat(2, axis=0).repeat(2, axis=1))
    return y * width + x


def _run(size: tuple[int, int], y: int, left: int, right: int) -> slice:
    """Return the pixels of row ``y`` from ``left`` to ``right``, both with it, as far as they are in the picture."""
    width, height = size
    begin, end = max(left, 0), min(right + 1, width)
    return slice(y * width + begin, y * width + end) if 0 <= y < height and begin < end else slice(0)
