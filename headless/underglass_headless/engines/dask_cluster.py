# SPDX-License-Identifier: GPL-3.0-or-later
"""A Dask cluster that does units of work: the same units as in `process_pool`, their results sent back as bytes.

A worker of Dask holds Blender in its own process, so it may have one thread only. What comes back is read as strictly
as any file. Nothing of Blender is imported where the cluster is asked.
"""

import contextlib
import time
from collections import Counter, deque
from collections.abc import Callable, Collection, Sequence
from typing import Any

from underglass.proof.wording import plain
from underglass.shot import UnderglassError

from ..blender.blender_process import BlenderError, silence_limit_s, users_error
from ..work.unit_results import UnitError, UnitResult
from ..work.units_of_work import Job, Unit
from ..work.work_folder import Store
from .dask_scheduler import INSTALL, ClusterError, connected, dask_package, reason_of
from .dask_worker import Answer, do_here

Hear = Callable[[dict[str, Any]], None]

# A worker that hangs is told from one at work by its silence alone: a pool's processes tell of every pass and every
# look, and begin to wait anew at each; of a unit on a cluster nothing is heard before it is done, so that it has more.
LATE_TIMES = 4
# Workers that are being started register within this time.
WORKERS_S = 20.0
# How often it is asked whether a unit is done, far less than one takes, and whether there are workers at all.
_ASK_EVERY_S, LOOK_EVERY_S = 0.02, 5.0
# What Dask gives up, since its workers died, is tried so often again, with nothing beside it that it could kill.
_ALONE = 1


def do_units(job: Job, units: Sequence[Unit], *, store: Store, address: str, hear: Hear) -> dict[Unit, UnitResult]:
    """Let the workers of the Dask scheduler at ``address`` do ``units``; return what came of each, put into ``store``.

    No more units are out than there are workers, so that one that kills its worker takes no other with it. A worker
    that dies costs no more than its unit begun anew. Raises ClusterError, and what a unit failed of.
    """
    client = connected(address)
    try:
        return _Spread(client, job, store, hear).all_of(units)
    except (OSError, TimeoutError) as error:
        raise ClusterError(f"{address}: the cluster was lost ({reason_of(error)}); run it again") from None
    finally:
        with contextlib.suppress(Exception):  # whatever it says, it is no longer needed
            client.close(timeout=2)


