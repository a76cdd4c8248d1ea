# SPDX-License-Identifier: GPL-3.0-or-later
"""How the processes of one machine share its cores."""

from ..machine.cores_and_memory import cores, is_held_back


def core_shares(jobs: int) -> list[tuple[int, ...]]:
    """Return the cores of each of ``jobs`` processes: all that this one may use, shared out; empty where none is told.

    One process that may use every core needs no share. Cycles with one thread spins on two cores, unless it is held to
    one; and without a share it counts the cores of the machine, not those that a container may use.
    """
    mine = cores()
    if not mine or (jobs == 1 and not is_held_back()):
        return [()] * jobs
    if jobs > len(mine):
        return [(mine[number % len(mine)],) for number in range(jobs)]
    return [tuple(mine[number::jobs]) for number in range(jobs)]
