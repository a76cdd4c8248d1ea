# SPDX-License-Identifier: GPL-3.0-or-later
"""The job template: valid by the specification's own model, run by its own runner, and a proof like any other."""

import contextlib
import json
import os
import shlex
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import psutil
import pytest
from hypothesis import given
from hypothesis import strategies as st

import small_shots
from engines.conftest import COMMAND, environment, timeless
from small_shots import Glass
from underglass.proof.choose_frames import parse_frames
from underglass_headless import cli
from underglass_headless.engines.openjd_parts import TemplateError, ranges, template_text
from underglass_headless.engines.openjd_proof import job_template
from underglass_headless.engines.task_needs import Measures

FRAMES = (1, 2, 3, 12, 25)


def template_of(folder: Path, **more: Any) -> dict[str, Any]:
    given = {"title": "Line-up", "shot": folder / "shot.toml", "folder": folder, "frames": FRAMES}
    return job_template(**given | {"measures": Measures((1828, 1332), 8)} | more)


def decoded(template: dict[str, Any]) -> Any:
    """Return the template as the specification's reference library reads it; it raises for one that is not valid."""
    from openjd.model import decode_job_template

    return decode_job_template(template=template, supported_extensions=["TASK_CHUNKING"])


def handed_in(template: Any, folder: Path, **values: str) -> Any:
    """Return the parameters of a job with ``values``, as a scheduler has them; it raises for one that may not be."""
    from openjd.model import preprocess_job_parameters

    return preprocess_job_parameters(
        job_template=template,
        job_parameter_values={"Shot": str(folder), **values},  # type: ignore[arg-type]
        job_template_dir=folder,
        current_working_dir=folder,
    )


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"pictures": False, "every_pixel": True, "samples": 16, "chunk": 1, "tolerance_px": 0.5},
        {"scene": Path("/elsewhere/a b.blend")},
        {"title": "{{Param.Shot}} \x1b[31m\n" + "x" * 300},
        {"title": "{{{{}}}} {{{}{}}}"},
        {"title": ""},
        {"depth_of_field": True, "tolerance_px": 1e-05},
        {"frames": tuple(range(1, 100_000, 7))},
        {"shot_below": "a" * 200 + "/" + "/".join(["b" * 200] * 6)},
    ],
)
def test_a_template_is_valid_by_the_reference_library(more: dict[str, Any], tmp_path: Path) -> None:
    # openjd-model, the reference library of the Open Job Description specification 2023-09
    if below := more.pop("shot_below", None):
        more["shot"] = tmp_path / below / "shot.toml"
    template = template_of(tmp_path, **more)
    model = decoded(template)
    assert [step.name for step in model.steps] == ["Render", "Judge"]
    assert len(template["name"]) <= 128
    assert "{{" not in template["name"]


