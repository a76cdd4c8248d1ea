# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether a proof said the right thing of a fault that was planted."""

from dataclasses import dataclass

import numpy as np

from faults.kinds import TOLERANCE_PX, Name, Told
from underglass.proof.proof_facts import BLOCK, FAIL, PASS, Fault, Proof

CAUGHT, QUIET, CLEAN = "caught", "quiet", "clean"
MISSED, MISNAMED, FALSE_ALARM, INNOCENT = "missed", "misnamed", "false alarm", "innocent blamed"
# Two faults of which one leaves no room for the other.
NOT_PLANTED = "not planted"
MISMEASURED = "measured wrongly"
AGAINST_RULE = "judged against the rule"
GOOD = {CAUGHT, QUIET, CLEAN}
# How near a fault's amount comes to what was done; the smallest are told to what single precision lets through.
WITHIN = 0.03
# Frames on which a fault moves the picture by less than this are not its frames.
SHOWS_PX = 2e-3
# The fault has to be seen on every frame where it puts the picture out by this.
CERTAIN_PX = 1.02 * TOLERANCE_PX
# What single precision in Blender's matrices comes to.
PRECISE_PX = 5e-3


@dataclass(frozen=True)
class Outcome:
    """How a case ended, and what was said where that was not right."""

    verdict: str
    said: str = ""

    @property
    def good(self) -> bool:
        return self.verdict in GOOD


def judge(proof: Proof, planted: tuple[Told, ...], px: tuple[float, ...], *, slack_px: float = 0.0) -> Outcome:
    """Return how the proof of a scene with ``planted`` faults ended; ``px`` is how far each puts the picture out.

    ``slack_px`` is the uncertainty of what was rendered. A fault within tolerance may not be called one.
    """
    blocks = [fault for fault in proof.faults if fault.severity == BLOCK]
    said = f"{proof.verdict}; " + " | ".join(
        f"{f.code} of {f.subject} {f.frames} {f.amount:.5g} {f.unit}: {f.message}" for f in blocks
    )
    px = tuple(out for told, out in zip(planted, px, strict=True) if told.names)
    planted = tuple(told for told in planted if told.names)
    if not planted:
        return Outcome(CLEAN) if proof.verdict == PASS and not blocks else Outcome(FALSE_ALARM, said)
    weights = [np.inf if told.structural else out for told, out in zip(planted, px, strict=True)]
    if max(weights) <= TOLERANCE_PX:
        # It may measure more by its uncertainty, which then counts against it once more.
        told_by_pixels = max(weights) + 2 * slack_px > TOLERANCE_PX
        quiet = (proof.verdict == PASS and not blocks) or told_by_pixels
        return Outcome(QUIET) if quiet else Outcome(FALSE_ALARM, said)
    if proof.verdict != FAIL or not blocks:
        return Outcome(MISSED, said)
    # Of two faults the graver has to be named; where neither has a size, either, since one may hide the other.
    gravest = [told for told, weight in zip(planted, weights, strict=True) if weight == max(weights)]
    begin = proof.plan.shot.frames[0]
    reasons = [[_why_not(name, blocks, begin) for name in told.names] for told in gravest]
    if all(all(whys) for whys in reasons):
        return Outcome(MISNAMED, f"{'; '.join(reasons[0])}: {said}")
    allowed = {(name.subject, code) for told in planted for name in told.names for code in name.codes}
    allowed |= {pair for told in planted for pair in told.also}
    if len(planted) > 1:
        # Either may carry what the other moved out of the camera's reach.
        allowed.add(("*", "clipped"))
    # Of a level that few pixels show it is said that it cannot be told: nobody is blamed by that.
    allowed.add(("*", "too-coarse"))
    strangers = [f for f in blocks if not _is_allowed(f, allowed)]
    return Outcome(INNOCENT, f"{strangers[0].code} of {strangers[0].subject}: {said}") if strangers else Outcome(CAUGHT)


def mismeasured(proof: Proof, out_px: np.ndarray) -> Outcome | None:
    """Return what is wrong where pixels say otherwise than ``out_px`` (F, L), beyond the uncertainty they give."""
    for m in proof.measurements:
        if m.error_px is None or m.uncertainty_px is None:
            continue
        true = out_px[m.frame - int(proof.plan.frames[0]), proof.plan.names.index(m.level)]
        if abs(m.error_px - true) > m.uncertainty_px + PRECISE_PX:
            said = f"{m.level} on frame {m.frame} measures {m.error_px:.4f} ± {m.uncertainty_px:.4f} px"
            return Outcome(MISMEASURED, f"{said}, and is {true:.4f} px out")
    return None


def against_rule(proof: Proof) -> Outcome | None:
    """Return what is wrong where a verdict does not follow from error and uncertainty, and says no other reason."""
    for m in proof.measurements:
        if m.error_px is None or m.uncertainty_px is None or m.remark:
            continue
        if (m.verdict == PASS) != (m.error_px + m.uncertainty_px <= proof.tolerance_px):
            said = f"{m.level} on frame {m.frame} is {m.error_px:.5f} ± {m.uncertainty_px:.5f} px out"
            return Outcome(AGAINST_RULE, f"{said}, and that is called {m.verdict}")
    return None


def _is_allowed(fault: Fault, allowed: set[tuple[str, str]]) -> bool:
    wanted = {(fault.subject, word) for word in (fault.code, fault.axis, "*")} | {("*", fault.code), ("*", "*")}
    return bool(wanted & allowed)


def _why_not(name: Name, blocks: list[Fault], begin: int) -> str:
    """Return why none of the faults is what ``name`` says; nothing where one is."""
    found = [fault for fault in blocks if fault.code in name.codes and fault.subject == name.subject]
    if not found:
        return f"nothing is called {' or '.join(name.codes)} of {name.subject}"
    reasons = [_wrong_in(name, fault, begin) for fault in found]
    return "" if "" in reasons else reasons[0]


def _wrong_in(name: Name, fault: Fault, begin: int) -> str:
    if name.sign and np.sign(fault.amount) != name.sign:
        return f"the heading is wrong, {name.sign:+d} was done"
    if name.unit and fault.unit != name.unit:
        return f"the unit is {fault.unit}, not {name.unit}"
    if name.amount is not None and abs(fault.amount - name.amount) > WITHIN * abs(name.amount):
        return f"{name.amount:.5g} {name.unit} was done"
    if name.frames is not None and fault.frames != name.frames:
        return f"its frames are {name.frames}"
    if name.px is not None:
        return _wrong_frames(name.px, fault, begin)
    return ""


def _wrong_frames(px: np.ndarray, fault: Fault, begin: int) -> str:
    """Return what is wrong with the frames of a fault, which puts the picture out by ``px`` (F,) by itself."""
    first, last = fault.frames[0] - begin, fault.frames[1] - begin
    certain = np.flatnonzero(px > CERTAIN_PX)
    shows = np.flatnonzero(px > SHOWS_PX)
    if len(certain) and not (first <= certain[0] and certain[-1] <= last):
        return f"its frames leave out what is off on rows {certain[0]} to {certain[-1]}"
    if len(shows) and not (shows[0] <= first and last <= shows[-1]):
        return f"its frames go beyond what is off, rows {shows[0]} to {shows[-1]}"
    return ""
