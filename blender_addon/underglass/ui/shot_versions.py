# SPDX-License-Identifier: GPL-3.0-or-later
"""Two versions of a shot side by side: readings and sizes on the first or the last frame. Free of Blender."""

from dataclasses import dataclass

from ..plan.plan_arrays import Plan
from ..shot.model import CAMERA, CAMERA_AXES, LEVEL_AXES, Projection
from .figures import counter, frames, written
from .touched_words import AXIS_WORDS

FIRST, LAST = "FIRST", "LAST"
SIZE_FIGURES = 1
# Less is what rounding makes of it, m or radians, and px.
SAME, SAME_PX = 1e-7, 5e-3


@dataclass(frozen=True)
class Line:
    """What differs, and how it reads in the scene and in the other version; empty where it is not there."""

    word: str
    here: str
    there: str


@dataclass(frozen=True)
class Part:
    """The camera, a level, or the shot as a whole, with what differs of it."""

    name: str
    lines: tuple[Line, ...]


def compare(here: Plan, there: Plan, *, at: str) -> tuple[Part, ...]:
    """Return what differs between two plans on their first or last frame, by part, in the units of ``here``."""
    row = 0 if at == FIRST else -1
    names = [*here.names, *(name for name in there.names if name not in here.names)]
    parts = [_whole(here, there), _camera(here, there, row), *(_level(here, there, name, row) for name in names)]
    return tuple(part for part in parts if part.lines)


def _whole(here: Plan, there: Plan) -> Part:
    pairs = {
        "frames": tuple(frames(*plan.shot.frames, brief=True) for plan in (here, there)),
        "a second": tuple(f"{plan.shot.fps:g}" for plan in (here, there)),
        "levels": tuple(str(len(plan.names)) for plan in (here, there)),
    }
    return Part("shot", tuple(Line(word, *pair) for word, pair in pairs.items() if pair[0] != pair[1]))


def _camera(here: Plan, there: Plan, row: int) -> Part:
    perspective = Projection.PERSPECTIVE in (here.shot.camera.projection, there.shot.camera.projection)
    axes = CAMERA_AXES if perspective else CAMERA_AXES[:-1]
    lines = (
        _axis(here, (CAMERA, axis), *(float(plan.tracks.camera[axis][row]) for plan in (here, there))) for axis in axes
    )
    return Part(CAMERA, tuple(line for line in lines if line is not None))


def _level(here: Plan, there: Plan, name: str, row: int) -> Part:
    if name not in here.names or name not in there.names:
        said = ("there", "") if name in here.names else ("", "there")
        return Part(name, (Line("level", *said),))
    columns = [plan.names.index(name) for plan in (here, there)]
    plans = list(zip((here, there), columns, strict=True))
    found = [
        _axis(here, (name, axis), *(float(plan.tracks.levels[axis][row, column]) for plan, column in plans))
        for axis in LEVEL_AXES
    ]
    widths = [float(plan.shot.levels[column].art_width) for plan, column in plans]
    found.append(_axis(here, (name, "art"), *widths))
    sizes = [float(plan.size_px[row, column]) for plan, column in plans]
    if abs(sizes[0] - sizes[1]) > SAME_PX:
        found.append(Line("size px", *(written(size, SIZE_FIGURES) for size in sizes)))
    return Part(name, tuple(line for line in found if line is not None))


def _axis(plan: Plan, part_axis: tuple[str, str], here: float, there: float) -> Line | None:
    """Return the line of one axis of a part, None where both read the same."""
    if abs(here - there) <= SAME:
        return None
    part, axis = part_axis
    reads = counter(axis, plan.shot, part=part).reads
    return Line(AXIS_WORDS.get(axis, axis), reads(here), reads(there))
