"""What is wrong with delivered frames as files: not there, there twice, damaged, of another frame or another shot.

Judged over the whole range of the shot by what each file is and says of itself; what its pixels show of the levels is
`delivered_verdict`.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from operator import attrgetter
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..plan.model import Plan
from ..plan.planning import corners_px
from ..shot.frame_note import FrameNote, shortened, spelled
from ..shot.words import first_of
from .facts import BLOCK, NOTE, Fault
from .file_forms import Crop, Refusal, crop_said
from .frame_lists import MOST_STRETCHES, frame_list, frames_said, in_stretches, stretches
from .gaps import HOLE, Gap, gap_faults
from .whole_frame import WholeFrame, of_the_file
from .wording import plain

NAN = float("nan")
# What tells where levels are in a frame, the best first.
PASSES, CRYPTOMATTE, PICTURE = "proof passes", "cryptomatte", "picture"
# A picture that changes by less than this between two frames may well be the same picture.
SAME_PX = 0.02

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


@dataclass(frozen=True)
class DeliveredFrame:
    """One file: the ``frame`` that its name says, and what is known of it.

    ``damage`` says why it cannot be read, and is empty where it can. ``size`` is the frame's, not of what was rendered
    of it. ``note`` is None, ``said_frame`` too, and ``scene`` and ``camera`` are empty where the file says nothing.
    ``evidence`` says by what its ``levels`` were found, see above. ``digest`` is the same for the same picture and
    passes, ``picture`` for the same picture. ``bad_values`` names the channels with values that are NaN or infinite.
    ``refusal`` says why it cannot be judged although it may be whole, ``crop`` what it leaves out of its frame, both
    None where all is well; ``holds`` names some of its channels where none of them is a proof pass. ``said_frame`` is
    counted as the shot counts, and ``said_above`` how far the number in the file's metadata is above that. ``gaps`` are
    parts of the frame that show less or more than they should. ``one_colour`` is the light of a picture that has one
    and the same all over, and is not black; ``colour_space`` is what the file says of its colours.
    ``whole`` is what the frame is as a whole, where that is not simply itself. ``picture_lacks`` names the colours
    that the picture does not have.
    """

    frame: int
    name: str
    damage: str = ""
    size: tuple[int, int] = (0, 0)
    note: FrameNote | None = None
    said_frame: int | None = None
    scene: str = ""
    camera: str = ""
    software: str = ""
    black: bool = False
    bad_values: tuple[str, ...] = ()
    digest: str = ""
    levels: tuple[int, ...] = ()
    lossy: str = ""
    evidence: str = ""
    refusal: Refusal | None = None
    crop: Crop | None = None
    holds: str = ""
    said_above: int = 0
    gaps: tuple[Gap, ...] = ()
    picture: str = ""
    one_colour: tuple[float, ...] = ()
    colour_space: str = ""
    whole: WholeFrame | None = None
    shared: bool = False
    half: bool = False
    samples_unsaid: bool = False
    picture_lacks: tuple[str, ...] = ()


Group = Sequence[DeliveredFrame]


class _Found(NamedTuple):
    """A fault, and each of the frames that it is of: between the first and the last there may be clean ones."""

    fault: Fault
    frames: frozenset[int]


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
    frames that were delivered, not read, and that the shot does not have; ``offset`` is how far the numbers in the
    files' names are above theirs, ``better_offset`` one by which all would be there. ``art`` is a digest of each
    level's art as it lies with the shot. On ``explained`` frames it is known otherwise why levels show too much or too
    little, on ``changed`` ones why the picture alone does; ``one_colour`` are known to show nothing but that.
    """
    by_frame: dict[int, list[DeliveredFrame]] = {}
    for file in frames:
        by_frame.setdefault(file.frame, []).append(file)
    faults = [*_missing(by_frame, wanted, better_offset), *_beyond(beyond, offset), *_doubled(by_frame)]
    faults += _refused(frames)
    whole = [file for file in frames if not file.damage and file.refusal is None]
    damaged = [file for file in frames if file.damage]
    faults += _of("frame-cut-short", damaged, lambda group: f"cannot be read: {group[0].damage}")
    faults += _sizes(plan, whole)
    cropped = [file for file in whole if file.crop is not None]
    faults += _of("frame-cropped", cropped, _cropped, alike=lambda file: (file.crop, file.size))
    numbers = [file for file in whole if file.bad_values]
    faults += _of("frame-nan", numbers, _bad_values)
    # Of a frame that lacks pixels it is not known what shows.
    black = [file for file in whole if file.black and file.crop is None and something_seen.get(file.frame, True)]
    faults += _of("frame-black", black, lambda group: f"{_are(group)} black all over, but the plan has levels there")
    faults += _origins(plan, whole, fingerprint, art)
    # A frame that says that it is another is known for what it is, and makes no other a fault.
    true = [file for file in whole if not file.black and file.said_frame in (None, file.frame)]
    # Nor does one that shows nothing at all: it is told as that.
    true = [file for file in true if file.frame not in one_colour and (not file.one_colour or file.evidence == PASSES)]
    other = of_the_file({file.frame: file.whole for file in whole if file.whole is not None}, frames=len(whole))
    true = [file for file in true if file.frame not in other]
    faults += _identical(plan, true, shown, drawn or {})
    spoilt = _spoilt(faults)
    faults += _whole([file for file in whole if file.frame not in spoilt])
    unspoilt = [file for file in whole if file.frame not in {*_spoilt(faults), *explained, *one_colour}]
    gaps = [(f.frame, gap) for f in unspoilt for gap in f.gaps if not (gap.only_picture and f.frame in changed)]
    faults += [_Found(fault, frames) for fault, frames in gap_faults(plan.names, gaps)]
    spoilt = _spoilt(faults)
    return sorted((found.fault for found in faults), key=lambda fault: (fault.frames, fault.code)), spoilt


