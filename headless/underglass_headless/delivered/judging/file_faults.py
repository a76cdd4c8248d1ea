# SPDX-License-Identifier: GPL-3.0-or-later
"""What is wrong with delivered frames as files: not there, there twice, damaged, of another frame or another shot.

Judged over the whole range of the shot by what each file is and says of itself; what its pixels show of the levels is
`delivered_verdict`.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from underglass.plan.plan_arrays import Plan
from underglass.proof.proof_facts import NOTE, Fault
from underglass.proof.wording import plain

from ...exr.unreadable_forms import crop_said
from ..files.frame_lists import MOST_STRETCHES, frame_list, frames_said, in_stretches, stretches
from ..whole.whole_frame import of_the_file
from .delivered_frame import PASSES, DeliveredFrame, Group
from .frame_faults import FoundFault, are, fault_of, faults_of, few, form
from .frame_origins import origin_faults
from .identical_frames import identical_faults
from .level_gaps import HOLE, gap_faults

# Codes of what a frame is as a whole, where it is not simply itself.
WHOLE = (
    "frame-shows-another",
    "passes-of-another-frame",
    "frame-torn",
    "frame-flipped",
    "frame-turned",
    "frame-scaled",
    "frame-shifted",
    "passes-recoloured",
    "passes-exchanged",
    "passes-filtered",
)
# Codes of faults by which a frame's pixels say nothing of the levels on that frame.
SPOILT = {
    "frame-refused",
    "frame-cropped",
    "frame-cut-short",
    "frame-black",
    "frame-nan",
    "frame-size",
    "frame-number",
    "frame-stale",
    "frame-of-another-shot",
    "frame-of-another-scene",
    "frame-of-another-camera",
    "frames-identical",
    "frame-doubled",
    HOLE,
    *WHOLE,
}


def file_faults(
    plan: Plan,
    frames: Sequence[DeliveredFrame],
    *,
    wanted: Sequence[int],
    fingerprint: str,
    something_seen: Mapping[int, bool],
    shown: Mapping[tuple[int, int], float],
    drawn: Mapping[tuple[int, int], str] | None = None,
    beyond: Sequence[int] = (),
    strays: Sequence[tuple[int, str]] = (),
    offset: int = 0,
    better_offset: int | None = None,
    art: Sequence[str] = (),
    explained: Collection[int] = (),
    changed: Collection[int] = (),
    one_colour: Collection[int] = (),
) -> tuple[list[Fault], set[int]]:
    """Return what is wrong with the files of the ``wanted`` frames, and the frames whose pixels are spoilt by it.

    There is a fault for each stretch of frames. ``frames`` in order, doubles among them; ``something_seen`` tells of
    black frames whether anything should be seen. By (frame, level's number), of frames that are the same picture,
    ``shown`` tells which share of them shows a level, and ``drawn`` what its drawing's file holds. ``beyond`` are
    frames that were delivered, not read, and that the shot does not have, ``strays`` files, by frame, that are named
    nearly as they are; ``offset`` is how far the numbers in the
    files' names are above theirs, ``better_offset`` one by which all would be there. ``art`` is a digest of each
    level's art as it lies with the shot. On ``explained`` frames it is known otherwise why levels show too much or too
    little, on ``changed`` ones why the picture alone does; ``one_colour`` are known to show nothing but that.
    """
    by_frame: dict[int, list[DeliveredFrame]] = {}
    for file in frames:
        by_frame.setdefault(file.frame, []).append(file)
    faults = [*_missing(by_frame, wanted, better_offset), *_beyond(beyond, offset), *_doubled(by_frame)]
    faults += _strays(strays)
    faults += _refused(frames)
    whole = [file for file in frames if not file.damage and file.refusal is None]
    damaged = [file for file in frames if file.damage]
    faults += faults_of("frame-cut-short", damaged, lambda group: f"cannot be read: {group[0].damage}")
    faults += _sizes(plan, whole)
    # Of a frame of another size that is what is said.
    cropped = [file for file in whole if file.crop is not None and file.size == plan.shot.camera.frame_px]
    faults += faults_of("frame-cropped", cropped, _cropped, alike=lambda file: (file.crop, file.size))
    numbers = [file for file in whole if file.bad_values]
    faults += faults_of("frame-nan", numbers, _bad_values)
    # Of a frame that lacks pixels it is not known what shows.
    black = [file for file in whole if file.black and file.crop is None and something_seen.get(file.frame, True)]
    faults += faults_of(
        "frame-black", black, lambda group: f"{are(group)} black all over, but the plan has levels there"
    )
    faults += origin_faults(plan, whole, fingerprint, art)
    # A frame that says that it is another is known for what it is, and makes no other a fault.
    true = [file for file in whole if not file.black and file.said_frame in (None, file.frame)]
    # Nor does one that shows nothing at all: it is told as that.
    true = [file for file in true if file.frame not in one_colour and (not file.one_colour or file.evidence == PASSES)]
    other = of_the_file({file.frame: file.whole for file in whole if file.whole is not None}, frames=len(whole))
    true = [file for file in true if file.frame not in other]
    faults += identical_faults(plan, true, shown, drawn or {})
    spoilt = _spoilt(faults)
    # Of a slate its passes are grey too: that it shows nothing says it all.
    faults += _whole([file for file in whole if file.frame not in {*spoilt, *one_colour}])
    unspoilt = [file for file in whole if file.frame not in {*_spoilt(faults), *explained, *one_colour}]
    gaps = [(f.frame, gap) for f in unspoilt for gap in f.gaps if not (gap.only_picture and f.frame in changed)]
    faults += [FoundFault(fault, frames) for fault, frames in gap_faults(plan.names, gaps)]
    spoilt = _spoilt(faults)
    return sorted((found.fault for found in faults), key=lambda fault: (fault.frames, fault.code)), spoilt


def _spoilt(faults: Iterable[FoundFault]) -> set[int]:
    return {frame for found in faults if found.fault.code in SPOILT for frame in found.frames}


def _whole(files: Sequence[DeliveredFrame]) -> Iterator[FoundFault]:
    """Yield frames that as a whole are something else than what the plan has on them."""
    found = {file.frame: file.whole for file in files if file.whole is not None}
    kept = of_the_file(found, frames=len(files))
    for code in WHOLE:
        mine = [file for file in files if file.frame in kept and kept[file.frame].code == code]
        yield from faults_of(
            code, mine, _as_whole, alike=lambda file: (kept[file.frame].kind, kept[file.frame].offsets)
        )


def _as_whole(group: Group) -> str:
    """Return what the frames of a group are as a whole; where they are not all so by as much, what the first is."""
    wholes = [file.whole for file in group if file.whole is not None]
    first = wholes[0]
    others = [frames_said([file.frame + by for file in group]) for by in first.offsets]
    where = "" if len({whole.one for whole in wholes}) == 1 else f" (so frame {group[0].frame})"
    return f"{form(group, first.one, first.many).format(*others)}{where}"


def _missing(
    by_frame: Mapping[int, Sequence[DeliveredFrame]], wanted: Sequence[int], better_offset: int | None = None
) -> Iterator[FoundFault]:
    better = "" if better_offset is None else f"; with --offset {better_offset} all of the shot's frames would be there"
    # A frame that is there under another's number is told by that.
    elsewhere = {
        file.said_frame for files in by_frame.values() for file in files if file.said_frame not in (None, file.frame)
    }
    missing = [frame for frame in wanted if frame not in by_frame and frame not in elsewhere]
    for part in in_stretches(missing):
        are = "is" if len(part) == 1 else "are"
        yield fault_of("frame-missing", part, f"{frames_said(part)} {are} missing{better}")


def _beyond(frames: Sequence[int], offset: int = 0) -> Iterator[FoundFault]:
    if frames:
        runs = stretches(frames)
        listed = frames_said([frame for a, b in runs[:MOST_STRETCHES] for frame in range(a, b + 1)])
        more = f" and {len(runs) - MOST_STRETCHES} more stretches" if len(runs) > MOST_STRETCHES else ""
        are = "is" if len(frames) == 1 else "are"
        numbered = frame_list([frame + offset for a, b in runs[:MOST_STRETCHES] for frame in range(a, b + 1)])
        listed += f" ({numbered} in the files' names)" if offset else ""
        text = f"{listed}{more} {are} there too, beyond what the shot has; not read"
        yield fault_of("frame-beyond", frames, text, severity=NOTE)


def _doubled(by_frame: Mapping[int, list[DeliveredFrame]]) -> Iterator[FoundFault]:
    for frame, files in by_frame.items():
        if len(files) > 1:
            names = " and ".join(plain(file.name) for file in files)
            yield fault_of("frame-doubled", [frame], f"frame {frame} is there {len(files)} times: {names}")


def _strays(strays: Sequence[tuple[int, str]]) -> Iterator[FoundFault]:
    for frame in sorted({frame for frame, _ in strays}):
        names = [name for at, name in strays if at == frame]
        text = f"{few(names)} beside frame {frame} has nearly the same name; it is not read"
        yield fault_of("frame-stray", [frame], text, severity=NOTE)


def _sizes(plan: Plan, files: Sequence[DeliveredFrame]) -> list[FoundFault]:
    width, height = plan.shot.camera.frame_px
    wrong = [file for file in files if file.size != (width, height)]

    def words(group: Group) -> str:
        return f"{are(group)} {group[0].size[0]} × {group[0].size[1]} px, planned {width} × {height}"

    return faults_of("frame-size", wrong, words, alike=lambda file: file.size)


def _refused(frames: Sequence[DeliveredFrame]) -> list[FoundFault]:
    refused = [file for file in frames if file.refusal is not None]

    def words(group: Group) -> str:
        first = group[0].refusal
        return "" if first is None else form(group, first.one, first.many)

    return faults_of("frame-refused", refused, words, alike=lambda file: file.refusal and file.refusal.kind)


def _cropped(group: Group) -> str:
    crop = group[0].crop
    lacks = form(group, "lacks", "lack")
    return "" if crop is None else f"{lacks} {crop_said(crop, group[0].size)}; render the whole frame"


def _bad_values(group: Group) -> str:
    return f"{form(group, 'holds', 'hold')} values that are NaN or infinite, in {few(group[0].bad_values)}"
