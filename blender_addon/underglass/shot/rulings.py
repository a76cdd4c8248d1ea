"""The `[findings]` table: how grave a shot takes its own findings to be, each with the reason, which is printed."""

from .model import Ruling
from .table import Table
from .words import shown

SEVERITIES = ("stop", "warn", "note")
# What can be found before anything is shot; the plan room finds it.
CODES = (
    *("off-art", "out-of-frame", "thin-margin", "close-levels", "out-of-travel", "too-fast"),
    *("strobing", "soft", "nothing-sharp", "coarse-art"),
    *("jump", "jerk", "hard-start", "hard-stop", "creep", "counter-rounding"),
    *("expectation", "turns-round", "bellows", "uneven-light", "open-fade", "held-drawing"),
)
RULING_KEYS = ("severity", "reason")


def read_rulings(table: Table) -> tuple[Ruling, ...]:
    """Return what the `[findings]` table says, in the order of CODES."""
    return tuple(_ruling(table.table(code, keys=RULING_KEYS), code) for code in CODES if table.has(code))


def _ruling(table: Table, code: str) -> Ruling:
    remedy = 'write { severity = "note", reason = "why" }'
    reason = table.text("reason", remedy=remedy)
    if not reason.strip():
        raise table.wrong("reason", f"is {shown(reason)}", "say why, so that the next operator knows")
    return Ruling(code, table.choice("severity", among=SEVERITIES), reason)