def _spoilt(faults: Iterable[_Found]) -> set[int]:
    return {frame for found in faults if found.fault.code in SPOILT for frame in found.frames}


def _whole(files: Sequence[DeliveredFrame]) -> Iterator[_Found]:
    """Yield frames that as a whole are something else than what the plan has on them."""
    found = {file.frame: file.whole for file in files if file.whole is not None}
    kept = of_the_file(found, frames=len(files))
    for code in WHOLE:
        mine = [file for file in files if file.frame in kept and kept[file.frame].code == code]
        yield from _of(code, mine, _as_whole, alike=lambda file: (kept[file.frame].kind, kept[file.frame].offsets))


def _as_whole(group: Group) -> str:
    """Return what the frames of a group are as a whole; where they are not all so by as much, what the first is."""
    wholes = [file.whole for file in group if file.whole is not None]
    first = wholes[0]
    others = [frames_said([file.frame + by for file in group]) for by in first.offsets]
    where = "" if len({whole.one for whole in wholes}) == 1 else f" (so frame {group[0].frame})"
    return f"{_form(group, first.one, first.many).format(*others)}{where}"


def _missing(
    by_frame: Mapping[int, object], wanted: Sequence[int], better_offset: int | None = None
) -> Iterator[_Found]:
    better = "" if better_offset is None else f"; with --offset {better_offset} all of the shot's frames would be there"
    missing = [frame for frame in wanted if frame not in by_frame]
    for part in in_stretches(missing):
        are = "is" if len(part) == 1 else "are"
        yield _fault("frame-missing", part, f"{frames_said(part)} {are} missing{better}")


def _beyond(frames: Sequence[int], offset: int = 0) -> Iterator[_Found]:
    if frames:
        runs = stretches(frames)
        listed = frames_said([frame for a, b in runs[:MOST_STRETCHES] for frame in range(a, b + 1)])
        more = f" and {len(runs) - MOST_STRETCHES} more stretches" if len(runs) > MOST_STRETCHES else ""
        are = "is" if len(frames) == 1 else "are"
        numbered = frame_list([frame + offset for a, b in runs[:MOST_STRETCHES] for frame in range(a, b + 1)])
        listed += f" ({numbered} in the files' names)" if offset else ""
        text = f"{listed}{more} {are} there too, beyond what the shot has; not read"
        yield _fault("frame-beyond", frames, text, severity=NOTE)


