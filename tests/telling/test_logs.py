# SPDX-License-Identifier: GPL-3.0-or-later
"""What a run says to a log, a farm, GitHub or another program: lines that each can read, whatever things are called."""

import io
import json
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engines.conftest import environment
from report import synthetic
from underglass.proof.proof_facts import BLOCK, Proof
from underglass.shot import UnderglassError
from underglass_headless import cli
from underglass_headless.proving import prove_command
from underglass_headless.report.schemas import events_schema, proof_schema
from underglass_headless.telling import annotations, logs
from underglass_headless.telling.logs import Log, Voice
from underglass_headless.work.units_of_work import Unit

OUT = Path("out") / "proof"


def quiet(log: Log = Log.PLAIN, *, as_json: bool = False) -> Voice:
    return Voice(lambda text: None, as_json, log)


def titled(title: str) -> Proof:
    proof = synthetic.failing()
    return replace(proof, plan=replace(proof.plan, shot=replace(proof.plan.shot, title=title)))


def test_the_line_for_a_log_says_pass_where_and_how_near_the_limit() -> None:
    line = logs.log_line(synthetic.passing(), results=OUT)
    assert line.startswith('underglass: PASS "Estuary at first light": 5 levels, 7 of 48 frames measured, worst ')
    assert line.endswith(" px allowed, 12 s; out/proof/proof.json") or re.search(
        r", \d+ s; out/proof/proof\.json$", line
    )


def test_the_line_for_a_log_says_fail_and_the_gravest_fault() -> None:
    line = logs.log_line(synthetic.failing(), results=OUT)
    assert line.startswith('underglass: FAIL "Estuary at first light": reeds is 0.25 in too high from frame 20 to 48')
    assert "and 1 more fault" in line


@given(st.text())
def test_the_line_for_a_log_is_one_line_without_anything_that_steers(title: str) -> None:
    line = logs.log_line(titled(title), results=OUT)
    assert len(line.splitlines()) == 1
    assert not re.search("[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", line)


