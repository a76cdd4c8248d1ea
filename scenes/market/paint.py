# SPDX-License-Identifier: GPL-3.0-or-later
"""Paints the glasses of "Kite market" into art/ beside this file.

    python scenes/market/paint.py

Needs pycairo, numpy and Pillow. Flat colours, like paper cut-outs; seeded, so the same picture comes out on every run.
All places are in millimetres from the middle of the glass, x right and y up; 4 pixels to the mm, as in the frame.
"""

# ruff: noqa: PLR0917 - drawing calls take x, y, width and height in the order in which every drawing call takes them

import math
from collections.abc import Callable, Sequence
from pathlib import Path

import cairo
import numpy as np
from PIL import Image

ART = Path(__file__).resolve().parent / "art"
PX_PER_MM = 4

Colour = tuple[int, int, int]

PLUM: Colour = (52, 32, 72)
INK: Colour = (36, 24, 54)
BERRY: Colour = (148, 52, 84)
CORAL: Colour = (232, 106, 88)
AMBER: Colour = (247, 176, 84)
CREAM: Colour = (255, 236, 198)
TEAL: Colour = (44, 112, 118)
SEA: Colour = (98, 168, 158)
LIT: Colour = (255, 214, 122)


class Sheet:
    """A glass to paint on: millimetres in, PNG out."""

    def __init__(self, width: float, height: float):
        self.width, self.height = width, height
        self.surface = cairo.ImageSurface(cairo.FORMAT_ARGB32, round(width * PX_PER_MM), round(height * PX_PER_MM))
        self.ctx = cairo.Context(self.surface)
        self.ctx.translate(self.surface.get_width() / 2, self.surface.get_height() / 2)
        self.ctx.scale(PX_PER_MM, -PX_PER_MM)
        self.ctx.set_line_cap(cairo.LINE_CAP_ROUND)
        self.ctx.set_line_join(cairo.LINE_JOIN_ROUND)

    def save(self, name: str, clear: Colour, *, opaque: bool = False) -> None:
        """Write the sheet as straight alpha, by rename; `clear` is the colour that lies under what is clear."""
        self.surface.flush()
        width, height = self.surface.get_width(), self.surface.get_height()
        data = np.ndarray((height, width, 4), np.uint8, self.surface.get_data()).astype(np.float32)
        alpha = data[..., 3:]
        colour = np.where(alpha > 0, data[..., 2::-1] * 255 / np.maximum(alpha, 1), np.array(clear, np.float32))
        pixels = np.clip(np.rint(colour if opaque else np.dstack([colour, alpha])), 0, 255).astype(np.uint8)
        ART.mkdir(exist_ok=True)
        part = ART / f".{name}.part"
        Image.fromarray(pixels).save(part, "PNG", optimize=True)
        part.replace(ART / name)


def ink(ctx: cairo.Context, colour: Colour, alpha: float = 1.0) -> None:
    """Take up a colour."""
    ctx.set_source_rgba(colour[0] / 255, colour[1] / 255, colour[2] / 255, alpha)


def shift(colour: Colour, by: int) -> Colour:
    """Make a colour lighter or darker."""
    red, green, blue = (min(255, max(0, part + by)) for part in colour)
    return red, green, blue


def block(ctx: cairo.Context, x: float, y: float, width: float, height: float, colour: Colour) -> None:
    """Lay a rectangle with its lower left corner at x, y."""
    ink(ctx, colour)
    ctx.rectangle(x, y, width, height)
    ctx.fill()


def shape(ctx: cairo.Context, colour: Colour, *points: tuple[float, float]) -> None:
    """Lay a polygon."""
    ink(ctx, colour)
    for point in points:
        ctx.line_to(*point)
    ctx.close_path()
    ctx.fill()


def disc(ctx: cairo.Context, x: float, y: float, radius: float, colour: Colour, flatten: float = 1.0) -> None:
    """Lay a disc, or an ellipse that is `flatten` times as high as it is wide."""
    ctx.save()
    ctx.translate(x, y)
    ctx.scale(1, flatten)
    ctx.arc(0, 0, radius, 0, math.tau)
    ctx.restore()
    ink(ctx, colour)
    ctx.fill()


