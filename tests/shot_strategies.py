# SPDX-License-Identifier: GPL-3.0-or-later
"""Random shots for property tests, and tiny art for them: every shot that is drawn here can be written and read.

`shots()` draws a `Shot` with its art's pixel sizes; `make_art` and `make_shot_art` put the images on disk.
"""

import struct
import zlib
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

from hypothesis import strategies as st

from underglass.shot import (
    CAMERA,
    EDGES,
    LEVEL_AXES,
    NO_DRAWING,
    Camera,
    Drawings,
    Expectation,
    Exposure,
    Focus,
    FrameTable,
    Gate,
    Heading,
    Lamp,
    Law,
    Level,
    Move,
    Projection,
    Ruling,
    Schedule,
    Shot,
    Stand,
)
from underglass.shot.axes import axes_by_column
from underglass.shot.finding_codes import CODES, SEVERITIES
from underglass.shot.gates import NAMED_GATES
from underglass.shot.model import scheduled_axes
from underglass.shot.units import METRES_PER_MM, METRES_PER_UNIT, metres_from, radians_from

# Names that try the quoting of TOML and CSV, beside plain ones.
NAMES = (
    "reeds",
    "far hills",
    "morning star",
    "Möwe",
    "#1",
    'the "tall" barn',
    "a, b",
    "x.y",
    "it's",
    "back\\slash",
    "鷺",
)
UNITS = tuple(METRES_PER_UNIT)
MOST_LEVELS = 12
# Hundredths of a unit, as an operator reads a counter.
_HUNDREDTHS = 100


def make_art(folder: Path, name: str, width: int, height: int, *, alpha: bool = True) -> Path:
    """Write a PNG of one colour, half covered where it has alpha, and return its path."""
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    pixel = bytes((200, 120, 40, 128)) if alpha else bytes((200, 120, 40))
    picture = zlib.compress((b"\0" + pixel * width) * height, 1)
    header = struct.pack(">IIBBBBB", width, height, 8, 6 if alpha else 2, 0, 0, 0)
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n" + png_chunk(b"IHDR", header) + png_chunk(b"IDAT", picture) + png_chunk(b"IEND", b"")
    )
    return path


def png_chunk(name: bytes, data: bytes) -> bytes:
    """Return one chunk of a PNG file, with its length and checksum."""
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def make_shot_art(shot: Shot, folder: Path) -> None:
    """Write the art of every level of a shot, all drawings of it too, at the size that the shot says."""
    for level in shot.levels:
        for drawing in shot.drawings.of(level.name) if level.has_drawings else ("",):
            make_art(folder, level.art.replace("{drawing}", drawing), *level.art_px)


def lengths(low: float, high: float, *, unit: str) -> st.SearchStrategy[float]:
    """Draw lengths in metres that are whole hundredths of ``unit``, from ``low`` to ``high`` of it."""
    steps = st.integers(round(low * _HUNDREDTHS), round(high * _HUNDREDTHS))
    return steps.map(lambda step: metres_from(step / _HUNDREDTHS, unit))


def turns() -> st.SearchStrategy[float]:
    """Draw angles in radians that are tenths of a degree, up to a turn and a half either way."""
    return st.integers(-5400, 5400).map(lambda tenths: radians_from(tenths / 10))


@st.composite
def shots(
    draw: st.DrawFn, *, most_levels: int = MOST_LEVELS, most_frames: int = 60, projection: Projection | None = None
) -> Shot:
    """Draw a shot that can be shot: levels apart and below the lens through every move, all laws, turns and twos."""
    unit = draw(st.sampled_from(UNITS))
    first = draw(st.integers(0, 1001))
    frames = (first, first + draw(st.integers(0, most_frames - 1)))
    stack = draw(_stacks(most_levels, unit))
    levels = tuple(draw(_levels(room, unit)) for room in stack.rooms)
    camera = draw(_cameras(stack, levels, unit, projection))
    shot = Shot(
        title=draw(st.sampled_from(["", "Estuary at first light", 'the "long" way', "a\\b = [c] # d"])),
        units=unit,
        fps=draw(st.sampled_from([24.0, 25.0, 23.976, 12.5])),
        frames=frames,
        camera=camera,
        levels=levels,
        stand=draw(_stands(unit, levels, camera.projection)),
        exposures=tuple(draw(_exposures(levels, frames))),
        lamps=tuple(draw(_lamps(levels, unit))),
        rulings=draw(_rulings()),
    )
    shot = replace(shot, expectations=tuple(draw(st.lists(_expectations(shot), max_size=4))))
    shot = replace(shot, drawings=draw(_drawings(shot)))
    shot = replace(shot, schedule=draw(_schedules(shot, stack)))
    if isinstance(shot.schedule, tuple) and shot.frame_count > 1:
        shot = replace(shot, chart=draw(_charts(shot, stack)))
    return replace(
        shot,
        chart_file="chart.csv" if shot.chart.columns else "",
        schedule_file="schedule.csv" if shot.schedule else draw(st.sampled_from(["", "schedule.csv"])),
        drawings_file="drawings.csv" if shot.drawings.levels else "",
    )


