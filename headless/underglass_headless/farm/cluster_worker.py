"""What runs in a worker of a Dask cluster: one unit of work, its files returned as bytes.

Blender is imported with the first unit, and holds the scene of its job from then on.
"""

import contextlib
import os
import socket
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from underglass.proof.running import without_user_settings

from .core_shares import core_shares
from .units import Job, Unit

# The one scene that this process holds, by the job and its threads.
_benches: dict[Job, Any] = {}


@dataclass(frozen=True)
class Answer:
    """What a worker sends back: the ``files`` of a unit, or of what ``kind`` its error is and what it says."""

    kind: str = ""
    message: str = ""
    files: dict[str, bytes] = field(default_factory=dict)


def do_here(job: dict[str, Any], unit: dict[str, Any], neighbours: Sequence[str]) -> Answer:
    """Do a unit in this process; ``neighbours`` are the addresses of all workers, by which those here share the cores.

    Raises nothing that a unit can fail of: it is answered.
    """
    try:
        return Answer(files=_done(Job.from_words(job), Unit.from_words(unit), neighbours))
    except Exception as error:
        return Answer(kind=type(error).__name__, message=" ".join(str(error).split()))


def _done(job: Job, unit: Unit, neighbours: Sequence[str]) -> dict[str, bytes]:
    share = _take_cores(neighbours) if not _benches else ()
    with tempfile.TemporaryDirectory(prefix="underglass-") as name, _quiet():
        folder = Path(name)
        bench = _bench(job, share, folder)
        bench.do(unit, folder)()
        made = [path for path in folder.iterdir() if path.name.startswith(unit.name)]
        return {path.name: path.read_bytes() for path in made}


def _bench(job: Job, share: Sequence[int], folder: Path) -> Any:
    """Return the open scene of ``job``; one of another job is let go of."""
    if job not in _benches:
        # Before Blender is imported: its user's settings on this machine have no part in a proof.
        kept = without_user_settings(os.environ, folder=folder)
        for gone in set(os.environ) - set(kept):
            del os.environ[gone]
        os.environ.update(kept)
        from .doing import Bench

        _benches.clear()
        _benches[job] = Bench(replace(job, threads=job.threads or len(share)))
    return _benches[job]


def _take_cores(neighbours: Sequence[str]) -> tuple[int, ...]:
    """Hold this process to its share of the machine's cores, before Blender counts them, and return them."""
    from distributed import get_worker

    mine = get_worker().address
    here = [address for address in neighbours if _host(address) == _host(mine)]
    if mine not in here or len(here) < 2:
        return ()
    share = core_shares(len(here))[here.index(mine)]
    with contextlib.suppress(OSError):
        os.sched_setaffinity(0, share)
    return share


def _host(address: str) -> str:
    with contextlib.suppress(ValueError):
        return urlsplit(address).hostname or ""
    return socket.gethostname()


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep what Blender prints out of the worker's log: a line for every file and render."""
    sys.stdout.flush()
    kept = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
