"""What the pixels of one frame hold at some hundred places of each level: the picture's light, and where on the art."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.proof.delivered_fits import FULL, LevelPass

from ..proof.exr import ExrFile

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Places across and up at which a level is looked at.
PLACES = (28, 21)
# Of a level that is opaque at fewer of these places more are looked at, so many times nearer one another.
FEW_OPAQUE, NEARER = 120, 5
# Nearer to the picture's edge a filter has nothing to take in on one side, and EEVEE draws what is there weaker.
EDGE_PX = 3


@dataclass(frozen=True)
class Sample:
    """What pixels hold at ``places`` (N, 2) px from the middle of the frame, y up: ``light`` (N, 3).

    By the level's proof pass ``u`` and ``v`` (N,), none where the level does not fill the pixel; None without a pass.
    """

    places: Floats
    light: Floats
    u: Floats | None = None
    v: Floats | None = None

    def only(self, chosen: NDArray[np.bool_]) -> "Sample":
        """Return the ``chosen`` (N,) of the places."""
        u, v = (None if values is None else values[chosen] for values in (self.u, self.v))
        return Sample(self.places[chosen], self.light[chosen], u, v)


# Tells which places (N, 2) px of the frame show a level, by its number, opaque all about and not covered; or with True
# opaque there or just beside.
ShowsOpaque = Callable[[int, Floats, bool], NDArray[np.bool_]]


def pixels_to_look_at(
    corners: Floats, frame_px: tuple[int, int], shows: ShowsOpaque | None = None
) -> dict[int, tuple[Ints, Ints]]:
    """Return rows and columns of the frame's pixels at which each level is looked at, by its number.

    ``corners`` (L, 4, 2) px is where the levels are planned. Of one that ``shows`` opaque at few of its places, as
    stems and wires do, more are looked for among places that lie nearer one another.
    """
    found = {}
    middle = np.array(frame_px) / 2
    inner = np.maximum(middle - EDGE_PX, 0.0)
    for number, box in enumerate(corners):
        low, high = (np.clip(by(box, axis=0), -inner, inner) for by in (np.min, np.max))
        if (high - low).min() <= 1.0:
            continue
        rows, columns = _grid(low, high, 1, frame_px)
        if shows is not None and shows(number, _middles(rows, columns, frame_px), False).sum() < FEW_OPAQUE:
            near = _grid(low, high, NEARER, frame_px)
            for thin in (False, True):
                opaque = np.flatnonzero(shows(number, _middles(*near, frame_px), thin))
                more = opaque[:: 1 + len(opaque) // (PLACES[0] * PLACES[1])]
                if len(more) >= FEW_OPAQUE or thin:
                    break
            rows, columns = (np.concatenate([old, new[more]]) for old, new in zip((rows, columns), near, strict=True))
        found[number] = rows, columns
    return found


def _grid(low: Floats, high: Floats, finer: int, frame_px: tuple[int, int]) -> tuple[Ints, Ints]:
    """Return rows and columns of pixels between two corners, px; ``finer`` times as many each way."""
    x, y = (
        np.unique((low[axis] + (np.arange(count) + 0.5) / count * (high - low)[axis]).astype(int))
        for axis, count in enumerate(finer * each for each in PLACES)
    )
    columns, rows = np.meshgrid(x + frame_px[0] // 2, frame_px[1] // 2 - 1 - y)
    return np.clip(rows.ravel(), 0, frame_px[1] - 1), np.clip(columns.ravel(), 0, frame_px[0] - 1)


def _middles(rows: Ints, columns: Ints, frame_px: tuple[int, int]) -> Floats:
    """Return the middles of pixels, (N, 2) px from the middle of the frame, y up."""
    return np.stack([columns + 0.5 - frame_px[0] / 2, frame_px[1] / 2 - rows - 0.5], axis=1)


def take_samples(
    exr: ExrFile, picture: Sequence[str], passes: Mapping[int, LevelPass], pixels: Mapping[int, tuple[Ints, Ints]]
) -> dict[int, Sample]:
    """Return what the file holds at the ``pixels`` of each level.

    ``picture`` names the picture's channels.
    """
    if len(picture) < 3:
        return {}
    first = exr.channels[picture[0]]
    height, width = first.pixels.shape
    found = {}
    for number, (rows, columns) in pixels.items():
        down, across = rows - first.top, columns - first.left
        inside = (down >= EDGE_PX) & (down < height - EDGE_PX) & (across >= EDGE_PX) & (across < width - EDGE_PX)
        made = passes.get(number)
        if passes and made is None:
            continue
        u = v = None
        if made is not None:
            own_down, own_across = rows - made.top, columns - made.left
            inside &= (own_down >= 0) & (own_down < made.hit.shape[0])
            inside &= (own_across >= 0) & (own_across < made.hit.shape[1])
            at = own_down[inside], own_across[inside]
            hit = made.hit[at].astype(np.float64)
            hit[hit < FULL] = np.nan
            u, v = (values[at].astype(np.float64) / hit for values in (made.u, made.v))
        down, across = down[inside], across[inside]
        light = np.stack([exr.channels[name].pixels[down, across].astype(np.float64) for name in picture[:3]], axis=1)
        x = across + first.left + 0.5 - exr.size[0] / 2
        y = exr.size[1] / 2 - down - first.top - 0.5
        found[number] = Sample(np.stack([x, y], axis=1), light, u, v)
    return found