@dataclass(frozen=True)
class Room:
    """The span of heights, in units of the shot, that one level keeps to through all of its moves."""

    name: str
    low: float
    high: float


@dataclass(frozen=True)
class Stack:
    """The rooms of the levels, nearest the lens first, and of the camera above them; in units of the shot."""

    rooms: tuple[Room, ...]
    camera: Room


@st.composite
def _stacks(draw: st.DrawFn, most_levels: int, unit: str) -> Stack:
    names = draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=min(most_levels, len(NAMES)), unique=True))
    inch = METRES_PER_UNIT["in"] / METRES_PER_UNIT[unit]
    rooms = []
    low = 0.0
    for name in reversed(names):
        high = low + draw(st.integers(1, 8)) * inch
        rooms.append(Room(name, low, high))
        low = high + inch
    return Stack(tuple(reversed(rooms)), Room(CAMERA, low + 8 * inch, low + 40 * inch))


@st.composite
def _levels(draw: st.DrawFn, room: Room, unit: str) -> Level:
    inch = METRES_PER_UNIT["in"] / METRES_PER_UNIT[unit]
    stem = f"art/level {NAMES.index(room.name)}"
    return Level(
        name=room.name,
        art=stem + draw(st.sampled_from([".png", ".png", "_{drawing}.png"])),
        art_width=draw(lengths(inch, 40 * inch, unit=unit)),
        height=draw(lengths(room.low, room.high, unit=unit)),
        art_px=(draw(st.integers(1, 40)), draw(st.integers(1, 40))),
        east=draw(lengths(-12 * inch, 12 * inch, unit=unit)),
        north=draw(lengths(-9 * inch, 9 * inch, unit=unit)),
        turn=draw(st.one_of(st.just(0.0), turns())),
        covers=draw(st.none() | st.lists(st.sampled_from(EDGES), unique=True).map(tuple)),
        on=draw(st.sampled_from([1, 1, 2, 3, 8])),
    )


@st.composite
def _cameras(
    draw: st.DrawFn, stack: Stack, levels: tuple[Level, ...], unit: str, projection: Projection | None
) -> Camera:
    inch = METRES_PER_UNIT["in"] / METRES_PER_UNIT[unit]
    kind = projection or draw(st.sampled_from(Projection))
    camera = Camera(
        projection=kind,
        frame_px=(draw(st.integers(4, 4096)), draw(st.integers(4, 4096))),
        height=draw(lengths(stack.camera.low, stack.camera.high, unit=unit)),
        gate=draw(_gates()),
        f_stop=draw(st.sampled_from([0.0, 2.8, 8.0])),
        squeeze=draw(st.sampled_from([1.0, 1.0, 1.33, 2.0])),
        east=draw(lengths(-5 * inch, 5 * inch, unit=unit)),
        north=draw(lengths(-5 * inch, 5 * inch, unit=unit)),
        turn=draw(st.one_of(st.just(0.0), turns())),
    )
    if kind is Projection.ORTHOGRAPHIC:
        gate = draw(st.sampled_from([camera.gate, None]))
        return replace(camera, gate=gate, field_width=draw(lengths(inch, 30 * inch, unit=unit)))
    focus = st.one_of(
        st.just(Focus()),
        st.sampled_from(levels).map(lambda level: Focus(level=level.name)),
        lengths(5 * inch, 60 * inch, unit=unit).map(lambda distance: Focus(distance=distance)),
    )
    # 3 inches is the longest lens, so it focuses on the nearest level, 9 inches off, however the lens moves.
    blur = draw(st.sampled_from([0.0, 0.025, 0.05])) * METRES_PER_MM
    return replace(camera, focal=draw(_focals()), focus=draw(focus), blur=blur)


def _focals() -> st.SearchStrategy[float]:
    return st.integers(180, 750).map(lambda tenths: metres_from(tenths / 10, "mm"))


@st.composite
def _gates(draw: st.DrawFn) -> Gate:
    name = draw(st.sampled_from(["", *NAMED_GATES]))
    if name:
        width_mm, height_mm = NAMED_GATES[name].size_mm
        return Gate(width_mm * METRES_PER_MM, height_mm * METRES_PER_MM, name)
    return Gate(draw(lengths(8, 40, unit="mm")), draw(lengths(6, 30, unit="mm")))


