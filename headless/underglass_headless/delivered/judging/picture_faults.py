# SPDX-License-Identifier: GPL-3.0-or-later
"""What is wrong with the pictures of delivered frames by themselves: their colours, one colour all over, one repeated.

Where levels are in them is `delivered_verdict`'s.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from underglass.proof.proof_facts import Fault
from underglass.proof.wording import listed
from underglass.shot.words import number_text

from ..files.colours_said import USUAL_COLOURS
from ..files.frame_lists import frames_said
from .colour_change import (
    BLACK,
    DECODED,
    ENCODED,
    EXCHANGED,
    EXPOSED,
    GAMMA,
    IN_STEPS,
    LIFTED,
    MISSING,
    OTHER,
    PARTLY,
    PRIMARIES,
    SATURATED,
    TINTED,
    Change,
)
from .delivered_frame import DeliveredFrame
from .frame_faults import FoundFault, fault_of, faults_of
from .level_gaps import THROUGH, TOO_MUCH

# What a file says of its colours where it was rendered with Blender's own configuration (Color Interop ID).
_ON_PURPOSE = "a grade that was made on purpose looks the same"


@dataclass(frozen=True)
class FrameColours:
    """What was done to the colours of one frame, and the numbers of the ``levels`` that show it; none for all.

    Of levels ``behind`` those whose art is missing it cannot be told whether theirs is.
    """

    frame: int
    levels: tuple[int, ...]
    change: Change
    behind: tuple[int, ...] = ()


@dataclass(frozen=True)
class Pictures:
    """What was found in the pictures of delivered frames.

    ``colours`` is what was done to them; ``varied`` tells of frames of one colour whether the plan has more than one;
    ``repeated`` are frames that hold the very same picture beside other passes, where the plan has it change, and
    ``owners`` tells by these of which frame it is, where that is known.
    """

    colours: tuple[FrameColours, ...] = ()
    varied: Mapping[int, bool] = field(default_factory=dict)
    repeated: tuple[tuple[int, ...], ...] = ()
    owners: Mapping[tuple[int, ...], int] = field(default_factory=dict)


def picture_faults(
    names: Sequence[str], files: Sequence[DeliveredFrame], found: Pictures, *, spoilt: set[int]
) -> tuple[list[Fault], set[int]]:
    """Return what is wrong with the pictures of ``files``, and the frames whose pixels are spoilt by it.

    ``names`` are the levels'. Of frames that are ``spoilt`` already nothing more is said.
    """
    left = [file for file in files if not file.damage and file.frame not in spoilt]
    missing = [one for one in found.colours if one.change.kind == MISSING]
    # Magenta all over is no colour of its own.
    without = {one.frame for one in missing}
    plain = [f for f in left if f.one_colour and found.varied.get(f.frame, False) and f.frame not in without]
    faults = faults_of("frame-one-colour", plain, _one_colour, alike=lambda file: file.one_colour)
    gone = {file.frame for file in plain}
    for alike in found.repeated:
        mine = [file for file in left if file.frame in alike and file.frame not in gone]
        owner = found.owners.get(alike)
        if len({file.frame for file in mine}) < 2 and owner is None:
            continue
        mine = [file for file in mine if file.frame != owner]
        numbers = sorted({file.frame for file in mine})
        if owner is not None:
            faults += faults_of("frames-identical", mine, _has_picture_of(owner))
        elif numbers:
            faults.append(fault_of("frames-identical", numbers, _same_picture(numbers)))
        gone.update(numbers)
    by_frame = {file.frame: file for file in left if file.frame not in gone}
    faults += _of_colours("art-not-found", missing, by_frame, names)
    gone_too = gone | without
    faults += _of_colours(
        "colours-differ", [one for one in found.colours if one.frame not in gone_too], by_frame, names
    )
    told = {one.frame for one in found.colours}
    others = [file for frame, file in by_frame.items() if frame not in told and file.other_colours]
    faults += faults_of("colours-differ", others, _said, alike=lambda file: file.other_colours)
    return [fault for fault, _ in faults], gone_too & {file.frame for file in left}


def changed_all_over(found: Pictures) -> set[int]:
    """Return the frames on which the colours of several levels were changed, and are not just black or missing."""
    return {one.frame for one in found.colours if len(one.levels) != 1 and one.change.kind not in (MISSING, BLACK)}


def of_one_colour(files: Sequence[DeliveredFrame], found: Pictures) -> set[int]:
    """Return the frames whose picture is of one colour all over, and black too, where the plan has more to show."""
    return {file.frame for file in files if file.one_colour and found.varied.get(file.frame, False)}


def with_culprits(names: Sequence[str], found: Pictures, files: Sequence[DeliveredFrame]) -> Pictures:
    """Return the pictures with the levels named whose art is missing, as far as ``files`` tell.

    Blender may draw missing art so thinly that what is behind it shows, and is magenta too: the level which lets that
    show, or covers what it should not, is the one.
    """
    gaps = {file.frame: file.gaps for file in files}
    named = []
    for one in found.colours:
        mine = gaps.get(one.frame, ())
        levels = [
            sorted({gap.level for gap in mine if gap.what == what and gap.level is not None})
            for what in (THROUGH, TOO_MUCH)
        ]
        known = next((tuple(some) for some in levels if some), one.levels)
        last = len(names) - 1
        if known == tuple(range(last)) and last in (*one.levels, *one.behind):
            # Behind the rearmost nothing could show.
            known = (*known, last)
        behind = tuple(level for level in one.behind if level not in known)
        named.append(replace(one, levels=known, behind=behind) if one.change.kind == MISSING else one)
    return replace(found, colours=tuple(named))


def _said(group: Sequence[DeliveredFrame]) -> str:
    them = "its colours" if len(group) == 1 else "their colours"
    return (
        f"{'says' if len(group) == 1 else 'say'} that {them} are {group[0].other_colours}, the art's light is"
        f" {USUAL_COLOURS}; render with Blender's own colour configuration"
    )


def _one_colour(group: Sequence[DeliveredFrame]) -> str:
    are = "is" if len(group) == 1 else "are"
    light = ", ".join(number_text(value, digits=3) for value in group[0].one_colour)
    return f"{are} of one colour all over ({light}), but the plan has more to show there"


def _same_picture(frames: Sequence[int]) -> str:
    return (
        f"{frames_said(frames)} have the very same picture beside other passes, where the plan has it change; whose it"
        " is cannot be told"
    )


def _has_picture_of(owner: int) -> Callable[[Sequence[DeliveredFrame]], str]:
    def words(group: Sequence[DeliveredFrame]) -> str:
        one = len({file.frame for file in group}) == 1
        has, its = ("has", "its") if one else ("have", "their")
        return f"{has} the very picture of frame {owner} beside {its} own passes, where the plan has it change"

    return words


def _of_colours(
    code: str, told: Sequence[FrameColours], by_frame: Mapping[int, DeliveredFrame], names: Sequence[str]
) -> list[FoundFault]:
    """Return a fault for each stretch of frames whose levels show the same."""
    kinds: dict[object, list[FrameColours]] = {}
    told = [one for one in told if one.frame in by_frame]
    often = Counter(key for one in told for key in {_key(change) for change in (one.change, *one.change.others)})
    for one in told:
        # Of what would explain a frame that counts which explains most of them.
        change = max((one.change, *one.change.others), key=lambda change: often[_key(change)])
        whose = one.levels if change.kind == MISSING else ()
        kinds.setdefault((whose, _key(change)), []).append(replace(one, change=replace(change, others=())))
    found = []
    for mine in kinds.values():
        changes = {one.frame: one.change for one in mine}
        # Which levels tell of a frame changes from frame to frame.
        levels = sorted({level for one in mine for level in one.levels}) if all(one.levels for one in mine) else []
        # A level that shows its art on one of the frames has it.
        behind = sorted(set.intersection(*(set(one.behind) for one in mine)))
        files = [by_frame[frame] for frame in sorted(changes)]
        found += faults_of(
            code, files, _in_words([names[level] for level in levels], changes, [names[level] for level in behind])
        )
    return found


def _key(change: Change) -> tuple[str, str]:
    """Return what makes changes of two frames the same one."""
    return change.kind, "" if change.kind in (TINTED, SATURATED, LIFTED) else change.which


def _in_words(
    levels: Sequence[str], changes: Mapping[int, Change], behind: Sequence[str]
) -> Callable[[Sequence[DeliveredFrame]], str]:
    def words(group: Sequence[DeliveredFrame]) -> str:
        mine = [changes[file.frame] for file in group]
        if mine[0].kind == MISSING:
            shows = "shows" if len(group) == 1 else "show"
            hidden = f" (whether {listed(behind)} behind it had its art cannot be told)" if behind else ""
            return (
                f"{shows} magenta where {listed(levels)} should be{hidden}: the art was not found where"
                f" {'it was' if len(group) == 1 else 'they were'} rendered; build with --pack, or bring the art along"
            )
        has = "has" if len(group) == 1 else "have"
        art = f"the art of {listed(levels)}" if levels else "the art"
        return f"{has} other colours than {art}: {_done(mine)}; {_ON_PURPOSE}"

    return words


def _done(changes: Sequence[Change]) -> str:
    """Return in words what was done to colours, on each frame of a stretch."""
    first, amounts = changes[0], [change.amount for change in changes]
    if first.kind == OTHER:
        return f"in the middle they are {_span([100 * amount for amount in amounts])} % apart, in no way that is known"
    if first.kind == PARTLY:
        return (
            f"{_span([100 * amount for amount in amounts])} % of the places looked at differ and the others do not:"
            " the picture is of another frame, or was moved or painted over"
        )
    if first.kind == TINTED and len({change.which for change in changes}) > 1:
        return "red, green and blue were changed by different amounts on each frame"
    which = ", ".join(_CHANNELS[letter] for letter in first.which) if first.kind == EXCHANGED else first.which
    return _SAID[first.kind].format(which=which, amount=_span(amounts))


_CHANNELS = {"R": "red", "G": "green", "B": "blue"}
_SAID = {
    ENCODED: (
        "its sRGB codes stand there as light, as where a node's colour configuration (variable OCIO) has no sRGB, or"
        " where the picture was encoded"
    ),
    DECODED: "its light was decoded as sRGB once more",
    GAMMA: "its light was raised to the power of {which}",
    EXCHANGED: "red, green and blue hold its {which}",
    EXPOSED: "they are {amount} times as bright",
    TINTED: "red, green and blue are {which} times as bright",
    PRIMARIES: "its light is told in the primaries of {which}",
    SATURATED: "they are {which} times as far from grey",
    LIFTED: "{amount} was added to its light",
    IN_STEPS: "its light was rounded to a few values",
    BLACK: "they are black",
}


def _span(amounts: Sequence[float]) -> str:
    ends = [number_text(end, digits=3) for end in (min(amounts), max(amounts))]
    return ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"
