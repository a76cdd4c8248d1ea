# SPDX-License-Identifier: GPL-3.0-or-later
"""What is no scheduler, or is one no longer, is told in one line and soon; no Blender has a part in it."""

import json
import logging
import shutil
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil
import pytest

from engines.conftest import environment
from underglass_headless.engines import dask_cluster, dask_scheduler
from underglass_headless.engines.dask_scheduler import ClusterError
from underglass_headless.work.work_folder import Store
from work.made_up import FRAME, READING, job

distributed = pytest.importorskip("distributed", reason="the extra dask is not installed")
dask = pytest.importorskip("dask")

HTTP = b"HTTP/1.0 400 Bad Request\r\nServer: x\r\nContent-Length: 0\r\n\r\n"


@pytest.fixture
def answering() -> Iterator[Callable[[bytes], str]]:
    """Return what starts a server that says the same to everybody, or nothing, and returns its address."""
    listening: list[socket.socket] = []
    held = []

    def start(answer: bytes) -> str:
        server = socket.create_server(("127.0.0.1", 0))
        listening.append(server)

        def serve() -> None:
            while True:
                try:
                    held.append(server.accept()[0])
                    held[-1].sendall(answer)
                except OSError:
                    return

        threading.Thread(target=serve, daemon=True).start()
        return f"tcp://127.0.0.1:{server.getsockname()[1]}"

    yield start
    for one in (*listening, *held):
        one.close()


@pytest.mark.parametrize("answer", [b"", HTTP, b"\1" * 64], ids=["silent", "http", "noise"])
def test_what_answers_and_is_no_scheduler_is_told_in_one_line_and_soon(
    answering: Callable[[bytes], str], answer: bytes
) -> None:
    address = answering(answer)
    script = (
        "import sys, time\n"
        "from underglass_headless.engines import dask_scheduler\n"
        "dask_scheduler.CONNECT_S = 1.0\n"
        "dask_scheduler.dask_package()\n"
        "begun = time.monotonic()\n"
        "try:\n"
        "    dask_scheduler.connected(sys.argv[1])\n"
        "except dask_scheduler.ClusterError as error:\n"
        "    print(error)\n"
        "print(time.monotonic() - begun)\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", script, address],
        capture_output=True,
        text=True,
        check=False,
        env=environment(),
        timeout=60,
    )
    assert ended.stderr == ""
    line, took = ended.stdout.splitlines()
    assert line.startswith(f"{address}: no Dask scheduler answers (")
    assert float(took) < 4.0


def test_where_nobody_listens_the_system_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dask_scheduler, "CONNECT_S", 1.0)
    with socket.create_server(("127.0.0.1", 0)) as server:
        address = f"tcp://127.0.0.1:{server.getsockname()[1]}"
    with pytest.raises(
        ClusterError, match=r"no Dask scheduler answers \((Connection refused|nothing came in time)\); give"
    ):
        dask_scheduler.connected(address)


def keys_in(folder: Path) -> dict[str, Path]:
    """Make an authority and a key that it has signed, by openssl; return the files by the names of Dask's options."""
    new = ["openssl", "req", "-newkey", "rsa:2048", "-nodes"]
    sign = ["openssl", "x509", "-req", "-in", "wish.pem", "-CA", "ca.pem", "-CAkey", "ca-key.pem", "-CAcreateserial"]
    for words in (
        [*new, "-x509", "-subj", "/CN=authority", "-days", "2", "-keyout", "ca-key.pem", "-out", "ca.pem"],
        [*new, "-subj", "/CN=farm", "-keyout", "key.pem", "-out", "wish.pem"],
        [*sign, "-days", "2", "-out", "cert.pem"],
    ):
        subprocess.run(words, cwd=folder, check=True, capture_output=True)
    return {"ca-file": folder / "ca.pem", "cert": folder / "cert.pem", "key": folder / "key.pem"}


