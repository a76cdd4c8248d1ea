# SPDX-License-Identifier: GPL-3.0-or-later
"""Clean shots for faults to be planted in: drawn with a numpy Generator, so that a seed gives the same shot for ever.

One to twelve levels, both projections, all laws, turns, twos, drawings, anamorphic lenses, a camera off the axis, and
art from a part of the field to several fields wide.
"""

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np

from faults.stand import readings
from shot_strategies import make_shot_art
from underglass.shot import (
    CAMERA,
    NO_DRAWING,
    Camera,
    Drawings,
    Focus,
    FrameTable,
    Gate,
    Law,
    Level,
    Move,
    Projection,
    Shot,
)
from underglass.shot.files import read_shot, write_shot
from underglass.shot.units import METRES_PER_UNIT

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
    "boat",
    "鷺",
    "peak",
)
INCH = 0.0254
GATES_MM = ((22.0, 16.0), (24.89, 18.67), (10.26, 7.49), (36.0, 24.0), (21.95, 18.6))
# Sizes of frames, and how often each is drawn: what is large is drawn seldom, since every frame is rendered.
FRAMES_PX = ((240, 180), (200, 300), (320, 240), (640, 480), (1828, 1332), (1920, 804))
HOW_OFTEN = (0.3, 0.3, 0.2, 0.12, 0.04, 0.04)


def make_shot(
    rng: np.random.Generator,
    *,
    levels: tuple[int, int] = (1, 12),
    frames: tuple[int, int] = (6, 14),
    frame_px: tuple[int, int] | None = None,
    projection: Projection | None = None,
    busy: bool = True,
    called: tuple[str, ...] = NAMES,
) -> Shot:
    """Return a shot with ``levels`` and ``frames`` from least to most; ``busy`` ones move. Levels have names of those
    in ``called``, and are no more than there are of them.
    """
    unit = str(rng.choice(["in", "mm", "cm"]))
    count = int(rng.integers(levels[0], levels[1] + 1))
    names = [str(name) for name in rng.permutation(called)[:count]]
    rooms = _rooms(rng, count)
    first = int(rng.choice([1, 1, 0, 101, 1001]))
    span = first, first + int(rng.integers(frames[0], frames[1] + 1)) - 1
    kind = projection or (Projection.PERSPECTIVE if rng.random() < 0.75 else Projection.ORTHOGRAPHIC)
    camera = _camera(rng, unit, names, rooms, kind, frame_px)
    shot = Shot(
        title="Seeded",
        units=unit,
        fps=float(rng.choice([24.0, 25.0, 23.976])),
        frames=span,
        camera=camera,
        levels=tuple(
            _level(rng, unit, name, room, camera, number)
            for number, (name, room) in enumerate(zip(names, rooms, strict=False))
        ),
    )
    shot = replace(shot, drawings=_drawings(rng, shot))
    if busy or rng.random() < 0.5:
        shot = replace(shot, schedule=_moves(rng, shot, dict(zip([*names, CAMERA], rooms, strict=True))))
        if rng.random() < 0.3:
            shot = replace(shot, schedule=as_table(shot))
    return replace(
        shot,
        schedule_file="schedule.csv" if shot.schedule else "",
        drawings_file="drawings.csv" if shot.drawings.levels else "",
    )


