# SPDX-License-Identifier: GPL-3.0-or-later
"""Kinds of fault in delivered frames: files missing, spoilt or of another frame, and levels out of place in them.

The frames are made without Blender, by `delivered.made_frames`; where everything stood is the generator's to say.
"""

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from delivered.made_frames import Making, Stand, cut_short, put, rewrite, write_frames
from faults.kinds import CAMERA, TOLERANCE_PX, Draw, Name, Told, UnfitError, kind
from faults.scene_kinds import PLACES, camera_moved, moved, read_as, worst_px
from underglass.plan import Plan
from underglass.shot import Projection
from underglass.shot.files.shot_fingerprint import fingerprint

OLD = "0123456789abcdef"
# The picture has to change by this between two frames for them to be told apart.
CHANGES_PX = 0.2
# What is measured to be out of tolerance whatever the frames leave uncertain.
CERTAIN_PX = 1.2 * TOLERANCE_PX
ANY_SHAPE = ("offset", "late", "early", "reversed", "still", "too-far", "uneven", "strays")


def file_of(folder: Path, frame: int) -> Path:
    return folder / f"beauty.{frame:04d}.exr"


def all_seen(draw: Draw) -> Making:
    """Return how frames are made in which every level is well seen; UnfitError where one is not."""
    seen = draw.stand.seen()
    half = np.array(draw.shot.camera.frame_px) / 2
    if (np.abs(seen.mean(axis=2)) > 0.8 * half).any() or (np.abs(seen) > 4 * half).any():
        raise UnfitError
    across = np.linalg.norm(seen[:, :, 1] - seen[:, :, 0], axis=-1)
    up = np.linalg.norm(seen[:, :, 3] - seen[:, :, 0], axis=-1)
    if min(across.min(), up.min()) < 24:
        raise UnfitError
    return Making(compression="ZIPS", clear=draw.shot.names[:-1])


def changes(draw: Draw, one: int, two: int) -> bool:
    """Return whether the picture changes between two rows."""
    seen = draw.stand.seen()
    return bool(np.linalg.norm(seen[one] - seen[two], axis=-1).max() > CHANGES_PX)


def some_frames(draw: Draw) -> tuple[int, int]:
    """Return first and last of one to three frames."""
    first, last = draw.shot.frames
    count = int(draw.rng.integers(1, 4))
    begin = int(draw.rng.integers(first, last - count + 2))
    return begin, begin + count - 1


def broken_files(
    name: str,
    code: str,
    do: Callable[[Plan, Path, Making, tuple[int, int]], None],
    *,
    single: bool = False,
    also: tuple[str, ...] = (),
) -> None:
    """Enter a kind that breaks some frames of a clean delivery; no level may be blamed for it."""

    @kind(name, graded=False)
    def plant(draw: Draw) -> Told:
        making = all_seen(draw)
        first, last = some_frames(draw)
        if single:
            last = first

        def deliver(plan: Plan, folder: Path) -> None:
            write_frames(plan, folder, making=making)
            do(plan, folder, making, (first, last))

        beside = frozenset(("frames", word) for word in also)
        found = Name((code,), "frames", frames=(first, last))
        return Told((found,), structural=True, deliver=deliver, also=beside)


def each(change: Callable[[Path], object]) -> Callable[[Plan, Path, Making, tuple[int, int]], None]:
    """Return what does something to the file of each frame."""

    def do(plan: Plan, folder: Path, making: Making, frames: tuple[int, int]) -> None:
        for frame in range(frames[0], frames[1] + 1):
            change(file_of(folder, frame))

    return do


def again(
    change: Callable[[Plan, Making], tuple[Plan, Making]],
) -> Callable[[Plan, Path, Making, tuple[int, int]], None]:
    """Return what makes some frames anew, otherwise."""

    def do(plan: Plan, folder: Path, making: Making, frames: tuple[int, int]) -> None:
        other, how = change(plan, making)
        write_frames(other, folder, frames=range(frames[0], frames[1] + 1), making=how)

    return do


def blacken(path: Path) -> None:
    def change(channels: dict[str, np.ndarray]) -> None:
        for letter in "RGB":
            channels[f"ViewLayer.Combined.{letter}"][:] = 0

    rewrite(path, change)


def spoil(channel: str, value: float) -> Callable[[Path], None]:
    """Return what writes a value that is NaN or infinite into one pixel."""

    def change(channels: dict[str, np.ndarray]) -> None:
        channels[channel][40, 60] = value

    return lambda path: rewrite(path, change)


