# SPDX-License-Identifier: GPL-3.0-or-later
"""The `[findings]` table: how serious a shot says that its own findings are, each with the reason, which is printed."""

from ..finding_codes import CODES, SEVERITIES
from ..model import Ruling
from ..words import shown
from .toml_table import Table

# What shot files wrote before, and still may: it meant an f-stop, a halt and an exposure as well.
OLD_SEVERITIES = {"stop": "block"}
RULING_KEYS = ("severity", "reason")


def read_rulings(table: Table) -> tuple[Ruling, ...]:
    """Return what the `[findings]` table says, in the order of CODES."""
    return tuple(_ruling(table.table(code, keys=RULING_KEYS), code) for code in CODES if table.has(code))


def _ruling(table: Table, code: str) -> Ruling:
    remedy = 'write { severity = "note", reason = "why" }'
    reason = table.text("reason", remedy=remedy)
    if not reason.strip():
        raise table.wrong("reason", f"is {shown(reason)}", "say why, so that the next operator knows")
    return Ruling(code, table.choice("severity", among=SEVERITIES, old=OLD_SEVERITIES), reason)
