# SPDX-License-Identifier: GPL-3.0-or-later
"""Kinds of fault in a shot's files: a schedule, a set-up or an exposure sheet that says what was not meant.

The stack is built from the files as they were broken, and proved against those that were meant.
"""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np

from faults.kinds import CAMERA, Draw, Name, Told, UnfitError, kind
from faults.made_shots import unit_of
from faults.stand import Stand, readings, stand_of
from underglass.shot import FrameTable, Law, Level, Move, Projection, Shot

SHAPES = ("offset", "late", "early", "reversed", "still", "too-far", "uneven", "strays")
# Less than this is no way to speak of, metres or radians.
LEAST_WAY = 1e-3
# What of the camera's lens goes with a height that focus follows, or with its focal length.
LENS = frozenset({(CAMERA, "lens"), (CAMERA, "focus")})


def codes(axis: str, *shapes: str) -> tuple[str, ...]:
    """Return the codes of an axis that has one of the ``shapes``, all of them where none is named."""
    seen_as = "lens" if axis == "focal" else axis
    return tuple(f"{seen_as}-{shape}" for shape in shapes or SHAPES)


def told(
    draw: Draw,
    shot: Shot,
    part: str,
    axis: str,
    *shapes: str,
    amount: float | None = None,
    unit: str = "",
    sign: int = 0,
    steps: float = float("nan"),
    of: str = "",
) -> Told:
    """Return what has to be said of a shot in which one axis of one part is broken.

    ``amount`` in ``unit`` is what the fault has to say, ``steps`` and ``of`` are for the table.
    """
    broken = stand_of(shot)
    px = broken.away_from(draw.stand)
    own = px.max(axis=1) if part == CAMERA else px[:, draw.shot.names.index(part)]
    # A lens that follows, or a camera that goes by ratio from a level, moves every level too: frames are then not this
    # axis's alone.
    followers = _followers(draw, shot, broken) - {(part, axis)}
    if not np.isfinite(px).all() or px.max() <= 1e-3 or px.max() > 1e5:
        raise UnfitError
    if axis == "focal" and draw.shot.camera.focus.level:
        # The lens stands where focal length and focus together put it, which may be of any shape.
        shapes = SHAPES
    name = Name(codes(axis, *shapes), part, sign, amount, unit, None if followers or axis == "focal" else own)
    return Told((name,), broken, shot=shot, also=followers, amount=steps, unit=of)


def _followers(draw: Draw, shot: Shot, broken: Stand) -> frozenset[tuple[str, str]]:
    """Return the axes that read otherwise in ``shot`` than in the one that was meant."""
    meant, found = readings(draw.shot), readings(shot)
    changed = {key for key, track in meant.items() if np.abs(found[key] - track).max() > 1e-9}
    if not np.allclose(broken.reach, draw.stand.reach, rtol=1e-7, atol=0, equal_nan=True):
        changed |= LENS
    return frozenset(changed)


def moves_by_axis(shot: Shot) -> dict[tuple[str, str], list[Move]]:
    """Return the moves of a schedule by what they move; UnfitError where it is a table, or moves nothing."""
    if isinstance(shot.schedule, FrameTable) or not shot.schedule:
        raise UnfitError
    found: dict[tuple[str, str], list[Move]] = {}
    for move in sorted(shot.schedule, key=lambda move: move.first):
        found.setdefault((move.part, move.axis), []).append(move)
    return found


def an_axis(draw: Draw, *axes: str, single: bool = False) -> tuple[tuple[str, str], list[Move]]:
    """Return an axis that moves and its moves, one of ``axes`` where any is named; ``single`` ones move once."""
    way = readings(draw.shot)
    found = [
        (key, moves)
        for key, moves in moves_by_axis(draw.shot).items()
        if (not axes or key[1] in axes) and (not single or len(moves) == 1) and np.ptp(way[key]) > LEAST_WAY
    ]
    if not found:
        raise UnfitError
    return found[draw.rng.integers(len(found))]


def with_moves(shot: Shot, moves: list[Move], new: list[Move]) -> Shot:
    """Return the shot with ``new`` moves in the place of others."""
    assert not isinstance(shot.schedule, FrameTable)
    return replace(shot, schedule=(*(move for move in shot.schedule if move not in moves), *new))


def with_set_up(shot: Shot, part: str, **values: float | int | str) -> Shot:
    """Return the shot with another set-up of the camera or of a level."""
    if part == CAMERA:
        return replace(shot, camera=replace(shot.camera, **values))
    levels = [replace(level, **values) if level.name == part else level for level in shot.levels]
    return replace(shot, levels=tuple(levels))


