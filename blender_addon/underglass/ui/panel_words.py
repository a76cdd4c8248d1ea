# SPDX-License-Identifier: GPL-3.0-or-later
"""What the panels write of a moment: all that no frame changes, as words, and the rest as numbers that are at hand.

Worked out once, when the stack changes: a frame change only puts words together. Free of Blender.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from ..plan.headings import HOLD, heading_word
from ..plan.plan_arrays import Floats, Plan
from ..shot.model import CAMERA, CAMERA_AXES, LEVEL_AXES, SLOWED_LAWS, FrameTable, Law, Move, Projection, bezier_handle
from ..shot.units import METRES_PER_UNIT
from ..shot.words import number_text
from .figures import Counter, counter, frames, length_figures, unit_of, written
from .touched_words import AXIS_WORDS

# What of a number has room in the list of levels; the readings have them to the last figure.
MOST_CHARACTERS = 5
# A step below this is none, m or radians.
NO_STEP = 1e-9


@dataclass(frozen=True)
class LevelWords:
    """A line of the list of levels.

    By frame: ``heights`` and ``fields`` in the shot's unit, and whether the art reaches every edge of the frame that it
    `covers`. One number of figures a column: the points of all levels stand below one another.
    """

    name: str
    title: str
    art: str
    heights: list[float]
    fields: list[float]
    covered: list[bool]
    height_figures: int
    field_figures: int

    def height(self, row: int) -> str:
        """Return the height on the frame of ``row``."""
        return written(self.heights[row], self.height_figures)

    def field(self, row: int) -> str:
        """Return the width of what the camera takes in there on the frame of ``row``."""
        return written(self.fields[row], self.field_figures)


@dataclass(frozen=True)
class MoveWords:
    """A move of the schedule: the part, what moves, its two frames, and the lines below, the longer one first."""

    part: str
    title: str
    frames: tuple[int, int]
    when: str
    line: str
    law: str


@dataclass(frozen=True)
class Moving:
    """An axis that moves: its word and its ``track`` (F,), m or radians."""

    axis: str
    word: str
    track: list[float]
    counter: Counter

    def at(self, row: int) -> tuple[str, str, str]:
        """Return the reading on the frame of ``row``, the step that leads to it and the step's heading."""
        here = self.track[row]
        before = self.track[row - 1] if row else here
        heading = heading_word(self.axis, here - before, least=NO_STEP)
        if heading == HOLD or self.counter.counts(here) == self.counter.counts(before):
            return self.counter.reads(here), "", HOLD
        return self.counter.reads(here), self.counter.steps(here, before=before), heading


@dataclass(frozen=True)
class PartWords:
    """The axes of the camera or of a level that move, and a line of those that hold still, empty where none does."""

    name: str
    moving: tuple[Moving, ...]
    still: str


@dataclass(frozen=True)
class LensWords:
    """The lens by frame: ``height``, ``focal`` and ``focus`` distance (F,), m; without perspective its ``field``."""

    height: list[float]
    focal: list[float]
    focus: list[float]
    counter: Counter
    unit: str
    field: str

    def at(self, row: int) -> tuple[str, ...]:
        """Return where the lens is, and what it takes in or is focused at, on the frame of ``row``."""
        place = f"lens at {self.counter.reads(self.height[row])} {self.unit}"
        if self.field:
            return place, f"field {self.field} {self.unit}"
        focus = self.focus[row]
        far = "infinity" if focus == float("inf") else f"{self.counter.reads(focus)} {self.unit}"
        return place, f"{self.focal[row] * 1000:.4g} mm", f"focused at {far}"


@dataclass(frozen=True)
class Words:
    """What the panels write of a moment."""

    levels: tuple[LevelWords, ...]
    widest: Mapping[str, str]
    moves: tuple[MoveWords, ...]
    charted: tuple[MoveWords, ...]
    parts: tuple[PartWords, ...]
    lens: LensWords


def words_of(plan: Plan, reach: Mapping[str, Floats]) -> Words:
    """Return what panels write of ``plan``; ``reach`` is that of the art past each edge of the frame, (F, L)."""
    parts = tuple(_part(plan, part) for part in (CAMERA, *plan.names))
    levels = _levels(plan, reach)
    moves = _moves(plan)
    widest = _widest(levels, parts) | {"move": _longest(move.title for move in moves)}
    return Words(levels, widest, moves, _charted(plan), parts, _lens(plan))


def _levels(plan: Plan, reach: Mapping[str, Floats]) -> tuple[LevelWords, ...]:
    shot, unit, most = plan.shot, METRES_PER_UNIT[plan.shot.units], length_figures(plan.shot)
    counters = [counter("height", shot, part=name) for name in shot.names]
    heights = np.array(
        [
            [shown.shows(height) for height in track]
            for shown, track in zip(counters, plan.tracks.levels["height"].T.tolist(), strict=True)
        ]
    )
    fields = (shot.camera.frame_px[0] / plan.scale / unit).T
    arts = np.array([level.art_width / unit for level in shot.levels])
    high, wide, across = (_figures(numbers, most) for numbers in (heights, arts, fields))
    return tuple(
        LevelWords(
            level.name,
            f"{index + 1} {level.name}",
            written(arts[index], wide),
            heights[index].tolist(),
            fields[index].tolist(),
            _covered(shot.edges_to_cover(level), reach, index),
            high,
            across,
        )
        for index, level in enumerate(shot.levels)
    )


