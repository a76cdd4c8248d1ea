# SPDX-License-Identifier: GPL-3.0-or-later
"""Processes of one machine that do units of work: each holds Blender, has cores of its own, and may die alone."""

import contextlib
import os
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from queue import SimpleQueue
from typing import Any

from ..blender.blender_process import BlenderError, Worker, WorkerDiedError, silence_limit_s
from ..work.unit_results import UnitError, UnitResult
from ..work.units_of_work import Job, Unit
from ..work.work_folder import Store
from .core_shares import core_shares

Hear = Callable[[dict[str, Any]], None]

# So many processes one unit may take with it before it is left undone.
MOST_DEATHS = 3
# One unit is measured while the next is rendered.
_IN_HAND = 2


@dataclass
class _Hand:
    """One process, the units that it has, and how it ended."""

    number: int
    worker: Worker
    folder: Path
    units: list[Unit] = field(default_factory=list)
    opened: bool = False


@dataclass
class _Run:
    """What is still to be done, and what came of the rest."""

    waiting: deque[Unit]
    size: tuple[int, int]
    levels: int
    done: dict[Unit, UnitResult] = field(default_factory=dict)
    deaths: dict[Unit, int] = field(default_factory=dict)
    lost: dict[Unit, str] = field(default_factory=dict)
    # How many processes, one after another, were killed before they had the scene open.
    stillborn: int = 0


def do_units(
    job: Job, units: Sequence[Unit], *, store: Store, making: Path, jobs: int, hear: Hear
) -> dict[Unit, UnitResult]:
    """Do ``units`` in ``jobs`` processes and return what came of each; their files lie in ``store``.

    ``making`` is a folder for what is in the making, on the disk of the store; ``hear`` hears every event with the
    number of its ``process``, a ``unit`` when one is whole. A process that dies costs no more than its units begun
    anew; units that kill every process are left undone, and named when all others are done. Raises BlenderError,
    SceneFileError, ShotError.
    """
    run = _Run(deque(units), size=job.frame_px, levels=job.levels)
    said: SimpleQueue[tuple[_Hand, dict[str, Any] | Exception | None]] = SimpleQueue()
    shares = core_shares(min(jobs, len(units)))
    hands: dict[int, _Hand] = {}
    count = 0

    def start(number: int) -> None:
        nonlocal count
        count += 1
        folder = making / f"worker {count}"
        folder.mkdir()
        share = shares[number]
        own = replace(job, threads=job.threads or len(share))
        with _on_cores(share):
            worker = Worker({"task": "units", "job": own.words(), "folder": str(folder.resolve())}, folder=folder)
        hands[number] = _Hand(number, worker, folder)
        _feed(hands[number], run)
        threading.Thread(target=_listen, args=(hands[number], said), daemon=True).start()

    try:
        for number in range(len(shares)):
            start(number)
        while hands:
            hand, event = said.get()
            match event:
                case None:
                    hand.worker.end()
                    del hands[hand.number]
                case WorkerDiedError():
                    hand.worker.end()
                    del hands[hand.number]
                    if hand.opened:
                        _bury(hand, run, str(event))
                    else:
                        _put_back(hand, run, event)
                    if run.waiting:
                        start(hand.number)
                case Exception():
                    raise event
                case _:
                    _take(hand, event, run, store, hear)
                    _feed(hand, run)
        _name_the_lost(run)
        return run.done
    finally:
        for hand in hands.values():
            hand.worker.end()


@contextmanager
def _on_cores(share: tuple[int, ...]) -> Iterator[None]:
    """Let processes that this thread starts run on the cores of ``share`` alone, from their first moment on."""
    if not share:
        yield
        return
    before = os.sched_getaffinity(0)
    # Some containers forbid it; then the cores are shared as the system sees fit.
    with contextlib.suppress(OSError):
        os.sched_setaffinity(0, share)
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            os.sched_setaffinity(0, before)


def _listen(hand: _Hand, said: "SimpleQueue[tuple[_Hand, dict[str, Any] | Exception | None]]") -> None:
    """Hand on what a process says; at its end why it ended, None where all is well."""
    try:
        for event in hand.worker.events():
            said.put((hand, event))
    except Exception as error:
        said.put((hand, error))
    else:
        said.put((hand, None))


def _feed(hand: _Hand, run: _Run) -> None:
    """Give a process something to do; one that killed another is done alone, so that no other dies with it."""
    while run.waiting and len(hand.units) < _IN_HAND:
        risky = run.waiting[0] in run.deaths or any(unit in run.deaths for unit in hand.units)
        if risky and hand.units:
            return
        unit = run.waiting.popleft()
        hand.units.append(unit)
        hand.worker.send(unit.words(), silent_s=silence_limit_s(unit.samples, size=run.size, levels=run.levels))
    if not hand.units:
        hand.worker.finish()


def _take(hand: _Hand, event: dict[str, Any], run: _Run, store: Store, hear: Hear) -> None:
    if event["event"] == "opened":
        hand.opened, run.stillborn = True, 0
    if event["event"] == "unit":
        unit = Unit.from_words(event["unit"])
        try:
            run.done[unit] = store.move_in(unit, hand.folder)
        except (UnitError, OSError) as error:
            raise BlenderError(f"{unit.told()}: {error}") from None
        hand.units.remove(unit)
    hear(event | {"process": hand.number})


def _bury(hand: _Hand, run: _Run, words: str) -> None:
    """Put the units of a process that died back, or aside where they killed too many."""
    for unit in hand.units:
        run.deaths[unit] = run.deaths.get(unit, 0) + 1
        if run.deaths[unit] < MOST_DEATHS:
            # Last of all, so that it holds up nothing else.
            run.waiting.append(unit)
        else:
            run.lost[unit] = words


def _put_back(hand: _Hand, run: _Run, death: WorkerDiedError) -> None:
    """Put the units of a process that was killed while it started back; they had no part in that.

    Raises ``death`` where it ended by itself, as without a system library, or where every one is killed.
    """
    run.stillborn += 1
    if not death.killed or run.stillborn >= MOST_DEATHS:
        raise death
    run.waiting.extendleft(reversed(hand.units))


def _name_the_lost(run: _Run) -> None:
    if not run.lost:
        return
    unit, words = next(iter(run.lost.items()))
    more = f" and {len(run.lost) - 1} more" if len(run.lost) > 1 else ""
    raise BlenderError(f"{unit.told()}{more}: {words}, {MOST_DEATHS} times; all else is done and kept")
