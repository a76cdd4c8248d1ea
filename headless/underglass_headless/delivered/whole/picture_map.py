# SPDX-License-Identifier: GPL-3.0-or-later
"""Picture maps: by which one affine map of the picture all that a delivered frame shows was moved, and who moved it.

A camera moves a picture too. What it cannot do tells a changed file: mirror the picture, make it wider without making
it higher, or leave places empty, or filled with something else, where it would show more of the levels.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.optics.projection import px_from_art
from underglass.shot.words import number_text

from .whole_frame import Places, WholeFrame

Floats = NDArray[np.float64]
# Cover and kind of places (N, 2) px of the frame: see `Border`.
Look = Callable[[Floats], tuple[Floats, Floats]]

# A place is explained by a map that leaves it this near, px, and so many times its scatter.
NEAR_PX = 0.05
SCATTERS = 4.0
# A map is taken up where it leaves so many places this near before it is made better, px.
START_PX = 2.0
# Of each level so many of its places have to be explained, but for what was wrapped round an edge.
LEAST_EXPLAINED = 0.5
# And so many of all of them.
MOST_EXPLAINED = 0.9
FEWEST_PLACES = 12
# Squares of places that make up maps to begin with, across and up a level.
SQUARES = 3
# Of the two directions one may be this much larger by chance; and it is no less than this in any case.
UNEVEN_PX = 0.15
LEAST_UNEVEN = 0.002
# A map that moves no corner of the frame by more than this is none, px.
STILL_PX = 0.05
ROUNDS = 12


@dataclass(frozen=True)
class Border:
    """What is seen at places that a moved picture left: the share that is empty, and that shows something else.

    ``asked`` is how many places could be asked, and ``inside`` how much of the picture beside them shows as it should.
    """

    empty: float
    other: float
    asked: int
    inside: float


@dataclass(frozen=True)
class PictureMap:
    """Where each place of the picture went: ``linear`` (2, 2) times the place, and ``shift`` (2,) px, y up."""

    linear: Floats
    shift: Floats

    def __call__(self, places: Floats) -> Floats:
        """Return where ``places`` (…, 2) px went."""
        return np.asarray(places @ self.linear.T + self.shift)

    def back(self, places: Floats) -> Floats:
        """Return where ``places`` (…, 2) px came from."""
        return np.asarray((places - self.shift) @ np.linalg.inv(self.linear).T)


def map_of(seen: Sequence[Places], *, corners: Floats, frame_px: tuple[int, int]) -> PictureMap | None:
    """Return the one affine map from where ``corners`` (L, 4, 2) px have the levels to where all of them are seen.

    None where there is none that explains every level, round an edge of the frame too. It is begun with small squares
    of one level each, and made better by least squares over what it explains.
    """
    told = [one for one in seen if len(one.px) >= FEWEST_PLACES]
    if not told:
        return None
    planned = [px_from_art(one.uv, corners=corners[one.level]) for one in told]
    weights = np.concatenate([np.full(len(one.px), 1.0 / len(one.px)) for one in told])
    here, there = np.concatenate(planned), np.concatenate([one.px for one in told])
    limit = np.concatenate([np.full(len(one.px), NEAR_PX + SCATTERS * one.scatter_px) for one in told])
    best, most = None, 0.0
    for tried in _begun(told, planned):
        found = tried
        for step in range(ROUNDS):
            reach = np.maximum(limit, START_PX * 0.5**step)
            near = np.linalg.norm(found(here) - there, axis=1) <= reach
            if near.sum() < FEWEST_PLACES:
                break
            better = _least_squares(here[near], there[near], weights[near])
            if better is None:
                break
            found = better
        explained = float((weights * (np.linalg.norm(found(here) - there, axis=1) <= limit)).sum())
        if explained > most:
            best, most = found, explained
    if best is None:
        return None
    apart = best(here) - there
    # What left the frame at an edge may have come in at the other.
    apart -= np.round(apart / frame_px) * frame_px
    # Pixels that were taken from the nearest ones scatter alike, which a slender level does not tell.
    out = np.linalg.norm(apart, axis=1) <= limit.max()
    ends = np.cumsum([len(one.px) for one in told])[:-1]
    every = all(part.mean() >= LEAST_EXPLAINED for part in np.split(out, ends))
    every = every and float(weights @ out) >= MOST_EXPLAINED * float(weights.sum()) and _is_more_than_noise(best, told)
    return best if every and abs(np.linalg.det(best.linear)) > 1e-3 else None


def _is_more_than_noise(moved: PictureMap, told: Sequence[Places]) -> bool:
    """Return whether a map does more than noise in coordinates does by itself, which makes every slope less steep.

    Least squares of a variable with noise in it make a slope smaller by the noise's share of its variance (errors in
    variables; W. A. Fuller, Measurement Error Models, 1987, 1.1).
    """
    share = max((one.noise_px**2 / max(float(one.px.var(axis=0).min()), 1e-9) for one in told), default=0.0)
    if share < LEAST_UNEVEN / 2:
        return True
    return bool(np.abs(moved.linear - np.eye(2)).max() > 3 * share or np.abs(moved.shift).max() > START_PX)


def _begun(told: Sequence[Places], planned: Sequence[Floats]) -> list[PictureMap]:
    found = []
    for one, here in zip(told, planned, strict=True):
        squares = [np.ones(len(one.px), dtype=bool)]
        low, high = one.px.min(axis=0), one.px.max(axis=0)
        which = np.minimum(((one.px - low) / np.maximum(high - low, 1e-9) * SQUARES).astype(int), SQUARES - 1)
        squares += [(which == (x, y)).all(axis=1) for x in range(SQUARES) for y in range(SQUARES)]
        for chosen in squares:
            if chosen.sum() >= FEWEST_PLACES:
                tried = _least_squares(here[chosen], one.px[chosen], np.ones(int(chosen.sum())))
                if tried is not None:
                    found.append(tried)
    return found


def _least_squares(here: Floats, there: Floats, weights: Floats) -> PictureMap | None:
    middle = here.mean(axis=0)
    basis = np.column_stack([here - middle, np.ones(len(here))]) * np.sqrt(weights)[:, None]
    solved, _, rank, _ = np.linalg.lstsq(basis, there * np.sqrt(weights)[:, None], rcond=1e-9)
    if rank < 3:
        return None
    linear = solved[:2].T
    return PictureMap(linear, solved[2] - linear @ middle)


def file_of_map(
    moved: PictureMap,
    *,
    frame_px: tuple[int, int],
    squeeze: float,
    left_by: Callable[[PictureMap], Border],
    repeated: bool,
) -> WholeFrame | None:
    """Return what the file is that was ``moved`` like this, or None where a camera may have done it.

    ``left_by`` looks at the places that the picture left; ``repeated`` says that rows or columns of it are there twice.
    What a camera can do keeps its shape when the ``squeeze`` of the lens is taken off.
    """
    half = np.array(frame_px) / 2
    corners = np.array([(-1.0, -1.0), (1, -1), (1, 1), (-1, 1)]) * half
    if np.abs(moved(corners) - corners).max() <= STILL_PX:
        return None
    quarter, mirrored = _quarter(moved.linear)
    straight = _TURNED[quarter] @ (np.diag([-1.0, 1.0]) if mirrored else np.eye(2))
    rest = PictureMap(moved.linear @ straight.T, moved.shift)
    whole = np.abs(rest(corners) - corners).max() <= max(1.0, 0.01 * half.max())
    if mirrored or (quarter and whole):
        return _turned_words(quarter, mirrored)
    if quarter and not whole:
        rest = moved
    return _scaled(rest, border=left_by(moved), frame_px=frame_px, squeeze=squeeze, repeated=repeated)


# Turns by quarters, counter-clockwise.
_TURNED = [np.array([[1.0, 0], [0, 1]]), np.array([[0.0, -1], [1, 0]]), -np.eye(2), np.array([[0.0, 1], [-1, 0]])]


def _quarter(linear: Floats) -> tuple[int, bool]:
    """Return by how many quarters counter-clockwise a map turns, and whether it mirrors left and right before that."""
    mirrored = bool(np.linalg.det(linear) < 0)
    proper = linear @ np.diag([-1.0, 1.0]) if mirrored else linear
    near = [float((turn * proper).sum()) for turn in _TURNED]
    return int(np.argmax(near)), mirrored


def _turned_words(quarter: int, mirrored: bool) -> WholeFrame:
    if not mirrored:
        words = ["", "turned by 90° counter-clockwise", "turned by 180°", "turned by 90° clockwise"][quarter]
        return _said("frame-turned", words, words)
    if quarter in (0, 2):
        words = "flipped left to right" if quarter == 0 else "flipped top to bottom"
        return _said("frame-flipped", words, words)
    words = f"flipped left to right and turned by 90° {'counter-clockwise' if quarter == 1 else 'clockwise'}"
    return _said("frame-flipped", words, words)


def _scaled(
    moved: PictureMap, *, border: Border, frame_px: tuple[int, int], squeeze: float, repeated: bool
) -> WholeFrame | None:
    across, up = (float(np.hypot(*column)) for column in _unsqueezed(moved.linear, squeeze).T)
    uneven = abs(across - up) > max(LEAST_UNEVEN, UNEVEN_PX / (max(frame_px) / 2))
    turn = float(np.degrees(np.arctan2(moved.linear[1, 0], moved.linear[0, 0])))
    changed = border.asked > 0 and border.empty + border.other >= 0.8 and border.inside >= 0.7
    if not (uneven or changed or repeated):
        return None
    edges = ""
    if changed:
        edges = "; the edges that it left are " + (
            "empty" if border.empty > border.other else "filled with other pixels"
        )
    larger = max(abs(across - 1), abs(up - 1)) * max(frame_px) / 2
    if uneven:
        sizes = [(across, "across"), (up, "in height")]
        said = [_sized(size, along) for size, along in sizes if abs(size - 1) > LEAST_UNEVEN]
        said = said or [_sized(*max(sizes, key=lambda one: abs(one[0] - 1)))]
        return _said("frame-scaled", " and ".join(said) + edges, f"uneven {across > up}")
    if larger > UNEVEN_PX:
        return _said("frame-scaled", f"scaled to {_percent(across)}{edges}", "even")
    if abs(np.radians(turn)) * max(frame_px) / 2 > UNEVEN_PX:
        way = "counter-clockwise" if turn > 0 else "clockwise"
        return _said("frame-turned", f"turned by {number_text(round(abs(turn), 1))}° {way}{edges}", way)
    lean = float(np.degrees(np.arctan2(-moved.linear[0, 1], moved.linear[1, 1]))) - turn
    if abs(np.radians(lean)) * max(frame_px) / 2 > UNEVEN_PX:
        return _said(
            "frame-scaled", f"skewed: upright lines lean by {number_text(round(abs(lean), 1))}°{edges}", "skewed"
        )
    if not _shift_said(moved.shift):
        return None
    return _said("frame-shifted", f"shifted {_shift_said(moved.shift)}{edges}", _ways(moved.shift))


def _unsqueezed(linear: Floats, squeeze: float) -> Floats:
    """Return the map of the picture before the lens squeezed it."""
    lens = np.array([1.0, squeeze])
    return np.asarray(linear / lens[:, None] * lens[None, :])


def _sized(size: float, along: str) -> str:
    return f"{'squeezed' if size < 1 else 'stretched'} to {_percent(size)} {along}"


def _percent(size: float) -> str:
    return f"{number_text(round(100 * size, 1))} %"


def _shift_said(shift: Floats) -> str:
    parts = [
        f"{number_text(round(abs(by), 2 if abs(by) < 1 else 1))} px {one if by > 0 else other}"
        for by, one, other in ((float(shift[0]), "right", "left"), (float(shift[1]), "up", "down"))
        if abs(by) > STILL_PX
    ]
    return " and ".join(parts)


def _ways(shift: Floats) -> str:
    return " ".join(str(int(np.sign(by))) for by in np.where(np.abs(shift) > STILL_PX, shift, 0.0))


def _said(code: str, words: str, kind: str) -> WholeFrame:
    return WholeFrame(code, kind, f"is {words}", f"are {words}")