def smaller(plan: Plan, making: Making) -> tuple[Plan, Making]:
    camera = replace(plan.shot.camera, frame_px=tuple(side * 4 // 5 for side in plan.shot.camera.frame_px))
    return replace(plan, shot=replace(plan.shot, camera=camera)), replace(making, shot=fingerprint(plan.shot))


def _twice(path: Path) -> None:
    shutil.copy(path, path.with_name(f"beauty.{int(path.stem.split('.')[1]):05d}.exr"))


broken_files("frames missing", "frame-missing", each(Path.unlink))
broken_files("frame there twice", "frame-doubled", each(_twice), single=True)
broken_files("frames cut short", "frame-cut-short", each(cut_short))
broken_files("frames empty", "frame-cut-short", each(lambda path: path.write_bytes(b"")))
broken_files("frames black", "frame-black", each(blacken))
broken_files("not a number in the picture", "frame-nan", each(spoil("ViewLayer.Combined.G", np.nan)))
broken_files("infinity in a proof pass", "frame-nan", each(spoil("ViewLayer.proof0.R", np.inf)))
broken_files("frames of another size", "frame-size", again(smaller))
broken_files("frames from an older state", "frame-stale", again(lambda plan, how: (plan, replace(how, shot=OLD))))
broken_files(
    "frames of another shot",
    "frame-of-another-shot",
    again(lambda plan, how: (plan, replace(how, shot=OLD, title="Market"))),
)
broken_files(
    "frames of another camera",
    "frame-of-another-camera",
    again(lambda plan, how: (plan, replace(how, header={"Camera": "witness camera"}))),
)
broken_files(
    "frames of another scene",
    "frame-of-another-scene",
    again(lambda plan, how: (plan, replace(how, header={"Scene": "Scene.001"}))),
)
broken_files("frames without proof passes", "not-proved", again(lambda plan, how: (plan, replace(how, passes=False))))


@kind("older half of the range", graded=False)
def _(draw: Draw) -> Told:
    making = all_seen(draw)
    first, last = draw.shot.frames
    half = (first + last) // 2 + 1

    def deliver(plan: Plan, folder: Path) -> None:
        write_frames(plan, folder, making=making)
        write_frames(plan, folder, frames=range(half, last + 1), making=replace(making, shot=OLD))

    return Told((Name(("frame-stale",), "frames", frames=(half, last)),), structural=True, deliver=deliver)


@kind("two frames exchanged", graded=False)
def _(draw: Draw) -> Told:
    making = all_seen(draw)
    one = int(draw.rng.integers(draw.shot.frames[0], draw.shot.frames[1]))

    def deliver(plan: Plan, folder: Path) -> None:
        write_frames(plan, folder, making=making)
        file_of(folder, one).rename(folder / "kept")
        file_of(folder, one + 1).rename(file_of(folder, one))
        (folder / "kept").rename(file_of(folder, one + 1))

    names = tuple(Name(("frame-number",), "frames", frames=(frame, frame)) for frame in (one, one + 1))
    return Told(names, structural=True, deliver=deliver)


@kind("a frame's picture is its neighbour's", graded=False)
def _(draw: Draw) -> Told:
    making = all_seen(draw)
    one = int(draw.rng.integers(draw.shot.frame_count - 1))
    if not changes(draw, one, one + 1):
        raise UnfitError
    # What a hold shows on further frames is the same picture, and named with them.
    alike = [row for row in range(draw.shot.frame_count) if not _differs(draw, row, one)] + [one + 1]
    first = draw.shot.frames[0]

    def deliver(plan: Plan, folder: Path) -> None:
        write_frames(plan, folder, making=making)
        pixels: dict[str, np.ndarray] = {}
        rewrite(file_of(folder, first + one), pixels.update)
        rewrite(file_of(folder, first + one + 1), lambda channels: channels.update(pixels))

    rows = sorted(alike)
    if rows != list(range(rows[0], rows[-1] + 1)):
        raise UnfitError
    # Where its passes tell, the frame that holds another is the one to blame, and that one is not.
    name = Name(("frames-identical", "frame-shows-another"), "frames")
    return Told((name,), structural=True, deliver=deliver)


def _differs(draw: Draw, one: int, two: int) -> bool:
    seen = draw.stand.seen()
    return bool(np.abs(seen[one] - seen[two]).max() > 1e-9)


def _flipped(name: str, axis: int) -> None:
    @kind(name, graded=False)
    def plant(draw: Draw) -> Told:
        making = all_seen(draw)
        first, last = some_frames(draw)

        def turn(channels: dict[str, np.ndarray]) -> None:
            for key, pixels in channels.items():
                channels[key] = np.ascontiguousarray(np.flip(pixels, axis))

        def deliver(plan: Plan, folder: Path) -> None:
            write_frames(plan, folder, making=making)
            each(lambda path: rewrite(path, turn))(plan, folder, making, (first, last))

        names = (Name(("frame-flipped",), "frames", frames=(first, last)),)
        also = frozenset((who, "*") for who in (*draw.shot.names, CAMERA))
        return Told(names, structural=True, deliver=deliver, also=also)


_flipped("frames flipped left to right", 1)
_flipped("frames flipped upside down", 0)


@kind("level not in the frames", graded=False)
def _(draw: Draw) -> Told:
    making = all_seen(draw)
    # Without the rearmost, which is all that is painted here, frames are black.
    who = str(draw.rng.choice(draw.shot.names[:-1]))
    first, last = some_frames(draw)

    def deliver(plan: Plan, folder: Path) -> None:
        write_frames(plan, folder, making=making)
        hidden = replace(making, hidden=(who,))
        write_frames(plan, folder, frames=range(first, last + 1), making=hidden)

    name = Name(("not-seen",), who, frames=(first, last))
    return Told((name,), structural=True, deliver=deliver)


def _displaced(name: str, *, camera: bool, for_one_frame: bool) -> None:
    @kind(name, levels=(3, 5), projection=Projection.PERSPECTIVE)
    def plant(draw: Draw) -> Told:
        making = all_seen(draw)
        # Beside the tolerance there is what the frames leave uncertain.
        aimed = replace(draw, aim_px=min(draw.aim_px + (0.02 if draw.aim_px > TOLERANCE_PX else 0.0), 8.0))
        axis, sign = str(draw.rng.choice(["east", "north"])), draw.sign()
        index, column = PLACES[axis], draw.level()
        who = CAMERA if camera else draw.shot.names[column]
        row = int(draw.rng.integers(draw.shot.frame_count))
        on = (np.arange(draw.shot.frame_count) == row) if for_one_frame else np.ones(draw.shot.frame_count)
        if camera:
            size, broken = aimed.scaled(lambda size: camera_moved(draw.stand, index, sign * size * on))
        else:
            size, broken = aimed.scaled(lambda size: moved(draw.stand, column, index, sign * size * on))

        def stand(frame: int, there: Stand) -> Stand:
            off = not for_one_frame or frame == draw.shot.frames[0] + row
            return put(there, who, **{axis: sign * size}) if off else there

        def deliver(plan: Plan, folder: Path) -> None:
            write_frames(plan, folder, making=making, stand=stand)

        said, unit = read_as(draw, axis, sign * size)
        shapes = ("uneven", "strays") if for_one_frame else ("offset",)
        px = worst_px(draw, broken)
        found = Name(tuple(f"{axis}-{shape}" for shape in shapes), who, int(sign), px=px)
        names, also = [found], frozenset[tuple[str, str]]()
        if camera:
            # Of levels that stand close together a lens that is shifted, or leans, shows the same to within tolerance.
            codes = [f"{axis}-{shape}" for axis in ("shift-x", "shift-y", "tilt") for shape in ANY_SHAPE]
            names.append(Name(tuple(codes), CAMERA, px=px))
            also = frozenset((CAMERA, axis) for axis in ("shift_x", "shift_y", "tilt"))
            away = broken.away_from(draw.stand)
            out = (away > CERTAIN_PX).any(axis=0)
            if 2 * out.sum() <= len(out):
                # Most levels are in place to within tolerance: that the others went the other way is the same picture.
                also |= frozenset((name, axis) for name in draw.shot.names)
                names += [
                    Name((f"{axis}-offset",), draw.shot.names[column], -int(sign), px=away[:, column])
                    for column in np.flatnonzero(away.max(axis=0) > TOLERANCE_PX)
                ]
        return Told(tuple(names), broken, deliver=deliver, also=also, amount=said, unit=unit)


_displaced("a level out of place in all frames", camera=False, for_one_frame=False)
_displaced("a level out of place in one frame", camera=False, for_one_frame=True)
_displaced("the camera out of place in all frames", camera=True, for_one_frame=False)


@kind("clean frames", graded=False)
def _(draw: Draw) -> Told:
    making = all_seen(draw)

    def deliver(plan: Plan, folder: Path) -> None:
        write_frames(plan, folder, making=making)

    return Told((), deliver=deliver)
