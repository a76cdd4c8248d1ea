# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether a proof said the right thing of an edit, by what pictures before and after show."""

from dataclasses import dataclass, field

# A picture of 8 bits knows no less than one code, and Blender dithers it by half of one more: more is a change.
ONE_CODE = 1.5
PASS, FAIL, BLOCK = "pass", "fail", "block"


@dataclass(frozen=True)
class Ended:
    """How one edit ended.

    ``changed`` is the largest change of any pixel of any frame, in codes of 255; ``faults`` are those of the proof,
    (severity, code, subject, message); ``codes`` and ``words`` are right names of it; ``planned`` where the edit breaks
    what the shot asks for, whatever pixels say. ``broke`` says what went wrong with doing it at all.
    """

    name: str
    changed: float = 0.0
    verdict: str = ""
    faults: tuple[tuple[str, str, str, str], ...] = ()
    codes: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    planned: bool = False
    noise: bool = False
    tests: int = 0
    seconds: tuple[float, float] = field(default=(0.0, 0.0))
    broke: str = ""

    @property
    def changes(self) -> bool:
        """Whether a picture tells of it, by more than its noise."""
        return self.changed > ONE_CODE and not self.noise


def wrong_in(ended: Ended) -> str:
    """Return why an edit ended wrongly; nothing where it ended well."""
    said = " | ".join(f"{severity} {code} of {subject}: {message}" for severity, code, subject, message in ended.faults)
    if ended.broke:
        return f"it could not be done: {ended.broke}"
    if not (ended.changes or ended.planned):
        return "" if ended.verdict == PASS else f"no pixel changes, and it fails: {said}"
    if ended.verdict != FAIL:
        return f"pixels change by {ended.changed:.0f}, and it passes: {said or 'in silence'}"
    first = next(fault for fault in ended.faults if fault[0] == BLOCK)
    if first[1] not in ended.codes:
        return f"it is called {first[1]}, and not {' or '.join(ended.codes)}: {said}"
    if not all(word in first[3] for word in ended.words):
        return f"{', '.join(ended.words)} is not said: {said}"
    return ""


def table(ended: list[Ended]) -> str:
    """Return what was done and found, in a few lines."""
    changed = [one for one in ended if one.changes]
    named = [one for one in changed if not wrong_in(one)]
    alone = [one for one in named if sum(fault[0] == BLOCK for fault in one.faults) == 1]
    still = [one for one in ended if not one.changes and not one.planned]
    passed = [one for one in still if not wrong_in(one)]
    planned = [one for one in ended if one.planned and not one.changes]
    seconds = sum(one.seconds[1] for one in ended) / max(1, len(ended))
    return (
        f"{len(ended)} edits; {len(changed)} change a pixel, {len(named)} of them named by their cause, {len(alone)} in"
        f" one fault; {len(still)} change none, {len(passed)} of them pass; {len(planned)} break what the shot asks for"
        f" though no picture tells; a proof took {seconds:.1f} s"
    )
