# SPDX-License-Identifier: GPL-3.0-or-later
"""A stack as a shot: every axis as it goes with the walk, as moves by law where laws say it exactly, or as a table.

An axis that goes with one walk alone, by so much for each metre of it, has the walk's own laws.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from underglass.plan import make_tracks
from underglass.plan.fit_moves import fit_moves
from underglass.plan.held_size import as_the_lens_extends
from underglass.shot import CAMERA, FrameTable, Law, Level, Move, Schedule, Shot
from underglass.shot.units import METRES_PER_UNIT

from ..brief.brief import Brief, Walk
from .answer import Stack
from .walk_frames import World

Floats = NDArray[np.float64]

# Readings are written to so many decimals of the shot's unit: far below what shows, and free of the solver's dust.
DECIMALS = 10
# A schedule of moves must agree with the stack to this part of the field, or a frame table takes its place.
CLOSE = 1e-9
# A part of an axis that goes less than this in all, in metres, does not go.
STILL = 1e-12


@dataclass(frozen=True)
class Course:
    """One axis: where it stands where the walk begins, its track (F,), and the walk that it goes with alone.

    ``share`` is how far it goes for each metre of ``walk``, which is None where it follows no single one.
    """

    part: str
    axis: str
    start: float
    track: Floats
    walk: Walk | None
    share: float

    @property
    def moves(self) -> bool:
        """Whether the axis leaves where it stands."""
        return float(np.ptp(self.track)) > STILL


def tidy(metres: float, units: str) -> float:
    """Return a reading rounded to DECIMALS of the shot's unit, in metres."""
    unit = METRES_PER_UNIT[units]
    return round(float(metres) / unit, DECIMALS) * unit


def shot_of(brief: Brief, world: World, stack: Stack) -> Shot:
    """Return the shot that the stack makes of the brief, without art that is still to be sized."""
    draft = brief.draft
    courses = courses_of(brief, world, stack)
    starts = {(course.part, course.axis): tidy(course.start, draft.units) for course in courses}
    levels = tuple(
        replace(level, height=starts[level.name, "height"], east=starts[level.name, "east"]) for level in draft.levels
    )
    camera = replace(draft.camera, focal=stack.focal, height=starts[CAMERA, "height"], east=starts[CAMERA, "east"])
    shot = replace(draft, camera=camera, levels=levels)
    return replace(shot, schedule=_schedule(shot, courses))


def courses_of(brief: Brief, world: World, stack: Stack) -> list[Course]:
    """Return the course of every axis that a plan may move: height and east of the lens and of each level."""
    draft = brief.draft
    lens = _course(
        CAMERA,
        "height",
        stack.height,
        [(-stack.scale, world.toward, brief.toward)],
    )
    pan = _course(CAMERA, "east", draft.camera.east, [(stack.scale, world.across, brief.across)])
    courses = [lens, pan]
    for index, level in enumerate(draft.levels):
        courses += _level_courses(brief, world, stack, index, level)
    return courses


def _level_courses(brief: Brief, world: World, stack: Stack, index: int, level: Level) -> list[Course]:
    distance, gain = float(stack.distance[index]), float(stack.gain[index])
    slip = gain - stack.scale
    up = _course(level.name, "height", stack.height - distance, [(slip, world.toward, brief.toward)])
    if np.ptp(stack.extension) > 0:
        # As the lens extends, every level has to make up for it: no law says that.
        from_lens = as_the_lens_extends(distance - gain * world.toward, extension=stack.extension)
        track = stack.height - stack.scale * world.toward - from_lens
        up = replace(up, track=track, walk=None)
    own = brief.elements[index].across
    east = _course(
        level.name,
        "east",
        float(stack.east[index]),
        [(-slip, world.across, brief.across), (gain, world.own[:, index], own)],
    )
    return [up, east]


