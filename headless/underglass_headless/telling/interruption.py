# SPDX-License-Identifier: GPL-3.0-or-later
"""Ctrl-C, and what else ends a command: told in one line, whatever the command is in the middle of."""

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager

STATUS = 130
WORDS = "interrupted; earlier results are as they were"
# How a terminal that closes, a time limit and a machine that shuts down end a command.
_ENDING = (signal.SIGTERM, signal.SIGHUP)

_came = False


@contextmanager
def ended_at_once() -> Iterator[None]:
    """Let Ctrl-C end this process at once, with one line: nothing has to be put away yet, and modules that are
    interrupted while they load fail in ways of their own.
    """
    if signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        # One that is ignored stays so.
        yield
        return
    signal.signal(signal.SIGINT, _end)
    yield
    signal.signal(signal.SIGINT, signal.default_int_handler)


def heed() -> None:
    """Let every signal that ends a command raise KeyboardInterrupt, so that all is put away; `came` then says so."""
    for name, usual in ((signal.SIGINT, signal.default_int_handler), *((name, signal.SIG_DFL) for name in _ENDING)):
        # One that is ignored stays so: that is how nohup keeps a command going.
        if signal.getsignal(name) is usual:
            signal.signal(name, _interrupt)


def came() -> bool:
    """Return whether such a signal came: a library may turn the interruption into an error of its own."""
    return _came


def _end(*_: object) -> None:
    os.write(2, f"underglass: {WORDS}\n".encode())
    os._exit(STATUS)


def _interrupt(*_: object) -> None:
    """Interrupt; while everything is put away, another signal that ends a command changes nothing."""
    global _came  # noqa: PLW0603 - a signal is an event of the whole process
    _came = True
    for name in _ENDING:
        signal.signal(name, signal.SIG_IGN)
    raise KeyboardInterrupt
