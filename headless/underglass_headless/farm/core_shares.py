"""How the processes of one machine share its cores."""

import os


def core_shares(jobs: int) -> list[tuple[int, ...]]:
    """Return the cores of each of ``jobs`` processes: all that this one may use, shared out; empty where none is told.

    Cycles with one thread spins on two cores, unless it is held to one.
    """
    if not hasattr(os, "sched_getaffinity"):
        return [()] * jobs
    cores = sorted(os.sched_getaffinity(0))
    if jobs > len(cores):
        return [(cores[number % len(cores)],) for number in range(jobs)]
    return [tuple(cores[number::jobs]) for number in range(jobs)]
