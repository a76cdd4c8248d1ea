# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof in a few lines of plain text, for a terminal or a log."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from .expected_of_picture import expectations_line
from .proof_facts import BLOCK, PASS, Measurement, Proof, Source
from .wording import counted, give_or_take, listed, plain, px


def verdict_line(proof: Proof) -> str:
    """Return the verdict on the shot, named by its title, as one sentence in the words of the trade."""
    return f"“{plain(proof.plan.shot.title)}” {verdict_words(proof)}"


def verdict_words(proof: Proof) -> str:
    """Return the verdict as a sentence that goes on from the shot's name: passes or fails, and what says so."""
    if proof.verdict == PASS:
        return f"passes: {_held(proof)}."
    wrong = [fault for fault in proof.faults if fault.severity == BLOCK]
    if not wrong:
        return f"fails: {_failed(proof)}."
    more = f", and {counted(len(wrong) - 1, 'more fault')}" if len(wrong) > 1 else ""
    return f"fails: {plain(wrong[0].message).rstrip('.')}{more}."


def summary_lines(proof: Proof, *, results: Path | None = None) -> list[str]:
    """Return the verdict, a line a fault, what holds of the expectations, the worst error, where ``results`` are.

    The verdict names the one fault where there is no other, and that is then not said again.
    """
    lines = [verdict_line(proof)]
    wrong = [fault for fault in proof.faults if fault.severity == BLOCK]
    said = wrong if len(wrong) == 1 and proof.verdict != PASS else []
    words = {BLOCK: "fault"}
    lines += [
        f"  {words.get(fault.severity, fault.severity)}: {plain(fault.message)}"
        for fault in proof.faults
        if fault not in said
    ]
    if line := expectations_line(proof):
        lines.append(line)
    if proof.source is None:
        lines.append(f"{measured_words(proof)}.")
    lines.append(worst_line(proof))
    if proof.source is not None:
        lines += source_lines(proof.source)
    if results is not None:
        lines.append(f"Results: {plain(str(results))}")
    return lines


def source_lines(source: Source) -> list[str]:
    """Return what the verdict on delivered frames goes by."""
    return [
        f"Judged by: {source.kind} of {plain(source.files)}",
        f"  shows {source.shows}",
        f"  cannot show {source.cannot_show}",
    ]


def measured_words(proof: Proof) -> str:
    """Return on how many frames of the shot pixels were measured, and on how many of them finely."""
    words = f"{len(proof.rendered_frames)} of {counted(len(proof.plan.frames), 'frame')} measured in pixels"
    fine = len(set(proof.test_frames) & set(proof.rendered_frames))
    return f"{words}, {fine} of them on a fine grid" if fine else words


def worst_line(proof: Proof) -> str:
    """Return the worst error in the pixels with its uncertainty, as one sentence.

    What passes though it could not be told so finely, of a level of which little shows, is worst only beside its like.
    """
    worst = worst_told(proof.measurements, tolerance=proof.tolerance_px)
    allowed = f"{proof.tolerance_px:g} px allowed"
    if worst is None:
        return f"No level was measured in the pixels ({allowed})."
    return (
        f"Worst in the pixels: {plain(worst.level)} on frame {worst.frame}, {give_or_take(*judged(worst))} ({allowed})."
    )


def judged(measurement: Measurement) -> tuple[float | None, float | None]:
    """Return the figure that the verdict goes by and its uncertainty, px: at the corners, or of the part that shows."""
    if measurement.judged_px is not None:
        return measurement.judged_px, measurement.judged_uncertainty_px
    return measurement.error_px, measurement.uncertainty_px


def worst_told(measurements: Sequence[Measurement], *, tolerance: float) -> Measurement | None:
    """Return the worst of what failed; where nothing did, the worst of what was told to the tolerance in px, or of all.

    None where nothing was measured.
    """
    failed = [m for m in measurements if m.verdict != PASS]
    # What is out of place for sure, before what may be by chance.
    sure = [m for m in failed if (m.error_px or 0.0) > (m.uncertainty_px or 0.0)]
    told = [m for m in measurements if sum(part or 0.0 for part in judged(m)) <= tolerance]
    return worst_measurement(sure) or worst_measurement(failed) or _worst_judged(told) or _worst_judged(measurements)


def _worst_judged(measurements: Iterable[Measurement]) -> Measurement | None:
    measured = (m for m in measurements if m.error_px is not None)
    return max(measured, key=lambda m: judged(m)[0] or 0.0, default=None)


def worst_measurement(measurements: Iterable[Measurement]) -> Measurement | None:
    """Return the measurement with the largest error; None where nothing was measured."""
    measured = (m for m in measurements if m.error_px is not None)
    return max(measured, key=lambda m: m.error_px or 0.0, default=None)


def by_level(proof: Proof) -> dict[str, list[Measurement]]:
    """Return the measurements of each level of the plan, in the order they came."""
    sorted_out: dict[str, list[Measurement]] = {name: [] for name in proof.plan.names}
    for measurement in proof.measurements:
        sorted_out[measurement.level].append(measurement)
    return sorted_out


def _held(proof: Proof) -> str:
    """Return what a pass says: what was looked at, and how near the limit it came."""
    count = len(proof.plan.names)
    who = "its one level is" if count == 1 else f"all {count} levels are"
    if proof.source is not None:
        return _held_in_frames(proof, proof.source, who)
    where = f"on all {counted(len(proof.checked_frames), 'frame')} of the scene"
    worst = worst_measurement(proof.measurements)
    if worst is None:
        return f"{who} where planned {where}; none came into the rendered frames"
    error = f"within {px((worst.error_px or 0.0) + (worst.uncertainty_px or 0.0))} of the plan"
    return f"{who} where planned {where}, and {error} in the pixels"


def _held_in_frames(proof: Proof, source: Source, who: str) -> str:
    """Return what a pass of delivered frames says."""
    figures = [judged(m) for m in proof.measurements]
    sums = [error + uncertainty for error, uncertainty in figures if error is not None and uncertainty]
    told = [error for error in sums if error <= proof.tolerance_px]
    frames = f"{counted(len(proof.rendered_frames), 'delivered frame')}, by their {source.kind}"
    if not told:
        return f"{who} where planned on {frames}, as far as can be told"
    # Of a level that is mostly hidden only the part that shows was told so finely; its measurement says so.
    return f"{who} where planned on {frames}, to within {px(max(told))}"


def _failed(proof: Proof) -> str:
    """Return what fails where no fault was named: the levels whose measurements are out."""
    failed = dict.fromkeys(plain(m.level) for m in proof.measurements if m.verdict != PASS)
    if not failed:
        return "a level is out of place in the scene"
    return f"{listed(list(failed))} {'is' if len(failed) == 1 else 'are'} not where planned in the pixels"