@st.composite
def _stands(draw: st.DrawFn, unit: str, levels: tuple[Level, ...], projection: Projection) -> Stand:
    if draw(st.booleans()):
        return Stand()
    axes = [*axes_by_column([level.name for level in levels], projection=projection).values()]
    far = metres_from(900.0, unit)
    return Stand(
        camera_height=draw(st.none() | st.just((metres_from(1.5, unit), far))),
        level_height=draw(st.none() | st.just((0.0, far))),
        level_east=draw(st.none() | st.just((-far, far))),
        level_north=draw(st.none() | st.just((-far, far))),
        least_gap=draw(st.none() | lengths(0, 1, unit=unit)),
        counter=draw(st.none() | st.just(metres_from(0.01, unit))),
        camera_speed=draw(st.none() | lengths(1, 20, unit=unit)),
        level_speed=draw(st.none() | lengths(1, 20, unit=unit)),
        reversed=tuple(draw(st.lists(st.sampled_from(axes), unique=True, max_size=3))),
    )


@st.composite
def _exposures(draw: st.DrawFn, levels: tuple[Level, ...], frames: tuple[int, int]) -> list[Exposure]:
    names = draw(st.lists(st.sampled_from(["base", "glow", "star, low"]), unique=True, max_size=3))
    level_names = st.sampled_from([level.name for level in levels])
    fractions = st.integers(0, 100).map(lambda percent: percent / 100)
    return [
        Exposure(
            name=name,
            levels=draw(st.none() | st.lists(level_names, min_size=1, unique=True).map(tuple)),
            stops=draw(st.sampled_from([0.0, -1.0, -2.5])),
            fade=tuple(sorted(draw(st.dictionaries(st.integers(*frames), fractions, max_size=4)).items())),
        )
        for name in names
    ]


@st.composite
def _lamps(draw: st.DrawFn, levels: tuple[Level, ...], unit: str) -> list[Lamp]:
    names = draw(st.lists(st.sampled_from(["key, east", "key, west", "under"]), unique=True, max_size=3))
    level_names = st.sampled_from([level.name for level in levels])
    inch = METRES_PER_UNIT["in"] / METRES_PER_UNIT[unit]
    return [
        Lamp(
            name=name,
            candela=draw(st.sampled_from([1.0, 0.5, 1200.0])),
            height=draw(lengths(-20 * inch, 90 * inch, unit=unit)),
            east=draw(lengths(-40 * inch, 40 * inch, unit=unit)),
            north=draw(lengths(-40 * inch, 40 * inch, unit=unit)),
            levels=draw(st.none() | st.lists(level_names, min_size=1, unique=True).map(tuple)),
        )
        for name in names
    ]


@st.composite
def _rulings(draw: st.DrawFn) -> tuple[Ruling, ...]:
    """Draw what the shot says about some findings, in the order in which it is read."""
    said = draw(st.sets(st.sampled_from(CODES), max_size=3))
    reasons = st.sampled_from(["wanted", 'the "whip" into town', "# not a comment"])
    return tuple(Ruling(code, draw(st.sampled_from(SEVERITIES)), draw(reasons)) for code in CODES if code in said)


@st.composite
def _expectations(draw: st.DrawFn, shot: Shot) -> Expectation:
    level = draw(st.sampled_from(shot.names))
    between = None
    if shot.frame_count > 1 and draw(st.booleans()):
        first = draw(st.integers(shot.frames[0], shot.frames[1] - 1))
        between = (first, draw(st.integers(first + 1, shot.frames[1])))
    kinds = [
        Expectation(level, holds=True, between=between),
        Expectation(level, grows=1.62, between=between),
        *(Expectation(level, heads=heading, between=between) for heading in Heading),
    ]
    kinds += [
        Expectation(level, against=other, drift_ratio=6.0, between=between) for other in shot.names if other != level
    ]
    return draw(st.sampled_from(kinds))


@st.composite
def _drawings(draw: st.DrawFn, shot: Shot) -> Drawings:
    levels = tuple(level.name for level in shot.levels if level.has_drawings)
    if not levels:
        return Drawings()
    later = draw(st.sets(st.integers(shot.frames[0], shot.frames[1]), max_size=5)) - {shot.frames[0]}
    names = st.sampled_from(["1", "2", "two b", NO_DRAWING])
    # The first row names a drawing for each, so that every level shows one at some time.
    rows: list[tuple[str | None, ...]] = [tuple(draw(st.sampled_from(["1", "x"])) for _ in levels)]
    rows += [tuple(draw(st.none() | names) for _ in levels) for _ in later]
    return Drawings(levels, (shot.frames[0], *sorted(later)), tuple(rows))


