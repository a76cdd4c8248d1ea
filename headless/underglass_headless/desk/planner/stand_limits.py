# SPDX-License-Identifier: GPL-3.0-or-later
"""The limits of a stand as rows of a linear programme: what must hold on every frame, each limit with its own words.

The unknowns are the lens's height H, the scale κ, and of each level its distance d from the lens, its gain g and where
its art sits to the east of the lens, e, all where the walk begins. A level stands at H − κZ − (d − gZ)·v(t)/v and at
e + (κ − g)·X + g·A. Lengths of the world are counted in ``unit`` of them, so that all unknowns are lengths of the
stand's size.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.shot.units import METRES_PER_MM, in_units
from underglass.shot.words import number_text

from ..brief.brief import Brief
from .walk_frames import World

Floats = NDArray[np.float64]

HEIGHT, SCALE = 0, 1
# A sheet of glass is some five millimetres thick; closer than that two of them touch.
THICKNESS = 0.005
# Nearer than this many focal lengths a lens forms no image that a film could take.
NEAREST = 1.05


@dataclass(frozen=True)
class Limit:
    """Σ coefficient·unknown ≤ ``bound`` on every frame. ``terms`` maps an unknown to its coefficients, (F,).

    ``key`` is what the brief would change, ``subject`` what stands at it, ``words`` the limit for people.
    """

    key: str
    subject: str
    words: str
    terms: dict[int, Floats]
    bound: float

    def excess(self, unknowns: Floats) -> Floats:
        """Return by how much the limit is exceeded on every frame, (F,); below 0 where there is room."""
        total = np.zeros_like(next(iter(self.terms.values()))) - self.bound
        for index, coefficients in self.terms.items():
            total += coefficients * unknowns[index]
        return total


@dataclass(frozen=True)
class Setting:
    """What the rows are made from: the brief, its world counted in ``unit`` metres, and the lens.

    ``image`` is v on the first frame, ``extension`` (F,) is v(t)/v; ``middle`` (L,) is where the art would
    best sit for each metre of the level's distance, where the plan may choose. ``followed`` is
    the level in focus and the distance from the lens at which it was taken to be for that.
    """

    brief: Brief
    world: World
    unit: float
    focal: float
    image: float
    extension: Floats
    middle: Floats
    followed: tuple[int, float] | None = None

    def is_free(self, level: int) -> bool:
        """Return whether the plan chooses where the art of ``level`` sits."""
        element = self.brief.elements[level]
        return not element.said_width and not element.said_east

    @property
    def count(self) -> int:
        """Number of levels."""
        return len(self.brief.elements)

    def distance(self, level: int) -> int:
        """Return the unknown that is the distance of ``level`` from the lens."""
        return 2 + level

    def gain(self, level: int) -> int:
        """Return the unknown that is the gain of ``level``."""
        return 2 + self.count + level

    def place(self, level: int) -> int:
        """Return the unknown that is how far the art of ``level`` sits east of the lens; 0 where the brief says it."""
        return 2 + 2 * self.count + level

    @property
    def base(self) -> int:
        """Number of unknowns that limits speak of."""
        return 2 + 3 * self.count

    @property
    def toward(self) -> Floats:
        """Z in units, (F,)."""
        return self.world.toward / self.unit

    @property
    def across(self) -> Floats:
        """X in units, (F,)."""
        return self.world.across / self.unit


def make_limits(setting: Setting) -> list[Limit]:
    """Return every limit of the stand, of what is clamped, and of what the painter asks."""
    limits = [*_camera(setting), *_gaps(setting), *_paint(setting)]
    for level in range(setting.count):
        limits += [*_heights(setting, level), *_places(setting, level), *_clamps(setting, level)]
    return limits


def _negative(terms: dict[int, Floats]) -> dict[int, Floats]:
    return {index: -coefficients for index, coefficients in terms.items()}


def _words(setting: Setting, key: str, how: str, metres: float) -> str:
    units = setting.brief.draft.units
    return f"{key} {how} {number_text(in_units(metres, units))} {units}"


def _range(
    setting: Setting, key: str, subject: str, terms: dict[int, Floats], span: tuple[float, float], *, past: float = 0.0
) -> Iterator[Limit]:
    """Yield both ends of a range; ``past`` is a constant part of what the range limits."""
    low, high = span
    name = key.rpartition(".")[2] if not key.startswith("level.") else "height"
    yield Limit(f"{key}:least", subject, _words(setting, name, "at least", low), _negative(terms), past - low)
    yield Limit(f"{key}:most", subject, _words(setting, name, "at most", high), terms, high - past)


def _camera(setting: Setting) -> Iterator[Limit]:
    ones = np.ones_like(setting.toward)
    stand, height = setting.brief.draft.stand, setting.brief.camera_height
    terms = {HEIGHT: ones, SCALE: -setting.toward}
    if stand.camera_height is not None:
        yield from _range(setting, "stand.camera_height", "the camera", terms, stand.camera_height)
    if height is not None:
        words = _words(setting, "the camera's height", "of", height)
        yield Limit("camera.height:most", "the camera", words, {HEIGHT: ones}, height)
        yield Limit("camera.height:least", "the camera", words, {HEIGHT: -ones}, -height)


def _from_lens(setting: Setting, level: int) -> dict[int, Floats]:
    """Return the terms of the distance of ``level`` from the lens: (d − gZ)·v(t)/v."""
    return {
        setting.distance(level): setting.extension,
        setting.gain(level): -setting.toward * setting.extension,
    }


def _heights(setting: Setting, level: int) -> Iterator[Limit]:
    terms = {HEIGHT: np.ones_like(setting.toward), SCALE: -setting.toward} | _negative(_from_lens(setting, level))
    name = setting.brief.draft.names[level]
    stand = setting.brief.draft.stand.level_height
    if stand is not None:
        yield from _range(setting, "stand.level_height", name, terms, stand)
    else:
        yield Limit("bed", name, "the bed at height 0", _negative(terms), 0.0)


def _clamps(setting: Setting, level: int) -> Iterator[Limit]:
    """Yield where a level is clamped on the first frame, from above and from below."""
    height = setting.brief.elements[level].height
    if height is None:
        return
    name = setting.brief.draft.names[level]
    words = _words(setting, f"{name}'s clamp", "at", height)
    ones = np.ones_like(setting.toward)
    terms = {HEIGHT: ones, setting.distance(level): -ones}
    yield Limit(f"level.{name}.height:most", name, words, terms, height)
    yield Limit(f"level.{name}.height:least", name, words, _negative(terms), -height)


def _places(setting: Setting, level: int) -> Iterator[Limit]:
    draft = setting.brief.draft
    name, glass = draft.names[level], draft.levels[level]
    if draft.stand.level_east is not None:
        own = setting.world.own[:, level] / setting.unit
        terms = {
            SCALE: setting.across,
            setting.gain(level): own - setting.across,
            setting.place(level): np.ones_like(own),
        }
        east = draft.camera.east if setting.is_free(level) else glass.east
        yield from _range(setting, "stand.level_east", name, terms, draft.stand.level_east, past=east)
    if draft.stand.level_north is not None:
        nothing = {HEIGHT: np.zeros_like(setting.toward)}
        yield from _range(setting, "stand.level_north", name, nothing, draft.stand.level_north, past=glass.north)


def _gaps(setting: Setting) -> Iterator[Limit]:
    draft = setting.brief.draft
    said = draft.stand.least_gap
    gap = THICKNESS if said is None else max(said, 1e-6)  # levels that touch have no order
    words = _words(setting, "least_gap", "of", gap) if said is not None else "glass 5 mm thick"
    for level in range(setting.count - 1):
        terms = _from_lens(setting, level) | _negative(_from_lens(setting, level + 1))
        subject = f"{draft.names[level]} above {draft.names[level + 1]}"
        yield Limit("stand.least_gap", subject, words, terms, -gap)
    terms = _negative(_from_lens(setting, 0))
    yield Limit("stand.least_gap", f"{draft.names[0]} below the lens", words, terms, -gap)
    nearest = NEAREST * setting.focal
    # No file sets this one: the words say what it comes from, so that nobody looks for a key.
    lens = f"the nearest that a lens of {number_text(setting.focal / METRES_PER_MM)} mm can draw,"
    yield Limit("lens", draft.names[0], _words(setting, lens, "which is", nearest), terms, -nearest)


def _paint(setting: Setting) -> Iterator[Limit]:
    """Yield the narrowest field worth painting; levels further away have wider ones."""
    least, camera = setting.brief.paint.least_field, setting.brief.draft.camera
    if least <= 0 or camera.gate is None:
        return
    # The field is gate·d(t)/v(t), and d(t)/v(t) is (d − gZ)/v: the lens's extension drops out.
    factor = camera.gate.width * camera.squeeze / setting.image
    terms = {
        setting.distance(0): np.full_like(setting.toward, -factor),
        setting.gain(0): factor * setting.toward,
    }
    words = _words(setting, "least_field", "of", least)
    yield Limit("paint.least_field", setting.brief.draft.names[0], words, terms, -least)
