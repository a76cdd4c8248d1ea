# SPDX-License-Identifier: GPL-3.0-or-later
"""Paints the glasses of "Estuary at first light" into art/ beside this file.

    python scenes/estuary/paint.py                # all of them
    python scenes/estuary/paint.py village boat   # only these

Needs pycairo, numpy, scipy and Pillow. Every random choice is seeded, so the same picture comes out on every run.

Each glass is painted as it is seen through the lens on frame 1: the script reads shot.toml for where the glass sits and
how wide its art is, and from then on all places are pixels of that frame from its centre, x right and y up. So what is
drawn at the horizon here is at the horizon there, whichever glass it is on.

Paint goes on in two ways. Fields (sky, haze, water) are gradients that are then gone over with thousands of translucent
brush strokes, which is what keeps them from looking like gradients. Things (houses, reeds, leaves) are shapes of one
colour or two. Art is straight alpha, and paint is bled out under the clear parts, so no dark fringe can come up when a
glass is scaled.
"""

import math
import sys
import tomllib
from collections.abc import Callable, Sequence
from pathlib import Path

import cairo
import numpy as np
from PIL import Image
from scipy import ndimage

HERE = Path(__file__).resolve().parent
ART = HERE / "art"
MM_PER_INCH = 25.4
GATE_INCHES = 0.866  # academy-35, across

Array = np.ndarray
Colour = tuple[float, float, float]
Place = tuple[float, float]
Twig = tuple[float, float, float]  # where a leaf may hang: x, y, and which way the twig goes there

# The script of colours, 0 to 255: night overhead, day at the sea's edge.
INDIGO: Colour = (30, 33, 76)
VIOLET: Colour = (66, 62, 120)
MAUVE: Colour = (122, 96, 152)
ROSE: Colour = (196, 132, 158)
PEACH: Colour = (243, 172, 144)
GOLD: Colour = (255, 217, 168)
NIGHT: Colour = (17, 18, 42)
WINDOW: Colour = (255, 203, 118)

HORIZON = -96.0  # where the sea meets the sky
SHORE = -150.0  # where the village stands in the water
GLOW_X = 300.0  # the day comes up here, a little below the morning star


# ---------------------------------------------------------------- the glass, and what is on it


class Glass:
    """A glass as frame 1 sees it: paint (red, green, blue), cover (alpha) and where both lie in the frame."""

    def __init__(self, name: str, art_px: tuple[int, int]):
        shot = tomllib.loads((HERE / "shot.toml").read_text(encoding="utf-8"))
        level = next(one for one in shot["level"] if one["name"] == name)
        camera = shot["camera"]
        focal = camera["focal_mm"] / MM_PER_INCH
        image_distance = focal * camera["focus"] / (camera["focus"] - focal)
        distance = camera["height"] - level["height"]
        frame_px_per_inch = camera["frame_px"][0] * image_distance / (GATE_INCHES * distance)
        self.width, self.height = art_px
        self.scale = self.width / (level["art_width"] * frame_px_per_inch)  # art pixels in a pixel of frame 1
        self.centre_x = level.get("east", 0.0) * frame_px_per_inch
        self.centre_y = level.get("north", 0.0) * frame_px_per_inch
        rows, columns = np.mgrid[0 : self.height, 0 : self.width].astype(np.float32)
        self.x = (columns + 0.5 - self.width / 2) / self.scale + self.centre_x
        self.y = (self.height / 2 - rows - 0.5) / self.scale + self.centre_y
        self.paint = np.zeros((self.height, self.width, 3), np.float32)
        self.cover = np.zeros((self.height, self.width), np.float32)

    @property
    def left(self) -> float:
        """Where the art ends at the left, in frame pixels."""
        return self.centre_x - self.width / 2 / self.scale

    @property
    def right(self) -> float:
        """Where the art ends at the right."""
        return self.centre_x + self.width / 2 / self.scale

    @property
    def top(self) -> float:
        """Where the art ends at the top."""
        return self.centre_y + self.height / 2 / self.scale

    @property
    def bottom(self) -> float:
        """Where the art ends at the bottom."""
        return self.centre_y - self.height / 2 / self.scale

    def cel(self, ctx_of: cairo.ImageSurface) -> cairo.Context:
        """Give a cairo context on a surface of this glass's size that draws in frame pixels, y up."""
        ctx = cairo.Context(ctx_of)
        ctx.translate(self.width / 2, self.height / 2)
        ctx.scale(self.scale, -self.scale)
        ctx.translate(-self.centre_x, -self.centre_y)
        ctx.set_line_cap(cairo.LINE_CAP_ROUND)
        ctx.set_line_join(cairo.LINE_JOIN_ROUND)
        return ctx

    def mask(self, draw: Callable[[cairo.Context], None]) -> Array:
        """Return the shape that `draw` fills or strokes, 0 to 1."""
        surface = cairo.ImageSurface(cairo.FORMAT_A8, self.width, self.height)
        draw(self.cel(surface))
        surface.flush()
        data = np.ndarray((self.height, surface.get_stride()), np.uint8, surface.get_data())
        return data[:, : self.width].astype(np.float32) / 255

    def draw(self, draw: Callable[[cairo.Context], None], soften: float = 0.0) -> None:
        """Lay what `draw` paints over the glass, softened by so many frame pixels."""
        surface = cairo.ImageSurface(cairo.FORMAT_ARGB32, self.width, self.height)
        draw(self.cel(surface))
        surface.flush()
        data = np.ndarray((self.height, self.width, 4), np.uint8, surface.get_data())
        layer = data.astype(np.float32)
        if soften:
            layer = ndimage.gaussian_filter(layer, (soften * self.scale, soften * self.scale, 0))
        alpha = layer[..., 3] / 255
        colour = layer[..., 2::-1] / np.maximum(alpha, 1e-4)[..., None]
        self.lay(colour, alpha)

    def lay(self, colour: Array | Colour, alpha: Array) -> None:
        """Lay a coat over the glass: straight alpha over straight alpha."""
        coat = np.asarray(colour, np.float32)
        under = self.cover * (1 - alpha)
        cover = alpha + under
        weight = (alpha / np.maximum(cover, 1e-5))[..., None]
        self.paint = np.where(cover[..., None] > 0, coat * weight + self.paint * (1 - weight), self.paint)
        self.cover = cover

    def tint(self, colour: Array | Colour, amount: Array) -> None:
        """Shift the paint toward a colour without changing what is covered."""
        amount = amount[..., None]
        self.paint = self.paint * (1 - amount) + np.asarray(colour, np.float32) * amount

    def bleed(self) -> None:
        """Carry the neighbouring paint out under the clear parts; farther out, one flat colour is cheaper to store."""
        clear = self.cover < 0.004
        if clear.any() and not clear.all():
            away, nearest = ndimage.distance_transform_edt(clear, return_indices=True)
            flat = self.paint[~clear].mean(0)
            self.paint = self.paint[tuple(nearest)]
            self.paint[away > 6] = flat

    def save(self, name: str, *, opaque: bool = False, step: int = 1) -> None:
        """Write the art as PNG, by rename. With `step` 2 the paint has half as many shades: strokes hide the loss."""
        ART.mkdir(exist_ok=True)
        if not opaque:
            self.bleed()
        paint = np.clip(np.rint(self.paint / step) * step, 0, 255).astype(np.uint8)
        if opaque:
            image = Image.fromarray(paint)
        else:
            alpha = np.clip(np.rint(self.cover * 255), 0, 255).astype(np.uint8)
            image = Image.fromarray(np.dstack([paint, alpha]))
        part = ART / f".{name}.part"
        image.save(part, "PNG", optimize=True)
        part.replace(ART / name)


# ---------------------------------------------------------------- brushes


