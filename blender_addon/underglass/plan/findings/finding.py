# SPDX-License-Identifier: GPL-3.0-or-later
"""Findings: what is wrong, or worth a look, in a shot that nobody has shot yet. Only the values live here."""

from dataclasses import dataclass

from ...shot.finding_codes import CODES, SEVERITIES

BLOCK, WARN, NOTE = SEVERITIES

__all__ = ["BLOCK", "CODES", "NOTE", "SEVERITIES", "WARN", "Finding"]


@dataclass(frozen=True)
class Finding:
    """One thing found in a plan.

    ``code`` is one of CODES, ``severity`` one of SEVERITIES. ``level`` is a level's name, "camera", or empty for the
    whole shot; ``axis`` the axis of the stand that it is about, or empty. ``frames`` are the first and the last of the
    worst stretch, ``value`` the worst there and ``limit`` what it is held against, both in ``unit`` (of the shot's
    files where it is a length). ``message`` says it in a sentence, ``remedy`` what to do about it.
    """

    code: str
    severity: str
    level: str
    axis: str
    frames: tuple[int, int]
    value: float
    limit: float
    unit: str
    message: str
    remedy: str
