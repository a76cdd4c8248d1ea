# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof in processes of one machine: the same numbers from any number of them, and nothing done twice."""

import contextlib
import os
import signal
import time
from collections.abc import Callable
from pathlib import Path
from subprocess import Popen
from typing import Any

import psutil
import pytest

import small_shots
from engines.conftest import run, timeless
from underglass.plan import make_plan
from underglass.shot import UnderglassError
from underglass.shot.files import read_shot
from underglass_headless.engines.process_pool import MOST_DEATHS, do_units
from underglass_headless.work.proof_job import make_job
from underglass_headless.work.units_of_work import PASSES, Unit
from underglass_headless.work.work_folder import Store

pytestmark = [pytest.mark.engines, pytest.mark.bpy, pytest.mark.render]

Started = Callable[[list[str]], "Popen[str]"]


def stamps(out: Path) -> dict[str, int]:
    """Return when each file of the units was made."""
    return {path.name: path.stat().st_mtime_ns for path in (out / "work").glob("*/[!.]*-*") if path.name != "in-use"}


def until(condition: Callable[[], bool], *, seconds: float = 60.0) -> None:
    """Wait for something to come true."""
    limit = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < limit, "it did not come"
        time.sleep(0.02)


def test_two_processes_find_what_one_finds(line_up: Path, tmp_path: Path, proof_of_one_process: dict[str, Any]) -> None:
    assert run(["prove", str(line_up), "--out", str(tmp_path), "--jobs", "2"]).returncode == 0
    assert timeless(tmp_path) == proof_of_one_process


def test_a_second_run_renders_nothing_and_says_so(line_up: Path, tmp_path: Path) -> None:
    words = ["prove", str(line_up), "--out", str(tmp_path)]
    assert run(words).returncode == 0
    first, made = timeless(tmp_path), stamps(tmp_path)
    again = run(words)
    assert again.returncode == 0
    assert stamps(tmp_path) == made
    count = sum(name.endswith(".json") for name in made)
    assert again.stderr.splitlines()[0] == f"kept from an earlier run: {count} of {count}"
    assert "rendering" not in again.stderr
    assert timeless(tmp_path) == first


def test_other_test_frames_render_only_those_that_are_new(line_up: Path, tmp_path: Path) -> None:
    words = ["prove", str(line_up), "--out", str(tmp_path), "--no-pictures", "--frames"]
    assert run([*words, "1,25"]).returncode == 0
    before = stamps(tmp_path)
    assert run([*words, "1,12,25"]).returncode == 0
    after = stamps(tmp_path)
    assert {name for name in after if name.startswith("passes")} - set(before) == {"passes-0012-every1.json"} or {
        name for name in after if name.startswith("passes")
    } - set(before) == {"passes-0012-every2.json"}
    assert all(after[name] == before[name] for name in before)


def test_a_run_that_is_killed_goes_on_where_it_was(
    line_up: Path, tmp_path: Path, started: Started, proof_of_one_process: dict[str, Any]
) -> None:
    words = ["prove", str(line_up), "--out", str(tmp_path)]
    process = started(words)
    until(lambda: sum(name.startswith("passes") for name in stamps(tmp_path)) >= 2)
    os.killpg(process.pid, signal.SIGKILL)
    process.wait()
    made = stamps(tmp_path)
    assert not (tmp_path / "proof.json").exists()
    assert run(words).returncode == 0
    after = stamps(tmp_path)
    assert all(after[name] == made[name] for name in made if name.endswith(".json"))
    assert timeless(tmp_path) == proof_of_one_process
    assert not list(tmp_path.rglob(".making*")), "what the killed run had in the making is swept"


def test_two_runs_in_one_folder_do_each_other_no_harm(
    line_up: Path, tmp_path: Path, started: Started, proof_of_one_process: dict[str, Any]
) -> None:
    words = ["prove", str(line_up), "--out", str(tmp_path)]
    both = [started(words), started(words)]
    for process in both:
        _, told = process.communicate(timeout=120)
        assert process.returncode == 0, told
    assert timeless(tmp_path) == proof_of_one_process
    assert run(words).stderr.startswith("kept from an earlier run")