def test_the_checker_of_the_command_line_passes_it(tmp_path: Path) -> None:
    file = tmp_path / "template.json"
    file.write_text(json.dumps(template_of(tmp_path)))
    checked = subprocess.run(
        [sys.executable, "-m", "openjd", "check", str(file), "--extensions", "TASK_CHUNKING"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert "passes validation checks" in checked.stdout, checked.stdout + checked.stderr


def test_only_files_below_the_template_are_defaults(tmp_path: Path) -> None:
    inside = template_of(tmp_path, shot=tmp_path / "shot" / "shot.toml")["parameterDefinitions"][0]
    outside = template_of(tmp_path / "job", shot=tmp_path / "shot.toml")["parameterDefinitions"][0]
    assert (inside["name"], inside["default"]) == ("Shot", "shot")
    assert "default" not in outside


def test_a_name_that_the_format_reads_as_its_own_is_refused(tmp_path: Path) -> None:
    with pytest.raises(TemplateError, match="which a job template reads as its own; rename it"):
        template_of(tmp_path, shot=tmp_path / "{{Param.X}}" / "shot.toml")


@given(st.sets(st.integers(0, 10_000), min_size=1, max_size=40))
def test_frames_are_spelled_as_ranges_that_mean_the_same_to_the_reference_library(frames: set[int]) -> None:
    from openjd.model import IntRangeExpr

    text = ranges(tuple(frames))
    assert set(IntRangeExpr.from_str(text)) == frames
    assert parse_frames(text) == tuple(sorted(frames))


@given(st.lists(st.tuples(st.integers(0, 50), st.integers(0, 40), st.integers(1, 7)), min_size=1, max_size=4))
def test_what_the_reference_library_spells_for_a_chunk_is_read(pieces: list[tuple[int, int, int]]) -> None:
    from openjd.model import IntRangeExpr

    wanted = sorted({frame for start, count, step in pieces for frame in range(start, start + count * step + 1, step)})
    text = str(IntRangeExpr.from_list(wanted))
    assert list(parse_frames(text)) == wanted


def test_more_frames_than_a_template_can_spell_are_refused(tmp_path: Path) -> None:
    squares = tuple(number * number for number in range(300))
    with pytest.raises(TemplateError, match=r"^300 test frames take \d+ characters to spell"):
        template_of(tmp_path, frames=squares)


def test_a_name_that_is_not_utf8_is_refused(tmp_path: Path) -> None:
    with pytest.raises(TemplateError, match="is not spelled in UTF-8"):
        template_of(tmp_path, shot=tmp_path / "caf\udce9" / "shot.toml")


def test_a_folder_whose_name_begins_with_dots_lies_below(tmp_path: Path) -> None:
    assert template_of(tmp_path, shot=tmp_path / "..shot" / "shot.toml")["parameterDefinitions"][0]["default"]


def test_the_tolerance_is_handed_on_to_the_last_digit(tmp_path: Path) -> None:
    definitions = template_of(tmp_path, tolerance_px=0.05123456789)["parameterDefinitions"]
    assert [one["default"] for one in definitions if one["name"] == "Tolerance"] == [0.05123456789]


@pytest.mark.parametrize("wrong", ["0", "-1", "fine", "Infinity", "1e400", "1e6", "2e6"])
def test_a_tolerance_that_is_none_is_refused_before_anything_is_rendered(wrong: str, tmp_path: Path) -> None:
    # openjd-model, as the farm's scheduler does when a job is handed in
    with pytest.raises(ValueError, match="Tolerance"):
        handed_in(decoded(template_of(tmp_path)), tmp_path, Tolerance=wrong)


@pytest.mark.parametrize("right", ["1e-7", "1e-12", "0.05", "999999"])
def test_a_scheduler_takes_every_tolerance_that_prove_takes(right: str, tmp_path: Path) -> None:
    template = json.loads(template_text(template_of(tmp_path)), parse_constant=pytest.fail)
    assert float(handed_in(decoded(template), tmp_path, Tolerance=right)["Tolerance"].value) == float(right)


def test_a_tolerance_finer_than_any_that_is_sensible_makes_a_valid_template_still(tmp_path: Path) -> None:
    values = handed_in(decoded(template_of(tmp_path, tolerance_px=1e-12)), tmp_path)
    assert float(values["Tolerance"].value) == 1e-12


def test_the_command_writes_a_template_and_says_how_to_run_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shot = small_shots.stack(tmp_path / "a shot; $x", [Glass("a", 900.0)])
    assert cli.run(["farm", str(shot), "-o", str(tmp_path / "job")]) == 0
    told = capsys.readouterr().out
    assert f"-p 'Shot={shot.parent.resolve()}'" in told
    decoded(json.loads((tmp_path / "job" / "template.json").read_text()))


@pytest.mark.parametrize("on_path", [True, False])
def test_what_is_said_to_try_names_the_command_for_a_runner_that_would_not_find_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *, on_path: bool
) -> None:
    place = tmp_path / "some programs"
    place.mkdir()
    for name in ("underglass", "python"):
        (place / name).write_text("#!/bin/sh\n")
        (place / name).chmod(0o755)
    monkeypatch.setenv("PATH", str(place) if on_path else "")
    if not on_path:
        # as in an environment that nobody activated: it lies beside its Python
        monkeypatch.setattr(sys, "executable", str(place / "python"))
    shot = small_shots.stack(tmp_path / "shot", [Glass("a", 900.0)])
    assert cli.run(["farm", str(shot), "-o", str(tmp_path / "job")]) == 0
    words = shlex.split(capsys.readouterr().out.splitlines()[-1].partition(": ")[2])
    assert f"Underglass={place / 'underglass'}" in [words[i + 1] for i, word in enumerate(words) if word == "-p"]


# -- run by openjd-cli's own runner ------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def command(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a program that is the command of the project, as a farm's machine has it installed."""
    file = tmp_path_factory.mktemp("bin") / "underglass"
    file.write_text(f'#!/bin/sh\nexec {" ".join(COMMAND)} "$@"\n')
    file.chmod(0o755)
    return file


def job(shot: Path, folder: Path, command: Path, *words: str, **parameters: object) -> list[str]:
    """Describe a job, and return the command that runs all of it."""
    assert cli.run(["farm", str(shot), "-o", str(folder), *words]) == 0
    said = {"Shot": shot.parent, "Results": folder / "proof", "Underglass": command} | parameters
    given = [word for name, value in said.items() for word in ("-p", f"{name}={value}")]
    run = [sys.executable, "-m", "openjd", "run", str(folder / "template.json"), *given]
    return [*run, "--step", "Judge", "--run-dependencies"]


def ran(words: list[str]) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(words, capture_output=True, text=True, check=False, env=environment(), timeout=240)


engines = [pytest.mark.engines, pytest.mark.bpy, pytest.mark.render]


class TestRun:
    pytestmark = engines

    def test_a_job_finds_what_prove_finds(
        self, line_up: Path, tmp_path: Path, command: Path, proof_of_one_process: dict[str, Any]
    ) -> None:
        # blanks, quotes and signs of a shell in every path
        place = tmp_path / 'it\'s a $(touch x); "shot" & more'
        shutil.copytree(line_up.parent, place / "shot")
        done = ran(job(place / "shot" / "shot.toml", place / "job", command, "--chunk", "5"))
        assert done.returncode == 0, done.stdout[-3000:]
        assert timeless(place / "job" / "proof") == proof_of_one_process
        assert "openjd_progress: 100.0" in done.stdout
        assert "kept from an earlier run" in done.stdout, "the judge renders nothing"

    def test_a_proof_that_fails_fails_the_job_and_says_why(self, tmp_path: Path, command: Path) -> None:
        text = '[[expect]]\nlevel = "a"\nsize = "holds"\n'
        shot = small_shots.stack(tmp_path / "shot", [Glass("a", 900.0), Glass("b", 100.0, width=300.0)])
        shot.write_text(shot.read_text() + text)
        (shot.parent / "schedule.csv").write_text("part,axis,first,last,from,to\na,height,1,3,900,880\n")
        if "schedule" not in shot.read_text():
            shot.write_text(shot.read_text().replace("fps = ", 'schedule = "schedule.csv"\nfps = ', 1))
        done = ran(job(shot, tmp_path / "job", command, "--no-pictures", "--frames", "1"))
        assert done.returncode != 0
        assert "openjd_fail: underglass: FAIL" in done.stdout, done.stdout[-3000:]

    def test_bad_input_fails_the_task_with_its_line(self, line_up: Path, tmp_path: Path, command: Path) -> None:
        words = job(line_up, tmp_path / "job", command, "--no-pictures", "--frames", "1", Frames="999")
        done = ran(words)
        assert done.returncode != 0
        assert "openjd_fail: --frames: frame 999 is not in the shot" in done.stdout, done.stdout[-3000:]

    def test_a_machine_with_another_state_of_the_shot_refuses_the_work(
        self, line_up: Path, tmp_path: Path, command: Path
    ) -> None:
        shutil.copytree(line_up.parent, tmp_path / "shot")
        words = job(tmp_path / "shot" / "shot.toml", tmp_path / "job", command, "--no-pictures", "--frames", "1")
        art = tmp_path / "shot" / "art" / "card_a.png"
        art.write_bytes(art.read_bytes() + b"\0")
        done = ran(words)
        assert done.returncode != 0
        assert "this is not the work of the job" in done.stdout
        assert not (tmp_path / "job" / "proof" / "proof.json").exists()

    def test_paths_are_mapped(self, line_up: Path, tmp_path: Path, command: Path) -> None:
        shutil.copytree(line_up.parent, tmp_path / "here")
        words = job(tmp_path / "here" / "shot.toml", tmp_path / "job", command, "--no-pictures", "--frames", "1")
        (tmp_path / "here").rename(tmp_path / "there")
        rule = {
            "source_path_format": "POSIX",
            "source_path": str(tmp_path / "here"),
            "destination_path": str(tmp_path / "there"),
        }
        rules = json.dumps({"version": "pathmapping-1.0", "path_mapping_rules": [rule]})
        done = ran([*words, "--path-mapping-rules", rules])
        assert done.returncode == 0, done.stdout[-3000:]
        assert (tmp_path / "job" / "proof" / "proof.json").is_file()

    @pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGKILL], ids=["cancelled", "runner killed"])
    def test_a_job_that_ends_early_leaves_no_blender_behind(
        self, line_up: Path, tmp_path: Path, command: Path, ending: signal.Signals
    ) -> None:
        # samples for minutes: what is gone soon did not just come to its end
        words = job(line_up, tmp_path / "job", command, "--frames", "1", "--samples", "4096", "--depth-of-field")
        runner = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=environment())
        work, limit = tmp_path / "job" / "proof" / "work", time.monotonic() + 90
        while not list(work.glob("*/passes-*.json")):
            assert time.monotonic() < limit
            time.sleep(0.05)
        ours = of_this_job(tmp_path)
        assert len(ours) >= 2, "the command, and the Blender that it started"
        runner.send_signal(ending)
        with contextlib.suppress(subprocess.TimeoutExpired):
            runner.wait(40)
        runner.kill()
        runner.wait()
        _, alive = psutil.wait_procs(ours, timeout=10)
        assert alive == []
        assert list(work.glob("*/picture-*.json")) == []
        assert list(work.glob(".making-*")) == []


def of_this_job(folder: Path) -> list[psutil.Process]:
    """Return the processes that work in ``folder``: the command, and the Blender that it started."""
    found = []
    for process in psutil.process_iter():
        with contextlib.suppress(psutil.Error):
            words = process.cmdline()
            if process.pid != os.getpid() and "underglass_headless" in " ".join(words) and str(folder) in str(words):
                found.append(process)
    return found