def about_start(moves: list[Move], factor: float) -> list[Move]:
    """Return the moves of an axis with its way from where it first stood taken ``factor`` times."""
    begin = moves[0].start

    def there(value: float) -> float:
        return begin + factor * (value - begin)

    new = [replace(move, start=there(move.start), end=there(move.end)) for move in moves]
    if moves[0].axis == "focal" and min(move.end for move in new) < 0.015:
        raise UnfitError
    return new


# --- where a move goes


def _wrong_way(name: str, *axes: str, part: str = "") -> None:
    @kind(name, graded=False)
    def plant(draw: Draw) -> Told:
        (who, axis), moves = an_axis(draw, *axes)
        if (part == CAMERA) != (who == CAMERA):
            raise UnfitError
        return told(draw, with_moves(draw.shot, moves, about_start(moves, -1.0)), who, axis, "reversed")


_wrong_way("pan heads the wrong way", "east", "north")
_wrong_way("level goes the wrong way in height", "height")
_wrong_way("turn goes the wrong way", "turn")
_wrong_way("camera pans the wrong way", "east", "north", part=CAMERA)
_wrong_way("camera trucks the wrong way", "height", part=CAMERA)
_wrong_way("camera turns the wrong way", "turn", part=CAMERA)


def _times(name: str, factor: float) -> None:
    @kind(name, graded=False)
    def plant(draw: Draw) -> Told:
        (part, axis), moves = an_axis(draw)
        shot = with_moves(draw.shot, moves, about_start(moves, factor))
        exact = axis != "focal" and not any(move.law is Law.RATIO for move in moves)
        said = {"amount": factor, "unit": "times"} if exact else {}
        return told(draw, shot, part, axis, "too-far", **said, steps=factor, of="times")


_times("half the travel", 0.5)
_times("twice the travel", 2.0)


@kind("move ends at the wrong reading")
def _(draw: Draw) -> Told:
    (part, axis), moves = an_axis(draw, "height", "east", "north", "turn", single=True)
    sign = draw.sign()

    def shot(size: float) -> Shot:
        return with_moves(draw.shot, moves, [replace(moves[0], end=moves[0].end + sign * size)])

    size, _ = draw.scaled(lambda size: stand_of(shot(size)))
    # Of a hair's breadth more than planned, of a move that ends on the last frame, nobody can say more than that.
    shapes = ("too-far", "strays", "uneven", "still", "reversed")
    return told(draw, shot(size), part, axis, *shapes, **in_words(draw.shot, axis, sign * size))


def in_words(shot: Shot, axis: str, size: float) -> dict[str, float | str]:
    """Return an amount for the table."""
    return {"steps": size / unit_of(shot.units, axis), "of": "degrees" if axis == "turn" else shot.units}


@kind("reading in the wrong unit", graded=False)
def _(draw: Draw) -> Told:
    (part, axis), moves = an_axis(draw, "height", "east", "north", single=True)
    factor = float(draw.rng.choice([25.4, 1 / 25.4, 10.0, 0.1]))
    wrong = replace(moves[0], end=moves[0].end * factor)
    return told(draw, with_moves(draw.shot, moves, [wrong]), part, axis, steps=factor, of="times")


@kind("from and to exchanged", graded=False)
def _(draw: Draw) -> Told:
    (part, axis), moves = an_axis(draw, "height", "east", "north", "turn", single=True)
    move = moves[0]
    shot = with_moves(draw.shot, moves, [replace(move, start=move.end, end=move.start)])
    return told(draw, with_set_up(shot, part, **{axis: move.end}), part, axis, "reversed")


# --- when a move is made


def _other_frames(name: str, change: Callable[[Draw, list[Move], int], tuple[list[Move], tuple[str, ...]]]) -> None:
    @kind(name, graded=False)
    def plant(draw: Draw) -> Told:
        (part, axis), moves = an_axis(draw)
        on = 1 if part == CAMERA else draw.shot.levels[draw.shot.names.index(part)].on
        count = on * int(draw.rng.choice([1, 1, 2, 3]))
        new, shapes = change(draw, moves, count)
        first, last = draw.shot.frames
        if any(not first <= move.first < move.last <= last for move in new):
            raise UnfitError
        if any(one.last > two.first for one, two in pairwise(new)):
            raise UnfitError
        if any(move.slow_out + move.slow_in > move.last - move.first for move in new):
            raise UnfitError
        return told(draw, with_moves(draw.shot, moves, new), part, axis, *shapes, steps=count, of="frames")


