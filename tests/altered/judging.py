# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether a proof said the right thing of an altered delivery, and the table of how all of them ended."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from altered.kinds import ERROR, Caught, Kind, Tolerated
from underglass.proof.proof_facts import BLOCK, FAIL, PASS, Fault, Proof
from underglass.shot import UnderglassError

CAUGHT, TOLERATED = "caught", "tolerated"
UNSAID, MISNAMED, TOO_MUCH, FALSE_ALARM, BROKE = (
    "passed unsaid",
    "named wrongly",
    "said too much",
    "false alarm",
    "broke",
)
GOOD = (CAUGHT, TOLERATED)
OUTCOMES = (CAUGHT, TOLERATED, UNSAID, MISNAMED, TOO_MUCH, FALSE_ALARM, BROKE)


@dataclass(frozen=True)
class Outcome:
    """How one kind of alteration ended with one engine, and what was said."""

    kind: Kind
    engine: str
    outcome: str
    said: str = ""

    @property
    def line(self) -> str:
        """Tell it on one line."""
        return f"{self.outcome}: {self.kind.label} ({self.engine}): {self.said}"


def refused(kind: Kind, engine: str, error: UnderglassError) -> Outcome:
    """Return how an altered delivery ended of which there is no proof, but an error of one line."""
    said, wanted = str(error), kind.expected
    if isinstance(wanted, Tolerated):
        return Outcome(kind, engine, FALSE_ALARM, said)
    if ERROR not in wanted.codes or wanted.words not in said or "\n" in said:
        return Outcome(kind, engine, MISNAMED, said)
    return Outcome(kind, engine, CAUGHT)


def outcome_of(kind: Kind, engine: str, proof: Proof) -> Outcome:
    """Return how the proof of an altered delivery ended."""
    blocks = [fault for fault in proof.faults if fault.severity == BLOCK]
    said = f"{proof.verdict}; " + " | ".join(f"{f.code} of {f.subject} {f.frames}: {f.message}" for f in blocks)
    if isinstance(kind.expected, Tolerated):
        missing = set(kind.expected.notes) - {fault.code for fault in proof.faults}
        if proof.verdict != PASS or blocks:
            return Outcome(kind, engine, FALSE_ALARM, said)
        return Outcome(kind, engine, UNSAID if missing else TOLERATED, f"no note {missing}" if missing else "")
    if proof.verdict == PASS:
        return Outcome(kind, engine, UNSAID, said)
    wrong = _wrong_in(kind.expected, blocks, proof)
    return Outcome(kind, engine, wrong[0], f"{wrong[1]}: {said}") if wrong else Outcome(kind, engine, CAUGHT)


def _wrong_in(wanted: Caught, blocks: Sequence[Fault], proof: Proof) -> tuple[str, str] | None:
    found = [fault for fault in blocks if fault.code in wanted.codes]
    if not found or proof.verdict != FAIL:
        return MISNAMED, f"nothing is called {' or '.join(wanted.codes[:4])}"
    if wanted.subject and not any(
        wanted.subject in (fault.subject, *re.findall(r"\w+", fault.message)) for fault in found
    ):
        return MISNAMED, f"{wanted.subject} is not blamed"
    named = min(fault.frames[0] for fault in found), max(fault.frames[1] for fault in found)
    inside = wanted.some and wanted.frames and wanted.frames[0] <= named[0] and named[1] <= wanted.frames[1]
    if wanted.frames is not None and named != wanted.frames and not inside:
        return MISNAMED, f"its frames are {wanted.frames}, not {named}"
    if not any(wanted.words in fault.message for fault in found):
        return MISNAMED, f"no message says “{wanted.words}”"
    strangers = [fault for fault in blocks if fault.code not in (*wanted.codes, *wanted.also)]
    if strangers:
        return TOO_MUCH, f"{strangers[0].code} of {strangers[0].subject} is no part of it"
    if len(blocks) > wanted.most:
        return TOO_MUCH, f"{len(blocks)} faults are said, {wanted.most} would do"
    return None


def table(ended: Sequence[Outcome]) -> str:
    """Return how many of each family ended how, as Markdown."""
    lines = [f"| family | kinds | tried | {' | '.join(OUTCOMES)} |", "| --- " * (len(OUTCOMES) + 3) + "|"]
    families = list(dict.fromkeys(one.kind.family for one in ended))
    for family in [*families, "all"]:
        mine = [one for one in ended if family in (one.kind.family, "all")]
        count = Counter(one.outcome for one in mine)
        kinds = len({one.kind.label for one in mine})
        lines.append(f"| {family} | {kinds} | {len(mine)} | {' | '.join(str(count[name]) for name in OUTCOMES)} |")
    return "\n".join(lines)
