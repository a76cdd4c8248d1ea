# SPDX-License-Identifier: GPL-3.0-or-later
"""What a window hears of a proof that runs beside it."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from report import synthetic
from underglass.proof import proof_beside_window
from underglass.proof.proof_beside_window import Failed, Finished, Job, Progress, Row
from underglass.proof.proof_facts import FAIL, PASS, Proof
from underglass.proof.proof_json import proof_json


def said_of(proof: Proof, folder: Path) -> Finished:
    """Return what is heard of ``proof`` once it lies in ``folder``."""
    (folder / proof_beside_window.PROOF).write_text(proof_json(proof), encoding="utf-8")
    (folder / proof_beside_window.SUMMARY).write_text("It passes.\nBy a hair.\n", encoding="utf-8")
    said = proof_beside_window.poll(folder)
    assert isinstance(said, Finished)
    return said


def test_before_blender_speaks_it_is_starting(tmp_path: Path) -> None:
    assert proof_beside_window.poll(tmp_path) == Progress("starting Blender", 0, 0)


def test_progress_is_handed_on(tmp_path: Path) -> None:
    (tmp_path / proof_beside_window.PROGRESS).write_text('{"what": "reading the scene", "done": 3, "of": 48}')
    assert proof_beside_window.poll(tmp_path) == Progress("reading the scene", 3, 48)


@pytest.mark.parametrize("text", ["", '{"what": "rea', "[]", "\udc80"])
def test_a_file_that_cannot_be_read_yet_is_waited_for(text: str, tmp_path: Path) -> None:
    for name in (proof_beside_window.PROGRESS, proof_beside_window.PROOF, proof_beside_window.FAILED):
        (tmp_path / name).write_text(text, encoding="utf-8", errors="surrogateescape")
    assert isinstance(proof_beside_window.poll(tmp_path), Progress)


def test_a_failure_is_handed_on_and_outlives_progress(tmp_path: Path) -> None:
    (tmp_path / proof_beside_window.PROGRESS).write_text('{"what": "reading the scene", "done": 3, "of": 48}')
    (tmp_path / proof_beside_window.FAILED).write_text(
        json.dumps({"message": "shot.toml:3: height: is missing; add it"})
    )
    assert proof_beside_window.poll(tmp_path) == Failed("shot.toml:3: height: is missing; add it")


def test_a_proof_is_heard_in_words_and_a_row_a_level(tmp_path: Path) -> None:
    proof = synthetic.passing()
    said = said_of(proof, tmp_path)
    assert (said.verdict, said.lines) == (PASS, ("It passes.", "By a hair."))
    assert said.proof_file == tmp_path / proof_beside_window.PROOF
    assert said.pictures == {frame: tmp_path / path for frame, path in proof.pictures.items()}
    assert [row.level for row in said.rows] == list(proof.plan.names)
    for row in said.rows:
        own = [m for m in proof.measurements if m.level == row.level and m.error_px is not None]
        worst = max(own, key=lambda m: m.error_px or 0.0)
        assert row == Row(row.level, worst.error_px, worst.uncertainty_px, worst.frame, PASS)


def test_a_level_that_is_out_or_gone_fails_and_no_other(tmp_path: Path) -> None:
    proof = synthetic.failing()
    out, gone = proof.plan.names[1], proof.plan.names[2]
    assert {row.level for row in said_of(proof, tmp_path).rows if row.verdict == FAIL} == {out, gone}


def test_a_level_that_strays_on_a_frame_that_was_not_rendered_fails(tmp_path: Path) -> None:
    errors = np.full((48, 5), 0.001)
    errors[29, 1] = 4.25
    errors[40:, 2] = np.nan
    proof = replace(synthetic.passing(), verdict=FAIL, scene_error_px=errors)
    assert [row.verdict for row in said_of(proof, tmp_path).rows] == [PASS, FAIL, FAIL, PASS, PASS]


def test_a_level_that_is_never_seen_has_no_numbers(tmp_path: Path) -> None:
    said = said_of(replace(synthetic.passing(), measurements=()), tmp_path)
    assert {(row.error_px, row.uncertainty_px, row.frame, row.verdict) for row in said.rows} == {
        (None, None, None, PASS)
    }


def test_a_job_is_written_with_whole_paths_in_the_place_of_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    said_of(synthetic.failing(), tmp_path)
    (tmp_path / proof_beside_window.FAILED).write_text("{}")
    job_file = proof_beside_window.write_job(
        Job(Path("shot.toml"), frames="1-3"), blend_copy=Path("a.blend"), folder=Path()
    )
    job = json.loads(job_file.read_text())
    assert (job["shot"], job["copy"]) == (str(tmp_path / "shot.toml"), str(tmp_path / "a.blend"))
    assert (job["frames"], job["scene"], job["pictures"]) == ("1-3", "", True)
    assert [path.name for path in tmp_path.iterdir()] == [proof_beside_window.JOB]


@pytest.mark.parametrize(
    ("status", "words"),
    [
        (7, "Blender ended with status 7"),
        (-9, "Blender was ended by signal 9: memory may be short (the limit here is 1.5 GiB)"),
        (-11, "Blender was ended by signal 11: memory may be short (the limit here is 1.5 GiB)"),
        (-15, "Blender was ended by signal 15"),
    ],
)
def test_a_signal_that_a_lack_of_memory_sends_is_told_as_such(status: int, words: str) -> None:
    # signal(7): SIGKILL 9, SIGSEGV 11, SIGTERM 15
    assert proof_beside_window.how_blender_ended(status, limit_bytes=3 * 2**29) == words
    assert proof_beside_window.how_blender_ended(status) == words.partition(" (")[0]
    assert proof_beside_window.how_blender_ended(status, words="Saved: a.exr").endswith(": Saved: a.exr")