def _slid(moves: list[Move], by: int) -> list[Move]:
    return [replace(move, first=move.first + by, last=move.last + by) for move in moves]


_other_frames("move made late", lambda draw, moves, count: (_slid(moves, count), ("late",)))
_other_frames("move made early", lambda draw, moves, count: (_slid(moves, -count), ("early",)))
_other_frames(
    "move begins on the wrong frame",
    lambda draw, moves, count: (
        [replace(moves[0], first=moves[0].first + int(draw.sign()) * count), *moves[1:]],
        ("uneven", "late", "early", "strays"),
    ),
)
_other_frames(
    "move ends on the wrong frame",
    lambda draw, moves, count: (
        [*moves[:-1], replace(moves[-1], last=moves[-1].last + int(draw.sign()) * count)],
        ("uneven", "late", "early", "strays"),
    ),
)


@kind("hold forgotten", graded=False)
def _(draw: Draw) -> Told:
    (part, axis), moves = an_axis(draw)
    if moves[0].first == draw.shot.frames[0]:
        raise UnfitError
    shot = with_moves(draw.shot, moves, [replace(moves[0], first=draw.shot.frames[0]), *moves[1:]])
    return told(draw, shot, part, axis, "uneven", "strays", "early")


@kind("move forgotten", graded=False)
def _(draw: Draw) -> Told:
    (part, axis), moves = an_axis(draw, "height", "east", "north", "turn")
    return told(draw, with_moves(draw.shot, moves, []), part, axis, "still")


@kind("last of several moves forgotten", graded=False)
def _(draw: Draw) -> Told:
    (part, axis), moves = an_axis(draw, "height", "east", "north", "turn")
    if len(moves) < 2:
        raise UnfitError
    return told(draw, with_moves(draw.shot, moves, moves[:-1]), part, axis)


@kind("focal length move forgotten", graded=False, projection=Projection.PERSPECTIVE)
def _(draw: Draw) -> Told:
    (part, axis), moves = an_axis(draw, "focal")
    return told(draw, with_moves(draw.shot, moves, []), part, axis, "still", "strays", "uneven", "offset")


# --- how a move is made


@kind("law changed", graded=False)
def _(draw: Draw) -> Told:
    (part, axis), moves = an_axis(draw)
    changed = []
    for move in moves:
        other = Law.STEADY if move.law is not Law.STEADY else Law.SINE
        changed.append(replace(move, law=other, slow_out=0.0, slow_in=0.0, about=""))
    # Out and back again by another law, on a frame or two, is the same as so much less of a way.
    return told(draw, with_moves(draw.shot, moves, changed), part, axis, "uneven", "strays", "too-far")


def _slow_lost(name: str, which: str) -> None:
    @kind(name, graded=False)
    def plant(draw: Draw) -> Told:
        (part, axis), moves = an_axis(draw)
        if not any(getattr(move, which) for move in moves):
            raise UnfitError
        changed = [replace(move, **{which: 0.0}) for move in moves]
        # of a move that the shot ends in the middle of, only more or less travel is left to be seen
        shapes = "uneven", "late", "early", "strays", "too-far"
        return told(draw, with_moves(draw.shot, moves, changed), part, axis, *shapes)


_slow_lost("slow-out lost", "slow_out")
_slow_lost("slow-in lost", "slow_in")


@kind("on twos in the place of ones, or ones of twos", graded=False)
def _(draw: Draw) -> Told:
    (part, axis), _ = an_axis(draw)
    if part == CAMERA:
        raise UnfitError
    level = draw.shot.levels[draw.shot.names.index(part)]
    shot = with_set_up(draw.shot, part, on=2 if level.on == 1 else 1)
    moving = [key for key in moves_by_axis(draw.shot) if key[0] == part]
    planted = told(draw, shot, part, axis)
    names = tuple(Name(codes(axis), part) for _, axis in moving)
    also = frozenset((part, axis) for _, axis in moving)
    return replace(planted, names=names, also=planted.also | also)


# --- tables


def table_of(shot: Shot) -> FrameTable:
    """Return the schedule as a table; UnfitError where it is none."""
    if not isinstance(shot.schedule, FrameTable) or not shot.schedule.columns:
        raise UnfitError
    return shot.schedule


