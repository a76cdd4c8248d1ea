# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof on a Dask cluster: what the pool finds, byte for byte, whatever happens to a worker."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from engines import poison
from engines.conftest import environment, run, timeless
from underglass.shot import UnderglassError
from underglass_headless import cli
from underglass_headless.engines import dask_cluster as cluster_client
from underglass_headless.engines import dask_scheduler
from underglass_headless.proving import prove_shot

pytestmark = [pytest.mark.engines, pytest.mark.bpy, pytest.mark.render]

dask = pytest.importorskip("dask", reason="the extra dask is not installed")
distributed = pytest.importorskip("distributed")


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    """Return a cluster of two workers, each a spawned process of one thread."""
    before = dict(os.environ)
    os.environ.update(environment())
    try:
        with distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0", silence_logs=50
        ) as made:
            yield made
    finally:
        os.environ.clear()
        os.environ.update(before)


def workers_of(cluster: Any) -> list[int]:
    """Return the process numbers of the workers."""
    with distributed.Client(cluster.scheduler_address, set_as_default=False) as client:
        return list(client.run(os.getpid).values())


def test_a_cluster_finds_what_the_pool_finds(
    cluster: Any, line_up: Path, tmp_path: Path, proof_of_one_process: dict[str, Any]
) -> None:
    ended = run(["prove", str(line_up), "--out", str(tmp_path), "--cluster", cluster.scheduler_address])
    assert ended.returncode == 0, ended.stderr
    assert timeless(tmp_path) == proof_of_one_process
    with distributed.Client(cluster.scheduler_address, set_as_default=False) as client:
        assert not any(client.run(lambda: "bpy" not in __import__("sys").modules).values()), "both had a share"


def test_a_worker_that_is_killed_loses_nothing(
    cluster: Any, line_up: Path, tmp_path: Path, proof_of_one_process: dict[str, Any]
) -> None:
    words = ["prove", str(line_up), "--out", str(tmp_path), "--cluster", cluster.scheduler_address]
    with ThreadPoolExecutor(1) as aside:
        proving = aside.submit(run, words)
        limit = time.monotonic() + 60
        while not list(tmp_path.glob("work/*/passes-*.json")):
            assert time.monotonic() < limit
            time.sleep(0.02)
        os.kill(workers_of(cluster)[0], signal.SIGKILL)
        ended = proving.result()
    assert ended.returncode == 0, ended.stderr
    assert timeless(tmp_path) == proof_of_one_process


def test_a_frame_that_kills_its_workers_is_named_and_takes_no_other_with_it(line_up: Path, tmp_path: Path) -> None:
    poisoned = environment() | {"UNDERGLASS_TEST_POISON": "12"}
    words = ["prove", str(line_up), "--out", str(tmp_path), "--no-pictures", "--frames", "1,5,12,20,25"]
    with (
        dask.config.set({"distributed.worker.preload": [poison.__file__]}),
        distributed.LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=True,
            dashboard_address=":0",
            silence_logs=50,
            env=poisoned,
        ) as made,
    ):
        ended = run([*words, "--cluster", made.scheduler_address])
    assert ended.returncode == 3
    told = ended.stderr.splitlines()[-1]
    assert told.startswith(
        "underglass: rendering the proof passes of frame 12: it ended every worker that had it, memory"
    )
    kept = {path.name[:11] for path in tmp_path.glob("work/*/passes-*.json")}
    assert kept == {"passes-0001", "passes-0005", "passes-0020", "passes-0025"}


def test_where_the_last_worker_is_gone_for_good_a_line_says_so(
    line_up: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster_client, "LOOK_EVERY_S", 0.5)
    monkeypatch.setattr(cluster_client, "WORKERS_S", 1.0)
    dask_cli, place = [sys.executable, "-m"], ["--scheduler-file", str(tmp_path / "scheduler.json")]
    scheduler = subprocess.Popen(
        [*dask_cli, "distributed.cli.dask_scheduler", "--port", "0", "--dashboard-address", ":0", *place],
        env=environment(),
        stderr=subprocess.DEVNULL,
    )
    worker = subprocess.Popen(
        [*dask_cli, "distributed.cli.dask_worker", *place, "--nthreads", "1", "--no-nanny", "--no-dashboard"],
        env=environment(),
        stderr=subprocess.DEVNULL,
    )
    try:
        limit = time.monotonic() + 30
        while not (tmp_path / "scheduler.json").is_file():
            assert time.monotonic() < limit
            time.sleep(0.05)
        address = json.loads((tmp_path / "scheduler.json").read_text())["address"]

        def kill(what: str, *_: object) -> None:
            if what == "measuring every frame":
                worker.kill()

        options = prove_shot.Options(frames=(1, 12, 25), pictures=False, cluster=address)
        with pytest.raises(UnderglassError, match="the cluster has no worker"):
            prove_shot.prove(line_up, options=options, folder=tmp_path / "work", tell=kill)
    finally:
        for process in (worker, scheduler):
            process.kill()
            process.wait()


def test_a_scene_that_is_none_is_told_by_the_worker_in_a_line(cluster: Any, line_up: Path, tmp_path: Path) -> None:
    scene = tmp_path / "cut.blend"
    scene.write_bytes(b"BLENDER-v405" + bytes(200))
    words = ["prove", str(line_up), "--out", str(tmp_path / "o"), "--scene", str(scene)]
    ended = run([*words, "--cluster", cluster.scheduler_address])
    assert ended.returncode == 2
    assert "cut.blend: Blender cannot read it" in ended.stderr.splitlines()[-1]


def test_a_worker_of_several_threads_is_refused(line_up: Path, tmp_path: Path) -> None:
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=2, processes=True, dashboard_address=":0", silence_logs=50
    ) as made:
        ended = run(["prove", str(line_up), "--out", str(tmp_path / "o"), "--cluster", made.scheduler_address])
    assert ended.returncode == 3
    assert "has 2 threads, and a process holds one Blender; start it with --nthreads 1" in ended.stderr
    assert not (tmp_path / "o").exists()


def test_where_nobody_answers_a_line_says_so(
    line_up: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(dask_scheduler, "CONNECT_S", 1.0)
    begun, address = time.monotonic(), "tcp://127.0.0.1:9"
    assert cli.run(["prove", str(line_up), "--out", str(tmp_path / "o"), "--cluster", address]) == 3
    told = capsys.readouterr().err
    assert told.splitlines()[-1].startswith(f"underglass: {address}: no Dask scheduler answers")
    assert "Traceback" not in told
    assert time.monotonic() - begun < 10


@pytest.mark.parametrize("address", ["no address", "10.0.0.5", "http://10.0.0.5", "x:y"])
def test_what_is_no_address_is_refused_at_once(address: str, line_up: Path, tmp_path: Path) -> None:
    ended = run(["prove", str(line_up), "--out", str(tmp_path / "o"), "--cluster", address])
    assert ended.returncode == 2
    assert f"--cluster: {address!r} is no address of a scheduler" in ended.stderr


def test_the_client_of_a_cluster_holds_no_blender(cluster: Any, line_up: Path, tmp_path: Path) -> None:
    words = ["prove", str(line_up), "--out", str(tmp_path), "--no-pictures", "--frames", "1"]
    words += ["--cluster", cluster.scheduler_address]
    script = f"import json, sys; from underglass_headless import cli; status = cli.run({words!r})"
    script += "; print(json.dumps([status, 'bpy' in sys.modules]))"
    ended = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False, env=environment()
    )
    assert json.loads(ended.stdout.splitlines()[-1]) == [0, False]
