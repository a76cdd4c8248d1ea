# SPDX-License-Identifier: GPL-3.0-or-later
"""What the shot file expects of the picture, in words, and whether the plan meets it."""

from dataclasses import dataclass

from ..plan.expectations_held import check_expectation
from ..plan.plan_arrays import Plan
from ..shot.model import Expectation
from .proof_facts import Proof
from .wording import counted, plain, span


@dataclass(frozen=True)
class Expected:
    """One expectation: ``words`` say it, ``message`` says how the plan misses it and is empty where it does not."""

    level: str
    kind: str
    frames: tuple[int, int]
    words: str
    message: str

    @property
    def met(self) -> bool:
        """Whether the plan meets it."""
        return not self.message


def expectations(proof: Proof) -> list[Expected]:
    """Return every expectation of the shot file, in its order."""
    return [_expected(proof.plan, one, proof.tolerance_px) for one in proof.plan.shot.expectations]


def expectations_line(proof: Proof) -> str:
    """Return how many expectations hold as one sentence; empty where the shot file has none."""
    held = [one.met for one in expectations(proof)]
    if not held:
        return ""
    if all(held):
        return f"Going by the schedule, {counted(len(held), 'expectation')} of the shot file {_hold(len(held))}."
    met = f"{sum(held)} of {counted(len(held), 'expectation')}"
    return f"Going by the schedule, {met} of the shot file {_hold(sum(held))}."


def _hold(count: int) -> str:
    return "holds" if count == 1 else "hold"


def _expected(plan: Plan, one: Expectation, hold_px: float) -> Expected:
    unmet = check_expectation(plan, one, hold_px=hold_px)
    frames = one.between or plan.shot.frames
    kind, does = _words(one)
    words = f"{plain(one.level)} {does}, {span(frames).replace('frames', 'from frame')}"
    return Expected(one.level, kind, frames, words, unmet.message if unmet else "")


def _words(one: Expectation) -> tuple[str, str]:
    """Return the kind of an expectation, and what its level does."""
    if one.holds:
        return "holds", "holds its size"
    if one.grows is not None:
        return "grows", f"grows {one.grows:g} times"
    if one.heads is not None:
        return "heads", f"heads {one.heads.value}"
    return "drift_ratio", f"drifts {one.drift_ratio:g} times as far as {plain(one.against)}"
