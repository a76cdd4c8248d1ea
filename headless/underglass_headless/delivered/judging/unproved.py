# SPDX-License-Identifier: GPL-3.0-or-later
"""What delivered frames leave unproved: levels that do not show or not finely enough, frames without passes or note."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from underglass.plan.plan_arrays import Plan
from underglass.proof.proof_facts import BLOCK, FAIL, NOTE, Fault, Measurement
from underglass.proof.verdict.judge_levels import worst_of
from underglass.proof.verdict.whole_proof import or_unexplained
from underglass.proof.wording import listed, plain, span
from underglass.shot.words import first_of, number_text

from ..files.frame_lists import frames_said, stretches
from .delivered_frame import CRYPTOMATTE, PASSES, PICTURE, DeliveredFrame
from .held_out_levels import HIDES

NAN = float("nan")
# A level that shows in less of the frame than this is not missed.
LEAST_SHOWN = 0.01
# So many times its uncertainty no measurement is out by chance. Once over, one in twenty may be; and all frames of a
# shot err alike, since their samples lie alike.
SURELY = 2.0
SHOW, CARRY, HOLD = ("shows", "show"), ("carries", "carry"), ("holds", "hold")
COLOURS = ("red", "green", "blue")
# So many passes of other names are named.
_MOST_NAMED = 6
# Codes of what is not known finely enough: a level that is off is not named by them.
_COARSE = ("too-coarse", "not-proved", "only-scene-tells")
# Remark on a level of which so little shows that no frames tell it.
ONLY_SCENE = "too little of it shows to measure it, whatever the samples; only the scene can"


# Remark of a level that is there in its pass, but nowhere as a whole pixel.
NOWHERE_WHOLE = "no pixel of its proof pass is filled"
_CHANGED = "look whether the pass was changed after the render, or something half hides the level"


def not_told(
    plan: Plan, measurements: Sequence[Measurement], tolerance: float, *, by_art: bool, usable: Sequence[DeliveredFrame]
) -> list[Fault]:
    """Return a fault for each level that is not there, cut off, or cannot be told finely enough by ``usable`` frames.

    ``by_art`` says that levels were looked for by their art alone: one far from its place is then not found.
    """
    faults = []
    lost = {m.level for m in measurements if by_art and m.verdict == FAIL and m.error_px is None}
    for name in plan.names:
        failed = [m for m in measurements if m.level == name and m.verdict == FAIL]
        gone = [m for m in failed if m.error_px is None]
        if gone and by_art:
            text = f"{name} nowhere near its place, or nothing of it that tells its place"
            if len(lost) > 1:
                text += "; one level that is far off can hide where another is"
            faults.append(replace(_frames_fault("not-seen", [m.frame for m in gone], SHOW, text), subject=name))
        for part in (True, False) if not by_art else ():
            for first, last in stretches(m.frame for m in gone if (m.remark == NOWHERE_WHOLE) == part):
                text = f"{name} should be in the picture on {span((first, last))}, but none of its pixels are"
                if part:
                    text = (
                        f"{name} should fill pixels on {span((first, last))}, but its proof pass fills none: {_CHANGED}"
                    )
                faults.append(Fault("not-seen", BLOCK, name, "", (first, last), NAN, "", NAN, text))
        cut = [m for m in failed if m.error_px is not None and not m.whole]
        if cut:
            worst, frames = worst_of(cut), (cut[0].frame, cut[-1].frame)
            text = f"{name}: {worst.remark} on frame {worst.frame}: something cuts it off or stands before it"
            faults.append(Fault("cut-off", BLOCK, name, "", frames, NAN, "", NAN, text))
    return [*faults, *_too_coarse(_coarse(measurements), tolerance, usable)]


def _coarse(measurements: Sequence[Measurement]) -> list[Measurement]:
    """Return what is not out of its place as far as can be told, which is not far enough."""
    return [
        m
        for m in measurements
        if m.verdict == FAIL
        and m.whole
        and m.error_px is not None
        and m.error_px <= (m.uncertainty_px or 0.0)
        and m.remark != ONLY_SCENE
    ]


def only_scene_tells(plan: Plan, measurements: Sequence[Measurement], tolerance: float) -> list[Fault]:
    """Return a fault for each level of which too little shows on every frame to tell it, however it is rendered."""
    faults = []
    for name in plan.names:
        frames = [m.frame for m in measurements if m.level == name and m.remark == ONLY_SCENE]
        if frames:
            faults.append(_of_the_scene(name, frames, tolerance))
    return faults


def _of_the_scene(name: str, frames: Sequence[int], tolerance: float) -> Fault:
    text = f"too little of {name} shows in these frames to prove it to {tolerance:g} px; only `prove --scene` can"
    return Fault("only-scene-tells", BLOCK, name, "", (min(frames), max(frames)), NAN, "", NAN, text)


def never_told(
    plan: Plan,
    measurements: Sequence[Measurement],
    tolerance: float,
    *,
    shown: Mapping[tuple[int, int], float],
    usable: Sequence[DeliveredFrame],
) -> list[Fault]:
    """Return a fault for each level that shows, as the plan has it, but nowhere so that its place can be told.

    Of one that shows very little it is a note: nothing that could be rendered tells more. Of frames of Cycles only the
    scene tells more, of those of another engine Cycles may.
    """
    faults = []
    # Passes that levels share tell of the nearest one alone; those of Cycles of each.
    shared = any(file.shared for file in usable)
    by_passes = any(file.evidence == PASSES for file in usable)
    more = "; Cycles tells more" if shared else ""
    for column, name in enumerate(plan.names):
        mine = [m for m in measurements if m.level == name]
        if any(m.error_px is not None or m.verdict == FAIL or m.remark.endswith(HIDES) for m in mine):
            continue
        shares = {m.frame: shown.get((m.frame, column), 0.0) for m in mine}
        if seen := [frame for frame, share in shares.items() if share > 0.0]:
            severity = BLOCK if max(shares.values()) >= LEAST_SHOWN else NOTE
            if severity == BLOCK and by_passes and not shared:
                faults.append(_of_the_scene(name, seen, tolerance))
                continue
            text = f"{name} nowhere so that its place can be told: only thinly, or in slivers{more}"
            if severity == NOTE:
                text = f"too little of {name} to tell its place by, which is not proved"
            faults.append(replace(_frames_fault("not-proved", seen, SHOW, text, severity=severity), subject=name))
    return faults


def with_unnamed(
    plan: Plan,
    measurements: Sequence[Measurement],
    faults: Sequence[Fault],
    tolerance: float,
    *,
    usable: Sequence[DeliveredFrame] = (),
) -> list[Fault]:
    """Return the faults, and one that says where a level is off, if that is all that is known: no part is named for it.

    One in twenty may be out by more than its uncertainty says, by chance, and that blames nobody: it is told with what
    is too coarse, in one fault.
    """
    if any(fault.severity == BLOCK and fault.code not in _COARSE and fault.subject != "frames" for fault in faults):
        return list(faults)
    off = tuple(
        m
        for m in measurements
        if m.verdict == FAIL
        and m.error_px is not None
        and m.whole
        and m.error_px > (m.uncertainty_px or 0.0)
        and m.remark != ONLY_SCENE
    )
    sure = tuple(m for m in off if (m.error_px or 0.0) > SURELY * (m.uncertainty_px or 0.0))
    nowhere = np.full((len(plan.frames), len(plan.names)), np.nan)
    if sure:
        return [*faults, *or_unexplained((), True, nowhere, plan, sure)]
    if not off:
        return list(faults)
    others = [fault for fault in faults if fault.code != "too-coarse"]
    return [*others, *_too_coarse([*_coarse(measurements), *off], tolerance, usable)]


def _too_coarse(coarse: Sequence[Measurement], tolerance: float, usable: Sequence[DeliveredFrame]) -> list[Fault]:
    """Return a fault for what is not out of its place as far as can be told, which is not far enough.

    Frames that are so for different reasons are different faults.
    """
    by_frame = {file.frame: file for file in usable}
    alike: dict[tuple[bool, int], list[Measurement]] = {}
    for m in coarse:
        file = by_frame.get(m.frame)
        alike.setdefault((file is not None and file.half, 0 if file is None else file.steps), []).append(m)
    return [_too_coarse_alike(mine, tolerance, by_frame) for _, mine in sorted(alike.items())]


def _too_coarse_alike(coarse: Sequence[Measurement], tolerance: float, by_frame: Mapping[int, DeliveredFrame]) -> Fault:
    names = list(dict.fromkeys(m.level for m in coarse))
    worst = max(coarse, key=lambda m: (m.error_px or 0.0) + (m.uncertainty_px or 0.0))
    error, margin = worst.error_px or 0.0, worst.uncertainty_px or 0.0
    frame = by_frame.get(worst.frame)
    numbers = sorted({m.frame for m in coarse})
    whose = f"the passes of {frames_said(numbers)}"
    why, instead = "", ""
    more = ", or render from a scene built with --proof-passes, with more samples, to 32-bit EXR"
    if frame is not None and frame.steps:
        bits = frame.steps.bit_length()
        why = f", since {whose} were rounded to {frame.steps + 1} steps, as {bits}-bit files hold them"
        instead, more = "deliver the frames as they were rendered, or ", ""
    elif frame is not None and frame.half:
        why = f", since {whose} are 16-bit floats"
        instead, more = "deliver 32-bit EXR, or ", ""
    elif frame is not None and frame.samples_unsaid:
        why = ", since the file does not say how many samples its pixels had (cycles.*.samples is gone)"
        instead, more = "deliver the files with the metadata of the render, or ", ""
    elif frame is not None and frame.evidence == PASSES:
        more = ", or render with more samples, to 32-bit EXR"
    text = (
        f"{listed(names)} cannot be proved to {tolerance:g} px by these frames: {worst.level} measures {error:.3f}"
        f" ± {margin:.3f} px on frame {worst.frame}{why}; {instead}allow"
        f" {number_text(1.2 * (error + margin), digits=2)} px or more{more}"
    )
    return Fault("too-coarse", BLOCK, worst.level, "", (numbers[0], numbers[-1]), error, "px", error, text)


def unmarked(usable: Sequence[DeliveredFrame]) -> list[Fault]:
    """Return a note where frames do not say which shot they are of."""
    silent = [file.frame for file in usable if file.note is None]
    text = "no note of the shot that was built: whether that was its present state cannot be told"
    return [_frames_fault("frames-unmarked", silent, CARRY, text, severity=NOTE)] if silent else []


def without_picture(usable: Sequence[DeliveredFrame]) -> list[Fault]:
    """Return a fault for frames whose passes prove the levels, beside which there is no picture, or not all of it.

    Where no frame has one, passes were delivered by themselves: that is a note.
    """
    lacks = {file.frame: file.picture_lacks for file in usable if file.evidence == PASSES}
    faults = []
    for what in sorted({some for some in lacks.values() if some}):
        frames = [frame for frame, some in lacks.items() if some == what]
        by_themselves = len(what) == len(COLOURS) and len(frames) == len(lacks)
        text = "no picture, only passes" if len(what) == len(COLOURS) else f"a picture without {listed(what)}"
        text += "; nothing is proved of what the picture shows"
        severity = NOTE if by_themselves else BLOCK
        faults.append(_frames_fault("not-proved", frames, HOLD, text, severity=severity))
    return faults


def without_passes(plan: Plan, usable: Sequence[DeliveredFrame], *, part: bool = False) -> list[Fault]:
    """Return faults for frames and levels that cannot be judged, since nothing tells of them.

    By art only some frames are looked into; of those it is enough that each level is told on one, which need not be in
    this ``part`` of the shot.
    """
    faults = []
    by_art = [file for file in usable if file.evidence in (CRYPTOMATTE, PICTURE)]
    bare = [file for file in usable if not file.levels and not _is_renamed(plan, file)]
    for packing, holds in sorted({(file.lossy, _told(file)) for file in bare if file.lossy or not by_art}):
        only = f" (channels found: {holds})" if holds else ""
        why = f"no proof passes, or empty ones{only}; render them from a scene built with --proof-passes"
        if packing:
            why = f"proof passes compressed with {packing}, which changes coordinates; write ZIP or PIZ"
        silent = [file.frame for file in bare if (file.lossy, _told(file)) == (packing, holds)]
        faults.append(
            _frames_fault("not-proved", silent, ("cannot be proved: it carries", "cannot be proved: they carry"), why)
        )
    for column, name in enumerate(plan.names):
        without = [file.frame for file in usable if file.evidence == PASSES and column not in file.levels]
        if without:
            text = f"no proof pass of {name}, which cannot be judged there"
            faults.append(replace(_frames_fault("not-proved", without, CARRY, text), subject=name))
        elif by_art and not part and not any(column in file.levels for file in usable):
            text = f"nothing of {name} that shows its place, at any tolerance; render with --proof-passes"
            faults.append(
                replace(_frames_fault("not-proved", [file.frame for file in by_art], SHOW, text), subject=name)
            )
    return faults


def renamed_passes(plan: Plan, usable: Sequence[DeliveredFrame], faults: Sequence[Fault]) -> list[Fault]:
    """Return a fault for frames without proof passes that have as many others as there are levels; a note where all is
    well without."""
    mine = [file for file in usable if _is_renamed(plan, file)]
    if not mine:
        return []
    found = first_of([plain(name) for name in mine[0].unknown], _MOST_NAMED)
    text = (
        f"no proof passes by their names, but {found}: if these are the proof passes, name them proof0 to"
        f" proof{len(plan.names) - 1}, as they were rendered"
    )
    # By art only some frames are looked into.
    by_art = any(file.evidence in (CRYPTOMATTE, PICTURE) for file in usable)
    wrong = any(fault.severity == BLOCK for fault in faults) or not (by_art or all(file.levels for file in mine))
    return [_frames_fault("not-proved", [f.frame for f in mine], HOLD, text, severity=BLOCK if wrong else NOTE)]


def _is_renamed(plan: Plan, file: DeliveredFrame) -> bool:
    return file.evidence != PASSES and not file.lossy and len(file.unknown) >= len(plan.names) > 0


def _told(file: DeliveredFrame) -> str:
    """Return the channels that a file holds in place of proof passes; with lossy ones that is not the matter."""
    return "" if file.lossy else file.holds


def _frames_fault(
    code: str, frames: Sequence[int], verb: tuple[str, str], text: str, *, severity: str = BLOCK
) -> Fault:
    """Return a fault of frames; ``verb`` is the word for one of them, and that for more."""
    ends, count = (min(frames), max(frames)), len(set(frames))
    words = f"{frames_said(frames)} {verb[count > 1]} {text}"
    return Fault(code, severity, "frames", "", ends, float(count), "frames", NAN, words)
