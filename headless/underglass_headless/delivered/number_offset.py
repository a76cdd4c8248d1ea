# SPDX-License-Identifier: GPL-3.0-or-later
"""How the numbers of delivered files go with the frames of a shot: an offset between them, and what lies beyond.

The number in a file's name is the shot's frame plus the offset: shots that begin at 1 are often delivered from 1001 on.
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from underglass.plan import Plan

from .files.find_frames import DeliveryError, FrameSequence
from .files.frame_lists import frame_list
from .judging.delivered_frame import DeliveredFrame


def of_interest(
    frames: FrameSequence, wanted: Sequence[int], *, plan: Plan, offset: int
) -> tuple[list[tuple[int, Path]], list[int]]:
    """Return the files of the ``wanted`` frames by the shot's numbers, and the numbers beyond the shot's range.

    Raises DeliveryError where none of the wanted frames is there; it says which offset would make them fit.
    """
    asked = set(wanted)
    first, last = int(plan.frames[0]), int(plan.frames[-1])
    numbered = [(number - offset, path) for number, path in frames.files]
    files = [(frame, path) for frame, path in numbered if frame in asked]
    if files:
        return files, sorted({frame for frame, _ in numbered if not first <= frame <= last})
    with_offset = f" with --offset {offset}" if offset else ""
    remedy = "name the folder of this shot's frames"
    fits = fitting_offset(frames.frames, (first, last))
    if fits != offset and any(number - fits in asked for number in frames.frames):
        remedy += f", or if these are the ones, give --offset {fits} (frame {first} is numbered {first + fits})"
    raise DeliveryError(
        f"{frames.folder / frames.pattern}: has frames {frame_list(frames.frames)} and none of"
        f" {frame_list(wanted)}{with_offset}, which the shot has; {remedy}"
    )


def fitting_offset(numbers: Sequence[int], shot: tuple[int, int]) -> int:
    """Return what to take from ``numbers``, in order, to get them into the range of the shot, or to fill it.

    Where frames are missing, or too many, several numbers would do: the roundest is meant.
    """
    least, most = sorted((numbers[0] - shot[0], numbers[-1] - shot[1]))
    for step in (1000, 100, 10):
        round_one = -(-least // step) * step
        if round_one <= most:
            return round_one
    return least


def better_offset(frames: FrameSequence, wanted: Sequence[int], *, plan: Plan, offset: int) -> int | None:
    """Return another offset by which all ``wanted`` frames would be there, where by ``offset`` they are not; else None.

    Where frames are beyond the shot at one end and missing at the other, the offset may be a wrong one.
    """
    first, last = int(plan.frames[0]), int(plan.frames[-1])
    numbers = set(frames.frames)
    if all(frame + offset in numbers for frame in wanted) or all(first <= n - offset <= last for n in numbers):
        return None
    fits = fitting_offset(frames.frames, (first, last))
    return fits if fits != offset and all(frame + fits in numbers for frame in wanted) else None


def by_the_shots_numbers(files: Sequence[DeliveredFrame], *, offset: int) -> list[DeliveredFrame]:
    """Return the files with the frame that their metadata says counted as the shot counts.

    Frames that were renamed say the shot's own numbers, those of a scene that was itself moved in time the files'. Most
    files tell which it is, and all are held to that: with an offset of 1 a frame that is one off would else be taken
    for right either way.
    """
    said = [(file.frame, file.said_frame) for file in files if file.said_frame is not None]
    moved = sum(number == frame + offset for frame, number in said)
    if not offset or moved <= sum(number == frame for frame, number in said):
        return list(files)
    return [
        file if file.said_frame is None else replace(file, said_frame=file.said_frame - offset, said_above=offset)
        for file in files
    ]