def on_disk(shot: Shot, folder: Path) -> Shot:
    """Write a shot and its art into ``folder``, emptied before, and return it as it is read."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    make_shot_art(shot, folder)
    write_shot(shot, folder)
    return read_shot(folder)


def as_table(shot: Shot) -> FrameTable:
    """Return the moves of a shot as a table of every frame, each reading rounded to a counter of a thousandth."""
    moved = sorted({(move.part, move.axis) for move in shot.schedule})
    read = readings(replace(shot, levels=tuple(replace(level, on=1) for level in shot.levels)))
    columns = [[_counted(shot.units, axis, value, 1000) for value in read[part, axis].tolist()] for part, axis in moved]
    frames = tuple(range(shot.frames[0], shot.frames[1] + 1))
    return FrameTable(tuple(moved), frames, tuple(zip(*columns, strict=True)))


def unit_of(units: str, axis: str) -> float:
    """Return what one step of the number that an operator reads is: metres, or radians for a turn."""
    if axis == "turn":
        return float(np.radians(1.0))
    return 0.001 if axis == "focal" else METRES_PER_UNIT[units]


def _counted(units: str, axis: str, value: float, steps: int) -> float:
    one = unit_of(units, axis)
    return round(value / one * steps) / steps * one


def _rooms(rng: np.random.Generator, count: int) -> list[tuple[float, float]]:
    """Return the heights that each level keeps to, nearest first, and then the camera's; metres."""
    rooms, low = [], 0.0
    for _ in range(count):
        high = low + float(rng.uniform(0.5, 4.0)) * INCH
        rooms.append((low, high))
        low = high + float(rng.uniform(0.6, 2.0)) * INCH
    return [*reversed(rooms), (low + 8 * INCH, low + 30 * INCH)]


def _camera(
    rng: np.random.Generator,
    unit: str,
    names: list[str],
    rooms: list[tuple[float, float]],
    kind: Projection,
    frame_px: tuple[int, int] | None,
) -> Camera:
    gate = Gate(*(side / 1000 for side in GATES_MM[rng.integers(len(GATES_MM))]))
    off_axis = rng.random() < 0.5
    camera = Camera(
        projection=kind,
        frame_px=frame_px or FRAMES_PX[rng.choice(len(FRAMES_PX), p=HOW_OFTEN)],
        height=_counted(unit, "height", float(rng.uniform(*rooms[-1])), 100),
        gate=gate,
        f_stop=float(rng.choice([0.0, 8.0, 16.0])),
        squeeze=float(rng.choice([1.0, 1.0, 1.0, 2.0])),
        east=_counted(unit, "east", float(rng.uniform(-2, 2)) * INCH, 100) if off_axis else 0.0,
        north=_counted(unit, "north", float(rng.uniform(-2, 2)) * INCH, 100) if off_axis else 0.0,
        turn=np.radians(round(float(rng.uniform(-30, 30)), 1)) if rng.random() < 0.3 else 0.0,
    )
    if kind is Projection.ORTHOGRAPHIC:
        return replace(
            camera, gate=None, f_stop=0.0, field_width=_counted(unit, "east", float(rng.uniform(4, 14)) * INCH, 100)
        )
    focal = round(float(rng.uniform(35, 75)), 1) / 1000
    focus = [
        Focus(),
        Focus(level=str(rng.choice(names))),
        Focus(distance=_counted(unit, "height", float(rng.uniform(8, 40)) * INCH, 100)),
    ]
    return replace(camera, focal=focal, focus=focus[rng.integers(3)])


def _level(
    rng: np.random.Generator, unit: str, name: str, room: tuple[float, float], camera: Camera, number: int
) -> Level:
    height = _counted(unit, "height", float(rng.uniform(*room)), 100)
    field = camera.field_width
    if camera.projection is Projection.PERSPECTIVE:
        assert camera.gate is not None
        field = camera.gate.width * camera.squeeze * (camera.height - height) / camera.focal
    # A prop, a level as wide as the field, or one with wide margins.
    width = field * float(rng.choice([rng.uniform(0.25, 0.7), rng.uniform(0.7, 1.3), rng.uniform(1.3, 2.5)]))
    stem = f"art/level {number}"
    off = 0.25 * field / INCH
    return Level(
        name=name,
        art=stem + ("_{drawing}.png" if rng.random() < 0.2 else ".png"),
        art_width=_counted(unit, "east", width, 100),
        height=height,
        art_px=(int(rng.integers(8, 40)), int(rng.integers(8, 40))),
        east=camera.east + _counted(unit, "east", float(rng.uniform(-off, off)) * INCH, 100),
        north=camera.north + _counted(unit, "north", float(rng.uniform(-off, off)) * INCH * 0.7, 100),
        turn=np.radians(round(float(rng.uniform(-180, 180)), 1)) if rng.random() < 0.3 else 0.0,
        on=int(rng.choice([1, 1, 1, 1, 2, 3])),
    )


