# SPDX-License-Identifier: GPL-3.0-or-later
"""The table of faults: each kind, how often it was planted and caught, and the smallest that was planted."""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from faults.judging import CAUGHT, CLEAN, GOOD, QUIET
from faults.kinds import TOLERANCE_PX

HEAD = "| what was done | planted | caught | smallest planted | on screen |\n| --- | --- | --- | --- | --- |"


def table(ended: Iterable[dict[str, Any]]) -> str:
    """Return the table as Markdown, with a line of sums."""
    ended = list(ended)
    single = [one for one in ended if len(one["kinds"]) == 1]
    names = sorted({one["kinds"][0] for one in single if one["outcome"] != CLEAN})
    lines = [HEAD, *(_line(name, [one for one in single if one["kinds"][0] == name]) for name in names)]
    pairs = [one for one in ended if len(one["kinds"]) > 1]
    if pairs:
        lines.append(_line("two at once", pairs))
    # What was not to be blamed and was is told of below the table.
    clean = [one for one in ended if not one["kinds"] or one["outcome"] == CLEAN]
    faulty = [one for one in ended if one not in clean and one["outcome"] != QUIET]
    within = sum(one["outcome"] == QUIET for one in ended)
    frames = sum(one.get("frames", 0) for one in ended)
    seconds = sum(one.get("seconds", 0.0) for one in ended)
    lines.append(
        f"\n{len(faulty)} faults planted, {sum(one['outcome'] == CAUGHT for one in ended)} caught and named;"
        f" {within} within tolerance, and so they pass; {len(clean)} clean shots,"
        f" {sum(one['outcome'] == CLEAN for one in clean)} passed; every one rendered, {frames} frames;"
        f" {sum(one['outcome'] not in GOOD for one in ended)} went wrong; {seconds:.0f} s of work."
    )
    return "\n".join(lines)


def _line(name: str, ended: list[dict[str, Any]]) -> str:
    faulty = [one for one in ended if one["outcome"] != QUIET]
    caught = [one for one in faulty if one["outcome"] == CAUGHT]
    sizes = [
        (px, amount, unit)
        for one in faulty
        for px, amount, unit in zip(one["px"], one["amounts"], one["units"], strict=True)
    ]
    sizes = [size for size in sizes if size[0] == size[0] and len(ended[0]["kinds"]) == 1]
    least = min(sizes, default=None)
    shown = f"{least[0]:.3f} px" if least else ""
    amount = f"{abs(least[1]):.3g} {least[2]}" if least and least[1] == least[1] else ""
    return f"| {name} | {len(faulty)} | {len(caught)} | {amount} | {shown} |"


# A level that fills so much of the frame should be told to this, px.
FILLS = 0.1
FINE_PX = 0.003
# Sizes over the tolerance between which is counted how often a fault is called.
BINS = (0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 1.0, 1.01, 1.05)


def curve(ended: Iterable[dict[str, Any]]) -> str:
    """Return how often a fault is called, by its size over the tolerance, as Markdown."""
    sized = [(one["px"][0] / TOLERANCE_PX, one["called"]) for one in ended if len(one["kinds"]) == 1 and one["px"]]
    lines = ["| size over the tolerance | planted | called |", "| --- | --- | --- |"]
    for low, high in pairwise(BINS):
        called = [called for size, called in sized if low <= size < high]
        share = f"{np.mean(called):.0%}" if called else ""
        lines.append(f"| {low:g} to {high:g} | {len(called)} | {share} |")
    return "\n".join(lines)


def certainty(told: Sequence[Sequence[float]]) -> str:
    """Return how true the stated uncertainty of clean measurements is, by the width of the frame, as Markdown.

    ``told`` has a row a measurement: error px, uncertainty px, width of the frame px, filled share of the frame, how
    far a corner lies from the frame's centre, in its widths.
    """
    error, stated, width, share, reach = np.array(told).T
    lines = [
        "| frame, px across | measurements | RMS error, px | 95 % within, px | worst, px | U mostly, px | within U |"
        " U over what it need be |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for size in [*np.unique(width), 0]:
        at = width == size if size else width > 0
        lines.append(
            f"| {size:.0f} | {at.sum()} | {np.sqrt(np.mean(error[at] ** 2)):.5f} | {np.quantile(error[at], 0.95):.5f} |"
            f" {error[at].max():.4f} | {np.median(stated[at]):.5f} | {np.mean(error[at] <= stated[at]):.2%} |"
            f" {1 / np.quantile(error[at] / stated[at], 0.95):.2f} |".replace("| 0 |", "| all |", 1)
        )
    large = share >= FILLS
    coarse = large & (stated > FINE_PX)
    lines.append(
        f"\nOf {large.sum()} measurements of levels that fill a tenth of the frame {np.mean(~coarse[large]):.2%} are"
        f" stated to {FINE_PX} px or less; of the {coarse.sum()} others the nearest has a corner"
        f" {reach[coarse].min(initial=np.inf):.2f} frame widths from the centre."
    )
    return "\n".join(lines)
