# SPDX-License-Identifier: GPL-3.0-or-later
"""What this process may use of its machine, cores and memory, as affinity and control groups have it; what it has used.

A container sees every core of its machine, and is stopped for a part of each second when it uses more than its share.
Standard library only. Source of the files' forms: the Linux kernel's "Control Group v2" (cpu.max, memory.max) and
"CFS Bandwidth Control" (cpu.cfs_quota_us, cpu.cfs_period_us).
"""

import contextlib
import math
import os
from collections.abc import Iterator
from pathlib import Path

_ROOT = Path("/")
# Version 1 spells "no limit of memory" as the largest number of whole pages.
_NO_LIMIT_BYTES = 2**60


def core_count(*, root: Path = _ROOT) -> int:
    """Return how many cores this process may use, at least 1: those that it may run on, and no more than its quota.

    ``root`` is where ``proc`` and ``sys`` lie. A quota of 2.5 cores counts as 3: a core that waits now and then does
    more than none.
    """
    there = len(_affinity()) or os.cpu_count() or 1
    quota = core_quota(root=root)
    return max(1, math.ceil(quota)) if quota < there else there


def cores(*, root: Path = _ROOT) -> tuple[int, ...]:
    """Return the numbers of the cores to use, sorted; empty where the system does not tell them.

    Under a quota they are a run of those that are there, which begins elsewhere in each container of a machine.
    """
    there = _affinity()
    count = core_count(root=root)
    if count >= len(there):
        return there
    start = _container(root) * count % len(there)
    return tuple(sorted((there + there)[start : start + count]))


def is_held_back(*, root: Path = _ROOT) -> bool:
    """Return whether a quota allows less than the cores that this process may run on."""
    return core_count(root=root) < len(_affinity())


def core_quota(*, root: Path = _ROOT) -> float:
    """Return how many cores' time the control groups of this process allow, infinite where they set no limit."""
    quotas = [math.inf]
    for folder in _groups(root, "cpu"):
        quotas.append(_ratio(_words(folder / "cpu.max")))
        quotas.append(_ratio([*_words(folder / "cpu.cfs_quota_us"), *_words(folder / "cpu.cfs_period_us")]))
    return min(quotas)


def memory_limit(*, root: Path = _ROOT) -> int | None:
    """Return how many bytes of memory the control groups of this process allow; None where they set no limit."""
    limits = []
    for folder in _groups(root, "memory"):
        for name in ("memory.max", "memory.limit_in_bytes"):
            limits += [int(word) for word in _words(folder / name)[:1] if word.isdecimal()]
    return min((limit for limit in limits if limit < _NO_LIMIT_BYTES), default=None)


def peak_mb() -> float:
    """Return the most memory that this process has held so far, MB (10⁶ bytes); NaN where the system does not tell it.

    Not what getrusage says: that begins with the most that the process held which started this one.
    """
    for line in _lines(Path("/proc/self/status")):
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) * 1024 / 1e6
    return math.nan


def _affinity() -> tuple[int, ...]:
    return tuple(sorted(os.sched_getaffinity(0))) if hasattr(os, "sched_getaffinity") else ()


def _ratio(words: list[str]) -> float:
    """Return quota / period in microseconds; infinite for "max", -1 and whatever is no limit."""
    with contextlib.suppress(ValueError):
        quota, period = (float(word) for word in words)
        if quota > 0 and period > 0:
            return quota / period
    return math.inf


def _groups(root: Path, controller: str) -> Iterator[Path]:
    """Yield the folders of the control groups that this process is in, of both versions, each with all above it.

    Inside a container the way that is told may be the machine's, of which only the top is to be seen.
    """
    mount = root / "sys" / "fs" / "cgroup"
    for line in _lines(root / "proc" / "self" / "cgroup"):
        number, _, rest = line.partition(":")
        names, _, way = rest.partition(":")
        if number == "0" and not names:
            top = mount
        elif controller in names.split(","):
            top = mount / controller
        else:
            continue
        place = top / way.lstrip("/")
        # a way that leads out of what is mounted ("/../..") is not followed
        for folder in (place, *place.parents) if ".." not in place.parts else (top,):
            yield folder
            if folder == top:
                break


def _container(root: Path) -> int:
    """Return a number that differs between the containers of a machine, and is the same in all processes of one."""
    try:
        return (root / "proc" / "self" / "ns" / "pid").stat().st_ino
    except OSError:
        return 0


def _words(file: Path) -> list[str]:
    return [word for line in _lines(file) for word in line.split()]


def _lines(file: Path) -> list[str]:
    try:
        return file.read_text(encoding="utf-8", errors="replace").splitlines()
    except (OSError, ValueError):  # a name that can be none
        return []
