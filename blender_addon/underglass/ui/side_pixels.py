# SPDX-License-Identifier: GPL-3.0-or-later
"""The stand from the side, to scale, as pixels: the bed, each level at its height, the lens and what it takes in.

Numbers name the levels in the order of the list, nearest the lens first. Free of Blender.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..plan.plan_arrays import Plan

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
# Points that a digit is high, and from one digit to the next.
DIGIT_HIGH, DIGIT_STEP = 5, 4
# Levels and the chosen one: on the dark ground of a theme with light letters, and on a light one.
GLASS, CHOSEN = (0.30, 0.66, 0.85, 1.0), (0.98, 0.72, 0.22, 1.0)
GLASS_ON_LIGHT, CHOSEN_ON_LIGHT = (0.04, 0.30, 0.50, 1.0), (0.60, 0.28, 0.0, 1.0)
# How strongly the edges of what the lens takes in, and the lines to the numbers, are drawn.
FAINT = 0.5
# Letters of a brighter ink than this, all three parts together, stand on a dark ground.
_MIDDLE = 1.5


@dataclass(frozen=True)
class Pens:
    """What the picture is drawn with, in pixels: its margin, a point of a digit, a line, and how far apart numbers are.

    A level may lie a hair above another: their numbers are kept apart. Whole pixels, so that lines are sharp.
    """

    margin: int
    dot: int
    line: int
    apart: int

    @property
    def digit_high(self) -> int:
        """Height of a number."""
        return DIGIT_HIGH * self.dot


def pens_for(scale: float) -> Pens:
    """Return the pens of an interface that has ``scale`` pixels a point."""
    dot = max(1, round(2 * scale))
    return Pens(margin=round(14 * scale), dot=dot, line=dot, apart=6 * dot + 1)


@dataclass(frozen=True)
class Side:
    """A stack from the side over all frames, in pixels of a picture of ``size``; one scale for the whole shot.

    ``heights``, ``lefts`` and ``rights`` (F, L) of the levels; ``lens`` (F,) its height; ``cone`` (F, 2, 4) both edges
    of what it takes in, x and y of either end. As they are drawn: ``places`` has of every frame height, left, right and
    height of the number of each level, then the cone, and last the height of the lens; ``edges`` (F, N) are the pixels
    of the cone. ``sides`` says of each level whether its number stands at the right (1), at the left (-1) or nowhere:
    of more levels than there is room for, some have none.
    """

    names: tuple[str, ...]
    size: tuple[int, int]
    pens: Pens
    sides: tuple[int, ...]
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


def side_of(plan: Plan, *, size: tuple[int, int], pens: Pens) -> Side:
    """Return the stack of ``plan`` from the side, as large as a picture of ``size`` takes it."""
    width, height = size
    margin = pens.margin
    tracks = plan.tracks
    fields = plan.shot.camera.frame_px[0] / plan.scale / 2
    halves = np.array([level.art_width / 2 for level in plan.shot.levels])
    east = tracks.levels["east"] - tracks.camera["east"][:, None]
    reach = float(max(fields.max(), (np.abs(east) + halves).max()))
    sides = _sides(len(plan.names), pens, high=height)
    # numbers on one side leave the middle where it is
    beside = 4 * margin if -1 not in sides else 5 * margin
    scale = min((width - beside) / (2 * reach), (height - 2.5 * margin) / float(tracks.camera["height"].max()))
    middle, lens = width / 2, margin + scale * tracks.camera["height"]
    rows = np.arange(len(fields))
    rear = plan.distance.argmax(axis=1)
    half, foot = scale * fields[rows, rear], lens - scale * plan.distance[rows, rear]
    # without perspective the lens takes in as much at every height
    top = np.where(np.ptp(plan.scale, axis=1) == 0, half, 0.0)
    cone = [np.stack([middle + side * top, lens, middle + side * half, foot], axis=-1) for side in (-1, 1)]
    ends, heights = np.stack(cone, axis=1), margin + scale * tracks.levels["height"]
    lefts, rights = middle + scale * (east - halves), middle + scale * (east + halves)
    levels = np.stack([heights, lefts, rights, _labels(heights, sides, pens, high=height)], axis=-1).reshape(
        len(rows), -1
    )
    drawn = np.rint(ends)
    numbers = np.concatenate([levels, drawn.reshape(len(rows), -1), lens[:, None]], axis=1)
    places = np.rint(numbers).astype(int).tolist()
    return Side(plan.names, size, pens, sides, heights, lefts, rights, lens, ends, places, _pixels_of(drawn, size))


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
    size, places, pens = side.size, side.places[row], side.pens
    line, dim = _lit(ink)
    glass, marked = (GLASS, CHOSEN) if sum(ink) > _MIDDLE else (GLASS_ON_LIGHT, CHOSEN_ON_LIGHT)
    marks = [_bed(size, pens, line), ((side.edges[row], dim),)]
    for number, name in enumerate(side.names):
        lit = _lit(marked if name == chosen else glass)
        place = tuple(places[4 * number : 4 * number + 4])
        marks.append(_level(size, pens, place, (number + 1, side.sides[number]), lit))
    marks.append(_camera(size, pens, places[-1], line))
    return marks


def _sides(count: int, pens: Pens, *, high: int) -> tuple[int, ...]:
    """Return at which side each level has its number: the right, where all have room, else both in turns."""
    fit = max(1, (high - pens.margin - pens.digit_high) // pens.apart)
    if count <= fit:
        return (1,) * count
    every = -(-count // (2 * fit))
    numbered = [index for index in range(count) if index % every == 0]
    sides = dict.fromkeys(numbered[::2], 1) | dict.fromkeys(numbered[1::2], -1)
    return tuple(sides.get(index, 0) for index in range(count))


def _labels(heights: Floats, sides: tuple[int, ...], pens: Pens, *, high: int) -> Floats:
    """Return the heights (F, L) of the numbers: each its level's, where they are not in each other's way."""
    placed = heights.copy()
    for side in (1, -1):
        columns = [column for column, its in enumerate(sides) if its == side]
        if columns:
            placed[:, columns] = apart(heights[:, columns], pens, high=high)
    return placed


def apart(heights: Floats, pens: Pens, *, high: int) -> Floats:
    """Return heights (F, L), highest first, moved where two numbers would be written over each other, or outside."""
    top = high - pens.digit_high
    placed = np.minimum(heights, top)
    count = placed.shape[1]
    for index in range(1, count):
        placed[:, index] = np.minimum(placed[:, index], placed[:, index - 1] - pens.apart)
    # what would come to lie below the bed is pushed up again from there
    for index in range(count - 1, -1, -1):
        floor = placed[:, index + 1] + pens.apart if index < count - 1 else pens.margin
        placed[:, index] = np.clip(placed[:, index], floor, max(floor.max() if index < count - 1 else floor, top))
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
def _bed(size: tuple[int, int], pens: Pens, colour: int) -> Mark:
    thick = range(max(1, pens.line // 2))
    return tuple((_run(size, pens.margin - line, pens.margin, size[0] - pens.margin), colour) for line in thick)


@lru_cache(maxsize=1024)
def _level(
    size: tuple[int, int], pens: Pens, place: tuple[int, ...], number: tuple[int, int], lit: tuple[int, int]
) -> Mark:
    """Return a level of a height, a left, a right and a height of its number: its line, and that with a line to it.

    ``number`` is what it is called, and the side that it is written at.
    """
    (y, left, right, label), (called, side), (colour, pale) = place, number, lit
    lines = tuple((_run(size, y + line, left, right), colour) for line in range(pens.line))
    if not side:
        return lines
    wide = len(str(called)) * DIGIT_STEP * pens.dot
    begins = size[0] - wide - pens.dot if side > 0 else pens.dot
    shape = _number(called, size[0], pens.dot) + ((label - pens.digit_high // 2) * size[0] + begins)
    gap = pens.dot + 1
    if side > 0:
        lead = _lead(size, (right + gap, y), (begins - gap, label))
    else:
        lead = _lead(size, (begins + wide, label), (left - gap, y))
    return (*((run, pale) for run in lead), *lines, (shape, colour))


def _lead(size: tuple[int, int], begin: tuple[int, int], end: tuple[int, int]) -> list[slice]:
    """Return a line to the right from ``begin`` to ``end``, x and y each, as a run of pixels in each row it crosses."""
    (x, y), (to_x, to_y) = begin, end
    rows, way, length = abs(to_y - y) + 1, (1 if to_y > y else -1), to_x - x + 1
    if length <= 0:
        return []
    bounds = [x + length * number // rows for number in range(rows + 1)]
    return [_run(size, y + way * number, bounds[number], bounds[number + 1] - 1) for number in range(rows)]


@lru_cache(maxsize=256)
def _camera(size: tuple[int, int], pens: Pens, y: int, colour: int) -> Mark:
    """Return a lens at a height, looking down: a box with a barrel."""
    middle, dot = size[0] // 2, pens.dot
    halves = [2 * dot] * (3 * dot // 2) + [4 * dot] * (9 * dot // 2)
    return tuple((_run(size, y + row, middle - half, middle + half), colour) for row, half in enumerate(halves))


@lru_cache(maxsize=64)
def _number(number: int, width: int, dot: int) -> Indices:
    """Return the pixels of a number whose lower left corner is the first pixel of a picture."""
    rows = [" ".join(parts) for parts in zip(*(DIGITS[digit] for digit in str(number)), strict=True)]
    points = np.array([[point == "#" for point in row] for row in rows[::-1]])
    y, x = np.nonzero(points.repeat(dot, axis=0).repeat(dot, axis=1))
    return y * width + x


def _run(size: tuple[int, int], y: int, left: int, right: int) -> slice:
    """Return the pixels of row ``y`` from ``left`` to ``right``, both with it, as far as they are in the picture."""
    width, height = size
    begin, end = max(left, 0), min(right + 1, width)
    return slice(y * width + begin, y * width + end) if 0 <= y < height and begin < end else slice(0)