def _doubled(by_frame: Mapping[int, list[DeliveredFrame]]) -> Iterator[_Found]:
    for frame, files in by_frame.items():
        if len(files) > 1:
            names = " and ".join(plain(file.name) for file in files)
            yield _fault("frame-doubled", [frame], f"frame {frame} is there {len(files)} times: {names}")


def _sizes(plan: Plan, files: Sequence[DeliveredFrame]) -> list[_Found]:
    width, height = plan.shot.camera.frame_px
    wrong = [file for file in files if file.size != (width, height)]

    def words(group: Group) -> str:
        return f"{_are(group)} {group[0].size[0]} × {group[0].size[1]} px, planned {width} × {height}"

    return _of("frame-size", wrong, words, alike=lambda file: file.size)


def _refused(frames: Sequence[DeliveredFrame]) -> list[_Found]:
    refused = [file for file in frames if file.refusal is not None]

    def words(group: Group) -> str:
        first = group[0].refusal
        return "" if first is None else _form(group, first.one, first.many)

    return _of("frame-refused", refused, words, alike=lambda file: file.refusal and file.refusal.kind)


def _cropped(group: Group) -> str:
    crop = group[0].crop
    lacks = _form(group, "lacks", "lack")
    return "" if crop is None else f"{lacks} {crop_said(crop, group[0].size)}; render the whole frame"


def _bad_values(group: Group) -> str:
    return f"{_form(group, 'holds', 'hold')} values that are NaN or infinite, in {_few(group[0].bad_values)}"


def _origins(plan: Plan, files: Sequence[DeliveredFrame], fingerprint: str, art: Sequence[str]) -> Iterator[_Found]:
    """Yield frames that say of themselves that they are of another frame, shot, scene or camera."""
    number = [file for file in files if file.said_frame is not None and file.said_frame != file.frame]
    # A stretch of frames that are out by the same number is one mistake.
    yield from _of("frame-number", number, _said, alike=lambda file: (file.said_frame or 0) - file.frame)
    noted = [(file, file.note) for file in files if file.note is not None]
    title = FrameNote.of(shot="", title=plan.shot.title, scene="", camera="").title
    other = [file for file, note in noted if note.title != title and note.shot != fingerprint]
    yield from _of(
        "frame-of-another-shot",
        other,
        lambda group: f"{_are(group)} of another shot, “{plain(group[0].note.title) if group[0].note else ''}”",
        alike=lambda file: file.note,
    )
    stale = [file for file, note in noted if note.title == title and note.shot not in ("", fingerprint)]
    yield from _of("frame-stale", stale, _stale, alike=lambda file: file.note)
    # Whose shot's files are others is not held to the art too: it is said once.
    repainted = [file for file, note in noted if note.shot in ("", fingerprint) and note.is_of_other_art(art)]
    repainted = [file for file in repainted if file not in other]
    yield from _of(
        "frame-stale", repainted, partial(_repainted, names=plan.names, art=art), alike=lambda file: file.note
    )
    for what in ("scene", "camera"):
        wrong = [
            file
            for file, note in noted
            if getattr(file, what) and getattr(note, what) not in ("", shortened(getattr(file, what)))
        ]
        yield from _of(
            f"frame-of-another-{what}", wrong, partial(_elsewhere, what=what), alike=attrgetter("note", what)
        )


def _said(group: Group) -> str:
    numbers = frames_said([file.said_frame or 0 for file in group])
    above = group[0].said_above
    there = frame_list([(file.said_frame or 0) + above for file in group])
    in_file = f" ({there} in the metadata)" if above else ""
    return f"{_form(group, 'says that it was', 'say that they were')} rendered as {numbers}{in_file}"


def _stale(group: Group) -> str:
    was, it = (_form(group, one, many) for one, many in (("was", "were"), ("it", "them")))
    return f"{was} rendered from another state of the shot's files; build the scene again, then render {it} again"


def _repainted(group: Group, *, names: Sequence[str], art: Sequence[str]) -> str:
    was, it = (_form(group, one, many) for one, many in (("was", "were"), ("it", "them")))
    other = [] if group[0].note is None else [names[number] for number in group[0].note.other_levels(art)]
    which = f" ({_few(other)})" if other else ""
    return (
        f"{was} rendered from a scene that was built with other art than lies with the shot now{which}; build the scene"
        f" again, then render {it} again"
    )


