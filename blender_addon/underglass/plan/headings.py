# SPDX-License-Identifier: GPL-3.0-or-later
"""Headings: the way an axis of the stand goes from one frame to the next, in a word."""

# What an axis does when its reading grows, and when it shrinks.
WORDS = {
    "height": ("up", "down"),
    "east": ("east", "west"),
    "north": ("north", "south"),
    "turn": ("counter-clockwise", "clockwise"),
    "focal": ("longer", "shorter"),
    "focus": ("farther", "nearer"),
}
HOLD = "holds"


def heading_word(axis: str, step: float, *, least: float = 0.0) -> str:
    """Return the heading of a ``step`` along ``axis``; at most ``least`` either way it holds."""
    if abs(step) <= least:
        return HOLD
    grows, shrinks = WORDS[axis]
    return grows if step > 0 else shrinks
