# SPDX-License-Identifier: GPL-3.0-or-later
"""Memory that was freed stays with this process and is used again, where the C library can be told so.

By default glibc gives large blocks back to the kernel, which has to clear them anew for each frame: a fifth of the
time in which a frame is read. Source of the numbers: glibc's malloc.h, and "mallopt(3)" of the Linux man-pages.
"""

import ctypes
import sys
from contextlib import suppress
from functools import cache

# Blocks from here on are asked of the kernel one by one: this is the most that mallopt takes.
_MMAP_THRESHOLD, _MOST_BYTES = -3, 32 << 20
# So much that is free at the end of the heap stays: more than any number of threads frees at once.
_TRIM_THRESHOLD, _KEPT_BYTES = -1, (1 << 31) - 1
# Threads share one heap: each heap of their own would be given back by itself.
_ARENA_MAX = -8


@cache
def keep_freed_memory() -> bool:
    """Keep what is freed from now on for this process, and return whether the C library does so; said once is enough.

    The most that is held at a time stays what it was.
    """
    if not sys.platform.startswith("linux"):
        return False
    with suppress(OSError, AttributeError):  # another C library knows no mallopt
        mallopt = ctypes.CDLL(None).mallopt
        told = [
            mallopt(what, value)
            for what, value in (
                (_MMAP_THRESHOLD, _MOST_BYTES),
                (_TRIM_THRESHOLD, _KEPT_BYTES),
                (_ARENA_MAX, 1),
            )
        ]
        return all(told)
    return False