def test_a_process_that_is_killed_costs_no_more_than_its_frame(
    line_up: Path, tmp_path: Path, started: Started, proof_of_one_process: dict[str, Any]
) -> None:
    process = started(["prove", str(line_up), "--out", str(tmp_path), "--jobs", "2"])
    until(lambda: len(stamps(tmp_path)) >= 2)
    workers = [
        child for child in psutil.Process(process.pid).children() if "underglass_headless" in str(child.cmdline())
    ]
    assert len(workers) == 2
    workers[0].kill()
    _, told = process.communicate(timeout=120)
    assert process.returncode == 0, told
    assert timeless(tmp_path) == proof_of_one_process


def test_a_process_that_is_killed_while_it_starts_is_started_again(
    line_up: Path, tmp_path: Path, started: Started, proof_of_one_process: dict[str, Any]
) -> None:
    process = started(["prove", str(line_up), "--out", str(tmp_path), "--jobs", "2"])
    until(lambda: len(psutil.Process(process.pid).children()) >= 2)
    psutil.Process(process.pid).children()[0].kill()
    assert not stamps(tmp_path)
    _, told = process.communicate(timeout=120)
    assert process.returncode == 0, told
    assert timeless(tmp_path) == proof_of_one_process


def test_where_every_process_is_killed_while_it_starts_the_run_ends(
    line_up: Path, tmp_path: Path, started: Started
) -> None:
    process = started(["prove", str(line_up), "--out", str(tmp_path)])
    killed = set()
    while process.poll() is None:
        with contextlib.suppress(psutil.Error):
            for child in psutil.Process(process.pid).children():
                if "underglass_headless.in_blender.worker" in child.cmdline():
                    child.kill()
                    killed.add(child.pid)
        time.sleep(0.02)
    _, told = process.communicate()
    assert (process.returncode, len(killed)) == (3, MOST_DEATHS)
    assert told.splitlines()[-1].startswith("underglass: Blender was ended by signal 9: memory may be short")


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM"])
def test_an_interrupted_run_ends_every_process_and_keeps_what_is_done(
    name: str, line_up: Path, tmp_path: Path, started: Started
) -> None:
    process = started(["prove", str(line_up), "--out", str(tmp_path), "--jobs", "2"])
    until(lambda: len(stamps(tmp_path)) >= 2)
    children = psutil.Process(process.pid).children(recursive=True)
    assert len(children) >= 2
    process.send_signal(getattr(signal, name))
    _, told = process.communicate(timeout=30)
    assert process.returncode == 130
    assert told.splitlines()[-1] == "underglass: interrupted; earlier results are as they were"
    gone, alive = psutil.wait_procs(children, timeout=10)
    assert (len(gone), alive) == (len(children), [])
    assert stamps(tmp_path)


def test_each_process_keeps_to_its_own_cores(line_up: Path, tmp_path: Path, started: Started) -> None:
    cores = sorted(os.sched_getaffinity(0))
    if len(cores) < 2:
        pytest.skip("one core cannot be shared out")
    process = started(["prove", str(line_up), "--out", str(tmp_path), "--jobs", "2"])
    until(lambda: bool(stamps(tmp_path)))
    shares = [child.cpu_affinity() for child in psutil.Process(process.pid).children()]
    assert sorted(core for share in shares for core in share) == cores
    process.communicate(timeout=120)


def test_art_that_changed_since_is_not_kept_for_what_it_was(tmp_path: Path) -> None:
    shot = small_shots.line_up(tmp_path / "shot")
    job = make_job(make_plan(read_shot(shot)), shot_file=shot)
    with (tmp_path / "shot" / "art" / "card_a.png").open("ab") as art:
        art.write(b"a byte more")
    store = Store(tmp_path / "work", job)
    with store.open() as making, pytest.raises(UnderglassError, match="changed after the proof began"):
        do_units(job, [Unit(PASSES, (1,), step=2)], store=store, making=making, jobs=1, hear=lambda event: None)
    assert not store.folder.exists()