def _elsewhere(group: Group, *, what: str) -> str:
    seen, built = plain(spelled(getattr(group[0], what))), plain(getattr(group[0].note, what))
    return f"{_form(group, 'was', 'were')} rendered of the {what} “{seen}”, the shot was built for “{built}”"


def _identical(
    plan: Plan,
    files: Sequence[DeliveredFrame],
    shown: Mapping[tuple[int, int], float],
    drawn: Mapping[tuple[int, int], str],
) -> Iterator[_Found]:
    """Yield frames that show the very same picture where the plan has it change; a hold is none."""
    alike: dict[str, list[DeliveredFrame]] = {}
    for file in files:
        if file.digest:
            alike.setdefault(file.digest, []).append(file)
    corners: NDArray[np.float64] | None = None
    for group in alike.values():
        frames = sorted({file.frame for file in group})
        inside = [frame for frame in frames if plan.frames[0] <= frame <= plan.frames[-1]]
        if len(inside) < 2:
            continue
        corners = corners_px(plan) if corners is None else corners
        rows = [frame - int(plan.frames[0]) for frame in inside]
        # Who moves outside of the frame, behind others or without a drawing changes nothing in it.
        seen = [
            column
            for column in range(len(plan.names))
            if any(shown.get((frame, column), 1.0) > 0.0 for frame in inside)
        ]
        moves = float(np.linalg.norm(corners[rows] - corners[rows[0]], axis=-1)[:, seen].max(initial=0.0))
        drawings = [
            {
                drawn.get((frame, column), str(plan.drawing[row, column]))
                for frame, row in zip(inside, rows, strict=True)
            }
            for column in seen
        ]
        if moves > SAME_PX or any(len(held) > 1 for held in drawings):
            yield from (_of_the_same(part, inside, moves) for part in stretches(inside))


def _of_the_same(part: tuple[int, int], alike: Sequence[int], moves: float) -> _Found:
    """Return the fault of one stretch of frames that are ``alike`` the same picture."""
    mine = range(part[0], part[1] + 1)
    others = [frame for frame in alike if frame not in mine]
    are, as_ = "is" if len(mine) == 1 else "are", f" as {frames_said(others)}" if others else ""
    text = f"{frames_said(mine)} {are} the very same picture{as_}, where the plan has it change"
    fault = Fault("frames-identical", BLOCK, "frames", "", part, float(len(mine)), "frames", moves, text)
    return _Found(fault, frozenset(mine))


def _of(
    code: str,
    files: Sequence[DeliveredFrame],
    words: Callable[[Group], str],
    *,
    alike: Callable[[DeliveredFrame], object] = lambda file: "",
) -> list[_Found]:
    """Return a fault for each stretch of ``files`` that are alike; ``words`` says what those of one stretch are."""
    groups: dict[object, list[DeliveredFrame]] = {}
    for file in files:
        groups.setdefault(alike(file), []).append(file)
    faults = []
    for group in groups.values():
        for part in in_stretches([file.frame for file in group]):
            mine = [file for file in group if file.frame in set(part)]
            faults.append(_fault(code, part, f"{frames_said(part)} {words(mine)}"))
    return faults


def faults_of(
    code: str,
    files: Sequence[DeliveredFrame],
    words: Callable[[Group], str],
    *,
    alike: Callable[[DeliveredFrame], object] = lambda file: "",
) -> list[tuple[Fault, frozenset[int]]]:
    """Return a fault, with its frames, for each stretch of ``files`` that are alike; ``words`` says what they are."""
    return list(_of(code, files, words, alike=alike))


def _are(group: Group) -> str:
    return _form(group, "is", "are")


def _form(group: Group, one: str, many: str) -> str:
    """Return the form of a word for one frame or for many; one frame may be there in several files."""
    return one if len({file.frame for file in group}) == 1 else many


def _few(names: Sequence[str]) -> str:
    return first_of([plain(name) for name in names], 3)


def _fault(code: str, frames: Sequence[int], text: str, *, severity: str = BLOCK) -> _Found:
    asked = frozenset(frames)
    fault = Fault(code, severity, "frames", "", (min(asked), max(asked)), float(len(asked)), "frames", NAN, text)
    return _Found(fault, asked)