@pytest.mark.skipif(shutil.which("openssl") is None, reason="openssl is not here to make keys")
def test_a_scheduler_that_wants_keys_is_reached_with_them_and_without_them_a_line_says_what_to_set(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys, here = keys_in(tmp_path), tmp_path / "scheduler.json"
    options = [word for name, file in keys.items() for word in (f"--tls-{name}", str(file))]
    listening = ["--host", "127.0.0.1", "--protocol", "tls", "--port", "0", "--dashboard-address", "127.0.0.1:0"]
    process = subprocess.Popen(
        [sys.executable, "-m", "distributed.cli.dask_scheduler", *listening, *options, "--scheduler-file", str(here)],
        env=environment(),
        stderr=subprocess.DEVNULL,
    )
    try:
        until(lambda: here.is_file() and here.read_text().endswith("}"))
        address = json.loads(here.read_text())["address"]
        assert address.startswith("tls://127.0.0.1:")
        # what it listens on is bound to the address that was given, and nothing is open to everybody
        ours = [one.laddr.ip for one in psutil.Process(process.pid).net_connections() if one.status == "LISTEN"]
        assert set(ours) == {"127.0.0.1"}
        wanted = "needs keys; name their files in DASK_DISTRIBUTED__COMM__TLS__CA_FILE and DASK_"
        with pytest.raises(ClusterError, match=wanted):
            dask_scheduler.connected(address)
        for name, file in (("CA_FILE", "ca-file"), ("CLIENT__CERT", "cert"), ("CLIENT__KEY", "key")):
            monkeypatch.setenv(f"DASK_DISTRIBUTED__COMM__TLS__{name}", str(keys[file]))
        dask.config.refresh()
        client = dask_scheduler.connected(address)
        assert client.scheduler_info()["address"] == address
        client.close()
    finally:
        monkeypatch.undo()
        dask.config.refresh()
        process.kill()
        process.wait()


def test_a_scheduler_that_goes_away_in_mid_proof_is_told_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    here, begun = tmp_path / "scheduler.json", tmp_path / "begun"
    begun.mkdir()
    dask, place = [sys.executable, "-m"], ["--scheduler-file", str(here), "--no-dashboard"]
    scheduler = subprocess.Popen(
        [*dask, "distributed.cli.dask_scheduler", "--port", "0", *place], env=environment(), stderr=subprocess.DEVNULL
    )
    workers = [
        subprocess.Popen(
            [*dask, "distributed.cli.dask_worker", *place, "--nthreads", "1", "--no-nanny"],
            env=environment(),
            stderr=subprocess.DEVNULL,
        )
        for _ in range(2)
    ]
    sign = str(begun)

    def long_work(*_: object) -> None:
        import tempfile
        import time

        tempfile.mkdtemp(dir=sign)
        time.sleep(60)

    def end_scheduler() -> None:
        until(lambda: len(list(begun.iterdir())) == 2)
        scheduler.kill()

    # by value: a worker finds nothing of this module
    long_work.__module__ = "__main__"
    monkeypatch.setattr(dask_cluster, "do_here", long_work)
    # as Dask's own configuration has it
    logging.getLogger("distributed.client").setLevel(logging.WARNING)
    store = Store(tmp_path / "work", job(tmp_path))
    try:
        until(lambda: here.is_file() and here.read_text().endswith("}"))
        address = json.loads(here.read_text())["address"]
        with distributed.Client(address, set_as_default=False) as client:
            client.wait_for_workers(2, timeout=30)
        threading.Thread(target=end_scheduler, daemon=True).start()
        with store.open(), pytest.raises(ClusterError) as caught:
            dask_cluster.do_units(store.job, [FRAME, READING], store=store, address=address, hear=lambda event: None)
    finally:
        for process in (*workers, scheduler):
            process.kill()
            process.wait()
    assert str(caught.value) == f"{address}: the cluster was lost (the scheduler went away); run it again"
    assert capfd.readouterr().err == ""


def until(there: Callable[[], bool]) -> None:
    limit = time.monotonic() + 30
    while not there():
        assert time.monotonic() < limit
        time.sleep(0.02)