def _schedules(shot: Shot, stack: Stack) -> st.SearchStrategy[Schedule]:
    if shot.frame_count == 1:
        return st.just(())
    return st.one_of(st.just(()), _moves(shot, stack), _moves(shot, stack), _frame_tables(shot, stack))


def _axes(shot: Shot) -> list[tuple[str, str]]:
    axes = [(part, axis) for part in (CAMERA, *shot.names) for axis in LEVEL_AXES]
    return axes + ([(CAMERA, "focal")] if shot.camera.projection is Projection.PERSPECTIVE else [])


def _readings(axis: tuple[str, str], shot: Shot, stack: Stack) -> st.SearchStrategy[float]:
    """Draw readings of an axis that keep every part in its room."""
    part, name = axis
    if name == "turn":
        return turns()
    if name == "focal":
        return _focals()
    if name == "height":
        room = next(room for room in (stack.camera, *stack.rooms) if room.name == part)
        return lengths(room.low, room.high, unit=shot.units)
    inch = METRES_PER_UNIT["in"] / METRES_PER_UNIT[shot.units]
    return lengths(-12 * inch, 12 * inch, unit=shot.units)


@st.composite
def _moves(draw: st.DrawFn, shot: Shot, stack: Stack) -> tuple[Move, ...]:
    moves: list[Move] = []
    for axis in draw(st.lists(st.sampled_from(_axes(shot)), unique=True, min_size=1, max_size=8)):
        part, name = axis
        owner = shot.camera if part == CAMERA else shot.levels[shot.names.index(part)]
        stood = float(getattr(owner, name))
        for first, last in draw(_spans(shot.frames)):
            move = draw(_laws(axis, last - first, shot.names))
            end = draw(_readings(axis, shot, stack))
            said = draw(st.booleans())
            moves.append(replace(move, first=first, last=last, start=stood, end=end, said_start=said))
            stood = end
    return tuple(draw(st.permutations(moves)))


@st.composite
def _spans(draw: st.DrawFn, frames: tuple[int, int]) -> list[tuple[int, int]]:
    """Draw one to three spans of frames that do not overlap; some touch."""
    marks = sorted(draw(st.sets(st.integers(*frames), min_size=2, max_size=4)))
    spans = list(pairwise(marks))
    return [span for span in spans if draw(st.booleans())] or spans[:1]


@st.composite
def _laws(draw: st.DrawFn, axis: tuple[str, str], span: int, names: tuple[str, ...]) -> Move:
    part, name = axis
    laws = [Law.STEADY, Law.SINE, Law.BEZIER, *([Law.RATIO] if name in ("height", "focal") else [])]
    move = Move(part, name, 0, span, 0.0, 0.0, draw(st.sampled_from(laws)))
    if move.law in (Law.STEADY, Law.BEZIER):
        slow_out = draw(st.integers(0, span))
        slow_in = draw(st.integers(0, span - slow_out))
        return replace(move, slow_out=slow_out / 2, slow_in=float(slow_in))
    if move.law is Law.RATIO and axis == (CAMERA, "height"):
        return replace(move, about=draw(st.sampled_from(names)))
    return move


@st.composite
def _charts(draw: st.DrawFn, shot: Shot, stack: Stack) -> FrameTable:
    """Draw a table of frames for one or two of the axes that have no move, or of none."""
    free = [axis for axis in _axes(shot) if axis not in scheduled_axes(shot.schedule)]
    columns = tuple(draw(st.lists(st.sampled_from(free), unique=True, max_size=2))) if free else ()
    if not columns:
        return FrameTable((), (), ())
    frames = (shot.frames[0], *sorted(draw(st.sets(st.integers(shot.frames[0] + 1, shot.frames[1]), max_size=4))))
    values = tuple(tuple(draw(_readings(axis, shot, stack)) for axis in columns) for _ in frames)
    return FrameTable(columns, frames, values)


@st.composite
def _frame_tables(draw: st.DrawFn, shot: Shot, stack: Stack) -> FrameTable:
    columns = tuple(draw(st.lists(st.sampled_from(_axes(shot)), unique=True, max_size=5)))
    frames = tuple(sorted(draw(st.sets(st.integers(*shot.frames), max_size=6))))
    values = tuple(tuple(draw(st.none() | _readings(axis, shot, stack)) for axis in columns) for _ in frames)
    return FrameTable(columns, frames, values)