class _Spread:
    """Units out on a cluster."""

    def __init__(self, client: Any, job: Job, store: Store, hear: Hear) -> None:
        self.client, self.job, self.store, self.hear = client, job, store, hear
        self.out: dict[Any, Unit] = {}
        # Which worker has each, and since when.
        self.at: dict[Any, tuple[str, float]] = {}
        # Workers that hang, and that nobody could start again.
        self.stuck: set[str] = set()
        self.done: dict[Unit, UnitResult] = {}
        self.given_up: Counter[Unit] = Counter()
        self.lost: dict[Unit, str] = {}

    def all_of(self, units: Sequence[Unit]) -> dict[Unit, UnitResult]:
        waiting, alone = deque(units), deque[Unit]()
        try:
            while waiting or alone or self.out:
                while waiting and len(self.out) < len(workers := self._workers()):
                    self._send(waiting.popleft(), workers)
                if not self.out and alone:
                    self._send(alone.popleft(), self._workers())
                future = self._next()
                unit = self.out.pop(future)
                words = self._take(unit, future) if future.done() else self._let_go(future)
                if words is None:
                    continue
                self.given_up[unit] += 1
                if self.given_up[unit] <= _ALONE:
                    alone.append(unit)
                else:
                    self.lost[unit] = words
        finally:
            with contextlib.suppress(Exception):  # where the scheduler is gone, nothing is out any more
                self.client.cancel(list(self.out))
        if self.lost:
            unit, words = next(iter(self.lost.items()))
            raise ClusterError(f"{unit.told()}: {words}; all else is done and kept")
        return self.done

    def _next(self) -> Any:
        """Return a unit that is done, or that is late; while none is, look now and then whether workers are left."""
        looked = time.monotonic()
        while True:
            for future in self.out:
                if future.done():
                    return future
            if time.monotonic() - looked > LOOK_EVERY_S:
                self._workers()
                looked = time.monotonic()
                if (late := self._late(looked)) is not None:
                    return late
            time.sleep(_ASK_EVERY_S)

    def _late(self, now: float) -> Any:
        """Return a unit that one worker has had for longer than any unit takes; None while there is none."""
        has = {key: (worker, len(keys)) for worker, keys in self.client.processing().items() for key in keys}
        for future, unit in self.out.items():
            worker, many = has.get(future.key, ("", 0))
            if many != 1 or worker != self.at.get(future, ("", 0.0))[0]:
                # with none yet, with another one since the first died, or perhaps behind another client's task
                self.at[future] = worker, now
            limit_s = LATE_TIMES * silence_limit_s(unit.samples, size=self.job.frame_px, levels=self.job.levels)
            if now - self.at[future][1] > limit_s:
                return future
        return None

    def _let_go(self, future: Any) -> str:
        """Give up a unit whose worker hangs, and have that started again, where it can be; return why."""
        worker, since = self.at[future]
        # Asked anew: another client may have given it something meanwhile, which a new start would undo.
        others = set(self.client.processing().get(worker, ())) - {future.key}
        future.cancel()
        if others or not self._restarted(worker):
            self.stuck.add(worker)
        return f"a worker had it for {time.monotonic() - since:.0f} s and did not end"

    def _restarted(self, worker: str) -> bool:
        try:
            self.client.restart_workers([worker], timeout=WORKERS_S, raise_for_error=True)
        except Exception:  # one without a nanny cannot be, and Dask has several errors for that
            return False
        return True

    def _workers(self) -> dict[str, int]:
        """Return the threads of every worker, by its address: one each."""
        threads = self._threads()
        if not threads:
            with contextlib.suppress(TimeoutError):
                self.client.wait_for_workers(len(self.stuck) + 1, timeout=WORKERS_S)
            threads = self._threads()
        if not threads:
            hang = f" but {', '.join(sorted(self.stuck))}, which hangs" if self.stuck else ""
            raise ClusterError(f"the cluster has no worker{hang}; start some: dask worker ADDRESS --nthreads 1")
        many = [name for name, count in threads.items() if count != 1]
        if many:
            raise ClusterError(
                f"worker {many[0]} has {threads[many[0]]} threads, and a process holds one Blender; start it with"
                " --nthreads 1, and more of them with --nworkers"
            )
        return threads

    def _threads(self) -> dict[str, int]:
        return {name: count for name, count in self.client.nthreads().items() if name not in self.stuck}

    def _send(self, unit: Unit, workers: Collection[str]) -> None:
        # Workers of one machine share its cores among them. One that hangs would never be done.
        neighbours = sorted(workers)
        future = self.client.submit(
            do_here,
            self.job.words(),
            unit.words(),
            neighbours,
            pure=False,
            key=f"underglass-{unit.name}-{id(unit)}",
            **({"workers": neighbours, "allow_other_workers": True} if self.stuck else {}),
        )
        self.out[future] = unit

    def _take(self, unit: Unit, future: Any) -> str | None:
        """Take in what came of a unit; return why, where nothing did and it may be tried again."""
        if future.cancelled():
            # Not by this run. Dask does it too, with all that is out, where the scheduler is gone.
            raise OSError("it was cancelled there") if self.client.status == "running" else ConnectionError
        try:
            answer = future.result()
        except dask_package().KilledWorker:
            return "it ended every worker that had it, memory may be short there"
        except ImportError as error:
            raise ClusterError(f"a worker of the cluster lacks Underglass ({error}); {INSTALL}") from None
        except Exception as error:  # whatever a worker of another make raises
            text = " ".join(f"{type(error).__name__}: {error}".split())[:200]
            raise ClusterError(f"{unit.told()}: a worker of the cluster failed ({text})") from None
        finally:
            with contextlib.suppress(Exception):  # of one that went away with the scheduler
                future.release()
        self.done[unit] = self._whole(unit, answer)
        self.hear({"event": "unit", "unit": unit.words()})
        return None

    def _whole(self, unit: Unit, answer: object) -> UnitResult:
        match answer:
            case Answer(kind="", files=dict(files)) if all(
                isinstance(name, str) and isinstance(data, bytes) for name, data in files.items()
            ):
                try:
                    return self.store.take(unit, files)
                except UnitError as error:
                    raise ClusterError(
                        f"{unit.told()}: what came back from the cluster is not whole: {error}"
                    ) from None
            case Answer(kind=str(kind), message=str(message)) if kind:
                raise _failure(unit, plain(kind)[:60], plain(" ".join(message.split()))[:500])
            case _:
                raise ClusterError(f"{unit.told()}: what came back from the cluster is no result of it")


def _failure(unit: Unit, kind: str, text: str) -> UnderglassError:
    text = text or kind
    return users_error(kind, text) or BlenderError(f"{unit.told()}: Blender failed: {text}")
