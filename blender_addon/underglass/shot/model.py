# SPDX-License-Identifier: GPL-3.0-or-later
"""What a shot is: frozen values, every length in metres and every angle in radians.

How the files spell them is `read` and `write`; what they look like on screen is the plan room.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

from .errors import Place

CAMERA = "camera"
# The schedule's column for the axis ``focal`` is ``focal_mm``; the reader and the writer translate.
CAMERA_AXES = ("height", "east", "north", "turn", "focal")
LEVEL_AXES = ("height", "east", "north", "turn")
# Those that say where a thing is, in the order of x, y and z.
PLACE_AXES = ("east", "north", "height")
EDGES = ("left", "right", "top", "bottom")
NO_DRAWING = "-"


class Projection(StrEnum):
    """How the camera sees: through a lens, or with parallel rays."""

    PERSPECTIVE = "perspective"
    ORTHOGRAPHIC = "orthographic"


class Law(StrEnum):
    """How an axis gets from where it stands to where it goes."""

    STEADY = "steady"
    SINE = "sine"
    BEZIER = "bezier"
    RATIO = "ratio"


# Laws whose slow-out and slow-in say something.
SLOWED_LAWS = (Law.STEADY, Law.BEZIER)


def bezier_handle(span: float) -> float:
    """Return the length in steps of a handle that nobody has drawn out: a third of the move, as Blender sets it."""
    return span / 3


class Heading(StrEnum):
    """The way a thing goes on screen: west is picture left, north is picture top."""

    WEST = "west"
    EAST = "east"
    NORTH = "north"
    SOUTH = "south"


@dataclass(frozen=True)
class Gate:
    """The exposed part of the film, in metres. ``name`` is a key of gates.NAMED_GATES, or empty."""

    width: float
    height: float
    name: str = ""


@dataclass(frozen=True)
class Focus:
    """What the lens is focused on: a level that focus follows, or else a distance from the lens (inf allowed)."""

    level: str = ""
    distance: float = float("inf")


@dataclass(frozen=True)
class Camera:
    """The camera as shot.toml sets it up, before any move.

    Perspective needs ``gate``, ``focal`` (m) and ``focus``; orthographic needs ``field_width`` (m) and has no focal
    length. ``f_stop`` is 0 where the shot names none, and so is ``blur``, the greatest circle on the film (m) that
    counts as sharp. ``frame_px`` is the delivered width and height.
    """

    projection: Projection
    frame_px: tuple[int, int]
    height: float
    gate: Gate | None = None
    focal: float = 0.0
    f_stop: float = 0.0
    focus: Focus = Focus()
    field_width: float = 0.0
    squeeze: float = 1.0
    east: float = 0.0
    north: float = 0.0
    turn: float = 0.0
    blur: float = 0.0


@dataclass(frozen=True)
class Stand:
    """What the machine can do; a range or a number that was not given is None. Speeds are metres a frame.

    ``reversed`` names each axis, as (part, axis), wired in reverse: its counter counts down as the axis goes up.
    """

    camera_height: tuple[float, float] | None = None
    level_height: tuple[float, float] | None = None
    level_east: tuple[float, float] | None = None
    level_north: tuple[float, float] | None = None
    least_gap: float | None = None
    counter: float | None = None
    camera_speed: float | None = None
    level_speed: float | None = None
    reversed: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Level:
    """One glass with its art.

    ``art`` is the path as written, relative to the shot's folder, with ``{drawing}`` where a run of drawings is
    switched. ``art_px`` is the pixel size of its image files (all drawings of a run agree). ``on`` is 1 where moves
    change every frame, 2 on twos. ``covers`` None means: not said (the rearmost level then covers all four edges).
    """

    name: str
    art: str
    art_width: float
    height: float
    art_px: tuple[int, int]
    east: float = 0.0
    north: float = 0.0
    turn: float = 0.0
    covers: tuple[str, ...] | None = None
    on: int = 1

    @property
    def art_height(self) -> float:
        """Real height of the art in metres: the image's pixels are square."""
        return self.art_width * self.art_px[1] / self.art_px[0]

    @property
    def has_drawings(self) -> bool:
        """Whether the art is a run of drawings."""
        return "{drawing}" in self.art


@dataclass(frozen=True)
class Expectation:
    """What the picture must do, said apart from the schedule. Exactly one of the four kinds is set.

    ``between`` is first and last frame, None for the whole shot.
    """

    level: str
    holds: bool = False
    grows: float | None = None
    heads: Heading | None = None
    against: str = ""
    drift_ratio: float | None = None
    between: tuple[int, int] | None = None


@dataclass(frozen=True)
class Exposure:
    """One pass over the same frames. ``levels`` None means all; ``fade`` is (frame, fraction of the pass)."""

    name: str
    levels: tuple[str, ...] | None = None
    stops: float = 0.0
    fade: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True)
