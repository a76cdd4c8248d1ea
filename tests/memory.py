# SPDX-License-Identifier: GPL-3.0-or-later
"""How much memory a process of a test takes."""

from pathlib import Path


def peak() -> int:
    """Return the most memory that this process has held, bytes.

    Not what getrusage says: that begins with the most that the process held which started this one.
    """
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(status.partition("VmHWM:")[2].split()[0]) * 1024
