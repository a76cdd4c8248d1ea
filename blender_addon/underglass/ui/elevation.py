"""The stand from the side, to scale, as pixels: the bed, each level at its height, the lens and what it takes in.

Numbers name the levels in the order of the list, nearest the lens first. Free of Blender.
"""

import numpy as np
from numpy.typing import NDArray

from ..plan.model import Plan

Image = NDArray[np.float32]

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


def elevation(plan: Plan, row: int, *, size: tuple[int, int], ink: tuple[float, float, float], chosen: str) -> Image:
    """Return the stand on the frame of ``row`` as (height, width, 4) premultiplied RGBA, rows from the bottom.

    ``ink`` is the colour of bed, lens and numbers; the level named ``chosen`` is marked.
    """
    width, height = size
    picture = np.zeros((height, width, 4), dtype=np.float32)
    line = (*ink, 1.0)
    lens = float(plan.tracks.camera["height"][row])
    tallest = float(plan.tracks.camera["height"].max())
    half_fields = plan.shot.camera.frame_px[0] / plan.scale[row] / 2
    halves = np.array([level.art_width / 2 for level in plan.shot.levels])
    east = plan.tracks.levels["east"][row] - plan.tracks.camera["east"][row]
    reach = float(max(half_fields.max(), (np.abs(east) + halves).max()))
    scale = min((width - 4 * MARGIN) / (2 * reach), (height - 2.5 * MARGIN) / tallest)
    middle, ground = width / 2, MARGIN

    def x_of(metres: float) -> float:
        return middle + metres * scale

    def y_of(metres: float) -> float:
        return ground + metres * scale

    _cone(picture, plan, row, x_of=x_of, y_of=y_of, colour=_faint(ink))
    _line(picture, (MARGIN, ground), (width - MARGIN, ground), line)
    heights = plan.tracks.levels["height"][row]
    labels = _apart([y_of(float(value)) for value in heights])
    for number, (level, value) in enumerate(zip(plan.shot.levels, heights.tolist(), strict=True)):
        colour = CHOSEN if level.name == chosen else GLASS
        y = y_of(value)
        left, right = x_of(east[number] - halves[number]), x_of(east[number] + halves[number])
        for thickness in (0, 1):
            _line(picture, (left, y + thickness), (right, y + thickness), colour)
        _number(picture, str(number + 1), (width - MARGIN - 8, labels[number] - 5), colour)
        _line(picture, (right + 2, y), (width - MARGIN - 11, labels[number]), _faint(colour))
    _camera(picture, (middle, y_of(lens)), line)
    return picture


def _cone(picture: Image, plan: Plan, row: int, *, x_of, y_of, colour) -> None:  # type: ignore[no-untyped-def]
    lens = float(plan.tracks.camera["height"][row])
    rear = int(plan.distance[row].argmax())
    half = plan.shot.camera.frame_px[0] / float(plan.scale[row, rear]) / 2
    foot = lens - float(plan.distance[row, rear])
    parallel = np.ptp(plan.scale[row]) == 0
    for side in (-1, 1):
        top = side * half if parallel else 0.0
        _line(picture, (x_of(top), y_of(lens)), (x_of(side * half), y_of(foot)), colour)


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


def _line(picture: Image, start: tuple[float, float], end: tuple[float, float], colour: tuple[float, ...]) -> None:
    if start[1] == end[1]:
        # most lines are level, and this is drawn anew on every frame
        y, left, right = round(start[1]), max(round(start[0]), 0), max(round(end[0]) + 1, 0)
        if 0 <= y < picture.shape[0]:
            picture[y, left:right] = colour
        return
    count = int(np.ceil(max(abs(end[0] - start[0]), abs(end[1] - start[1])))) + 1
    along = np.arange(count) / max(count - 1, 1)
    x = np.rint(start[0] + (end[0] - start[0]) * along).astype(int)
    y = np.rint(start[1] + (end[1] - start[1]) * along).astype(int)
    inside = (x >= 0) & (x < picture.shape[1]) & (y >= 0) & (y < picture.shape[0])
    picture[y[inside], x[inside]] = colour


def _faint(colour: tuple[float, ...]) -> tuple[float, ...]:
    return (*(FAINT * value for value in colour[:3]), FAINT)


def _camera(picture: Image, place: tuple[float, float], colour: tuple[float, ...]) -> None:
    """Draw a lens looking down: a box with a barrel."""
    x, y = round(place[0]), round(place[1])
    picture[max(y + 3, 0) : y + 12, max(x - 8, 0) : x + 9] = colour
    picture[max(y, 0) : y + 3, max(x - 4, 0) : x + 5] = colour


def _number(picture: Image, text: str, place: tuple[float, float], colour: tuple[float, ...]) -> None:
    """Write a number with its lower left at ``place``, each point of a digit two pixels wide and high."""
    x, y = max(round(place[0]), 0), max(round(place[1]), 0)
    for digit in text:
        shape = SHAPES[digit]
        room = picture[y : y + shape.shape[0], x : x + shape.shape[1]]
        room[shape[: room.shape[0], : room.shape[1]]] = colour
        x += 8