@kind("slip in one row of a table")
def _(draw: Draw) -> Told:
    table = table_of(draw.shot)
    row, column = int(draw.rng.integers(len(table.frames))), int(draw.rng.integers(len(table.columns)))
    part, axis = table.columns[column]
    if axis == "focal":
        raise UnfitError
    sign = draw.sign()

    def shot(size: float) -> Shot:
        values = [[*cells] for cells in table.values]
        values[row][column] += sign * size
        return replace(draw.shot, schedule=replace(table, values=tuple(map(tuple, values))))

    size, _ = draw.scaled(lambda size: stand_of(shot(size)))
    words = in_words(draw.shot, axis, sign * size)
    unit = str(words["of"])
    amount = {"amount": words["steps"], "unit": unit, "sign": int(sign)}
    return told(draw, shot(size), part, axis, "uneven", "strays", **amount, **words)


@kind("columns of two levels exchanged", graded=False)
def _(draw: Draw) -> Told:
    table = table_of(draw.shot)
    pairs = [
        (one, two)
        for one, (part, axis) in enumerate(table.columns)
        for two, (other, same) in enumerate(table.columns)
        if one < two and axis == same and axis != "height" and CAMERA not in (part, other)
    ]
    if not pairs:
        raise UnfitError
    one, two = pairs[draw.rng.integers(len(pairs))]
    columns = [*table.columns]
    columns[one], columns[two] = columns[two], columns[one]
    shot = replace(draw.shot, schedule=replace(table, columns=tuple(columns)))
    part, axis = table.columns[one]
    planted = told(draw, shot, part, axis)
    other = table.columns[two][0]
    px = planted.broken.away_from(draw.stand)
    first, last = sorted((part, other), key=draw.shot.names.index)
    swap = Name(("swapped",), first)
    names = [Name(codes(axis), name, px=px[:, draw.shot.names.index(name)]) for name in (part, other)]
    return replace(planted, names=(swap, *names), also=frozenset({(first, "swapped"), (last, axis)}))


# --- set-up


def _set_up(name: str, axis: str, *, who: str = "") -> None:
    @kind(name, projection=Projection.PERSPECTIVE if axis == "height" else None)
    def plant(draw: Draw) -> Told:
        part = who or draw.shot.names[draw.level()]
        sign = draw.sign()

        def shot(size: float) -> Shot:
            return shifted(draw.shot, part, axis, sign * size)

        size, _ = draw.scaled(lambda size: stand_of(shot(size)))
        words = in_words(draw.shot, axis, sign * size)
        amount = {"amount": words["steps"], "unit": str(words["of"]), "sign": int(sign)}
        return told(draw, shot(size), part, axis, "offset", **amount, **words)


def shifted(shot: Shot, part: str, axis: str, by: float) -> Shot:
    """Return the shot with one axis off by the same on every frame; a ratio is not the same ratio elsewhere."""
    owner: Level | object = shot.camera if part == CAMERA else shot.levels[shot.names.index(part)]
    shot = with_set_up(shot, part, **{axis: float(getattr(owner, axis)) + by})
    if isinstance(shot.schedule, FrameTable):
        values = [
            tuple(
                value + by if key == (part, axis) and value is not None else value
                for key, value in zip(shot.schedule.columns, row, strict=True)
            )
            for row in shot.schedule.values
        ]
        return replace(shot, schedule=replace(shot.schedule, values=tuple(values)))
    if any(move.law is Law.RATIO and axis == "height" for move in shot.schedule):
        raise UnfitError
    moves = [
        replace(move, start=move.start + by, end=move.end + by) if (move.part, move.axis) == (part, axis) else move
        for move in shot.schedule
    ]
    return replace(shot, schedule=tuple(moves))


for _axis in ("height", "east", "north", "turn"):
    _set_up(f"level set up at the wrong {_axis}", _axis)
    _set_up(f"camera set up at the wrong {_axis}", _axis, who=CAMERA)


@kind("art width wrong")
def _(draw: Draw) -> Told:
    part, sign = draw.shot.names[draw.level()], draw.sign()
    width = draw.shot.levels[draw.shot.names.index(part)].art_width

    def shot(share: float) -> Shot:
        return with_set_up(draw.shot, part, art_width=width * (1 + sign * min(share, 0.95)))

    share, _ = draw.scaled(lambda share: stand_of(shot(share)))
    planted = told(draw, shot(share), part, "width", "offset", sign=int(sign), steps=100 * sign * share, of="%")
    name = planted.names[0]
    wide = replace(name, codes=("width-offset", "art-height-offset"))
    return replace(planted, names=(wide,), also=frozenset({(part, "width"), (part, "art_height")}))


