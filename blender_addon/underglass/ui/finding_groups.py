# SPDX-License-Identifier: GPL-3.0-or-later
"""Findings as the sidebar tells them: a line for each kind, the short words first, with levels and frames behind it.

Free of Blender.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from ..plan.findings import SEVERITIES, Finding
from ..shot.model import CAMERA
from .figures import frames

SHORT = {
    "off-art": "bare edge",
    "out-of-frame": "never in frame",
    "thin-margin": "thin margin",
    "close-levels": "too close",
    "out-of-travel": "out of travel",
    "too-fast": "too fast",
    "strobing": "strobes",
    "soft": "soft",
    "nothing-sharp": "nothing sharp",
    "coarse-art": "art too coarse",
    "jump": "jumps",
    "jerk": "jerks",
    "hard-start": "starts hard",
    "hard-stop": "stops hard",
    "creep": "creeps",
    "counter-rounding": "rounding",
    "expectation": "not met",
    "turns-round": "turns round",
    "bellows": "lens draws out",
    "uneven-light": "light changes",
    "open-fade": "fade left open",
    "held-drawing": "held drawing",
}
WHOLE_SHOT = "shot"


@dataclass(frozen=True)
class Entry:
    """One finding: ``name`` of the part and its ``frames`` in words, the first of them, and the finding's own words."""

    name: str
    part: str
    frames: str
    first: int
    message: str
    detail: str


@dataclass(frozen=True)
class Group:
    """The findings of one kind and severity. ``titles`` say it in a line, the fullest first, the last the shortest."""

    code: str
    severity: str
    titles: tuple[str, ...]
    entries: tuple[Entry, ...]


def groups_of(findings: Iterable[Finding]) -> tuple[Group, ...]:
    """Return ``findings`` by kind, the most serious kinds first, in the order in which they are found."""
    kinds: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        kinds.setdefault((finding.severity, finding.code), []).append(finding)
    ordered = sorted(kinds.items(), key=lambda item: SEVERITIES.index(item[0][0]))
    return tuple(Group(code, severity, _titles(code, found), _entries(found)) for (severity, code), found in ordered)


def _titles(code: str, found: list[Finding]) -> tuple[str, ...]:
    short = SHORT.get(code, code.replace("-", " "))
    names = list(dict.fromkeys(finding.level for finding in found))
    first, last = min(finding.frames[0] for finding in found), max(finding.frames[1] for finding in found)
    when = frames(first, last)
    if len(names) == 1:
        who = names[0]
        said = f"{who}: {short}" if who else short
        return f"{said}, {when}", said, _capital(short)
    many = f"{_capital(short)}: {len(names)} levels"
    return f"{many}, {when}", many, _capital(short)


def _entries(found: list[Finding]) -> tuple[Entry, ...]:
    return tuple(
        Entry(
            finding.level or WHOLE_SHOT,
            finding.level or CAMERA,
            frames(*finding.frames),
            finding.frames[0],
            finding.message,
            f"{finding.message}. {finding.remedy}",
        )
        for finding in found
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