# ---------------------------------------------------------------- evening sky


def evening_sky() -> None:
    """Paint the sky as sheets of coloured paper, torn along the top, with a moon."""
    sheet = Sheet(510, 292)
    ctx = sheet.ctx
    rng = np.random.default_rng(11)
    block(ctx, -255, -146, 510, 292, (58, 40, 92))
    for _ in range(46):
        disc(ctx, rng.uniform(-250, 250), rng.uniform(60, 142), rng.uniform(0.25, 0.7), (226, 204, 226))
    disc(ctx, 92, 74, 31, (112, 72, 118))
    disc(ctx, 92, 74, 25, (250, 222, 178))
    disc(ctx, 84, 80, 4.5, (240, 204, 160))
    disc(ctx, 98, 66, 6.5, (240, 204, 160))
    disc(ctx, 103, 82, 2.8, (240, 204, 160))
    bands = (
        (64, (84, 50, 106)),
        (38, (122, 62, 114)),
        (14, (170, 78, 112)),
        (-8, (214, 100, 104)),
        (-28, (240, 136, 100)),
        (-48, (250, 176, 112)),
    )
    for top, colour in bands:
        phase = rng.uniform(0, math.tau)
        ctx.move_to(-256, -147)
        for x in np.arange(-256, 258, 4.0):
            hump = abs(math.sin(x / 44 + phase)) * 6 + abs(math.sin(x / 17 + 2 * phase)) * 2.4
            ctx.line_to(x, top + hump + 4 * math.sin(x / 90 + phase))
        ctx.line_to(256, -147)
        ctx.close_path()
        ink(ctx, colour)
        ctx.fill()
    sheet.save("evening_sky.png", PLUM, opaque=True)


# ---------------------------------------------------------------- far roofs


def far_roofs() -> None:
    """Paint the town behind: roofs, chimneys, a dome and a clock that nobody has wound."""
    sheet = Sheet(540, 180)
    ctx = sheet.ctx
    ctx.translate(0, 15)
    rng = np.random.default_rng(21)
    for colour, low, high, ground in (((150, 68, 104), 40, 82, -6), ((110, 54, 98), 18, 52, -20)):
        x = -275.0
        while x < 275:
            width, height = rng.uniform(22, 44), rng.uniform(low, high) * 0.6
            block(ctx, x, -106, width, 106 + ground + height, colour)
            peak = rng.uniform(6, 17)
            shape(
                ctx,
                colour,
                (x - 2, ground + height),
                (x + width / 2, ground + height + peak),
                (x + width + 2, ground + height),
            )
            block(ctx, x + width * 0.7, ground + height, 3.4, peak + 3, colour)
            for _ in range(rng.integers(0, 3)):
                block(ctx, x + rng.uniform(4, width - 7), ground + height - rng.uniform(6, 22), 2.6, 4, (246, 176, 110))
            x += width * rng.uniform(0.85, 1.1)
    tower = (92, 46, 92)
    block(ctx, -98, -76, 26, 118, tower)
    disc(ctx, -85, 42, 15, tower)
    block(ctx, -86, 54, 2, 17, tower)
    disc(ctx, -85, 26, 8.5, (250, 206, 138))
    ink(ctx, tower)
    ctx.set_line_width(1.1)
    for end in ((-85, 32.5), (-80.6, 23.6)):
        ctx.move_to(-85, 26)
        ctx.line_to(*end)
        ctx.stroke()
    sheet.save("far_roofs.png", (110, 54, 98))


# ---------------------------------------------------------------- houses