@kind("focused on the wrong thing", graded=False, projection=Projection.PERSPECTIVE)
def _(draw: Draw) -> Told:
    camera = draw.shot.camera
    others = [name for name in draw.shot.names if name != camera.focus.level]
    if not others:
        raise UnfitError
    focus = replace(camera.focus, level=str(draw.rng.choice(others)), distance=np.inf)
    shot = replace(draw.shot, camera=replace(camera, focus=focus))
    planted = told(draw, shot, CAMERA, "focal")
    names = Name((*codes("focal"), "no-breathing"), CAMERA), Name(("focus",), CAMERA)
    return replace(planted, names=names)


def _setting(name: str, code: str, change: Callable[[Draw], Shot], *, subject: str = "scene", also: str = "") -> None:
    """Enter a kind that changes what the shot says of the whole; nothing is displaced by what could be told in px."""

    @kind(name, graded=False)
    def plant(draw: Draw) -> Told:
        beside = frozenset({("*", "*")}) if also else frozenset()
        return Told((Name((code,), subject),), structural=True, shot=change(draw), also=beside)


def _other_stop(draw: Draw) -> Shot:
    if not draw.shot.camera.f_stop:
        raise UnfitError
    return with_set_up(draw.shot, CAMERA, f_stop=draw.shot.camera.f_stop * float(draw.rng.choice([0.5, 0.7, 1.4, 2.0])))


def _other_range(draw: Draw) -> Shot:
    first, last = draw.shot.frames
    if isinstance(draw.shot.schedule, FrameTable) or draw.shot.drawings.levels:
        raise UnfitError
    if any((track[-1] != track[-2]) for track in readings(draw.shot).values()):
        raise UnfitError
    if any(move.last > last - 1 for move in draw.shot.schedule):
        raise UnfitError
    return replace(draw.shot, frames=(first, last - 1))


_setting("another f-stop", "f-stop", _other_stop, subject=CAMERA)
_setting("another frame rate", "frame-rate", lambda draw: replace(draw.shot, fps=draw.shot.fps + 1))
_setting("shot a frame short", "frame-range", _other_range)
_setting(
    "another size of frame",
    "frame-size",
    lambda draw: with_set_up(draw.shot, CAMERA, frame_px=tuple(side // 2 * 3 for side in draw.shot.camera.frame_px)),
    also="any",
)


def _drawings_changed(name: str, change: Callable[[Draw], Shot]) -> None:
    @kind(name, graded=False)
    def plant(draw: Draw) -> Told:
        shot = change(draw)
        if shot.drawings == draw.shot.drawings:
            raise UnfitError
        names = shot.drawings.levels
        changed = [name for name in names if shown(shot, name) != shown(draw.shot, name)]
        if not changed or any(set(shot.drawings.of(n)) - set(draw.shot.drawings.of(n)) for n in names):
            raise UnfitError
        if any(draw.shot.drawings.of(n) != shot.drawings.of(n) for n in names):
            raise UnfitError
        also = frozenset((name, "drawing") for name in changed)
        return Told(tuple(Name(("drawing",), name) for name in changed), structural=True, shot=shot, also=also)


def shown(shot: Shot, level: str) -> list[str | None]:
    """Return the drawing that a level shows on each frame."""
    sheet, cell = shot.drawings, shot.drawings.levels.index(level)
    at: list[str | None] = [None] * shot.frame_count
    for frame, row in zip(sheet.frames, sheet.rows, strict=True):
        if row[cell] is not None:
            at[frame - shot.frames[0] :] = [row[cell]] * (shot.frames[1] - frame + 1)
    return at


def _drawings_late(draw: Draw) -> Shot:
    sheet = draw.shot.drawings
    later = [frame + 1 for frame in sheet.frames[1:]]
    if not later or later[-1] > draw.shot.frames[1]:
        raise UnfitError
    return replace(draw.shot, drawings=replace(sheet, frames=(sheet.frames[0], *later)))


def _wrong_drawing(draw: Draw) -> Shot:
    sheet = draw.shot.drawings
    if len(sheet.rows) < 2:
        raise UnfitError
    row = int(draw.rng.integers(1, len(sheet.rows)))
    cell = int(draw.rng.integers(len(sheet.levels)))
    rows = [[*cells] for cells in sheet.rows]
    rows[row][cell] = str(draw.rng.choice(["1", "2", "-"]))
    return replace(draw.shot, drawings=replace(sheet, rows=tuple(map(tuple, rows))))


_drawings_changed("drawings a frame late", _drawings_late)
_drawings_changed("wrong drawing on the sheet", _wrong_drawing)