def test_a_plain_log_has_no_colour_no_control_characters_and_the_line_at_its_end(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with logs.told_progress(quiet()) as tell:
        tell("measuring every frame", 0, 9)
        tell("measuring every frame", 9, 9)
    logs.tell_end(synthetic.failing(), results=OUT, voice=quiet())
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.splitlines()[-1].startswith("underglass: FAIL")
    assert not re.search("[\x00-\x09\x0b-\x1f]", told.err)


def test_events_are_a_line_of_json_each_and_the_last_holds_the_proof(capsys: pytest.CaptureFixture[str]) -> None:
    with logs.told_progress(quiet(as_json=True)) as tell:
        tell("rendering pictures", 1, 2)
    told = logs.unit_told(quiet(as_json=True))
    for unit in (Unit("read", (1, 2)), Unit("sweep", (1, 2)), Unit("passes", (3,), step=2), Unit("picture", (12,))):
        told(unit, False)
    logs.tell_end(synthetic.failing(), results=OUT, voice=quiet(as_json=True))
    events = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    for event in events:
        jsonschema.validate(event, events_schema())
    assert [event["event"] for event in events] == ["progress", *["unit"] * 4, *["fault"] * 3, "proof"]
    jsonschema.validate(events[-1]["proof"], proof_schema())
    assert events[-1]["verdict"] == "fail"


@given(st.text())
def test_an_event_is_one_line_of_plain_letters_whatever_a_shot_is_called(title: str) -> None:
    for event in logs.end_events(titled(title), results=OUT):
        line = logs._one_line(event)
        assert line.isascii()
        assert len(line.splitlines()) == 1
        assert json.loads(line)["event"] in {"fault", "proof"}


def test_a_farm_hears_of_progress_that_never_goes_back_and_of_the_end(capsys: pytest.CaptureFixture[str]) -> None:
    # "How Jobs Are Run", Open Job Description: openjd_progress, openjd_status and openjd_fail on standard output
    with logs.told_progress(quiet(Log.OPENJD)) as tell:
        for what in ("reading the scene", "rendering pictures", "measuring every frame", "rendering pictures"):
            tell(what, 1, 2)
            tell(what, 2, 2)
    logs.tell_end(synthetic.failing(), results=OUT, voice=quiet(Log.OPENJD))
    lines = capsys.readouterr().out.splitlines()
    assert all(re.match(r"openjd_(progress|status|fail): ", line) for line in lines)
    percents = [float(line.split()[1]) for line in lines if line.startswith("openjd_progress")]
    assert percents == sorted(percents)
    assert (percents[0] >= 0, percents[-1]) == (True, 100.0)
    assert lines[-1].startswith('openjd_fail: underglass: FAIL "Estuary at first light"')


def test_a_farm_is_not_flooded_and_hears_the_first_and_the_last_of_every_stage(
    capsys: pytest.CaptureFixture[str],
) -> None:
    now = [0.0]
    lines = logs._OpenJobLines(clock=lambda: now[0])
    for done in range(146):
        lines.tell("reading the scene", done, 145)
        lines.tell("reading the scene", done, 145)
        now[0] += 2.0**-12
    told = capsys.readouterr().out.splitlines()
    assert told == [
        "openjd_progress: 0.0",
        "openjd_status: reading the scene: 0 of 145",
        "openjd_progress: 5.0",
        "openjd_status: reading the scene: 145 of 145",
    ]
    for done in range(11):
        lines.tell("rendering pictures", done, 100)
        lines.tell("rendering pictures", done - 5, 100)
        now[0] += 0.5
    status = [line for line in capsys.readouterr().out.splitlines() if "status" in line]
    assert status == [f"openjd_status: rendering pictures: {done} of 100" for done in (0, 2, 4, 6, 8, 10)]


def test_a_farm_hears_why_a_task_failed_in_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    def fail() -> None:
        with logs.told_failure(quiet(Log.OPENJD)):
            raise UnderglassError("shot.toml:3: fps: is\nnone")

    with pytest.raises(UnderglassError):
        fail()
    assert capsys.readouterr().out == "openjd_fail: shot.toml:3: fps: is none\n"


def test_a_program_hears_why_a_run_came_to_nothing_as_an_event(capsys: pytest.CaptureFixture[str]) -> None:
    def fail() -> None:
        with logs.told_failure(quiet(as_json=True)):
            raise UnderglassError("shot.toml:3: fps: is\nnone")

    with pytest.raises(UnderglassError):
        fail()
    event = json.loads(capsys.readouterr().out)
    jsonschema.validate(event, events_schema())
    assert (event["event"], event["message"]) == ("failed", "shot.toml:3: fps: is none")


def test_a_share_of_the_work_ends_as_an_event_too(capsys: pytest.CaptureFixture[str]) -> None:
    logs.tell_share(done=2, kept=1, work=Path("a\nb"), voice=Voice(print, as_json=True))
    event = json.loads(capsys.readouterr().out)
    jsonschema.validate(event, events_schema())
    assert event == {"format": 1, "event": "share", "done": 2, "kept": 1, "work": "a\nb"}


def test_standard_output_is_for_a_farm_or_for_a_program(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["prove", str(tmp_path / "shot.toml"), "--json", "--log", "openjd"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "--json cannot be used with --log openjd" in told.err


def test_github_gets_an_annotation_for_each_fault(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    # GitHub's documentation, "Workflow commands for GitHub Actions": ::error title={title}::{message}
    monkeypatch.setenv("GITHUB_ACTIONS", "true")
    logs.tell_end(titled("50 %: one, two"), results=OUT, voice=quiet())
    told = [line for line in capsys.readouterr().err.splitlines() if line.startswith("::")]
    assert told[0].startswith("::error title=50 %25%3A one%2C two%3A height-offset::reeds is 0.25 in too high")
    assert [line.split()[0] for line in told] == ["::error", "::error", "::notice"]


@pytest.mark.parametrize("proof", [synthetic.failing(), synthetic.passing()], ids=["fails", "passes"])
def test_the_last_line_of_a_log_is_the_verdict_on_github_too(
    proof: Proof, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("GITHUB_ACTIONS", "true")
    logs.tell_end(proof, results=OUT, voice=quiet())
    lines = capsys.readouterr().err.splitlines()
    assert lines[-1] == logs.log_line(proof, results=OUT)
    assert any(line.startswith("::") for line in lines)


@given(st.text())
def test_nothing_that_a_shot_is_called_ends_an_annotation_or_begins_another(title: str) -> None:
    for line in annotations.annotations(titled(title)):
        assert len(line.splitlines()) == 1
        assert re.fullmatch(r"::(error|notice) title=[^:,]*::.*", line)


@given(st.text() | st.sampled_from(["::error::x", "  ::stop-commands::x", "##[error]x", "a##[add-mask]b"]))
def test_no_line_of_a_log_is_a_command_to_github(title: str) -> None:
    # actions/runner takes "::name" at the beginning of a line, blanks aside, and the older "##[name]" anywhere in it
    line = annotations.no_command(title)
    assert not line.strip().startswith("::")
    assert "##[" not in line


def test_what_a_shot_is_called_is_no_command_to_github(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("GITHUB_ACTIONS", "true")
    logs.tell_end(titled("##[add-mask]e"), results=OUT, voice=Voice(cli._say))
    told = capsys.readouterr()
    lines = (told.out + told.err).splitlines()
    assert [line for line in lines if "##[" in line and not line.startswith("::")] == []


def test_github_hears_why_a_run_came_to_nothing(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("GITHUB_ACTIONS", "true")

    def fail() -> None:
        with logs.told_failure(quiet()):
            raise UnderglassError("shot.toml:3: 50% is\nnone")

    with pytest.raises(UnderglassError):
        fail()
    assert capsys.readouterr().err == "::error title=underglass::shot.toml:3: 50%25 is none\n"


@pytest.mark.parametrize("here", ["", "true"], ids=["elsewhere", "on GitHub"])
@pytest.mark.parametrize("proof", [synthetic.failing(), synthetic.passing()], ids=["fails", "passes"])
def test_annotations_stand_beside_the_junit_file_and_not_in_its_place(
    here: str, proof: Proof, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("GITHUB_ACTIONS", here)

    def make(shot_file: Path, folder: Path, tell: object) -> tuple[Proof, Path]:
        (folder / "pictures").mkdir()
        return proof, folder / "pictures"

    prove_command.make_and_write(
        tmp_path / "shot.toml", make=make, out=tmp_path / "out", default="proof", voice=quiet()
    )
    noted = [line for line in capsys.readouterr().err.splitlines() if line.startswith("::")]
    assert bool(noted) == bool(here)
    # what any other host reads is whole, with a failure for each fault that fails the proof
    cases = ElementTree.parse(tmp_path / "out" / "junit.xml").iter("testcase")
    failures = [case.find("failure") for case in cases if case.get("classname") == "shot"]
    told = [failure.get("message") for failure in failures if failure is not None]
    assert told == [fault.message for fault in proof.faults if fault.severity == BLOCK]
    if here:
        errors = [line.rpartition("::")[2] for line in noted if line.startswith("::error")]
        assert errors == [message.replace("%", "%25") for message in told if message]


class _Gone(io.StringIO):
    """A stream whose reader is gone."""

    def write(self, text: str) -> int:
        raise BrokenPipeError


def test_a_reader_who_leaves_before_the_verdict_interrupts_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", _Gone())
    voice = quiet(as_json=True)

    def run() -> None:
        with logs.told_failure(voice), logs.told_progress(voice) as tell:
            tell("rendering pictures", 1, 2)

    with pytest.raises(KeyboardInterrupt):
        run()


def test_a_reader_who_leaves_after_the_verdict_changes_nothing(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdout", _Gone())
    logs.tell_end(synthetic.failing(), results=OUT, voice=Voice(print, log=Log.OPENJD))
    assert capsys.readouterr().err.startswith("underglass: FAIL")


def test_work_ends_as_by_a_signal_once_nobody_reads_what_it_says() -> None:
    told = (
        "import signal, sys, time\n"
        "from underglass_headless.telling.still_heard import ended_unheard\n"
        "signal.signal(signal.SIGTERM, lambda *_: sys.exit(130))\n"
        "with ended_unheard():\n"
        "    print('begun', flush=True)\n"
        "    time.sleep(60)\n"
    )
    process = subprocess.Popen([sys.executable, "-c", told], stdout=subprocess.PIPE, env=environment())
    assert process.stdout is not None
    assert process.stdout.readline() == b"begun\n"
    process.stdout.close()
    assert process.wait(20) == 130
