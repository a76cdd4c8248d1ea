# SPDX-License-Identifier: GPL-3.0-or-later
"""What sharing the work brings: two processes against one, and a Dask cluster against the pool, in one run."""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from bench.test_bench_proof import FRAME_PX, LEVELS, eight_levels
from engines.conftest import COMMAND, environment, timeless

pytestmark = [pytest.mark.bench, pytest.mark.timeout(2400)]

distributed = pytest.importorskip("distributed", reason="the extra dask is not installed")

TEST_FRAMES = "1,3,5,7,9,11,13,15,17,19,21,23,25,27,29,31,33,35,37,39,41,43,45,48"
LEAST_GAIN = 1.7
MOST_OVERHEAD = 0.15


@pytest.mark.skipif(len(os.sched_getaffinity(0)) < 2, reason="one core cannot be shared out")
def test_two_processes_against_one_and_a_cluster_against_the_pool(tmp_path: Path) -> None:
    shot = eight_levels(tmp_path / "shot")
    cores = sorted(os.sched_getaffinity(0))[:2]
    one = _took(shot, tmp_path / "one", "--jobs", "1", "--threads", "1", cores=cores[:1])
    two = _took(shot, tmp_path / "two", "--jobs", "2", cores=cores)
    begun = time.perf_counter()
    before = dict(os.environ)
    os.environ.update(environment())
    try:
        with distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0", silence_logs=50
        ) as cluster:
            # what a worker does once, however much work there is: it imports Blender and opens the scene
            warm = ("--cluster", cluster.scheduler_address, "--frames", "2,4")
            _took(shot, tmp_path / "warm", *warm, cores=cores)
            started = time.perf_counter() - begun
            dask = _took(shot, tmp_path / "dask", "--cluster", cluster.scheduler_address, cores=cores)
    finally:
        os.environ.clear()
        os.environ.update(before)
    assert timeless(tmp_path / "one") == timeless(tmp_path / "two") == timeless(tmp_path / "dask")
    print(f"\n24 test frames x {LEVELS} levels at {FRAME_PX}, passes alone: one process {one:.1f} s, two {two:.1f} s")
    print(f"-> two are {one / two:.2f} x as fast (at least {LEAST_GAIN})")
    print(f"Dask with two workers: {dask:.1f} s, and {started:.1f} s to start and to open the scene")
    print(f"-> {100 * (dask / two - 1):+.0f} % against the pool (at most {100 * MOST_OVERHEAD:.0f} %)")
    assert one / two >= LEAST_GAIN
    assert dask / two <= 1 + MOST_OVERHEAD


def _took(shot: Path, out: Path, *words: str, cores: list[int]) -> float:
    """Return how long a whole command takes, s, on ``cores`` and no others."""
    given = ["prove", str(shot), "--out", str(out), "--no-pictures", *words]
    if "--frames" not in words:
        given += ["--frames", TEST_FRAMES]
    script = f"import os, sys; os.sched_setaffinity(0, {cores}); os.execv(sys.argv[1], sys.argv[1:])"
    begun = time.perf_counter()
    ended = subprocess.run(
        [sys.executable, "-c", script, *COMMAND, *given], env=environment(), capture_output=True, text=True, check=False
    )
    assert ended.returncode == 0, ended.stderr
    return time.perf_counter() - begun
