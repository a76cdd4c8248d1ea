# SPDX-License-Identifier: GPL-3.0-or-later
"""``check``: what is found in a shot before anything is shot, as lines for a terminal and as JSON.

What is found, and how serious it is, is the add-on's plan room to say.
"""

import json
import math
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from importlib import resources
from pathlib import Path
from typing import Any

import click

from underglass.plan import make_plan
from underglass.plan.findings import BLOCK, NOTE, SEVERITIES, WARN, Finding, find
from underglass.proof.wording import counted, plain
from underglass.shot import Shot
from underglass.shot.files import read_shot
from underglass.shot.words import number_text

_COLOURS = {BLOCK: "red", WARN: "yellow", NOTE: "cyan"}
_NOUNS = {BLOCK: "block", WARN: "warning", NOTE: "note"}
_INDENT = " " * 8


def check_shot(path: Path) -> tuple[Shot, tuple[Finding, ...]]:
    """Return the shot in the file or folder ``path`` and what is found in it; raises ShotError."""
    shot = read_shot(path)
    return shot, find(make_plan(shot))


def blocks(findings: Sequence[Finding]) -> bool:
    """Return whether anything is found that must be put right before the shot is shot."""
    return any(finding.severity == BLOCK for finding in findings)


def check_lines(shot: Shot, findings: Sequence[Finding], *, columns: int | None = None) -> Iterator[str]:
    """Yield the findings for people: a line each with its frames, and below it what to do; notes of one code together.

    Wrapped to ``columns`` where that is given. Severities are coloured; whoever prints to no terminal strips that.
    """
    yield f"“{plain(shot.title)}”: {_counts(findings)}."
    for group in _groups(findings):
        head = group[0]
        frames = _frames(head.frames)
        message = _with_others(head, group[1:])
        severity = click.style(f"{head.severity:<6}", fg=_COLOURS[head.severity], bold=head.severity == BLOCK or None)
        yield f"  {severity}" + _wrapped(f"{head.code}, {frames}: {message}.", columns)
        if head.severity != NOTE:
            yield _INDENT + _wrapped(f"→ {plain(head.remedy)}", columns)


def findings_json(findings: Sequence[Finding]) -> str:
    """Return the findings as JSON, a list; an infinite value becomes null."""
    return json.dumps([_record(finding) for finding in findings], ensure_ascii=False, allow_nan=False, indent=1)


def findings_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of `findings_json`."""
    text = resources.files(__package__).joinpath("findings.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def _counts(findings: Sequence[Finding]) -> str:
    if not findings:
        return "nothing found"
    counts = {word: sum(finding.severity == word for finding in findings) for word in SEVERITIES}
    return ", ".join(counted(count, _NOUNS[word]) for word, count in counts.items() if count)


def _groups(findings: Sequence[Finding]) -> list[list[Finding]]:
    """Return findings in order; notes of one code are one group, the worst of them first."""
    groups: dict[object, list[Finding]] = {}
    for position, finding in enumerate(findings):
        groups.setdefault(finding.code if finding.severity == NOTE else position, []).append(finding)
    return [sorted(group, key=_worse, reverse=True) for group in groups.values()]


def _worse(finding: Finding) -> float:
    """Return how many times a finding is over, or under, its limit."""
    low, high = sorted((abs(finding.value), abs(finding.limit)))
    return high / low if low else math.inf


def _with_others(head: Finding, others: Sequence[Finding]) -> str:
    if not others:
        return plain(head.message)
    also = ", ".join(f"{plain(other.level)} {number_text(other.value, digits=2)}" for other in others)
    return f"{plain(head.message)}; also {also} {head.unit}"


def _frames(frames: tuple[int, int]) -> str:
    return f"frame {frames[0]}" if frames[0] == frames[1] else f"frames {frames[0]}-{frames[1]}"


def _wrapped(text: str, columns: int | None) -> str:
    if columns is None:
        return text
    return f"\n{_INDENT}".join(textwrap.wrap(text, max(40, columns - len(_INDENT)), break_long_words=False))


def _record(finding: Finding) -> dict[str, Any]:
    record = asdict(finding)
    record["frames"] = list(finding.frames)
    for key in ("value", "limit"):
        record[key] = record[key] if math.isfinite(record[key]) else None
    return record