def _covered(edges: tuple[str, ...], reach: Mapping[str, Floats], column: int) -> list[bool]:
    """Return on which frames the art of a level reaches all of ``edges``; where it has to reach none, on all."""
    bare = [reach[edge][:, column] < 0 for edge in edges]
    return (~np.any(bare, axis=0)).tolist() if bare else [True] * len(next(iter(reach.values())))


def _figures(numbers: Floats, most: int) -> int:
    """Return the figures behind the point with which the longest of ``numbers`` has MOST_CHARACTERS."""
    before = len(f"{float(np.abs(numbers).max()):.0f}") + (1 if numbers.min() < 0 else 0)
    return max(0, min(most, MOST_CHARACTERS - 1 - before))


def _widest(levels: tuple[LevelWords, ...], parts: tuple[PartWords, ...]) -> dict[str, str]:
    """Return the longest words of each column, over all frames: a column is never wider on another frame."""
    moving = [one for part in parts for one in part.moving]
    readings = [one.at(row) for one in moving for row in _extremes(one.track)]
    return {
        "height": _longest(level.height(row) for level in levels for row in _extremes(level.heights)),
        "art": _longest(level.art for level in levels),
        "field": _longest(level.field(row) for level in levels for row in _extremes(level.fields)),
        "reading": _longest(reading for reading, _, _ in readings),
        "step": _longest(step for _, step, _ in readings),
        "heading": _longest(heading for _, _, heading in readings),
        "axis": _longest(one.word for one in moving),
    }


def _extremes(track: list[float]) -> tuple[int, ...]:
    """Return rows on which a reading or a step is as long as it gets."""
    values = np.array(track)
    steps = np.diff(values, prepend=values[0])
    return tuple(int(row) for row in (values.argmin(), values.argmax(), steps.argmin(), steps.argmax()))


def _longest(texts: Iterable[str]) -> str:
    # a digit is as wide as another in Blender's letters, and a sign never wider
    return max(texts, key=len, default="")


def _moves(plan: Plan) -> tuple[MoveWords, ...]:
    shot, found = plan.shot, []
    for move in () if isinstance(shot.schedule, FrameTable) else shot.schedule:
        reads = counter(move.axis, shot, part=move.part).reads
        line = f"{reads(move.start)} to {reads(move.end)} {unit_of(move.axis, shot)}"
        title = f"{move.part} {AXIS_WORDS.get(move.axis, move.axis)}"
        found.append(
            MoveWords(move.part, title, (move.first, move.last), frames(move.first, move.last), line, _law(move))
        )
    return tuple(found)


def _charted(plan: Plan) -> tuple[MoveWords, ...]:
    """Return the axes of the chart, which go frame by frame, each from its first row to its last."""
    shot, found = plan.shot, []
    table = shot.chart
    for part, axis in table.columns:
        track = _axes(plan, part)[axis]
        reads = counter(axis, shot, part=part).reads
        first, last = table.frames[0], table.frames[-1]
        line = f"{reads(float(track[0]))} to {reads(float(track[-1]))} {unit_of(axis, shot)}"
        title = f"{part} {AXIS_WORDS.get(axis, axis)}"
        found.append(MoveWords(part, title, (first, last), frames(first, last), line, "frame by frame"))
    return tuple(found)


def _law(move: Move) -> str:
    """Return the law of a move in words, with its steps out of rest and into it."""
    handle = bezier_handle(move.last - move.first) if move.law is Law.BEZIER else 0.0
    # an ease that nobody has drawn out is as its name says
    if move.law in SLOWED_LAWS and (move.slow_out != handle or move.slow_in != handle):
        out, into = (number_text(slow, digits=4) for slow in (move.slow_out, move.slow_in))
        return f"{move.law.value}, out {out}, in {into}"
    return f"{move.law.value} about {move.about}" if move.about else move.law.value


def _part(plan: Plan, part: str) -> PartWords:
    moving, still = [], []
    for axis, track in _axes(plan, part).items():
        word, shown = AXIS_WORDS.get(axis, axis), counter(axis, plan.shot, part=part)
        if track.min() != track.max():
            moving.append(Moving(axis, word, track.tolist(), shown))
        elif axis in ("height", "focal") or track[0]:
            still.append(f"{word} {shown.reads(float(track[0]))}")
    return PartWords(part, tuple(moving), f"{part}: {', '.join(still)}" if still else "")


def _axes(plan: Plan, part: str) -> dict[str, Floats]:
    """Return the tracks (F,) of a part's axes."""
    if part == CAMERA:
        perspective = plan.shot.camera.projection is Projection.PERSPECTIVE
        return {axis: plan.tracks.camera[axis] for axis in CAMERA_AXES if perspective or axis != "focal"}
    column = plan.names.index(part)
    return {axis: plan.tracks.levels[axis][:, column] for axis in LEVEL_AXES}


def _lens(plan: Plan) -> LensWords:
    shot, camera, shown = plan.shot, plan.tracks.camera, counter("height", plan.shot, part=CAMERA)
    perspective = shot.camera.projection is Projection.PERSPECTIVE
    return LensWords(
        camera["height"].tolist(),
        camera["focal"].tolist() if perspective else [],
        plan.focus_distance.tolist() if perspective else [],
        shown,
        shot.units,
        "" if perspective else shown.reads(shot.camera.field_width),
    )