class Lamp:
    """A lamp that stands still, a point that sends ``candela`` every way; ``levels`` None means that it lights all.

    Where only ratios are wanted any unit of light will do, the same for all lamps.
    """

    name: str
    candela: float
    height: float
    east: float = 0.0
    north: float = 0.0
    levels: tuple[str, ...] | None = None


@dataclass(frozen=True)
class Ruling:
    """What the shot itself says about the findings of one code: how serious they are here, and why."""

    code: str
    severity: str
    reason: str


@dataclass(frozen=True)
class Move:
    """One row of a schedule of moves: at ``first`` the axis reads ``start``, at ``last`` it reads ``end``.

    ``start`` is always known here: a blank was filled with where the axis stood. ``said_start`` remembers whether
    the row said it, so that it is written back as it was. With the law bezier ``slow_out`` and ``slow_in`` are the
    lengths of the handles in steps, a third of the move's where nothing else is said.
    """

    part: str
    axis: str
    first: int
    last: int
    start: float
    end: float
    law: Law = Law.STEADY
    slow_out: float = 0.0
    slow_in: float = 0.0
    about: str = ""
    said_start: bool = True


@dataclass(frozen=True)
class FrameTable:
    """A schedule that names positions frame by frame; None where a cell was blank, and a value holds until the next.

    ``columns`` is (part, axis); ``values`` has a row per entry of ``frames``.
    """

    columns: tuple[tuple[str, str], ...]
    frames: tuple[int, ...]
    values: tuple[tuple[float | None, ...], ...]


Schedule = tuple[Move, ...] | FrameTable


def scheduled_axes(schedule: Schedule) -> frozenset[tuple[str, str]]:
    """Return every axis that a schedule has, as (part, axis)."""
    if isinstance(schedule, FrameTable):
        return frozenset(schedule.columns)
    return frozenset((move.part, move.axis) for move in schedule)


@dataclass(frozen=True)
class Drawings:
    """Which drawing each level shows from a frame on: None as before, NO_DRAWING for none."""

    levels: tuple[str, ...] = ()
    frames: tuple[int, ...] = ()
    rows: tuple[tuple[str | None, ...], ...] = ()

    def of(self, level: str) -> tuple[str, ...]:
        """Return the names of the drawings that ``level`` shows, in order of first use."""
        column = self.levels.index(level)
        shown = (row[column] for row in self.rows)
        return tuple(dict.fromkeys(name for name in shown if name not in (None, NO_DRAWING)))


@dataclass(frozen=True)
class Shot:
    """A whole shot. ``levels`` go from nearest the lens to rearmost; ``chart`` has the axes that no move has.

    ``folder`` is where the shot file lies; ``places`` says where each key was read, so that a later room can point
    at it. Neither takes part in equality.
    """

    title: str
    units: str
    fps: float
    frames: tuple[int, int]
    camera: Camera
    levels: tuple[Level, ...]
    stand: Stand = Stand()
    schedule: Schedule = ()
    chart: FrameTable = FrameTable((), (), ())
    drawings: Drawings = Drawings()
    expectations: tuple[Expectation, ...] = ()
    exposures: tuple[Exposure, ...] = ()
    lamps: tuple[Lamp, ...] = ()
    rulings: tuple[Ruling, ...] = ()
    schedule_file: str = ""
    chart_file: str = ""
    drawings_file: str = ""
    folder: Path = field(default=Path(), compare=False)
    places: Mapping[str, Place] = field(default_factory=dict, compare=False, repr=False)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the levels, nearest the lens first."""
        return tuple(level.name for level in self.levels)

    @property
    def frame_count(self) -> int:
        """Number of frames, first and last both counted."""
        return self.frames[1] - self.frames[0] + 1

    def edges_to_cover(self, level: Level) -> tuple[str, ...]:
        """Return the frame edges that ``level`` must not uncover: those it says, else all for the rearmost."""
        if level.covers is not None:
            return level.covers
        return EDGES if level.name == self.levels[-1].name else ()

    def art_files(self, level: Level) -> tuple[str, ...]:
        """Return the image files of ``level`` as written: one, or one for each drawing that is shown."""
        if not level.has_drawings:
            return (level.art,)
        return tuple(level.art.replace("{drawing}", name) for name in self.drawings.of(level.name))

    def place(self, key: str) -> Place:
        """Return where ``key`` was said, such as ``level.reeds.height`` or ``camera.focal_mm``."""
        return self.places.get(key, Place(self.folder / "shot.toml", 0, key))

    def art_path(self, level: Level, drawing: str = "") -> Path:
        """Return the image file of ``level``; a run of drawings needs the name of one."""
        return self.folder / level.art.replace("{drawing}", drawing)
