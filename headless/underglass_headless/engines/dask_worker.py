# SPDX-License-Identifier: GPL-3.0-or-later
"""What runs in a worker of a Dask cluster: one unit of work, its files returned as bytes.

Blender is imported with the first unit, and holds the scene of its job from then on.
"""

import atexit
import contextlib
import os
import shutil
import socket
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from underglass.proof.proof_beside_window import without_user_settings
from underglass.shot import UnderglassError

from ..work.units_of_work import Job, Unit
from ..work.versions_used import differing
from .core_shares import core_shares

# What this process holds from its first unit on: its cores, and the one scene that is open, by its job.
_cores: list[tuple[int, ...]] = []
_benches: dict[Job, Any] = {}
_held: list[socket.socket] = []


@dataclass(frozen=True)
class Answer:
    """What a worker sends back: the ``files`` of a unit, or of what ``kind`` its error is and what it says."""

    kind: str = ""
    message: str = ""
    files: dict[str, bytes] = field(default_factory=dict)


class OtherMakersError(UnderglassError):
    """This machine has other versions than the job was made with."""


def do_here(job: dict[str, Any], unit: dict[str, Any], neighbours: Sequence[str]) -> Answer:
    """Do a unit in this process; ``neighbours`` are the addresses of all workers, by which those here share the cores.

    Raises nothing that a unit can fail of: it is answered.
    """
    try:
        return Answer(files=_done(Job.from_words(job), Unit.from_words(unit), neighbours))
    except Exception as error:
        return Answer(kind=type(error).__name__, message=" ".join(str(error).split()))


def _done(job: Job, unit: Unit, neighbours: Sequence[str]) -> dict[str, bytes]:
    if words := differing(job.makers):
        raise OtherMakersError(f"a machine has {words}; install the same versions on every machine")
    if not _cores:
        _begin(neighbours)
    with tempfile.TemporaryDirectory(prefix="underglass-") as name, _quiet():
        folder = Path(name)
        _bench(job).do(unit, folder)()
        made = [path for path in folder.iterdir() if path.name.startswith(unit.name)]
        return {path.name: path.read_bytes() for path in made}


def _bench(job: Job) -> Any:
    """Return the open scene of ``job``; one of another job, or of files that changed since, is let go of."""
    if job not in _benches or not _benches[job].is_current():
        from ..in_blender.do_units import Bench

        _benches.clear()
        _benches[job] = Bench(replace(job, threads=job.threads or len(_cores[0])))
    return _benches[job]


def _begin(neighbours: Sequence[str]) -> None:
    """Make this process ready for Blender, before it is imported."""
    folder = Path(tempfile.mkdtemp(prefix="underglass-"))
    kept = without_user_settings(os.environ, folder=folder)
    for gone in set(os.environ) - set(kept):
        del os.environ[gone]
    os.environ.update(kept)
    atexit.register(_leave, folder)
    _cores.append(_take_cores(neighbours))


def _leave(folder: Path) -> None:
    """End this process at once: with scenes rendered, Blender's own clean-up can crash or hang; by now all is sent."""
    shutil.rmtree(folder, ignore_errors=True)
    os._exit(0)


def _take_cores(neighbours: Sequence[str]) -> tuple[int, ...]:
    """Hold this process to its share of the machine's cores, before Blender counts them, and return them."""
    from distributed import get_worker

    mine = get_worker().address
    here = [address for address in neighbours if _host(address) == _host(mine)]
    if mine not in here or len(here) < 2:
        share = core_shares(1)[0]
    else:
        share = _free(core_shares(len(here)), otherwise=here.index(mine))
    # Some containers forbid it; then the cores are shared as the system sees fit.
    with contextlib.suppress(OSError):
        if share:
            os.sched_setaffinity(0, share)
    return share


def _free(shares: Sequence[tuple[int, ...]], *, otherwise: int) -> tuple[int, ...]:
    """Return a share that no other worker of this machine holds: one that took the place of a dead one gets its cores.

    Held by a name in the kernel, which is free again however its process ends.
    """
    for share in shares:
        taken = socket.socket(socket.AF_UNIX)
        try:
            taken.bind(f"\0underglass-cores-{os.getuid()}-{share[0] if share else ''}")
        except OSError:
            taken.close()
        else:
            _held.append(taken)
            return share
    return shares[otherwise]


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
