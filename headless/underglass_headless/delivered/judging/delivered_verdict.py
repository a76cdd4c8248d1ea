# SPDX-License-Identifier: GPL-3.0-or-later
"""The verdict on delivered frames: their files, and the levels that their proof passes show, held against the plan.

No scene is known, only what the frames hold. What they cannot show is said, and never passed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underglass.plan.plan_arrays import Plan
from underglass.plan.planning import corners_px
from underglass.proof.diagnose.fault_words import stretch
from underglass.proof.diagnose.part_that_is_off import diagnose
from underglass.proof.levels_showing import LEAST_AREA_PX
from underglass.proof.measure.measured_corners import Fit
from underglass.proof.proof_facts import BLOCK, FAIL, PASS, Fault, Measurement, Proof, Source
from underglass.proof.verdict.judge_levels import SLIVER, judge_level, strays_where_seen, whole_area
from underglass.proof.verdict.whole_proof import or_unexplained, unmet_faults
from underglass.proof.wording import counted, listed
from underglass.shot.model import CAMERA
from underglass.shot.words import number_text

from ..files.frame_lists import MOST_STRETCHES, frame_list, stretches
from .as_seen import reading_as_seen, seen_corners
from .colour_change import MISSING
from .delivered_frame import CRYPTOMATTE, PASSES, PICTURE, DeliveredFrame
from .file_faults import file_faults
from .held_out_levels import named_alone
from .level_gaps import CUT_OFF, GAPS, HIDING
from .picture_faults import Pictures, changed_all_over, of_one_colour, picture_faults, with_culprits
from .unproved import (
    NOWHERE_WHOLE,
    ONLY_SCENE,
    SURELY,
    never_told,
    not_told,
    only_scene_tells,
    renamed_passes,
    unmarked,
    with_unnamed,
    without_passes,
    without_picture,
)

Floats = NDArray[np.float64]

NAN = float("nan")
# Less of a level than this share of what the plan shows of it has been cut off or covered; the plan is only sampled.
LEAST_SHARE = 0.85
# A small thing too leaves a trace, if it shows in more pixels than these.
LEAST_TRACE_PX = 16.0
# So much of the frame has to be expected before that is asked.
LEAST_EXPECTED = 0.01
# A fit that is this many times as uncertain as most of its level's says nothing of how the level moves.
POOR_FIT = 3.0


EVIDENCE = (PASSES, CRYPTOMATTE, PICTURE)
WHERE = {
    PASSES: "wherever it shows",
    CRYPTOMATTE: "whose outline shows, by its mattes,",
    PICTURE: "whose art has enough detail",
}
_BY_ART = "what frames between those show, what is finer than the stated uncertainty, what opaque paint hides"
BLIND = {
    PASSES: (
        "what opaque paint before a level hides, and of the picture all but its colours where the art is opaque and"
        " plain"
    ),
    CRYPTOMATTE: f"{_BY_ART}, and what lies inside an outline",
    PICTURE: f"{_BY_ART}; a grade or anything laid over the picture spoils it",
}

# Said of a level that shows in a sliver only, within its uncertainty, until it is known whether other frames tell it.
_SLIVER = "too little of it shows to measure it"
# Said of a level that was looked for by its art.
_NOT_FOUND = "it is nowhere near its place, or nothing of it tells its place"


@dataclass(frozen=True)
class Delivery:
    """All that was read of the delivered frames.

    ``files`` in order of frames, doubles among them; ``fits`` by (frame, level's number); by the same, where they were
    worked out, ``expected`` the share of the frame in which the plan has a pass of a level whole, and ``shown`` in
    which it shows however thinly; ``something_seen`` tells of frames whether the plan shows anything there. ``named``
    is the sequence as fileseq spells it. ``untraced`` are levels, by frame and number, of which a frame that would hold
    a trace of them holds none, ``traced`` those that could not be measured and left one. ``beyond`` are frames that
    were delivered and that the shot does not have. ``drawn`` tells of frames that are the same picture, by the same,
    what the file of each drawing holds. ``strays`` are files, by frame, that are named nearly as frames are and were
    not read. ``offset`` is how far the numbers in the files' names are above the
    frames', ``better_offset`` one by which all frames would be there.
    """

    files: tuple[DeliveredFrame, ...]
    fits: Mapping[tuple[int, int], Fit | None]
    expected: Mapping[tuple[int, int], float]
    shown: Mapping[tuple[int, int], float]
    something_seen: Mapping[int, bool]
    named: str
    untraced: frozenset[tuple[int, int]] = frozenset()
    traced: frozenset[tuple[int, int]] = frozenset()
    beyond: tuple[int, ...] = ()
    drawn: Mapping[tuple[int, int], str] = field(default_factory=dict)
    strays: tuple[tuple[int, str], ...] = ()
    offset: int = 0
    better_offset: int | None = None
    looks: Pictures = field(default_factory=Pictures)
    engine: str = ""
    blender: str = ""


def judge_delivered(
    plan: Plan,
    delivery: Delivery,
    *,
    shot_file: Path,
    wanted: Sequence[int],
    fingerprint: str,
    tolerance: float,
    pictures: dict[int, Path],
    seconds: dict[str, float],
    part: bool = False,
    art: Sequence[str] = (),
) -> Proof:
    """Return the proof that delivered frames make of ``plan`` on the ``wanted`` frames; ``tolerance`` in px.

    Of a ``part`` of the shot only what is wrong whatever other frames show is: a level may be told on those. ``art`` is
    a digest of each level's art as it lies with the shot, empty where it is not to be held against that.
    """
    looks = with_culprits(plan.names, delivery.looks, delivery.files)
    faults, spoilt = file_faults(
        plan,
        delivery.files,
        wanted=wanted,
        fingerprint=fingerprint,
        something_seen=delivery.something_seen,
        shown=delivery.shown,
        drawn=delivery.drawn,
        beyond=delivery.beyond,
        strays=delivery.strays,
        offset=delivery.offset,
        better_offset=delivery.better_offset,
        art=art,
        explained={one.frame for one in looks.colours if one.change.kind == MISSING},
        changed=changed_all_over(looks),
        one_colour=of_one_colour(delivery.files, looks),
    )
    more, spoilt_too = picture_faults(plan.names, delivery.files, looks, spoilt=spoilt)
    faults, spoilt = [*faults, *more], spoilt | spoilt_too
    usable = [file for file in delivery.files if not file.damage and file.frame not in spoilt and file.frame in wanted]
    if any(file.evidence == PASSES for file in usable):
        # Beside frames with passes one without is not to be judged by less.
        usable = [file if file.evidence == PASSES else replace(file, levels=(), evidence="") for file in usable]
    # Passes that are all empty, where several levels should show, are none.
    usable = [replace(file, levels=(), evidence="") if _is_empty(file, delivery) else file for file in usable]
    by_art = not any(file.evidence == PASSES for file in usable)
    measurements = _measurements(plan, delivery, usable, tolerance, part=part)
    faults += [*unmarked(usable), *without_picture(usable), *without_passes(plan, usable, part=part)]
    faults += _diagnosed(plan, delivery, measurements, tolerance)
    untold = not_told(plan, measurements, tolerance, by_art=by_art, usable=usable)
    faults += [*unmet_faults(plan, tolerance), *(fault for fault in untold if not _is_said_by_a_gap(fault, faults))]
    if not part:
        faults += only_scene_tells(plan, measurements, tolerance)
        faults += never_told(plan, measurements, tolerance, shown=delivery.shown, usable=usable)
    faults = with_unnamed(plan, measurements, faults, tolerance, usable=usable)
    faults = [*renamed_passes(plan, usable, faults), *faults]
    faults.sort(key=lambda fault: (fault.severity != BLOCK, fault.code != "art-not-found"))
    wrong = any(fault.severity == BLOCK for fault in faults) or any(m.verdict == FAIL for m in measurements)
    nowhere = np.full((len(plan.frames), len(plan.names)), np.nan)
    return Proof(
        plan=plan,
        shot_file=shot_file,
        scene_file=None,
        blender=delivery.blender or "not known",
        engine=delivery.engine or "not known",
        tolerance_px=tolerance,
        verdict=FAIL if wrong else PASS,
        checked_frames=(),
        rendered_frames=tuple(dict.fromkeys(m.frame for m in measurements)),
        measurements=measurements,
        faults=or_unexplained(tuple(faults), wrong, nowhere, plan, measurements),
        scene_error_px=nowhere,
        pictures=pictures,
        seconds=seconds,
        source=_source(delivery, measurements, usable),
    )


def _is_empty(file: DeliveredFrame, delivery: Delivery) -> bool:
    """Return whether nothing is in the passes of a frame at all, though several levels should show on it."""
    wheres = [(file.frame, level) for level in file.levels]
    should = sum(delivery.expected.get(where, 0.0) >= LEAST_EXPECTED for where in wheres)
    return should > 1 and all(where in delivery.untraced for where in wheres)


def _is_said_by_a_gap(fault: Fault, faults: Sequence[Fault]) -> bool:
    """Return whether a level lacks a part on frames of which is said already what is missing there, and where."""
    if fault.code != CUT_OFF:
        return False
    first, last = fault.frames
    return any(
        known.code in GAPS
        # What covers too much explains what is missing of others.
        and (known.code in HIDING or known.subject in ("frames", fault.subject))
        and known.frames[0] <= first
        and last <= known.frames[1]
        for known in faults
    )


def _measurements(
    plan: Plan, delivery: Delivery, usable: Sequence[DeliveredFrame], tolerance: float, *, part: bool
) -> tuple[Measurement, ...]:
    corners = corners_px(plan)
    measured = tuple(
        _measurement(plan, delivery, file, column, corners=corners, tolerance=tolerance)
        for file in usable
        for column in file.levels
        if column < len(plan.names)
    )
    area = float(np.prod(plan.shot.camera.frame_px))
    shares = {
        (frame, plan.names[column]): fit.area_px / (delivery.expected[frame, column] * area)
        for (frame, column), fit in delivery.fits.items()
        if fit is not None and delivery.expected.get((frame, column), 0.0) > 0
    }
    measured = named_alone(plan, measured, corners=corners, shares=shares, tolerance=tolerance)
    measured = _slivers_let_pass(measured, tolerance, part=part)
    # What a part of the shot does not tell, the other frames may.
    return measured if part else _too_little_shown(measured, delivery.fits, plan, tolerance)


def _too_little_shown(
    measurements: Sequence[Measurement],
    fits: Mapping[tuple[int, int], Fit | None],
    plan: Plan,
    tolerance: float,
) -> tuple[Measurement, ...]:
    """Return the measurements; those of levels that no frames would tell, of many samples either, say so.

    Of such a level every measurement fails, no more out of place than by chance.
    """
    by_level: dict[str, list[Measurement]] = {}
    for m in measurements:
        if m.error_px is not None:
            by_level.setdefault(m.level, []).append(m)
    untold = set()
    for name, mine in by_level.items():
        known = [(m, fits.get((m.frame, plan.names.index(name)))) for m in mine]
        if all(
            fit is not None
            and m.verdict == FAIL
            and m.whole
            and not m.why
            # A level that is surely elsewhere is told well enough.
            and (m.error_px or 0.0) <= SURELY * (m.uncertainty_px or 0.0)
            and fit.best_px > tolerance
            for m, fit in known
        ):
            untold.add(name)
    return tuple(
        replace(m, remark=ONLY_SCENE) if m.level in untold and m.error_px is not None else m for m in measurements
    )


def _measurement(
    plan: Plan, delivery: Delivery, file: DeliveredFrame, column: int, *, corners: Floats, tolerance: float
) -> Measurement:
    """Return the verdict on one level of one frame: what other levels cover of it is not missed."""
    frame = file.frame
    where = frame, column
    fit, expected = delivery.fits.get(where), delivery.expected.get(where)
    in_full = None if fit is None else replace(fit, area_px=np.inf)
    name = plan.names[column]
    m = judge_level(plan, corners=corners, frame=frame, level=name, fit=in_full, tolerance=tolerance, scene_tells=False)
    frame_area = float(np.prod(plan.shot.camera.frame_px))
    if fit is None:
        if where in delivery.untraced and delivery.shown.get(where, 0.0) * frame_area >= LEAST_TRACE_PX:
            return replace(m, verdict=FAIL, remark="nothing of it is in the pixels")
        hidden = expected is not None and expected * frame_area < LEAST_AREA_PX
        if m.verdict == FAIL and hidden:
            return replace(m, verdict=PASS, remark="nothing of it shows whole pixels, as planned")
        if m.verdict == FAIL and where in delivery.traced and (expected or 0.0) < LEAST_EXPECTED:
            return replace(m, verdict=PASS, remark="too little of it shows whole pixels to measure its place")
        if m.verdict == FAIL and where in delivery.traced:
            return replace(m, remark=NOWHERE_WHOLE)
        return replace(m, remark=_NOT_FOUND) if m.verdict == FAIL and file.evidence != PASSES else m
    if expected is not None and expected >= LEAST_EXPECTED and fit.area_px < LEAST_SHARE * expected * frame_area:
        share = fit.area_px / (expected * frame_area)
        return replace(m, verdict=FAIL, whole=False, remark=f"only {share:.0%} of what should show is in the pixels")
    if m.verdict == PASS or fit.tilted or m.error_px is None or m.error_px > fit.uncertainty_px:
        return m
    place = corners[frame - int(plan.frames[0]), column]
    strays = strays_where_seen(fit, place)
    if strays + fit.seen_uncertainty_px <= tolerance:
        remark = f"only a part of it shows, and that is {strays:.3f} ± {fit.seen_uncertainty_px:.3f} px from its place"
        seen = fit.seen_uncertainty_px
        return replace(m, verdict=PASS, remark=remark, judged_px=strays, judged_uncertainty_px=seen)
    if fit.area_px < SLIVER * min(whole_area(place), frame_area):
        return replace(m, remark=_SLIVER)
    return m


def _slivers_let_pass(measurements: Sequence[Measurement], tolerance: float, *, part: bool) -> tuple[Measurement, ...]:
    """Return the measurements; a sliver of a level within its uncertainty passes where the level is told elsewhere.

    A level that no frame tells to the tolerance is not proved by any number of slivers; where these are a ``part`` of
    the shot, others may tell it.
    """
    told = {
        m.level
        for m in measurements
        if m.verdict == PASS and m.error_px is not None and m.error_px + (m.uncertainty_px or 0.0) <= tolerance
    }
    passes = f"too little of it shows to tell to {tolerance:g} px; it is within its uncertainty"
    return tuple(
        replace(m, verdict=PASS, remark=passes) if m.remark == _SLIVER and (part or m.level in told) else m
        for m in measurements
    )


def _diagnosed(plan: Plan, delivery: Delivery, measurements: Sequence[Measurement], tolerance: float) -> list[Fault]:
    """Return which part of the stand is off, which way and how far, on the frames where the pixels say so."""
    off = {
        plan.names.index(m.level)
        for m in measurements
        if m.verdict == FAIL and m.error_px is not None and m.error_px > (m.uncertainty_px or 0.0)
    }
    if not off:
        return []
    # Of frames before and after those that were measured nothing is known.
    plan = plan.between(min(m.frame for m in measurements), max(m.frame for m in measurements))
    corners = corners_px(plan)
    measured = {(m.frame, plan.names.index(m.level)) for m in measurements}
    fits: dict[tuple[int, int], Fit] = {}
    for (frame, column), fit in delivery.fits.items():
        if fit is None or (frame, column) not in measured:
            continue
        # Of a level that is in place only scatter is left, and nobody is to be blamed for that.
        place = corners[frame - int(plan.frames[0]), column]
        fits[frame, column] = fit if column in off else replace(fit, corners=place)
    good = _good_fits(fits, tolerance)
    # Two measurements may differ by twice what each may be out.
    noise_px = 2 * max((fit.uncertainty_px for (_, column), fit in good.items() if column in off), default=0.0)
    seen = seen_corners(plan, fits=good)
    reading = reading_as_seen(plan, seen=seen, tolerance=tolerance, blender=delivery.blender)
    error = np.linalg.norm(seen.corners - corners, axis=-1).max(axis=-1)
    diagnosed = diagnose(plan, reading=reading, scene_error=error, tolerance=tolerance, noise_px=noise_px)
    looked_at = sorted({frame for frame, _ in good})
    found = [_where_looked_at(fault, looked_at) for fault in diagnosed]
    if not any(fault.subject == CAMERA and fault.severity == BLOCK for fault in found):
        return found
    # The camera alone moves every level: of one that stayed in place on screen it is not the whole truth.
    stayed = [plan.names[column] for column in sorted({column for _, column in good} - off)]
    more = f"; once that is corrected, {listed(stayed)}, now in place on screen, will be off by as much"
    return [
        replace(fault, message=fault.message + more) if stayed and fault.subject == CAMERA else fault
        for fault in found
        if fault.severity == BLOCK
    ]


def _where_looked_at(fault: Fault, frames: Sequence[int]) -> Fault:
    """Return the fault from the first to the last of the ``frames`` that were measured: of others nothing is known."""
    within = [frame for frame in frames if fault.frames[0] <= frame <= fault.frames[1]]
    if not within:
        return fault
    ends = within[0], within[-1]
    return replace(fault, frames=ends, message=fault.message.replace(stretch(fault.frames), stretch(ends)))


def _good_fits(fits: Mapping[tuple[int, int], Fit], tolerance: float) -> dict[tuple[int, int], Fit]:
    """Return the fits but for those of which a level has much better ones."""
    usual: dict[int, list[float]] = {}
    for (_, column), fit in fits.items():
        usual.setdefault(column, []).append(fit.uncertainty_px)
    most = {column: max(tolerance, POOR_FIT * float(np.median(all_))) for column, all_ in usual.items()}
    return {place: fit for place, fit in fits.items() if fit.uncertainty_px <= most[place[1]]}


def _source(delivery: Delivery, measurements: Sequence[Measurement], usable: Sequence[DeliveredFrame]) -> Source:
    """Return what the verdict goes by, and what that can and cannot show; the poorest evidence that was used counts."""
    whole = "whether every frame that was asked for is there, whole, of this shot and the one that its name says"
    kinds = {file.evidence for file in usable if file.evidence}
    if not measurements or not kinds:
        return Source("files", delivery.named, whole, "where any level is: the parallax is not proved")
    kind = max(kinds, key=EVIDENCE.index)
    best = min((m.uncertainty_px for m in measurements if m.uncertainty_px is not None), default=NAN)
    fine = "" if np.isnan(best) else f", to ± {number_text(best, digits=2)} px at best"
    looked = {m.frame for m in measurements}
    which = f" ({frame_list(looked)})" if len(stretches(looked)) <= MOST_STRETCHES else ""
    frames = f"{counted(len(looked), 'frame')}{which}"
    told = f"size, place and turn of every level {WHERE[kind]} on {frames}{fine}; {whole}"
    return Source(kind, delivery.named, told, BLIND[kind])