def house(ctx: cairo.Context, rng: np.random.Generator, x: float, width: float, height: float, colour: Colour) -> None:
    """Paint one house of the street: plaster, roof, cornice, rows of windows."""
    base = -110.0
    top = base + height
    block(ctx, x, base, width, height, colour)
    block(ctx, x + width - 3.2, base, 3.2, height, shift(colour, -14))
    kind = rng.integers(0, 3)
    roof = shift(INK, int(rng.integers(4, 26)))
    if kind == 0:
        shape(ctx, roof, (x - 3, top), (x + width / 2, top + width * 0.42), (x + width + 3, top))
        disc(ctx, x + width / 2, top + width * 0.15, 3.2, LIT)
    elif kind == 1:
        shape(ctx, roof, (x - 3, top), (x + 5, top + 17), (x + width - 5, top + 17), (x + width + 3, top))
        block(ctx, x + width * 0.7, top + 8, 6, 18, shift(roof, 10))
    else:  # a stepped gable
        for i in range(4):
            inset = i * width / 9
            block(ctx, x + inset, top + i * 5, width - 2 * inset, 5.3, shift(colour, -6))
    block(ctx, x - 1.6, top - 2.4, width + 3.2, 3.4, shift(colour, 26))
    columns = 2 if width < 46 else 3
    for row in range(int((height - 60) // 27)):
        y = top - 25 - row * 27
        for column in range(columns):
            middle = x + width * (column + 0.5) / columns
            window(ctx, rng, middle, y, shift(colour, 30), lit=bool(rng.random() < 0.55))


def window(ctx: cairo.Context, rng: np.random.Generator, x: float, y: float, frame: Colour, *, lit: bool) -> None:
    """Paint an arched window with its bars, and under some a box of flowers."""
    pane = LIT if lit else (50, 40, 78)
    for grow, colour in ((1.2, frame), (0.0, pane)):
        block(ctx, x - 4 - grow, y - grow, 8 + 2 * grow, 10 + grow, colour)
        disc(ctx, x, y + 10, 4 + grow, colour)
    block(ctx, x - 0.4, y, 0.8, 14, frame)
    block(ctx, x - 4, y + 6, 8, 0.8, frame)
    if rng.random() < 0.3:
        block(ctx, x - 6, y - 4, 12, 3, shift(BERRY, -30))
        for i in range(5):
            disc(ctx, x - 5 + i * 2.5, y - 0.6 + (i % 2), 1.6, (CORAL, SEA, AMBER)[int(rng.integers(0, 3))])


def houses() -> None:
    """Paint the street's houses side by side, a gap here and there."""
    sheet = Sheet(580, 220)
    rng = np.random.default_rng(34)
    colours: Sequence[Colour] = ((60, 92, 112), (120, 62, 92), (84, 66, 112), (150, 84, 82), (52, 78, 104))
    x, i = -293.0, 0
    while x < 293:
        width = rng.uniform(40, 64)
        house(sheet.ctx, rng, x, width, rng.uniform(112, 176), colours[i % len(colours)])
        x += width + (9 if rng.random() < 0.22 else -0.5)
        i += 1
    block(sheet.ctx, -290, -110, 580, 34, (46, 34, 66))
    sheet.save("houses.png", PLUM)


# ---------------------------------------------------------------- stalls


def awning(ctx: cairo.Context, x: float, y: float, width: float, one: Colour, other: Colour) -> None:
    """Paint a striped awning with a scalloped hem."""
    stripes = max(6, round(width / 11))
    step = width / stripes
    for i in range(stripes):
        colour = one if i % 2 else other
        left, right = x + i * step, x + (i + 1) * step
        inner_left, inner_right = (x + width / 2 + (edge - x - width / 2) * 0.86 for edge in (left, right))
        shape(ctx, colour, (left, y), (inner_left, y + 24), (inner_right, y + 24), (right, y))
        disc(ctx, (left + right) / 2, y, step / 2, shift(colour, -12), 0.9)
        block(ctx, left, y, step, 0.9, shift(colour, -26))
    block(ctx, x + width * 0.065, y + 23.4, width * 0.87, 2.4, shift(one, -36))


def small_kite(ctx: cairo.Context, x: float, y: float, size: float, colours: Sequence[Colour]) -> None:
    """Paint a kite for sale: a diamond of four papers with a tail of bows."""
    across, spar = size * 0.72, y + size * 0.25
    top, right, bottom, left = (x, y + size), (x + across, spar), (x, y - size), (x - across, spar)
    middle = (x, spar)
    for i, (a, b) in enumerate(((top, right), (right, bottom), (bottom, left), (left, top))):
        shape(ctx, colours[i % len(colours)], a, b, middle)
    for i in range(3):
        bow = y - size - 3.4 - i * 3.8
        corners = ((-2.2, 1.2), (2.2, -1.2), (2.2, 1.2), (-2.2, -1.2))
        shape(ctx, colours[i % len(colours)], *((x + dx, bow + dy) for dx, dy in corners))


def seller(ctx: cairo.Context, x: float, y: float, coat: Colour, skin: Colour, hat: Colour) -> None:
    """Paint somebody behind a counter, from the waist up."""
    shape(ctx, coat, (x - 11, y), (x - 9, y + 20), (x - 3, y + 25), (x + 3, y + 25), (x + 9, y + 20), (x + 11, y))
    shape(ctx, shift(coat, 34), (x - 3, y + 25), (x, y + 16), (x + 3, y + 25))
    disc(ctx, x, y + 31, 7, skin)
    disc(ctx, x - 2.6, y + 31.5, 0.8, INK)
    disc(ctx, x + 2.6, y + 31.5, 0.8, INK)
    disc(ctx, x - 4.2, y + 29, 1.3, CORAL, 0.7)
    disc(ctx, x + 4.2, y + 29, 1.3, CORAL, 0.7)
    shape(ctx, hat, (x - 8, y + 34), (x - 5, y + 41), (x + 4, y + 42), (x + 8, y + 34))
    block(ctx, x - 9.5, y + 33.4, 19, 1.9, shift(hat, -22))


def cat(ctx: cairo.Context, x: float, y: float, colour: Colour) -> None:
    """Paint a cat that sits where it should not."""
    disc(ctx, x, y + 6, 6.2, colour, 1.05)
    disc(ctx, x - 1, y + 14.5, 4.6, colour)
    for side in (-1, 1):
        shape(ctx, colour, (x - 1 + side * 4.4, y + 15), (x - 1 + side * 4, y + 21.4), (x - 1 + side * 0.8, y + 18))
        disc(ctx, x - 1 + side * 1.8, y + 15, 0.75, LIT)
    ink(ctx, colour)
    ctx.set_line_width(2.6)
    ctx.move_to(x + 4, y + 2)
    ctx.curve_to(x + 14, y, x + 13, y + 10, x + 10, y + 12)
    ctx.stroke()


def heap(ctx: cairo.Context, x: float, y: float, colour: Colour, *, rows: int = 3) -> None:
    """Paint fruit in a heap."""
    for row in range(rows):
        for i in range(rows + 1 - row):
            at = x + (i - (rows - row) / 2) * 5.4
            disc(ctx, at, y + 2.6 + row * 4.4, 2.9, shift(colour, -10 * ((i + row) % 2)))
            disc(ctx, at - 0.9, y + 3.6 + row * 4.4, 0.7, shift(colour, 44))


def pots(ctx: cairo.Context, x: float, y: float, colours: Sequence[Colour]) -> None:
    """Paint a row of teapots."""
    for i, colour in enumerate(colours):
        at = x + i * 15
        disc(ctx, at, y + 4.6, 4.6, colour, 0.9)
        shape(ctx, colour, (at + 4, y + 4), (at + 9, y + 9.5), (at + 9.8, y + 8.6), (at + 5, y + 1.8))
        disc(ctx, at, y + 10, 1.3, shift(colour, -34))
        ink(ctx, shift(colour, -24))
        ctx.set_line_width(1)
        ctx.arc(at - 5, y + 5.6, 2.6, math.pi / 2, 3 * math.pi / 2)
        ctx.stroke()


def stall(ctx: cairo.Context, x: float, width: float, colours: tuple[Colour, Colour], goods: str) -> None:
    """Paint one stall: back cloth, seller, counter, goods, posts, awning, in that order."""
    one, other = colours
    floor, counter, hem = -62.0, -30.0, 26.0
    block(ctx, x + 3, floor, width - 6, hem - floor + 8, (92, 52, 74))
    block(ctx, x + 3, hem - 12, width - 6, 20, (132, 74, 80))
    skin = ((236, 176, 138), (168, 108, 82), (206, 142, 108))[round(abs(x)) % 3]
    seller(ctx, x + width * 0.5, counter + 3, (TEAL, PLUM, BERRY)[round(abs(x) / 7) % 3], skin, shift(one, -18))
    if goods == "kites":
        for i, at in enumerate((0.15, 0.30, 0.72, 0.87)):
            papers = ((AMBER, CORAL), (SEA, CREAM), (CORAL, CREAM), (AMBER, TEAL))[i]
            small_kite(ctx, x + width * at, hem - 19 - 3 * (i % 2), 11, papers)
    block(ctx, x, counter, width, 5, (206, 138, 92))
    block(ctx, x + 2, floor, width - 4, counter - floor, (142, 82, 76))
    for i in range(round(width / 12)):
        block(ctx, x + 7 + i * 12, floor + 2, 1.1, counter - floor - 5, (118, 66, 68))
    shelf = counter + 5
    if goods == "fruit":
        for at, colour in ((0.16, AMBER), (0.36, (214, 74, 74)), (0.66, (156, 178, 92)), (0.86, CORAL)):
            heap(ctx, x + width * at, shelf, colour)
    elif goods == "pots":
        pots(ctx, x + width * 0.13, shelf, (TEAL, CREAM))
        pots(ctx, x + width * 0.70, shelf, (CORAL, AMBER))
    elif goods == "cat":
        cat(ctx, x + width * 0.80, shelf, INK)
        for i in range(4):
            block(ctx, x + width * 0.08 + (i % 2), shelf + i * 3.4, 18, 3, (CREAM, TEAL, CORAL, AMBER)[i])
    elif goods == "kites":
        for i in range(5):
            disc(ctx, x + width * 0.18 + i * 6, shelf + 2.6, 2.6, (CREAM, CORAL, SEA, AMBER, BERRY)[i])
    for post in (x + 1, x + width - 4):
        block(ctx, post, floor, 3, hem - floor + 4, (76, 44, 62))
    awning(ctx, x - 5, hem, width + 10, one, other)


def stalls() -> None:
    """Paint the row of stalls on its street of setts."""
    sheet = Sheet(660, 152)
    ctx = sheet.ctx
    rng = np.random.default_rng(41)
    block(ctx, -330, -76, 660, 16, (66, 44, 74))
    for row in range(3):
        for i in range(56):
            at = -334 + i * 12 + 6 * (row % 2)
            block(ctx, at, -75.4 + row * 5, 11, 4.2, shift((78, 54, 84), int(rng.integers(-5, 6))))
    stock = ("fruit", "kites", "cat", "pots")
    papers = ((CORAL, CREAM), (TEAL, CREAM), (AMBER, (196, 78, 74)), (SEA, (40, 82, 96)), (BERRY, (246, 196, 150)))
    x, i = -338.0, 0
    while x < 335:
        width = rng.uniform(86, 104)
        stall(ctx, x, width, papers[i % len(papers)], stock[i % len(stock)])
        gap = rng.uniform(16, 26)
        barrel(ctx, x + width + gap / 2, -62)
        x += width + gap
        i += 1
    sheet.save("stalls.png", (92, 52, 74))


def barrel(ctx: cairo.Context, x: float, y: float) -> None:
    """Paint a tub with a small round tree in it, as stands between stalls."""
    block(ctx, x - 0.9, y + 8, 1.8, 26, (76, 44, 62))
    disc(ctx, x, y + 38, 9, (52, 98, 96))
    disc(ctx, x - 3, y + 41, 4.5, (74, 128, 116))
    shape(ctx, (156, 84, 78), (x - 6, y + 12), (x + 6, y + 12), (x + 4.6, y - 2), (x - 4.6, y - 2))
    block(ctx, x - 6.6, y + 11, 13.2, 2.6, (186, 104, 86))


# ---------------------------------------------------------------- lanterns and kite


def lanterns() -> None:
    """Paint two lines of lanterns and pennants across the street, close to the lens."""
    sheet = Sheet(760, 100)
    ctx = sheet.ctx
    rng = np.random.default_rng(51)
    papers = (CORAL, AMBER, CREAM, SEA)
    for high, sag, every, far in ((54, 16, 23, True), (48, 30, 61, False)):
        span = 152.0
        for n in range(-1, 6):
            start = -380 + n * span + (60 if far else 0)
            ink(ctx, INK)
            ctx.set_line_width(0.9 if far else 1.2)
            count = round(span / every)
            points = [(start + span * t, high - sag * 4 * t * (1 - t)) for t in np.linspace(0, 1, 25)]
            for point in points:
                ctx.line_to(*point)
            ctx.stroke()
            for i in range(count):
                t = (i + 0.5) / count
                x, y = start + span * t, high - sag * 4 * t * (1 - t)
                colour = papers[int(rng.integers(0, len(papers)))]
                if far:
                    shape(ctx, shift(colour, -38), (x - 6, y), (x + 6, y), (x + rng.uniform(-1, 1), y - 14))
                else:
                    lantern(ctx, x, y, rng.uniform(12, 16), colour)
    sheet.save("lanterns.png", INK)


def lantern(ctx: cairo.Context, x: float, y: float, radius: float, colour: Colour) -> None:
    """Paint a paper lantern, lit from inside, its ribs in a darker paper."""
    middle = y - radius - 3
    disc(ctx, x, middle, radius, colour, 0.86)
    disc(ctx, x, middle - radius * 0.1, radius * 0.66, shift(colour, 26), 0.86)
    ink(ctx, shift(colour, -34))
    ctx.set_line_width(0.6)
    for rib in (0.35, 0.75):
        ctx.save()
        ctx.translate(x, middle)
        ctx.scale(rib, 0.86)
        ctx.arc(0, 0, radius, 0, math.tau)
        ctx.restore()
        ctx.stroke()
    block(ctx, x - radius * 0.4, middle + radius * 0.78, radius * 0.8, 3, INK)
    block(ctx, x - radius * 0.4, middle - radius * 0.92, radius * 0.8, 3, INK)
    block(ctx, x - 0.5, middle - radius * 0.92 - 9, 1, 9, shift(colour, -20))


def paper_kite() -> None:
    """Paint the kite that got away: a fish of folded paper with ribbons for a tail."""
    sheet = Sheet(96, 64)
    ctx = sheet.ctx
    ribbons: Sequence[tuple[Colour, float]] = ((CORAL, 7), (AMBER, 0), (SEA, -7))
    for colour, drop in ribbons:
        ink(ctx, colour)
        ctx.set_line_width(2.6)
        ctx.move_to(-12, drop * 0.5)
        ctx.curve_to(-24, drop + 9, -30, drop - 9, -43, drop * 1.7 + 2)
        ctx.stroke()
    shape(ctx, BERRY, (-8, 0), (-22, 15), (-17, 0), (-22, -15))
    shape(ctx, CORAL, (-10, 0), (8, 21), (38, 2))
    shape(ctx, AMBER, (-10, 0), (38, 2), (10, -17))
    shape(ctx, shift(CORAL, 22), (8, 21), (38, 2), (12, 4))
    shape(ctx, CREAM, (4, 8), (22, 9), (13, 15))
    shape(ctx, shift(AMBER, -34), (6, -4), (22, -6), (11, -11))
    shape(ctx, SEA, (2, 19), (-8, 29), (14, 17))
    disc(ctx, 25, 5, 3.3, CREAM)
    disc(ctx, 26, 5, 1.6, INK)
    ink(ctx, CREAM)
    ctx.set_line_width(0.7)
    ctx.move_to(12, -15)
    ctx.curve_to(8, -22, 2, -26, -6, -31)
    ctx.stroke()
    sheet.save("paper_kite.png", CORAL)


PAINTERS: Sequence[Callable[[], None]] = (evening_sky, far_roofs, houses, stalls, paper_kite, lanterns)


def main() -> None:
    """Paint every glass."""
    for paint in PAINTERS:
        paint()


if __name__ == "__main__":
    main()
