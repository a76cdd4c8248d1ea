# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether anybody still reads what a run says: a farm's runner that is killed sends its tasks no signal."""

import select
import signal
import stat
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from os import fstat

_LOOK_EVERY_MS = 500


@contextmanager
def ended_unheard() -> Iterator[None]:
    """End what runs inside as SIGTERM does once nobody reads standard output, where that is a pipe."""
    number = _pipe()
    # Without a handler the signal would end the process with nothing put away.
    if number is None or not callable(signal.getsignal(signal.SIGTERM)):
        yield
        return
    over = threading.Event()
    watch = threading.Thread(target=_watch, args=(number, over, threading.get_ident()), daemon=True)
    watch.start()
    try:
        yield
    finally:
        over.set()
        watch.join()


def _pipe() -> int | None:
    """Return the number of standard output, if it is one whose reader can go away."""
    try:
        number = sys.stdout.fileno()
        mode = fstat(number).st_mode
    except (OSError, ValueError, AttributeError):
        return None
    return number if stat.S_ISFIFO(mode) or stat.S_ISSOCK(mode) else None


def _watch(number: int, over: threading.Event, thread: int) -> None:
    poll = select.poll()
    # Asked for nothing, it tells of errors alone: of a pipe whose reader is gone.
    poll.register(number, 0)
    while not over.is_set():
        if poll.poll(_LOOK_EVERY_MS):
            signal.pthread_kill(thread, signal.SIGTERM)
            return
