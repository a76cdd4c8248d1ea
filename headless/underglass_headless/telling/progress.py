# SPDX-License-Identifier: GPL-3.0-or-later
"""Showing how far long work has got: a bar with an estimate on a terminal, plain lines elsewhere."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Tell = Callable[[str, int, int], None]

# Without a terminal a line is printed when a stage begins and ends, and at most this often between.
PLAIN_LINE_EVERY_S = 10.0


@contextmanager
def shown_progress() -> Iterator[Tell]:
    """Yield ``tell(what, done, of)``; what it hears goes to standard error."""
    if sys.stderr.isatty():
        yield from _bars()
    else:
        yield _PlainLines().tell


def _bars() -> Iterator[Tell]:
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        TextColumn("left"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True)) as progress:
        tasks: dict[str, object] = {}

        def tell(what: str, done: int, of: int) -> None:
            if what not in tasks:
                tasks[what] = progress.add_task(what, total=of)
            progress.update(tasks[what], completed=done, total=of)  # type: ignore[arg-type]

        yield tell


class _PlainLines:
    """One line a stage and one every so often, with the time that is left at the pace so far."""

    def __init__(self) -> None:
        self._begun: dict[str, float] = {}
        self._last = 0.0

    def tell(self, what: str, done: int, of: int) -> None:
        now = time.monotonic()
        begun = self._begun.setdefault(what, now)
        is_new = begun == now
        if not (is_new or done >= of or now - self._last >= PLAIN_LINE_EVERY_S):
            return
        self._last = now
        left = "" if not done or done >= of or is_new else f", about {(now - begun) / done * (of - done):.0f} s left"
        print(f"{what}: {done} of {of}{left}", file=sys.stderr, flush=True)
