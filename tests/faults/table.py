"""The table of faults: each kind, how often it was planted and caught, and the smallest that was caught."""

from collections.abc import Iterable
from typing import Any

from faults.judging import CAUGHT, CLEAN, GOOD, QUIET

HEAD = "| what was done | cases | caught | smallest caught | on screen |\n| --- | --- | --- | --- | --- |"


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
    rendered = sum(bool(one["rendered"]) for one in ended)
    seconds = sum(one.get("seconds", 0.0) for one in ended)
    lines.append(
        f"\n{len(faulty)} faults planted, {sum(one['outcome'] == CAUGHT for one in ended)} caught and named;"
        f" {within} within tolerance, and so they pass; {len(clean)} clean shots,"
        f" {sum(one['outcome'] == CLEAN for one in clean)} passed; {rendered} of all rendered;"
        f" {sum(one['outcome'] not in GOOD for one in ended)} went wrong; {seconds:.0f} s of work."
    )
    return "\n".join(lines)


def _line(name: str, ended: list[dict[str, Any]]) -> str:
    faulty = [one for one in ended if one["outcome"] != QUIET]
    caught = [one for one in faulty if one["outcome"] == CAUGHT]
    sizes = [
        (px, amount, unit)
        for one in caught
        for px, amount, unit in zip(one["px"], one["amounts"], one["units"], strict=True)
    ]
    sizes = [size for size in sizes if size[0] == size[0] and len(ended[0]["kinds"]) == 1]
    least = min(sizes, default=None)
    shown = f"{least[0]:.3f} px" if least else ""
    amount = f"{abs(least[1]):.3g} {least[2]}" if least and least[1] == least[1] else ""
    return f"| {name} | {len(faulty)} | {len(caught)} | {amount} | {shown} |"
