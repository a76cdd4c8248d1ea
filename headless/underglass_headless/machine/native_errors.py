# SPDX-License-Identifier: GPL-3.0-or-later
"""What libraries in C print about errors by themselves is kept from the terminal; ours is printed as before."""

import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress

_STANDARD_ERROR = 2


@contextmanager
def without_native_errors() -> Iterator[None]:
    """Let nothing of what libraries print to standard error be seen meanwhile: what is wrong is said by us.

    OpenEXR prints a line for each damaged block. Python's own standard error goes where it went.
    """
    try:
        kept = os.dup(_STANDARD_ERROR)
    except OSError:  # it is closed: nothing is seen anyway
        yield
        return
    ours, before = None, sys.stderr
    with suppress(OSError, ValueError, AttributeError):
        if before.fileno() == _STANDARD_ERROR:
            before.flush()
            ours = io.TextIOWrapper(
                io.FileIO(kept, "w", closefd=False), before.encoding, "backslashreplace", write_through=True
            )
            sys.stderr = ours
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, _STANDARD_ERROR)
        yield
    finally:
        if ours is not None:
            sys.stderr = before
            ours.close()
        os.dup2(kept, _STANDARD_ERROR)
        os.close(nowhere)
        os.close(kept)
