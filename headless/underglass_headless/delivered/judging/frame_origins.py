# SPDX-License-Identifier: GPL-3.0-or-later
"""Frames that say of themselves that they are of another frame, shot, scene or camera, or of older files or art."""

from collections.abc import Iterator, Sequence
from functools import partial
from operator import attrgetter

from underglass.image.frame_note import FrameNote, shortened, spelled
from underglass.plan.plan_arrays import Plan
from underglass.proof.wording import plain

from ..files.frame_lists import frame_list, frames_said
from .delivered_frame import DeliveredFrame, Group
from .frame_faults import FoundFault, are, faults_of, few, form


def origin_faults(
    plan: Plan, files: Sequence[DeliveredFrame], fingerprint: str, art: Sequence[str]
) -> Iterator[FoundFault]:
    """Yield frames that say of themselves that they are of another frame, shot, scene or camera."""
    number = [file for file in files if file.said_frame is not None and file.said_frame != file.frame]
    # A stretch of frames that are out by the same number is one mistake.
    yield from faults_of("frame-number", number, _said, alike=lambda file: (file.said_frame or 0) - file.frame)
    noted = [(file, file.note) for file in files if file.note is not None]
    title = FrameNote.of(shot="", title=plan.shot.title, scene="", camera="").title
    other = [file for file, note in noted if note.title != title and note.shot != fingerprint]
    yield from faults_of(
        "frame-of-another-shot",
        other,
        lambda group: f"{are(group)} of another shot, “{plain(group[0].note.title) if group[0].note else ''}”",
        alike=lambda file: file.note,
    )
    stale = [file for file, note in noted if note.title == title and note.shot not in ("", fingerprint)]
    yield from faults_of("frame-stale", stale, _stale, alike=lambda file: file.note)
    # Whose shot's files are others is not held to the art too: it is said once.
    repainted = [file for file, note in noted if note.shot in ("", fingerprint) and note.is_of_other_art(art)]
    repainted = [file for file in repainted if file not in other]
    yield from faults_of(
        "frame-stale", repainted, partial(_repainted, names=plan.names, art=art), alike=lambda file: file.note
    )
    more = [file for file in files if any(level >= len(plan.names) for level in file.levels)]
    more = [file for file in more if file not in other and file not in stale]
    yield from faults_of(
        "frame-of-another-shot", more, partial(_more_levels, count=len(plan.names)), alike=lambda file: max(file.levels)
    )
    for what in ("scene", "camera"):
        wrong = [
            file
            for file, note in noted
            if getattr(file, what) and getattr(note, what) not in ("", shortened(getattr(file, what)))
        ]
        yield from faults_of(
            f"frame-of-another-{what}", wrong, partial(_elsewhere, what=what), alike=attrgetter("note", what)
        )


def _said(group: Group) -> str:
    numbers = frames_said([file.said_frame or 0 for file in group])
    above = group[0].said_above
    there = frame_list([(file.said_frame or 0) + above for file in group])
    in_file = f" ({there} in the metadata)" if above else ""
    return f"{form(group, 'says that it was', 'say that they were')} rendered as {numbers}{in_file}"


def _more_levels(group: Group, *, count: int) -> str:
    last = max(group[0].levels)
    return (
        f"{form(group, 'holds', 'hold')} proof{last}, a pass of level {last + 1}, but the shot has {count}: the passes"
        " are of another stack, or their numbers were changed"
    )


def _stale(group: Group) -> str:
    was, it = (form(group, one, many) for one, many in (("was", "were"), ("it", "them")))
    return f"{was} rendered from another state of the shot's files; build the scene again, then render {it} again"


def _repainted(group: Group, *, names: Sequence[str], art: Sequence[str]) -> str:
    was, it = (form(group, one, many) for one, many in (("was", "were"), ("it", "them")))
    other = [] if group[0].note is None else [names[number] for number in group[0].note.other_levels(art)]
    which = f" ({few(other)})" if other else ""
    return (
        f"{was} rendered from a scene that was built with other art than lies with the shot now{which}; build the scene"
        f" again, then render {it} again"
    )


def _elsewhere(group: Group, *, what: str) -> str:
    seen, built = plain(spelled(getattr(group[0], what))), plain(getattr(group[0].note, what))
    return f"{form(group, 'was', 'were')} rendered of the {what} “{seen}”, the shot was built for “{built}”"
