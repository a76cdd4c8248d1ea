# SPDX-License-Identifier: GPL-3.0-or-later
"""The scheduler of a Dask cluster: reached, or told in one line why not, and heard of in our words alone."""

import asyncio
import importlib
import logging
import re
from typing import Any

from underglass.proof.wording import plain
from underglass.shot import UnderglassError

from ..blender.blender_process import BlenderError

# A scheduler that is there answers within a second.
CONNECT_S = 10.0
_ADDRESS = re.compile(r"([a-z]+://)?[^\s/]+:[0-9]+/?")
_EXAMPLE = "tcp://10.0.0.5:8786"
INSTALL = "install Underglass with its extra dask: pip install 'underglass[dask]'"


class ClusterError(BlenderError):
    """The cluster cannot do the work: one line says why."""


def connected(address: str) -> Any:
    """Return a client of the scheduler at ``address``; raises ClusterError, and UnderglassError for no address."""
    try:
        dask = dask_package()
    except ImportError:
        raise ClusterError(f"--cluster needs the package distributed, which is not here; {INSTALL}") from None
    if not _ADDRESS.fullmatch(address):
        raise UnderglassError(f"--cluster: {address!r} is no address of a scheduler; give one such as {_EXAMPLE}")
    _silence()
    if address.startswith("tls:") and (missing := _missing_keys()):
        raise ClusterError(f"{address}: needs keys; name their files in {' and '.join(missing)}")
    try:
        # First in a loop that is thrown away: a client of something else waits for minutes, and complains at exit.
        asyncio.run(asyncio.wait_for(_require_scheduler(address), CONNECT_S))
        return dask.Client(address, timeout=CONNECT_S, set_as_default=False, name="underglass")
    except Exception as error:  # bytes of another protocol are taken for lengths and types of anything
        raise ClusterError(
            f"{address}: no Dask scheduler answers ({reason_of(error)}); give one such as {_EXAMPLE}"
        ) from None


def _missing_keys() -> list[str]:
    """Return which variables of the environment, or words of Dask's configuration, name no file for TLS."""
    config = importlib.import_module("dask.config")
    if config.get("distributed.client.security-loader", None):
        return []
    # the key may lie in the certificate's file
    names = ("ca-file", "client.cert")
    missing = [name for name in names if not config.get(f"distributed.comm.tls.{name}", None)]
    return [f"DASK_DISTRIBUTED__COMM__TLS__{name.replace('.', '__').replace('-', '_').upper()}" for name in missing]


async def _require_scheduler(address: str) -> None:
    """Raise what goes wrong where nothing that calls itself a scheduler answers at ``address``."""
    if importlib.import_module("dask.config").get("distributed.client.security-loader", None):
        return  # only a client knows how that is asked
    # with the keys that a client would take from Dask's configuration; in less than all the time, so that it says why
    keys = dask_package().Security().get_connection_args("client")
    comm = await importlib.import_module("distributed.comm").connect(address, timeout=0.8 * CONNECT_S, **keys)
    try:
        await comm.write({"op": "identity", "reply": True})
        told = await comm.read()
        if not isinstance(told, dict) or told.get("type") != "Scheduler":
            raise ValueError("something else does")
    finally:
        comm.abort()


def _silence() -> None:
    """Let Dask say nothing of its own: what goes wrong is told in one line, ours."""
    for name in ["distributed", *logging.root.manager.loggerDict]:
        if name == "distributed" or name.startswith("distributed."):
            # each may have a level of its own, by Dask's configuration
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)


def reason_of(error: BaseException) -> str:
    """Return plain words for what goes wrong between here and a scheduler: Dask's are full of its own parts."""
    while isinstance(error, OSError) and not error.strerror and isinstance(error.__cause__, OSError):
        error = error.__cause__
    match error:
        case TimeoutError():
            return "nothing came in time"
        case OSError(strerror=str(words)) if words and not isinstance(error, ConnectionResetError | BrokenPipeError):
            return plain(words)
        case OSError() if isinstance(error, ConnectionError) or type(error).__name__ == "CommClosedError":
            return "the scheduler went away"
        case OSError() | ValueError() | TypeError() if text := " ".join(str(error).split()):
            return plain(text[:160])
        case _:
            return "what answers speaks another protocol"


def dask_package() -> Any:
    """Return Dask's package, which is there where the extra is installed; raises ImportError."""
    return importlib.import_module("distributed")