def _course(part: str, axis: str, start: float, shares: list[tuple[float, Floats, Walk]]) -> Course:
    """Return the course of an axis that goes by so much with each of several walks."""
    going = [(share, track, walk) for share, track, walk in shares if abs(share) * float(np.ptp(track)) > STILL]
    track = start + sum((share * track for share, track, _ in going), np.zeros_like(shares[0][1]))
    walk = going[0][2] if len(going) == 1 else None
    return Course(part, axis, start, track, walk, going[0][0] if len(going) == 1 else 0.0)


def _schedule(shot: Shot, courses: list[Course]) -> Schedule:
    """Return moves where they agree with every course, a frame table where one has no law."""
    moving = [course for course in courses if course.moves]
    least = _closeness(shot, courses)
    moves: list[Move] = []
    for course in moving:
        found = _moves(course, shot.units) if _has_laws(course) else _fitted(course, shot, courses, least)
        if found is None:
            return _frame_table(shot, moving)
        moves += found
    told = replace(shot, schedule=tuple(moves))
    return told.schedule if _agrees(told, moving, least) else _frame_table(shot, moving)


def _closeness(shot: Shot, courses: list[Course]) -> float:
    """Return how near a schedule must be to every course, m: CLOSE of the narrowest field of the nearest level."""
    camera = shot.camera
    assert camera.gate is not None
    heights = {course.part: course.track for course in courses if course.axis == "height"}
    nearest = float((heights[CAMERA] - heights[shot.names[0]]).min())
    return CLOSE * camera.gate.width * camera.squeeze / camera.focal * nearest


def _has_laws(course: Course) -> bool:
    """Return whether an axis has the laws of its walk: equal ratios of the world are none on the stand."""
    return course.walk is not None and all(leg.law is not Law.RATIO for leg in course.walk)


def _moves(course: Course, units: str) -> list[Move] | None:
    assert course.walk is not None
    moves = []
    for leg in course.walk:
        start, end = (tidy(course.start + course.share * at, units) for at in (leg.start, leg.end))
        if start != end:
            slows = (leg.slow_out, leg.slow_in)
            moves.append(Move(course.part, course.axis, leg.first, leg.last, start, end, leg.law, *slows))
    return moves


def _fitted(course: Course, shot: Shot, courses: list[Course], least: float) -> list[Move] | None:
    """Return the moves of a lens that goes by equal ratios about a level at rest; None for any other track."""
    abouts = {leg.about for leg in course.walk or () if leg.about}
    if (course.part, course.axis) != (CAMERA, "height") or len(abouts) != 1:
        return None
    about = abouts.pop()
    heights = {other.part: other.track for other in courses if other.axis == "height"}
    found = fit_moves(
        course.track,
        part=course.part,
        axis=course.axis,
        first=shot.frames[0],
        tolerance=least,
        tidy=lambda metres: tidy(metres, shot.units),
        origin=heights[about],
        about=about,
    )
    return None if found is None else list(found)


def _agrees(shot: Shot, moving: list[Course], least: float) -> bool:
    """Return whether the schedule of ``shot`` follows every course."""
    # A level on twos holds on purpose; its moves are held against its course on ones.
    tracks = make_tracks(replace(shot, levels=tuple(replace(level, on=1) for level in shot.levels)))
    for course in moving:
        said = _said(tracks.camera, tracks.levels, shot, course)
        if float(np.abs(said - course.track).max()) > least:
            return False
    return True


def _said(camera: Mapping[str, Floats], levels: Mapping[str, Floats], shot: Shot, course: Course) -> Floats:
    if course.part == CAMERA:
        return camera[course.axis]
    return np.asarray(levels[course.axis][:, shot.names.index(course.part)])


def _frame_table(shot: Shot, moving: list[Course]) -> FrameTable:
    frames = tuple(range(shot.frames[0], shot.frames[1] + 1))
    tracks = [[tidy(value, shot.units) for value in course.track.tolist()] for course in moving]
    columns = tuple((course.part, course.axis) for course in moving)
    return FrameTable(columns, frames, tuple(zip(*tracks, strict=True)) if tracks else tuple(() for _ in frames))
