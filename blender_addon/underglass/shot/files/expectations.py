# SPDX-License-Identifier: GPL-3.0-or-later
"""The `[[expect]]` tables: what the picture must do."""

from collections.abc import Sequence

from ..model import Expectation, Heading
from ..quantity import DRIFT_RATIO, GROWTH
from ..words import shown
from .toml_table import Table

EXPECT_KEYS = ("level", "size", "grows", "heads", "against", "drift_ratio", "between")
_KINDS = ("size", "grows", "heads", "drift_ratio")


def read_expectation(table: Table, *, level_names: Sequence[str], frames: tuple[int, int]) -> Expectation:
    """Return one expectation; it must be of exactly one kind, and about levels and frames that there are."""
    level = table.choice("level", among=level_names)
    if table.has("against") != table.has("drift_ratio"):
        key = "against" if table.has("drift_ratio") else "drift_ratio"
        raise table.wrong(key, "is missing", "against (a level) and drift_ratio (a number) go together")
    kind = table.one_of(*_KINDS, of="an expectation")
    if kind == "size":
        table.choice("size", among=["holds"])
    return Expectation(
        level=level,
        holds=kind == "size",
        grows=table.number("grows", GROWTH) if kind == "grows" else None,
        heads=Heading(table.choice("heads", among=[*Heading])) if kind == "heads" else None,
        against=_against(table, level, level_names) if kind == "drift_ratio" else "",
        drift_ratio=table.number("drift_ratio", DRIFT_RATIO) if kind == "drift_ratio" else None,
        between=_between(table, frames) if table.has("between") else None,
    )


def _against(table: Table, level: str, level_names: Sequence[str]) -> str:
    against = table.choice("against", among=level_names)
    if against == level:
        raise table.wrong("against", f"compares {shown(level)} with itself", "name another level")
    return against


def _between(table: Table, frames: tuple[int, int]) -> tuple[int, int]:
    first, last = table.integers("between", least=frames[0], most=frames[1])
    if first >= last:
        raise table.wrong("between", f"is [{first}, {last}]", "write the first frame, then a later last one")
    return first, last
