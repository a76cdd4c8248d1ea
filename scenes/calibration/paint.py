# SPDX-License-Identifier: GPL-3.0-or-later
"""Paints the four cards of the calibration shot into art/ beside this file.

    python scenes/calibration/paint.py

Needs pycairo, numpy and Pillow. The same bytes come out on every run. Card D is the ground of checks; A, B and C are
small cards with a round hole punched through, so that alpha is tested too. Every card carries its letter, an arrow
toward the picture's top and a spot in its top left corner.
"""

import math
from pathlib import Path

import cairo
import numpy as np
from PIL import Image

ART = Path(__file__).resolve().parent / "art"

# Red, green and blue of the card's paint and of its ink.
CARDS = {
    "a": ((0.89, 0.36, 0.24), (0.16, 0.05, 0.06)),
    "b": ((0.96, 0.77, 0.29), (0.24, 0.13, 0.04)),
    "c": ((0.36, 0.70, 0.62), (0.03, 0.15, 0.16)),
}
CARD_PX = (480, 360)  # 4:3; at its largest a small card measures 400 pixels in the frame
GROUND_PX = (1296, 972)  # 3 art pixels per mm of the 432 mm card
GROUND_MM = 432


def save(surface: cairo.ImageSurface, name: str, paint: tuple[float, float, float] | None = None) -> None:
    """Write a PNG into the art folder by rename, so that no reader meets half a file.

    A card is saved as straight alpha, with its own paint under the hole; the ground, without `paint`, has no alpha.
    """
    surface.flush()
    width, height = surface.get_width(), surface.get_height()
    data = np.ndarray((height, width, 4), np.uint8, surface.get_data()).astype(np.float32)
    colour = data[..., 2::-1]
    if paint is not None:
        alpha = data[..., 3:]
        straight = np.where(alpha > 0, colour * 255 / np.maximum(alpha, 1), np.array(paint, np.float32) * 255)
        colour = np.dstack([straight, alpha])
    ART.mkdir(exist_ok=True)
    part = ART / f".{name}.part"
    Image.fromarray(np.clip(np.rint(colour), 0, 255).astype(np.uint8)).save(part, "PNG", optimize=True)
    part.replace(ART / name)


def letter(ctx: cairo.Context, text: str, x: float, y: float, size: float) -> None:
    """Draw a capital with its middle at x, y, out of plain strokes: no font is needed, so no font can differ."""
    strokes = {
        "A": [[(-0.35, 0.5), (0, -0.5), (0.35, 0.5)], [(-0.22, 0.14), (0.22, 0.14)]],
        "C": [[(0.34, -0.3), (0.1, -0.5), (-0.2, -0.42), (-0.34, 0), (-0.2, 0.42), (0.1, 0.5), (0.34, 0.3)]],
        "B": [
            [(-0.3, -0.5), (0.12, -0.5), (0.28, -0.26), (0.12, -0.03), (-0.3, -0.03)],
            [(0.12, -0.03), (0.34, 0.24), (0.14, 0.5), (-0.3, 0.5), (-0.3, -0.5)],
        ],
        "D": [[(-0.3, -0.5), (0.08, -0.5), (0.34, -0.2), (0.34, 0.2), (0.08, 0.5), (-0.3, 0.5), (-0.3, -0.5)]],
    }
    ctx.set_line_width(size * 0.14)
    ctx.set_line_cap(cairo.LINE_CAP_ROUND)
    ctx.set_line_join(cairo.LINE_JOIN_ROUND)
    for stroke in strokes[text]:
        for px, py in stroke:
            ctx.line_to(x + px * size, y + py * size)
        ctx.stroke()


def cross(ctx: cairo.Context, x: float, y: float, arm: float) -> None:
    """Draw a line-up cross."""
    ctx.move_to(x - arm, y)
    ctx.line_to(x + arm, y)
    ctx.move_to(x, y - arm)
    ctx.line_to(x, y + arm)
    ctx.stroke()


def arrow_up(ctx: cairo.Context, x: float, y: float, length: float) -> None:
    """Draw a solid arrow that points at the picture's top, its foot at x, y."""
    half = length * 0.22
    outline = ((half / 3, 0), (half / 3, -0.6), (half, -0.6), (0, -1), (-half, -0.6), (-half / 3, -0.6), (-half / 3, 0))
    for px, py in outline:
        ctx.line_to(x + px, y + (py * length if py else 0))
    ctx.close_path()
    ctx.fill()


def card(key: str) -> cairo.ImageSurface:
    """Paint one small card: checked rim, letter, crosses at its centre and quarters, arrow, spot and hole."""
    width, height = CARD_PX
    paint, ink = CARDS[key]
    surface = cairo.ImageSurface(cairo.FORMAT_ARGB32, width, height)
    ctx = cairo.Context(surface)
    ctx.set_source_rgb(*paint)
    ctx.paint()
    ctx.set_source_rgb(*ink)
    step = 20
    for i in range(width // step):
        for j in range(height // step):
            rim = i in (0, width // step - 1) or j in (0, height // step - 1)
            if rim and (i + j) % 2 == 0:
                ctx.rectangle(i * step, j * step, step, step)
    ctx.fill()
    ctx.arc(60, 60, 20, 0, math.tau)
    ctx.fill()
    arrow_up(ctx, 400, 250, 130)
    letter(ctx, key.upper(), 120, 230, 140)
    ctx.set_line_width(4)
    cross(ctx, width / 2, height / 2, 50)
    # The hole is east of the middle and above it, so that it sits right in the picture only when nothing is mirrored.
    ctx.set_operator(cairo.OPERATOR_CLEAR)
    ctx.arc(310, 90, 34, 0, math.tau)
    ctx.fill()
    return surface


def ground() -> cairo.ImageSurface:
    """Paint card D: checks of 12 mm, a centre cross, a rule of 48 mm either side, letter, arrow and spot."""
    width, height = GROUND_PX
    per_mm = width / GROUND_MM
    surface = cairo.ImageSurface(cairo.FORMAT_RGB24, width, height)
    ctx = cairo.Context(surface)
    ctx.set_source_rgb(0.80, 0.80, 0.76)
    ctx.paint()
    ctx.set_source_rgb(0.70, 0.71, 0.70)
    step = 12 * per_mm
    for i in range(math.ceil(width / step)):
        for j in range(math.ceil(height / step)):
            if (i + j) % 2:
                ctx.rectangle(i * step, j * step, step, step)
    ctx.fill()
    ctx.set_source_rgb(0.16, 0.18, 0.26)
    ctx.set_line_width(3)
    cross(ctx, width / 2, height / 2, 48 * per_mm)
    for mm in range(-48, 49, 12):
        cross(ctx, width / 2 + mm * per_mm, height / 2, 3 * per_mm)
    letter(ctx, "D", width * 0.24, height * 0.78, 170)
    arrow_up(ctx, width * 0.37, height * 0.86, 150)
    ctx.arc(width * 0.115, height * 0.14, 22, 0, math.tau)
    ctx.fill()
    return surface


def main() -> None:
    """Paint all four cards."""
    for key, (paint, _) in CARDS.items():
        save(card(key), f"card_{key}.png", paint)
    save(ground(), "card_d.png")


if __name__ == "__main__":
    main()