def smooth(low: float, high: float, value: Array) -> Array:
    """Rise from 0 at `low` to 1 at `high`, level at both ends; low may be above high."""
    t = np.clip((value - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


def ramp(value: Array, stops: Sequence[tuple[float, Colour]]) -> Array:
    """Colour by value, through stops in rising order, with the corners rounded off."""
    at = np.array([stop for stop, _ in stops])
    fine = np.linspace(at[0], at[-1], 1024)
    table = np.stack([np.interp(fine, at, [c[i] for _, c in stops]) for i in range(3)], -1)
    table = ndimage.gaussian_filter1d(table, 22, axis=0, mode="nearest")
    return np.stack([np.interp(value, fine, table[:, i]) for i in range(3)], -1).astype(np.float32)


def rounded(places: Array) -> Array:
    """Ease places toward whole numbers, so that what is interpolated between them has no corners."""
    whole = np.floor(places)
    part = places - whole
    return whole + part * part * (3 - 2 * part)


def cloudiness(x: Array, y: Array, seed: int, octaves: int = 5) -> Array:
    """Fractal value noise at the given places, about 0 to 1; one unit is the largest blob."""
    rng = np.random.default_rng(seed)
    total = np.zeros(x.shape, np.float32)
    weight, weights = 1.0, 0.0
    for octave in range(octaves):
        tile = rng.random((64, 64)).astype(np.float32)
        shift = rng.random(2) * 64
        places = [rounded(y * 2**octave + shift[0]), rounded(x * 2**octave + shift[1])]
        total += weight * ndimage.map_coordinates(tile, places, order=1, mode="grid-wrap", prefilter=False)
        weights += weight
        weight *= 0.5
    spread = (total / weights - 0.5) * 1.9 + 0.5
    return np.clip(spread, 0, 1)


def go_over(
    glass: Glass,
    seed: int,
    count: int,
    length: float,
    thickness: float,
    *,
    strength: float = 0.3,
    liveliness: float = 7.0,
    slope: float = 0.06,
) -> None:
    """Go over the whole glass with level strokes of the paint that is there already, each a little off in colour.

    This is what makes a gradient look painted. Strokes are three bristles wide, so that their ends are ragged.
    """
    rng = np.random.default_rng(seed)
    surface = cairo.ImageSurface(cairo.FORMAT_RGB24, glass.width, glass.height)
    data = np.ndarray((glass.height, glass.width, 4), np.uint8, surface.get_data())
    data[..., :3] = np.clip(glass.paint[..., ::-1], 0, 255)
    surface.mark_dirty()
    ctx = glass.cel(surface)
    columns = rng.integers(0, glass.width, count)
    rows = rng.integers(0, glass.height, count)
    colours = glass.paint[rows, columns] + rng.normal(0, liveliness, (count, 1)) + rng.normal(0, 2.5, (count, 3))
    for i in range(count):
        x, y = glass.x[rows[i], columns[i]], glass.y[rows[i], columns[i]]
        reach = length * rng.uniform(0.4, 1.3)
        rise = reach * rng.normal(0, slope)
        red, green, blue = np.clip(colours[i] / 255, 0, 1)
        for bristle in (-1, 0, 1):
            lift = bristle * thickness * 0.34
            start, end = rng.uniform(-0.5, -0.35), rng.uniform(0.35, 0.5)
            ctx.set_source_rgba(red, green, blue, strength)
            ctx.set_line_width(thickness * rng.uniform(0.3, 0.5))
            ctx.move_to(x + start * reach, y + start * rise + lift)
            bend = thickness * rng.normal(0, 0.3)
            ctx.curve_to(
                x - 0.1 * reach,
                y + lift + bend,
                x + 0.1 * reach,
                y + lift + bend,
                x + end * reach,
                y + end * rise + lift,
            )
            ctx.stroke()
    surface.flush()
    glass.paint = data[..., 2::-1].astype(np.float32)


def unit(colour: Sequence[float], jitter: float = 0.0) -> tuple[float, float, float]:
    """Give a colour as cairo wants it, shifted lighter or darker by `jitter` of 255."""
    red, green, blue = (min(1.0, max(0.0, (part + jitter) / 255)) for part in colour)
    return red, green, blue


def mix(one: Colour, other: Colour, amount: float) -> Colour:
    """Mix two colours."""
    return tuple(a + (b - a) * amount for a, b in zip(one, other, strict=True))  # type: ignore[return-value]


def polygon(ctx: cairo.Context, points: Sequence[tuple[float, float]]) -> None:
    """Trace a closed shape."""
    for point in points:
        ctx.line_to(*point)
    ctx.close_path()


# ---------------------------------------------------------------- sky and morning star


def sky() -> None:
    """Paint night giving way to day, with thin cloud lit from under the horizon."""
    glass = Glass("sky", (1240, 902))
    x, y = glass.x, glass.y
    sag = 46 * np.exp(-(((x - GLOW_X) / 620) ** 2))  # the colours stand higher over the place of the glow
    glass.paint = ramp(
        y - sag,
        [
            (-700, ROSE),
            (-260, PEACH),
            (-130, GOLD),
            (-40, (252, 192, 152)),
            (70, (226, 150, 152)),
            (190, (172, 120, 160)),
            (330, (112, 92, 150)),
            (480, (66, 66, 122)),
            (640, (38, 42, 90)),
            (760, INDIGO),
        ],
    )
    glow = np.exp(-(((x - GLOW_X) / 520) ** 2) - ((y + 110) / 190) ** 2)
    glass.tint((255, 226, 178), 0.55 * glow)
    core = np.exp(-(((x - GLOW_X) / 250) ** 2) - ((y + 100) / 64) ** 2)
    glass.tint((255, 240, 206), 0.6 * core)
    # Long banks of cloud: noise stretched along the horizon, and more stretched the lower it lies.
    squash = 70 + 50 * smooth(-100, 500, y)
    drift = 60 * cloudiness(x / 500, y / 200, 11, 3)
    bank = cloudiness((x + drift) / 620, (y + drift * 0.5) / squash, 5, 5)
    body = smooth(0.47, 0.70, bank) * smooth(-150, 10, y) * smooth(600, 280, y)
    under = cloudiness((x + drift) / 620, (y - 16 + drift * 0.5) / squash, 5, 5)  # what lies a little lower
    lit = np.clip((bank - under) * 5, 0, 1) * smooth(480, -20, y)
    shade = ramp(y, [(-200, (206, 138, 156)), (60, (176, 118, 158)), (260, (104, 86, 146)), (560, (52, 54, 108))])
    glass.tint(shade, 0.72 * body)
    glass.tint((255, 192, 160), 0.85 * lit * body)
    wisp = smooth(0.58, 0.92, cloudiness((x + 2 * y) / 420, y / 26, 23, 4)) * smooth(40, 180, y) * smooth(640, 320, y)
    glass.tint((232, 168, 176), 0.22 * wisp)
    go_over(glass, 1, 2600, 300, 26, strength=0.16, liveliness=5)
    go_over(glass, 2, 3200, 130, 11, strength=0.16, liveliness=5)
    faint_stars(glass)
    glass.save("sky.png", opaque=True, step=2)


def faint_stars(glass: Glass) -> None:
    """Prick out the last few stars overhead; they thin out toward the day."""
    rng = np.random.default_rng(77)

    def draw(ctx: cairo.Context) -> None:
        for _ in range(90):
            x, y = rng.uniform(glass.left, glass.right), rng.uniform(250, glass.top)
            if rng.random() > (y - 250) / 380:
                continue
            ctx.arc(x, y, rng.uniform(0.9, 1.9), 0, math.tau)
            ctx.set_source_rgba(*unit((236, 230, 246)), rng.uniform(0.25, 0.8) * min(1, (y - 230) / 300))
            ctx.fill()

    glass.cover[:] = 1
    glass.draw(draw)


def morning_star() -> None:
    """Paint the planet: a small disc, a halo, and four faint rays such as a wet brush leaves."""
    glass = Glass("morning star", (400, 400))
    dx, dy = glass.x - glass.centre_x, glass.y - glass.centre_y
    r = np.hypot(dx, dy)
    edge = smooth(178, 120, r)  # everything is clear before the glass's art ends
    disc = smooth(8.6, 6.6, r)
    halo = 0.50 * np.exp(-((r / 15) ** 1.3)) + 0.16 * np.exp(-r / 44)
    ray = np.exp(-np.abs(dx) / 1.7 - np.abs(dy) / 22) + np.exp(-np.abs(dy) / 1.7 - np.abs(dx) / 22)
    glass.cover = np.clip(np.maximum(disc, edge * (halo + 0.4 * ray)), 0, 1).astype(np.float32)
    glass.paint = ramp(r, [(0, (255, 253, 242)), (9, (255, 249, 230)), (40, (255, 226, 204)), (180, (240, 196, 204))])
    glass.save("morning_star.png")


# ---------------------------------------------------------------- hills


def ridge(x: Array, seed: int, height: float, roughness: float) -> Array:
    """Return the skyline of a range of hills at each x."""
    zero = np.zeros_like(x)
    broad = cloudiness(x / 520, zero, seed, 3)
    fine = cloudiness(x / 60, zero, seed + 1, 4)
    return height * broad + roughness * fine


def far_hills() -> None:
    """Paint four ranges, each paler than the one before it, and the strip of sea at their feet."""
    glass = Glass("far hills", (1900, 408))
    x, y = glass.x, glass.y
    open_sea = np.exp(-(((x - GLOW_X) / 330) ** 2))  # where the hills stand back and the sea goes out
    ranges = [
        # seed, height, roughness, how much the gap lowers it, colour at the ridge, colour at the foot
        (31, 250, 12, 0.86, (196, 136, 168), (246, 180, 158)),
        (48, 196, 14, 0.98, (162, 116, 164), (236, 166, 160)),
        (59, 150, 18, 1.12, (122, 96, 154), (206, 144, 164)),
        (75, 98, 22, 1.35, (88, 78, 140), (160, 116, 160)),
    ]
    for seed, height, roughness, gap, crest, foot in ranges:
        top = HORIZON - 6 + ridge(x, seed, height, roughness) * np.clip(1 - gap * open_sea, -0.3, 1)
        shape = smooth(-1.0, 1.0, top - y)
        depth = np.clip((top - y) / (height * 0.7), 0, 1)[..., None]
        mottle = 10 * (cloudiness(x / 70, y / 26, seed + 2, 4) - 0.5)[..., None]
        colour = np.array(crest) * (1 - depth) + np.array(foot) * depth + mottle
        warm = np.exp(-(((x - GLOW_X) / 330) ** 2))[..., None] * 0.42
        colour = colour * (1 - warm) + np.array((255, 196, 156)) * warm
        glass.lay(colour, shape)
    sea = ramp(y, [(-230, (206, 138, 160)), (-150, (240, 174, 156)), (HORIZON, (255, 212, 168))])
    shimmer = cloudiness(x / 150, y / 3.2, 91, 3)
    sea = sea + ((shimmer - 0.5) * 34)[..., None]
    away = smooth(300, 1000, np.abs(x - GLOW_X))[..., None]
    sea = sea * (1 - 0.5 * away) + np.array((168, 122, 164)) * 0.5 * away
    glass.lay(sea, smooth(HORIZON + 1.5, HORIZON - 1.5, y))
    haze = np.exp(-(((y - HORIZON) / 26) ** 2)) * (0.5 + 0.4 * cloudiness(x / 260, y / 40, 95, 3))
    glass.tint((255, 212, 176), np.clip(haze, 0, 0.85))
    cover = glass.cover * smooth(glass.bottom + 1, glass.bottom + 22, y)  # no edge, even where the near water is thin
    glass.bleed()  # or the strokes along the crests would pick up bare glass
    go_over(glass, 3, 3000, 70, 8, strength=0.2, liveliness=4)
    glass.cover = cover
    glass.save("far_hills.png", step=2)


# ---------------------------------------------------------------- water and village


def water(x: Array, y: Array) -> Array:
    """Colour of the estuary's water: the sky upside down, broken up by ripples that grow toward the lens."""
    fall = HORIZON - y  # how far below the horizon
    near = np.maximum(fall, 6.0)
    u, v = x / near, 260 / near  # a plane that runs away from us
    swell = cloudiness(u * 1.3 + 40, v * 9, 201, 4)
    ripple = cloudiness(u * 3.2, v * 26, 203, 3)
    wobble = ((swell - 0.5) * 0.32 + (ripple - 0.5) * 0.22) * near
    colour = ramp(
        np.clip(fall + wobble, 0, 600),
        [
            (0, (252, 198, 162)),
            (50, (242, 178, 158)),
            (110, (208, 144, 160)),
            (190, (150, 112, 158)),
            (300, (92, 82, 138)),
            (430, (56, 56, 108)),
            (600, (36, 38, 80)),
        ],
    )
    # The path of the glow: a broad column, ragged at its sides because every ripple catches it or does not.
    # The hills stand upside down to both sides.
    shade = smooth(150, 620, np.abs(x - GLOW_X)) * np.exp(-(((fall - 90) / 80) ** 2)) * (0.5 + 0.5 * ripple)
    colour = colour * (1 - 0.5 * shade[..., None]) + np.array((112, 88, 150)) * 0.5 * shade[..., None]
    path = np.exp(-(((x - GLOW_X + 26 * (swell - 0.5) * fall / 60) / (120 + 0.5 * fall)) ** 2))
    caught = smooth(0.50, 0.80, 0.55 * swell + 0.45 * ripple + 0.22 * path)
    amount = (path * (0.18 + 0.82 * caught) * smooth(640, 60, fall))[..., None]
    light = ramp(fall, [(0, (255, 220, 174)), (110, (255, 206, 168)), (260, (240, 168, 164)), (600, (190, 124, 160))])
    colour = colour * (1 - 0.85 * amount) + light * 0.85 * amount
    dark = (smooth(0.56, 0.80, ripple) * (1 - path) * 0.30 * smooth(10, 120, fall))[..., None]
    return colour * (1 - dark) + np.array((48, 46, 98)) * dark


class House:
    """A house on the shore: where it stands, its size, its roof, and which windows are lit."""

    def __init__(self, rng: np.random.Generator, x: float, scale: float):
        self.x = x
        self.width = rng.uniform(46, 84) * scale
        self.walls = rng.choice([36, 62, 66, 92], p=[0.35, 0.3, 0.2, 0.15]) * rng.uniform(0.9, 1.1) * scale
        self.roof = self.width * rng.uniform(0.46, 0.72)
        self.side = rng.random() < 0.45  # seen along the ridge instead of at the gable
        self.chimney = rng.uniform(-0.3, 0.3)
        self.lean = rng.normal(0, 1.2)
        floors, columns = max(1, round(self.walls / (32 * scale))), max(1, round(self.width / (26 * scale)))
        awake = rng.random() < 0.75
        self.windows = [  # middle, foot, lit or not; from the ground up
            ((column + 0.5) / columns - 0.5, (floor + 0.36) / floors, awake and rng.random() < 0.42)
            for floor in range(floors)
            for column in range(columns)
        ]
        self.pane = 8.5 * scale
        self.shade = rng.normal(0, 6)

    def outline(self, ground: float) -> list[tuple[float, float]]:
        """Give the house's outline, roof and all."""
        half, eave = self.width / 2, self.width * 0.08
        base, wall = ground - 8, ground + self.walls
        peak = wall + self.roof
        left, right = self.x - half, self.x + half
        if self.side:
            top = [(right - half * 0.28 + self.lean, peak), (left + half * 0.28 + self.lean, peak)]
        else:
            top = [(self.x + self.lean, peak)]
        return [
            (left, base),
            (right, base),
            (right, wall),
            (right + eave, wall - eave * 0.8),
            *top,
            (left - eave, wall - eave * 0.8),
            (left, wall),
        ]

    def roof_outline(self, ground: float) -> list[tuple[float, float]]:
        """Give only the roof."""
        return self.outline(ground)[3:-1]


def row_of_houses(seed: int, spans: Sequence[tuple[float, float]], scale: float) -> list[House]:
    """Set houses side by side along the given stretches of the shore."""
    rng = np.random.default_rng(seed)
    houses = []
    for start, end in spans:
        x = start
        while x < end:
            house = House(rng, x, scale)
            houses.append(house)
            x += house.width * rng.uniform(0.85, 1.45)
    return houses


def draw_houses(ctx: cairo.Context, houses: Sequence[House], ground: float, wall: Colour, roof: Colour) -> None:
    """Draw a row: walls, roofs a little lighter on the side of the glow, chimneys."""
    for house in houses:
        toward = 10 * math.exp(-(((house.x - GLOW_X) / 700) ** 2))
        top = ground + house.walls + house.roof
        chimney = house.x + house.chimney * house.width
        ctx.set_source_rgb(*unit(wall, house.shade))
        ctx.rectangle(chimney, ground + house.walls, house.width * 0.11, house.roof * 0.98)
        ctx.fill()
        polygon(ctx, house.outline(ground))
        ctx.fill()
        polygon(ctx, house.roof_outline(ground))
        ctx.set_source_rgb(*unit(roof, house.shade + toward))
        ctx.fill()
        # A thread of light along the slope that looks at the day.
        sign = 1 if house.x < GLOW_X else -1
        ctx.move_to(house.x + house.lean + (sign * house.width * 0.36 if house.side else 0), top)
        ctx.line_to(house.x + sign * house.width * 0.57, ground + house.walls - 4)
        ctx.set_line_width(1.7)
        ctx.set_source_rgba(*unit((236, 160, 160)), 0.55 if house.x * sign < GLOW_X * sign else 0.3)
        ctx.stroke()


def draw_windows(ctx: cairo.Context, houses: Sequence[House], ground: float, dark: Colour) -> None:
    """Draw every window: those of who is up are lit, the others hold a little of the sky."""
    for house in houses:
        width, height = house.pane, house.pane * 1.25
        for along, up, lit in house.windows:
            x, y = house.x + along * house.width * 0.86, ground + up * house.walls
            ctx.rectangle(x - width / 2, y, width, height)
            ctx.set_source_rgb(*unit(WINDOW if lit else dark, house.shade))
            ctx.fill()
            ctx.rectangle(x - 0.7, y, 1.4, height)
            ctx.rectangle(x - width / 2, y + height * 0.55, width, 1.2)
            ctx.set_source_rgba(*unit((70, 42, 60)), 0.75 if lit else 0.35)
            ctx.fill()


def draw_lamp_tower(ctx: cairo.Context, x: float, ground: float, wall: Colour, roof: Colour) -> None:
    """Draw the tower at the end of the quay: square, tapering, a lamp room under a bell of a roof."""
    polygon(ctx, [(x - 27, ground - 8), (x + 27, ground - 8), (x + 19, ground + 168), (x - 19, ground + 168)])
    ctx.set_source_rgb(*unit(wall))
    ctx.fill()
    polygon(ctx, [(x + 9, ground - 8), (x + 27, ground - 8), (x + 19, ground + 168), (x + 8, ground + 168)])
    ctx.set_source_rgba(*unit(mix(roof, ROSE, 0.35)), 0.55)
    ctx.fill()
    ctx.rectangle(x - 25, ground + 164, 50, 6)
    ctx.set_source_rgb(*unit(roof))
    ctx.fill()
    ctx.rectangle(x - 14, ground + 170, 28, 25)
    ctx.set_source_rgb(*unit(WINDOW, 14))
    ctx.fill()
    ctx.set_source_rgb(*unit(wall))
    for post in (-15, -5.5, 4, 13):
        ctx.rectangle(x + post, ground + 170, 2.4, 26)
    ctx.fill()
    ctx.move_to(x - 24, ground + 194)
    ctx.curve_to(x - 14, ground + 200, x - 8, ground + 218, x, ground + 240)
    ctx.curve_to(x + 8, ground + 218, x + 14, ground + 200, x + 24, ground + 194)
    ctx.close_path()
    ctx.set_source_rgb(*unit(roof))
    ctx.fill()
    ctx.set_line_width(2)
    ctx.move_to(x, ground + 236)
    ctx.line_to(x, ground + 262)
    ctx.stroke()


def draw_trees(
    ctx: cairo.Context, seed: int, spans: Sequence[tuple[float, float, float]], ground: float, colour: Colour
) -> None:
    """Draw rounded trees out of many dabs along the given stretches (from, to, height)."""
    rng = np.random.default_rng(seed)
    for start, end, height in spans:
        x = start
        while x < end:
            crown, tall = rng.uniform(20, 38) * height / 70, height * rng.uniform(0.7, 1.15)
            middle = ground + tall - crown * 0.8
            for _ in range(260):
                angle, out = rng.uniform(0, math.tau), math.sqrt(rng.random())
                wave = 1 + 0.16 * math.sin(3 * angle + x)  # no crown is round
                ctx.arc(
                    x + crown * out * wave * math.cos(angle),
                    middle + crown * 0.95 * out * wave * math.sin(angle),
                    crown * rng.uniform(0.07, 0.15),
                    0,
                    math.tau,
                )
                ctx.set_source_rgb(*unit(colour, rng.normal(0, 2.5) + 8 * math.sin(angle) * out))
                ctx.fill()
            ctx.rectangle(x - crown * 0.07, ground - 8, crown * 0.16, tall * 0.7)
            ctx.set_source_rgb(*unit(colour, -4))
            ctx.fill()
            x += crown * rng.uniform(0.8, 1.5)


def draw_bank(ctx: cairo.Context, seed: int, bank: tuple[float, float], colour: Colour) -> None:
    """Draw the low shore that the houses stand on, running out to a point at its open end."""
    start, end = bank
    rng = np.random.default_rng(seed)
    ctx.move_to(start, SHORE - 14)
    steps = 40
    for i in range(steps + 1):
        x = start + (end - start) * i / steps
        lift = 9 * math.sin(math.pi * min(1, 0.5 + 0.5 * (1 - i / steps))) + rng.uniform(0, 3)
        ctx.line_to(x, SHORE - 14 + lift + 6 * (1 - i / steps))
    ctx.line_to(end, SHORE - 16)
    ctx.close_path()
    ctx.set_source_rgb(*unit(colour))
    ctx.fill()


def draw_jetty(ctx: cairo.Context, start: float, end: float, deck: float) -> None:
    """Draw a jetty: two planks of deck and legs of uneven length that go into the water."""
    rng = np.random.default_rng(int(abs(start)))
    ctx.set_source_rgb(*unit(TIMBER))
    x, step = min(start, end), 30
    while x < max(start, end):
        ctx.move_to(x, deck + rng.uniform(2, 12))
        ctx.line_to(x + rng.normal(0, 1.5), SHORE - 16 - rng.uniform(0, 4))
        ctx.set_line_width(rng.uniform(3.2, 5))
        ctx.stroke()
        x += step * rng.uniform(0.8, 1.2)
    ctx.set_line_width(5)
    ctx.move_to(start, deck)
    ctx.line_to(end, deck - 2)
    ctx.stroke()


def draw_moored_boat(ctx: cairo.Context, x: float, y: float, length: float, mast: float) -> None:
    """Draw a small boat at rest, side on, with or without a mast."""
    half = length / 2
    ctx.move_to(x - half, y + length * 0.15)
    ctx.curve_to(x - half * 0.8, y - length * 0.06, x + half * 0.7, y - length * 0.06, x + half, y + length * 0.17)
    ctx.curve_to(x + half * 0.4, y + length * 0.09, x - half * 0.4, y + length * 0.08, x - half, y + length * 0.15)
    ctx.set_source_rgb(*unit(TIMBER))
    ctx.fill()
    if mast:
        ctx.set_line_width(2.6)
        ctx.move_to(x - half * 0.1, y)
        ctx.line_to(x - half * 0.06, y + mast)
        ctx.stroke()
        ctx.set_line_width(1.1)
        ctx.move_to(x - half * 0.06, y + mast * 0.96)
        ctx.line_to(x + half * 0.9, y + length * 0.15)
        ctx.stroke()
        ctx.set_line_width(4.5)  # the sail, furled on its boom
        ctx.move_to(x - half * 0.08, y + length * 0.24)
        ctx.line_to(x - half * 0.72, y + length * 0.27)
        ctx.stroke()


LEFT_BANK, RIGHT_BANK = (-1100.0, -150.0), (1100.0, 610.0)
BACK_WALL, BACK_ROOF = (74, 66, 122), (92, 78, 132)
FRONT_WALL, FRONT_ROOF = (46, 43, 90), (62, 54, 102)
TIMBER: Colour = (38, 36, 76)


def village_shapes(ctx: cairo.Context, hill: Sequence[House], back: Sequence[House], front: Sequence[House]) -> None:
    """Draw all that stands on the shore, row by row; only the front row's windows come later, out of the haze."""
    rise = [(-1120, -700, 150), (-680, -560, 118), (-540, -430, 90), (760, 900, 96), (900, 1130, 118)]
    draw_trees(ctx, 301, rise, SHORE + 6, (104, 88, 146))
    draw_houses(ctx, hill, SHORE + 66, (104, 88, 144), (122, 98, 150))
    draw_windows(ctx, hill, SHORE + 66, (136, 112, 156))
    draw_trees(ctx, 309, [(-1120, -480, 76), (720, 1130, 84)], SHORE + 4, (90, 80, 136))
    draw_houses(ctx, back, SHORE + 18, BACK_WALL, BACK_ROOF)
    draw_windows(ctx, back, SHORE + 18, (112, 94, 144))
    draw_trees(ctx, 303, [(-740, -650, 70), (-372, -330, 50), (860, 980, 84), (640, 690, 40)], SHORE, (58, 57, 108))
    draw_lamp_tower(ctx, -236, SHORE, (58, 54, 102), (74, 62, 112))
    draw_houses(ctx, front, SHORE, FRONT_WALL, FRONT_ROOF)
    for seed, bank in ((305, LEFT_BANK), (307, RIGHT_BANK)):
        draw_bank(ctx, seed, bank, (42, 40, 84))
    draw_jetty(ctx, -300, 20, SHORE + 3)
    draw_jetty(ctx, 760, 540, SHORE + 2)


def village() -> None:
    """Paint the village on its two banks, its lights, and the near water with all of it upside down."""
    glass = Glass("village", (2100, 1051))
    x, y = glass.x, glass.y
    hill = row_of_houses(313, [(-1130, -640), (-560, -470), (880, 1130)], 0.62)
    back = row_of_houses(311, [(-1130, -400), (690, 1080)], 0.92)
    front = row_of_houses(317, [(-1110, -760), (-660, -310), (730, 880), (980, 1120)], 1.08)

    # The shore, on its own sheet for now: the water needs it whole, to turn it upside down.
    shore = Glass("village", (glass.width, glass.height))
    shore.draw(lambda ctx: village_shapes(ctx, hill, back, front))
    grain = 12 * (cloudiness(x / 40, y / 22, 331, 4) - 0.5)
    shore.paint += grain[..., None]
    lift = smooth(SHORE + 46, SHORE - 12, y) * 0.22 + 0.16 * np.exp(-(((x - GLOW_X) / 420) ** 2))
    shore.tint((190, 130, 160), lift)  # the morning's haze lies in the streets

    def lights(ctx: cairo.Context) -> None:
        draw_windows(ctx, front, SHORE, (96, 82, 132))
        for x_lamp in (12.0, 548.0):  # a lamp at the head of each jetty
            ctx.rectangle(x_lamp - 1, SHORE, 2, 32)
            ctx.set_source_rgb(*unit(TIMBER))
            ctx.fill()
            ctx.arc(x_lamp, SHORE + 34, 4.2, 0, math.tau)
            ctx.set_source_rgb(*unit((255, 226, 160)))
            ctx.fill()

    shore.draw(lights)

    # Water, opaque below the shore and thinning out to nothing where the river is open to the sea.
    glass.paint = water(x, y)
    ragged = 10 * (cloudiness(x / 90, y / 5, 341, 3) - 0.5)
    glass.cover = smooth(SHORE + 26, SHORE - 26, y + ragged).astype(np.float32)
    go_over(glass, 4, 5200, 90, 5, strength=0.22, liveliness=5, slope=0.015)
    reflect(glass, shore)
    glass.lay(shore.paint, shore.cover)
    glow_of_lamps(glass, shore)
    glass.draw(lambda ctx: draw_smoke(ctx, front), soften=5)
    glass.draw(draw_moored_boats)
    glass.save("village.png", step=2)


def draw_smoke(ctx: cairo.Context, houses: Sequence[House]) -> None:
    """Draw the first fires' smoke from a few chimneys: up, and then west where the air takes it."""
    rng = np.random.default_rng(347)
    for house in houses[1::3]:
        x = house.x + (house.chimney + 0.05) * house.width
        y = SHORE + house.walls + house.roof
        for i in range(46):
            t = i / 46
            ctx.arc(x - 66 * t**1.7 + rng.normal(0, 2) + 5 * math.sin(7 * t), y + 128 * t, 3 + 11 * t, 0, math.tau)
            ctx.set_source_rgba(*unit((214, 176, 196)), 0.13 * (1 - t))
            ctx.fill()


def draw_moored_boats(ctx: cairo.Context) -> None:
    """Moor four boats off the jetties, each over its own dark smear of reflection."""
    boats = ((-96, SHORE - 22, 84, 104), (-30, SHORE - 34, 60, 0), (640, SHORE - 24, 78, 92), (-420, SHORE - 40, 70, 0))
    for x, y, length, mast in boats:
        for i in range(7):
            ctx.set_line_width(3.2)
            reach = length * (0.42 - 0.045 * i)
            ctx.move_to(x - reach, y - 4 - 4.2 * i)
            ctx.line_to(x + reach * 0.9, y - 4 - 4.2 * i)
            ctx.set_source_rgba(*unit(TIMBER), 0.5 - 0.06 * i)
            ctx.stroke()
        draw_moored_boat(ctx, x, y, length, mast)


def reflect(glass: Glass, shore: Glass) -> None:
    """Lay the shore upside down on the water: shaken sideways by the ripples, drawn out downward, and sinking away."""
    x, y = glass.x, glass.y
    fall = np.maximum(SHORE - 14 - y, 0)
    shake = (cloudiness(x / 120, y / 5.0, 351, 3) - 0.5) * (5 + 0.16 * fall)
    stretch = (cloudiness(x / 60, y / 7.0, 353, 2) - 0.5) * (4 + 0.10 * fall)
    source_y = SHORE - 14 + fall * 0.86 + stretch
    rows = glass.height / 2 - (source_y - glass.centre_y) * glass.scale - 0.5
    columns = (x + shake - glass.centre_x) * glass.scale + glass.width / 2 - 0.5
    sheet = np.dstack([shore.paint * shore.cover[..., None], shore.cover])
    sheet = ndimage.gaussian_filter(sheet, (3.2 * glass.scale, 0.8 * glass.scale, 0))
    turned = np.stack([ndimage.map_coordinates(sheet[..., i], [rows, columns], order=1) for i in range(4)], -1)
    alpha = turned[..., 3] * smooth(SHORE - 13, SHORE - 15, y) * (0.80 - 0.45 * smooth(0, 200, fall))
    colour = turned[..., :3] / np.maximum(turned[..., 3:], 1e-3)
    glass.tint(colour, alpha * (glass.cover > 0))


def glow_of_lamps(glass: Glass, shore: Glass) -> None:
    """Let every lit window warm the air about it and stand as a broken thread of light in the water."""
    warm = ((shore.paint[..., 0] - shore.paint[..., 2]) > 42) & (shore.paint[..., 0] > 215)
    seeds = (warm & (shore.cover > 0.9)).astype(np.float32)
    near = ndimage.gaussian_filter(seeds, 5 * glass.scale) * 2.6
    far = ndimage.gaussian_filter(seeds, 22 * glass.scale) * 6
    air = np.clip(near + far, 0, 0.6) * (glass.y > SHORE - 14)
    glass.tint((255, 190, 120), air * glass.cover * (1 - seeds))
    across = ndimage.gaussian_filter1d(seeds.sum(0), 2.2 * glass.scale)  # each column's light, whatever its height
    fall = np.maximum(SHORE - 14 - glass.y, 0)
    ripples = smooth(0.42, 0.62, cloudiness(glass.x / 22, glass.y / 4.5, 361, 3))
    thread = np.clip(across / 9, 0, 1)[None, :] * np.exp(-fall / 60) * (fall > 0) * (0.12 + 0.88 * ripples)
    glass.tint((255, 200, 130), np.clip(thread, 0, 0.85))


# ---------------------------------------------------------------- mist


def mist_bank() -> None:
    """Paint the mist: two layers of soft noise in a lens-shaped band, thickest over the open water."""
    glass = Glass("mist bank", (900, 200))
    x, y = glass.x, glass.y
    middle = -218 + 14 * np.sin(x / 330)
    band = np.exp(-(((y - middle) / 58) ** 2))
    edge = smooth(glass.top - 4, glass.top - 60, y) * smooth(glass.bottom + 4, glass.bottom + 60, y)
    billow = cloudiness(x / 330, y / 66, 401, 4)
    thread = cloudiness(x / 520, y / 20, 403, 3)
    thick = 0.55 + 0.45 * smooth(900, 100, np.abs(x - 120))
    glass.cover = np.clip(band * edge * thick * (0.95 * billow + 0.30 * thread - 0.22), 0, 0.66).astype(np.float32)
    glass.cover = ndimage.gaussian_filter(glass.cover, 2)
    glow = np.exp(-(((x - GLOW_X) / 520) ** 2))[..., None]
    glass.paint = (np.array((196, 158, 190)) * (1 - glow) + np.array((250, 200, 178)) * glow).astype(np.float32)
    glass.save("mist_bank.png")


# ---------------------------------------------------------------- boat


# One stroke in six drawings: lean of the back in degrees (toward the stern is negative), reach of the hands toward the
# stern, where the blade is along the hull, how far it is out of the water.
STROKE = {
    1: (-30, -44, 66, 0),  # catch
    2: (-8, -26, 6, 0),  # drive
    3: (20, -2, -62, 0),  # finish
    4: (16, -6, -58, 20),  # lift
    5: (-6, -24, 2, 26),  # recovery
    6: (-26, -42, 62, 16),  # reach
}
HULL: Colour = (30, 28, 60)
COAT: Colour = (52, 44, 84)
LAMP: Colour = (255, 206, 128)


def boat() -> None:
    """Paint the six drawings of the boat: same hull, same lamp, a rower at work."""
    for drawing in STROKE:
        glass = Glass("boat", (740, 400))
        paint_boat(glass, drawing)
        glass.save(f"boat_{drawing}.png")


def paint_boat(glass: Glass, drawing: int) -> None:
    """Paint one drawing: reflection and ripples first, then the boat on top of them."""
    x0, line = glass.centre_x, glass.centre_y - 20  # the waterline
    things = Glass("boat", (glass.width, glass.height))
    things.draw(lambda ctx: draw_boat(ctx, x0, line, drawing))

    # The reflection hangs from the waterline, cut into slices by the ripples.
    x, y = glass.x, glass.y
    fall = np.maximum(line - y, 0)
    shake = (cloudiness((x + 13 * drawing) / 70, (y + 3 * drawing) / 6, 501, 2) - 0.5) * (3 + 0.22 * fall)
    rows = glass.height / 2 - (line + fall * 0.9 - glass.centre_y) * glass.scale - 0.5
    columns = (x + shake - glass.centre_x) * glass.scale + glass.width / 2 - 0.5
    sheet = np.dstack([things.paint * things.cover[..., None], things.cover])
    turned = np.stack([ndimage.map_coordinates(sheet[..., i], [rows, columns], order=1) for i in range(4)], -1)
    alpha = turned[..., 3] * (fall > 0) * 0.72 * np.exp(-fall / 90) * smooth(glass.bottom + 2, glass.bottom + 40, y)
    glass.lay(turned[..., :3] / np.maximum(turned[..., 3:], 1e-3), alpha)
    glass.draw(lambda ctx: draw_wake(ctx, x0, line, drawing), soften=0.7)
    glass.lay(things.paint, things.cover)
    lamp_x, lamp_y = x0 + 139, line + 62
    r = np.hypot(x - lamp_x, y - lamp_y)
    glass.lay(LAMP, np.clip(0.55 * np.exp(-((r / 13) ** 1.4)) + 0.20 * np.exp(-r / 26), 0, 0.8) * smooth(92, 50, r))
    ripples = smooth(0.35, 0.6, cloudiness(x / 16, (y + 5 * drawing) / 4.5, 507, 2))
    thread = np.exp(-(((x - lamp_x - 3) / 6) ** 2)) * np.exp(-fall / 38) * (fall > 4) * ripples * 0.9
    glass.lay(LAMP, thread * smooth(glass.bottom + 2, glass.bottom + 40, y))


def draw_boat(ctx: cairo.Context, x0: float, line: float, drawing: int) -> None:
    """Draw the hull, the lamp on its pole at the bow (east), the rower with his back to it, and the near oar."""
    lean, hands, blade, lifted = STROKE[drawing]
    # Far oar, behind everything.
    oar(ctx, (x0 + hands + 4, line + 52), (x0 - 4 + blade * 0.7, line + 14 + lifted * 0.8), 0.75)
    rower(ctx, x0, line, lean, hands)
    # Hull: sheer rises to both ends, more to the bow.
    ctx.move_to(x0 - 158, line + 34)
    ctx.curve_to(x0 - 90, line + 20, x0 + 70, line + 18, x0 + 172, line + 46)
    ctx.curve_to(x0 + 150, line + 12, x0 + 132, line - 3, x0 + 108, line - 4)
    ctx.line_to(x0 - 128, line - 4)
    ctx.curve_to(x0 - 144, line + 4, x0 - 154, line + 18, x0 - 158, line + 34)
    ctx.close_path()
    ctx.set_source_rgb(*unit(HULL))
    ctx.fill_preserve()
    ctx.save()
    ctx.clip()
    ctx.set_line_width(1.6)
    for strake in (9, 17):
        ctx.move_to(x0 - 160, line + 32 - strake)
        ctx.curve_to(x0 - 90, line + 20 - strake, x0 + 70, line + 18 - strake, x0 + 172, line + 44 - strake)
        ctx.set_source_rgba(*unit((92, 78, 128)), 0.7)
        ctx.stroke()
    ctx.restore()
    ctx.set_line_width(3)  # the gunwale takes the light of the sky
    ctx.move_to(x0 - 157, line + 34)
    ctx.curve_to(x0 - 90, line + 20, x0 + 70, line + 18, x0 + 171, line + 46)
    ctx.set_source_rgb(*unit((172, 124, 150)))
    ctx.stroke()
    lamp_and_basket(ctx, x0, line)
    oar(ctx, (x0 + hands, line + 50), (x0 + blade, line - 26 + lifted), 1.0)


def lamp_and_basket(ctx: cairo.Context, x0: float, line: float) -> None:
    """Draw the lamp on its bent pole at the bow, and a covered basket in the stern."""
    ctx.set_line_width(2.4)
    ctx.move_to(x0 + 150, line + 36)
    ctx.curve_to(x0 + 150, line + 60, x0 + 150, line + 78, x0 + 139, line + 76)
    ctx.set_source_rgb(*unit(HULL))
    ctx.stroke()
    ctx.rectangle(x0 + 133.5, line + 54, 11, 15)
    ctx.set_source_rgb(*unit((255, 226, 158)))
    ctx.fill()
    ctx.rectangle(x0 + 132, line + 68, 14, 3)
    ctx.rectangle(x0 + 132, line + 51, 14, 3)
    ctx.set_source_rgb(*unit(HULL))
    ctx.fill()
    ctx.move_to(x0 - 118, line + 22)
    ctx.curve_to(x0 - 126, line + 34, x0 - 120, line + 42, x0 - 112, line + 43)
    ctx.line_to(x0 - 92, line + 42)
    ctx.curve_to(x0 - 84, line + 38, x0 - 82, line + 30, x0 - 88, line + 20)
    ctx.close_path()
    ctx.set_source_rgb(*unit((58, 48, 80)))
    ctx.fill()


def oar(ctx: cairo.Context, grip: tuple[float, float], tip: tuple[float, float], weight: float) -> None:
    """Draw an oar from the grip over the rowlock out to its blade."""
    (grip_x, grip_y), (blade_x, blade_y) = grip, tip
    ctx.set_source_rgb(*unit(mix(HULL, ROSE, 0.28 if weight == 1.0 else 0.18)))
    ctx.set_line_width(3.6 * weight)
    ctx.move_to(grip_x, grip_y)
    ctx.line_to(blade_x, blade_y)
    ctx.stroke()
    dx, dy = blade_x - grip_x, blade_y - grip_y
    reach = math.hypot(dx, dy)
    dx, dy = dx / reach, dy / reach
    ctx.set_line_width(8 * weight)
    ctx.move_to(blade_x - dx * 4, blade_y - dy * 4)
    ctx.line_to(blade_x + dx * 16 * weight, blade_y + dy * 16 * weight)
    ctx.stroke()


def rower(ctx: cairo.Context, x0: float, line: float, lean: float, hands: float) -> None:
    """Draw the rower: he sits facing the stern (west), so his back goes toward the bow as he pulls."""
    seat_x, seat_y = x0 + 34, line + 24
    ctx.save()
    ctx.translate(seat_x, seat_y)
    ctx.set_source_rgb(*unit(HULL, 6))  # legs, braced against the stretcher
    ctx.set_line_width(15)
    ctx.move_to(0, 6)
    ctx.line_to(-30, 16)
    ctx.line_to(-50, 0)
    ctx.stroke()
    ctx.rotate(math.radians(-lean))
    ctx.move_to(-15, -4)
    ctx.curve_to(-22, 24, -18, 50, -8, 60)
    ctx.curve_to(2, 66, 15, 60, 17, 46)
    ctx.curve_to(20, 28, 17, 10, 15, -4)
    ctx.close_path()
    ctx.set_source_rgb(*unit(COAT))
    ctx.fill_preserve()
    ctx.save()
    ctx.clip()
    ctx.set_line_width(9)  # the bow lamp on his back
    ctx.move_to(22, 0)
    ctx.curve_to(24, 28, 20, 50, 6, 66)
    ctx.set_source_rgba(*unit((232, 150, 110)), 0.75)
    ctx.stroke()
    ctx.restore()
    ctx.arc(-3, 73, 11.5, 0, math.tau)  # head
    ctx.set_source_rgb(*unit((120, 84, 104)))
    ctx.fill()
    ctx.move_to(-21, 77)  # a felt hat, brim down
    ctx.curve_to(-13, 79, -13, 79, -12, 80)
    ctx.curve_to(-12, 92, -8, 94, -2, 91)
    ctx.curve_to(4, 95, 9, 91, 8, 80)
    ctx.curve_to(12, 79, 14, 77, 16, 73)
    ctx.curve_to(8, 75, -10, 75, -21, 77)
    ctx.set_source_rgb(*unit((70, 56, 86)))
    ctx.fill_preserve()
    ctx.set_line_width(1.4)
    ctx.set_source_rgba(*unit((238, 170, 140)), 0.7)
    ctx.stroke()
    shoulder = ctx.user_to_device(0, 52)
    ctx.restore()
    arm(ctx, ctx.device_to_user(*shoulder), (x0 + hands, line + 50))


def arm(ctx: cairo.Context, shoulder: Place, hand: Place) -> None:
    """Draw an arm; the elbow drops as the hand comes home."""
    (sx, sy), (hx, hy) = shoulder, hand
    elbow_x, elbow_y = (sx + hx) / 2 + 4, (sy + hy) / 2 - max(0, 30 - abs(sx - hx) / 2)
    ctx.set_line_width(11)
    ctx.set_source_rgb(*unit(COAT, 12))
    ctx.move_to(sx, sy)
    ctx.line_to(elbow_x, elbow_y)
    ctx.line_to(hx, hy)
    ctx.stroke()
    ctx.arc(hx, hy, 5, 0, math.tau)
    ctx.set_source_rgb(*unit((150, 104, 112)))
    ctx.fill()


def draw_wake(ctx: cairo.Context, x0: float, line: float, drawing: int) -> None:
    """Draw the light on the water about the hull: a thread at the waterline, ripples astern, rings at the blade."""
    rng = np.random.default_rng(520 + drawing)
    ctx.set_line_width(2.2)
    ctx.move_to(x0 - 150, line - 5)
    ctx.curve_to(x0 - 60, line - 7, x0 + 60, line - 7, x0 + 126, line - 4)
    ctx.set_source_rgba(*unit((246, 190, 170)), 0.65)
    ctx.stroke()
    for i in range(9):
        x, y = x0 - 170 - rng.uniform(0, 60), line - 4 - i * 3.4
        reach = rng.uniform(14, 44)
        ctx.set_line_width(rng.uniform(1.2, 2.2))
        ctx.move_to(x - reach, y)
        ctx.curve_to(x - reach / 3, y + 2, x + reach / 3, y + 2, x + reach, y)
        ctx.set_source_rgba(*unit((238, 182, 174)), rng.uniform(0.2, 0.5))
        ctx.stroke()
    _, _, blade, lifted = STROKE[drawing]
    ring_x, strength = (x0 + blade, 0.8) if not lifted else (x0 - 66, 0.5)
    for ring in range(3):
        ctx.save()
        ctx.translate(ring_x, line - 34)
        ctx.scale(1, 0.26)
        ctx.arc(0, 0, 13 + ring * 11, 0, math.tau)
        ctx.restore()
        ctx.set_line_width(1.7)
        ctx.set_source_rgba(*unit((250, 204, 184)), strength * (0.8 - 0.22 * ring))
        ctx.stroke()


# ---------------------------------------------------------------- reeds


FLOOR = -700.0  # where the reeds stand, below the frame


def blade(ctx: cairo.Context, x: float, height: float, lean: float, width: float) -> None:
    """Trace one blade of reed: a bent spear."""
    y = FLOOR
    tip_x, tip_y = x + lean, y + height
    bend_x, bend_y = x + lean * 0.25, y + height * 0.6
    ctx.move_to(x - width / 2, y)
    ctx.curve_to(x - width / 2, y + height * 0.3, bend_x - width / 2, bend_y, tip_x, tip_y)
    ctx.curve_to(bend_x + width / 2, bend_y, x + width / 2, y + height * 0.3, x + width / 2, y)
    ctx.close_path()


def reed_height(x: float) -> float:
    """Say how high the reeds stand at x: tall at both sides, low in the middle, where the boat goes by."""
    left = 330 * math.exp(-(((x + 960) / 300) ** 2))
    right = 420 * math.exp(-(((x - 900) / 330) ** 2))
    return 120 + left + right


def reeds() -> None:
    """Paint the near bank: three ranks of reeds, each darker than the one behind it, bulrushes and a heron."""
    glass = Glass("reeds", (1600, 720))
    rng = np.random.default_rng(601)

    def rank(ctx: cairo.Context, count: int, colour: Colour, reach: float, width: float) -> None:
        for x in rng.uniform(glass.left - 30, glass.right + 30, count):
            height = reed_height(x) * reach * rng.uniform(0.55, 1.12) + 60
            blade(ctx, x, height, rng.normal(16, 36) * height / 250, width * rng.uniform(0.7, 1.4))
            ctx.set_source_rgb(*unit(mix(colour, (96, 84, 130), max(0.0, rng.normal(0, 0.14))), rng.normal(0, 4)))
            ctx.fill()

    def ground(ctx: cairo.Context) -> None:
        ctx.move_to(glass.left - 10, FLOOR - 30)
        for x in np.linspace(glass.left - 10, glass.right + 10, 60):
            ctx.line_to(x, FLOOR + 40 + reed_height(x) * 0.30 + rng.uniform(-8, 8))
        ctx.line_to(glass.right + 10, FLOOR - 30)
        ctx.close_path()
        ctx.set_source_rgb(*unit((26, 28, 58)))
        ctx.fill()

    glass.draw(lambda ctx: rank(ctx, 420, (70, 68, 116), 1.06, 8), soften=1.0)
    glass.draw(lambda ctx: heron(ctx, 560, -560))
    glass.draw(ground)
    glass.draw(lambda ctx: rank(ctx, 520, (42, 44, 84), 0.92, 9))
    glass.draw(bulrushes)
    glass.draw(lambda ctx: rank(ctx, 560, (24, 26, 56), 0.74, 11))
    # Tips catch the sky; feet go under in shade.
    tips = smooth(-520, -180, glass.y) * (0.5 + 0.5 * np.exp(-(((glass.x - GLOW_X) / 600) ** 2)))
    glass.tint((176, 122, 150), 0.20 * tips)
    glass.tint(NIGHT, 0.62 * smooth(-430, -680, glass.y))
    glass.save("reeds.png", step=2)


def bulrushes(ctx: cairo.Context) -> None:
    """Draw the brown heads on their stalks."""
    rng = np.random.default_rng(607)
    for x in np.concatenate([rng.uniform(-1000, -640, 13), rng.uniform(600, 980, 15), rng.uniform(-500, 500, 8)]):
        height = reed_height(x) * rng.uniform(0.85, 1.15) + 70
        lean = rng.normal(8, 14)
        ctx.set_source_rgb(*unit((34, 32, 64)))
        ctx.set_line_width(3)
        ctx.move_to(x, FLOOR)
        ctx.curve_to(x, FLOOR + height * 0.5, x + lean * 0.5, FLOOR + height * 0.8, x + lean, FLOOR + height + 26)
        ctx.stroke()
        ctx.set_line_width(rng.uniform(7, 9.5))
        ctx.set_source_rgb(*unit((56, 40, 62)))
        ctx.move_to(x + lean * 0.86, FLOOR + height - 44)
        ctx.line_to(x + lean * 0.97, FLOOR + height)
        ctx.stroke()
        ctx.set_line_width(2)
        ctx.set_source_rgba(*unit((206, 136, 136)), 0.6)
        ctx.move_to(x + lean * 0.86 - 2.6, FLOOR + height - 42)
        ctx.line_to(x + lean * 0.97 - 2.6, FLOOR + height - 2)
        ctx.stroke()


def heron(ctx: cairo.Context, x: float, foot: float) -> None:
    """Draw a heron that stands in the shallows and looks west."""
    ctx.save()
    ctx.translate(x, foot)
    ctx.set_source_rgb(*unit((50, 50, 92)))
    ctx.set_line_width(4)
    for leg in (0, 14):
        ctx.move_to(leg, 0)
        ctx.line_to(leg + 4, 84)
        ctx.line_to(leg - 2, 130)
        ctx.stroke()
    ctx.move_to(64, 108)  # tail, back, breast
    ctx.curve_to(40, 150, 4, 188, -34, 184)
    ctx.curve_to(-40, 160, -20, 122, 12, 118)
    ctx.curve_to(30, 116, 48, 112, 64, 108)
    ctx.close_path()
    ctx.fill()
    ctx.set_line_width(11)  # the neck in its S
    ctx.move_to(-24, 172)
    ctx.curve_to(-62, 190, -2, 222, -30, 258)
    ctx.stroke()
    ctx.move_to(-18, 254)
    ctx.curve_to(-22, 272, -40, 272, -48, 262)
    ctx.line_to(-92, 250)
    ctx.line_to(-46, 250)
    ctx.close_path()
    ctx.fill()
    ctx.set_line_width(3)
    ctx.move_to(-30, 266)  # the plume
    ctx.curve_to(-18, 266, -10, 258, -4, 244)
    ctx.stroke()
    ctx.set_source_rgba(*unit((232, 164, 160)), 0.75)  # light along the breast and throat
    ctx.set_line_width(2.4)
    ctx.move_to(-36, 182)
    ctx.curve_to(-40, 160, -22, 126, 8, 119)
    ctx.stroke()
    ctx.restore()


# ---------------------------------------------------------------- near branches


def near_branches() -> None:
    """Paint the boughs that frame the picture: wood first, then back leaves, then front leaves."""
    glass = Glass("near branches", (1400, 1040))
    rng = np.random.default_rng(701)
    boughs = [
        # from, through, to, thickness
        ((-1080, 620), (-700, 700), (-250, 560), 46),
        ((-1080, 420), (-860, 420), (-600, 250), 40),
        ((-900, 760), (-300, 760), (260, 640), 34),
        ((-1080, 130), (-980, 120), (-850, 20), 22),
        ((200, 790), (500, 740), (760, 600), 26),
    ]
    twigs: list[Twig] = []

    def wood(ctx: cairo.Context) -> None:
        for start, through, end, thickness in boughs:
            twigs.extend(grow(ctx, rng, (start, through, end), thickness))

    glass.draw(wood)
    glass.draw(lambda ctx: leaves(ctx, rng, twigs * 2, (44, 42, 84), 1.0), soften=1.2)
    glass.draw(lambda ctx: leaves(ctx, rng, twigs * 2, (28, 29, 62), 1.1))
    glass.draw(lambda ctx: leaves(ctx, rng, twigs * 2, (17, 19, 45), 1.15))
    glass.draw(lambda ctx: leaves(ctx, rng, twigs[::6], (70, 56, 98), 0.95))
    glow = np.exp(-(((glass.x - GLOW_X) / 620) ** 2) - ((glass.y - 200) / 560) ** 2)
    glass.tint((150, 100, 140), 0.20 * glow)
    glass.save("near_branches.png", step=2)


def grow(ctx: cairo.Context, rng: np.random.Generator, bend: Sequence[Place], thickness: float) -> list[Twig]:
    """Grow a bough along a bend, thinning as it goes, with twigs to both sides; return where leaves may hang."""
    start, through, end = bend
    steps = 40
    before = start
    twigs = []
    for i in range(1, steps + 1):
        t = i / steps
        x = (1 - t) ** 2 * start[0] + 2 * t * (1 - t) * through[0] + t * t * end[0] + rng.normal(0, 1.4)
        y = (1 - t) ** 2 * start[1] + 2 * t * (1 - t) * through[1] + t * t * end[1] + rng.normal(0, 1.4)
        ctx.set_source_rgb(*unit(NIGHT, rng.uniform(0, 6)))
        ctx.set_line_width(thickness * (1 - 0.86 * t))
        ctx.move_to(*before)
        ctx.line_to(x, y)
        ctx.stroke()
        heading = math.atan2(y - before[1], x - before[0])
        before = (x, y)
        if i > 6 and rng.random() < 0.62:
            aside = heading + rng.choice([-1, 1]) * rng.uniform(0.4, 1.1)
            twigs += twig(ctx, rng, before, aside, thickness * 2.2 + 50)
    return twigs + twig(ctx, rng, before, heading, thickness * 2 + 50)


def twig(ctx: cairo.Context, rng: np.random.Generator, at: Place, heading: float, length: float) -> list[Twig]:
    """Grow one twig that droops at its end; return where leaves may hang."""
    x, y = at
    steps = 8
    places = []
    ctx.set_source_rgb(*unit(NIGHT))
    for i in range(steps):
        heading += (-math.pi / 2 - heading) * 0.05 + rng.normal(0, 0.10)
        step = length / steps
        ctx.set_line_width(5.2 * (1 - i / steps) + 1.2)
        ctx.move_to(x, y)
        x, y = x + step * math.cos(heading), y + step * math.sin(heading)
        ctx.line_to(x, y)
        ctx.stroke()
        if i > 1:
            places.append((x, y, heading))
    return places


def leaves(ctx: cairo.Context, rng: np.random.Generator, twigs: Sequence[Twig], colour: Colour, size: float) -> None:
    """Hang a leaf at each place: pointed, of uneven size, turned mostly downward."""
    for x, y, heading in twigs:
        turn = 0.55 * heading + 0.45 * (-math.pi / 2) + rng.normal(0, 0.75)
        long, wide = size * rng.uniform(26, 50), size * rng.uniform(6.5, 12)
        ctx.save()
        ctx.translate(x + rng.normal(0, 9), y + rng.normal(0, 9))
        ctx.rotate(turn)
        ctx.move_to(0, 0)
        ctx.curve_to(long * 0.3, wide, long * 0.7, wide * 0.8, long, 0)
        ctx.curve_to(long * 0.7, -wide * 0.8, long * 0.3, -wide, 0, 0)
        ctx.restore()
        ctx.set_source_rgb(*unit(colour, rng.normal(0, 5)))
        ctx.fill()


PAINTERS: dict[str, Callable[[], None]] = {
    "sky": sky,
    "star": morning_star,
    "hills": far_hills,
    "village": village,
    "mist": mist_bank,
    "boat": boat,
    "reeds": reeds,
    "branches": near_branches,
}


def main(wanted: Sequence[str]) -> None:
    """Paint the named glasses, or all of them."""
    for name in wanted or PAINTERS:
        PAINTERS[name]()
        print(f"painted {name}")


if __name__ == "__main__":
    main(sys.argv[1:])