def _drawings(rng: np.random.Generator, shot: Shot) -> Drawings:
    levels = tuple(level.name for level in shot.levels if level.has_drawings)
    if not levels:
        return Drawings()
    later = sorted({int(rng.integers(shot.frames[0] + 1, shot.frames[1] + 1)) for _ in range(int(rng.integers(1, 5)))})
    rows: list[tuple[str | None, ...]] = [tuple("1" for _ in levels)]
    for _ in later:
        row: list[str | None] = [str(rng.choice(["1", "2", "two b", NO_DRAWING])) for _ in levels]
        rows.append(tuple(row))
    return Drawings(levels, (shot.frames[0], *later), tuple(rows))


def _moves(rng: np.random.Generator, shot: Shot, rooms: dict[str, tuple[float, float]]) -> tuple[Move, ...]:
    axes = [(part, axis) for part in (CAMERA, *shot.names) for axis in ("height", "east", "north", "turn")]
    if shot.camera.projection is Projection.PERSPECTIVE:
        axes.append((CAMERA, "focal"))
    chosen = rng.permutation(len(axes))[: int(rng.integers(1, min(8, len(axes)) + 1))]
    moves: list[Move] = []
    for index in chosen:
        part, axis = axes[index]
        owner = shot.camera if part == CAMERA else shot.levels[shot.names.index(part)]
        stood = float(getattr(owner, axis))
        for first, last in _spans(rng, shot.frames):
            move = _law(rng, shot, part, axis, last - first)
            end = _target(rng, shot, part, axis, stood, rooms)
            moves.append(replace(move, first=first, last=last, start=stood, end=end))
            stood = end
    return tuple(moves)


def _spans(rng: np.random.Generator, frames: tuple[int, int]) -> list[tuple[int, int]]:
    """Return one move, or in a third of the cases two, that do not overlap."""
    length = frames[1] - frames[0]
    marks = sorted(frames[0] + rng.permutation(length + 1)[:3])
    if rng.random() < 0.3 and length >= 6:
        return [(int(marks[0]), int(marks[1])), (int(marks[1]), int(marks[2]))]
    first = frames[0] + int(rng.integers(0, max(1, length // 3)))
    last = frames[1] - int(rng.integers(0, max(1, length // 3)))
    return [(first, max(last, first + 2))]


def _law(rng: np.random.Generator, shot: Shot, part: str, axis: str, span: int) -> Move:
    ratio = axis == "focal" or (
        axis == "height" and shot.camera.projection is Projection.PERSPECTIVE and part == CAMERA
    )
    law = [Law.STEADY, Law.STEADY, Law.SINE, *([Law.RATIO] if ratio else [])][rng.integers(4 if ratio else 3)]
    move = Move(part, axis, 0, span, 0.0, 0.0, law)
    if law is Law.STEADY and rng.random() < 0.6:
        slow_out = int(rng.integers(0, span // 2 + 1))
        return replace(move, slow_out=float(slow_out), slow_in=float(rng.integers(0, span - slow_out + 1)))
    if law is Law.RATIO and axis == "height":
        return replace(move, about=str(rng.choice(shot.names)))
    return move


def _target(
    rng: np.random.Generator, shot: Shot, part: str, axis: str, stood: float, rooms: dict[str, tuple[float, float]]
) -> float:
    """Return where a move goes: well away from where it begins, in its room."""
    if axis == "height":
        low, high = rooms[part]
        far = low if stood > (low + high) / 2 else high
        return _counted(shot.units, axis, stood + (far - stood) * float(rng.uniform(0.4, 0.9)), 100)
    way = float(rng.choice([-1, 1])) * float(rng.uniform(0.3, 1.0))
    if axis == "focal":
        return _counted(shot.units, axis, stood * (1.3 if stood < 0.05 else 0.75), 10)
    if axis == "turn":
        return stood + np.radians(round(way * 40, 1))
    return _counted(shot.units, axis, stood + way * 3 * INCH, 100)
