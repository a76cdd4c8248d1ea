# SPDX-License-Identifier: GPL-3.0-or-later
"""The command: what it prints and writes, its exit status, and one line for whatever is pointed at by mistake."""

import csv
import json
import shutil
from pathlib import Path

import pytest

from delivered.conftest import MAKING, judged
from delivered.made_frames import cut_short, write_frames
from underglass.plan import Plan
from underglass.proof.proof_facts import Proof
from underglass_headless import cli
from underglass_headless.delivered.files.find_frames import DeliveryError, find_sequences, the_one
from underglass_headless.report.schemas import proof_schema


def prove(shot: Path, place: Path, out: Path, *more: str) -> int:
    return cli.run(["prove", str(shot), "--frames-from", str(place), "--out", str(out), *more])


def test_clean_frames_leave_a_whole_set_of_results(
    shot: Path, clean: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import jsonschema

    before = {path.name: path.read_bytes() for path in clean.iterdir()}
    assert prove(shot, clean, tmp_path / "proof") == 0
    said = capsys.readouterr()
    assert said.out.startswith("“Stack” passes: all 4 levels are where planned on 12 delivered frames, by their proof")
    assert "Judged by: proof passes of beauty.#.exr 1-12" in said.out
    assert "cannot show what opaque paint" in said.out
    assert "looking at the frames: 12 of 12" in said.err
    record = json.loads((tmp_path / "proof/proof.json").read_text(encoding="utf-8"))
    jsonschema.validate(record, proof_schema())
    assert record["source"]["kind"] == "proof passes"
    assert record["engine"] == "CYCLES"
    assert record["blender"] == "5.0.1"
    # frames of 240 × 180 px, read by this very process
    assert 50 < record["peak_memory_mb"] < 20_000
    assert record["units"] is None
    assert {name for name in record["pictures"].values() if (tmp_path / "proof" / name).is_file()}
    with (tmp_path / "proof/measurements.csv").open(encoding="utf-8") as file:
        assert len(list(csv.DictReader(file))) == 48
    page = (tmp_path / "proof/index.html").read_text(encoding="utf-8")
    assert "What this was judged by" in page
    assert "checked in the scene" not in page
    # What was delivered is only read.
    assert {path.name: path.read_bytes() for path in clean.iterdir()} == before


def test_proofs_of_a_scene_and_of_frames_do_not_take_each_others_place(
    shot: Path, clean: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from underglass_headless.proving import prove_command

    mine = tmp_path / "shot"
    shutil.copytree(shot.parent, mine, ignore=shutil.ignore_patterns("proof*"))
    assert cli.run(["prove", str(mine), "--frames-from", str(clean), "--no-pictures"]) == 0
    assert {path.name for path in mine.iterdir() if path.name.startswith("proof")} == {"proof-of-frames"}
    before = (mine / "proof-of-frames/proof.json").read_bytes()
    by_frames = json.loads(before)
    assert by_frames["source"]["kind"] == "proof passes"

    def prove(shot_file: Path, **how: object) -> Proof:
        return judged(shot_file, clean, frames=(1,))

    # What is rendered is not the matter here, but where it is put.
    monkeypatch.setattr(prove_command, "prove", prove)
    assert cli.run(["prove", str(mine), "--no-pictures"]) == 0
    assert (mine / "proof/proof.json").is_file()
    assert (mine / "proof-of-frames/proof.json").read_bytes() == before


def test_a_fault_makes_the_status_1(
    shot: Path, delivery: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import jsonschema

    cut_short(delivery / "beauty.0005.exr")
    assert prove(shot, delivery, tmp_path / "proof", "--json") == 1
    said = capsys.readouterr()
    events = [json.loads(line) for line in said.out.splitlines()]
    assert events[-1]["event"] == "proof"
    record = events[-1]["proof"]
    jsonschema.validate(record, proof_schema())
    assert [fault["code"] for fault in record["faults"]] == ["frame-cut-short"]
    assert record["faults"][0]["frames"] == [5, 5]


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("nowhere", "is not there; name the folder that the frames lie in"),
        ("empty", "holds no EXR frames with a number"),
        ("stills", "holds .png files but no EXR frames with a number"),
        ("beauty.0001.exr", "is a file; name the folder that the frames lie in"),
        ("other", "has frames 501-502 and none of 1-12, which the shot has"),
        ("two", "holds 2 sequences: a.#.exr 1-2, b.#.exr 1-2; name one, such as"),
    ],
)
def test_what_is_pointed_at_by_mistake_is_one_line(
    place: str, words: str, shot: Path, plan: Plan, clean: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("empty", "stills", "other", "two"):
        (tmp_path / name).mkdir()
    (tmp_path / "stills/beauty.0001.png").write_bytes(b"png")
    shutil.copy(clean / "beauty.0001.exr", tmp_path)
    write_frames(plan, tmp_path / "two", frames=[1, 2], making=MAKING, name="a.{frame:04d}.exr")
    write_frames(plan, tmp_path / "two", frames=[1, 2], making=MAKING, name="b.{frame:04d}.exr")
    for frame in (501, 502):
        shutil.copy(clean / "beauty.0001.exr", tmp_path / f"other/beauty.{frame:04d}.exr")
    assert prove(shot, tmp_path / place, tmp_path / "proof") == 2
    said = capsys.readouterr().err.strip()
    assert words in said
    assert "\n" not in said
    assert not (tmp_path / "proof").exists()


def test_of_several_sequences_one_can_be_named(shot: Path, clean: Path, tmp_path: Path) -> None:
    both = tmp_path / "both"
    shutil.copytree(clean, both)
    for path in clean.iterdir():
        shutil.copy(path, both / path.name.replace("beauty", "mask"))
    assert prove(shot, both, tmp_path / "proof") == 2
    assert prove(shot, both / "beauty.####.exr", tmp_path / "proof", "--no-pictures") == 0
    assert prove(shot, both / "mask.%04d.exr", tmp_path / "proof", "--no-pictures") == 0


@pytest.mark.parametrize(
    "option",
    ["--scene=a.blend", "--samples=4", "--depth-of-field", "--every-pixel", "--jobs=2", "--work=w", "--keep=1GB"],
)
def test_what_only_goes_with_rendering_is_refused(
    option: str, shot: Path, clean: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert prove(shot, clean, tmp_path / "proof", option) == 2
    assert "cannot be used with --frames-from: nothing is rendered" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("names", "named"),
    [
        (["shot_0012.exr", "shot_0013.exr"], "shot_#.exr 12-13"),
        (["s01-0012.exr", "s01-0014.exr"], "s01-#.exr 12,14"),
        (["0001.exr", "0002.exr", "10.exr"], "@.exr 1-2,10"),
        (["a.1.0005.exr", "final.exr"], "a.1.#.exr 5"),
        (["beauty.-0002.exr", "beauty.0000.exr"], "beauty.@.exr -2,0"),
        (["x.0001.EXR"], "x.#.EXR 1"),
        ([".x.0002.exr", "x.0001.exr", "x.0003.exr.part"], "x.#.exr 1"),
    ],
)
def test_sequences_are_told_by_their_numbers(names: list[str], named: str, tmp_path: Path) -> None:
    for name in names:
        (tmp_path / name).write_bytes(b"")
    assert the_one(find_sequences(tmp_path), place=tmp_path).named == named


def test_a_folder_that_may_not_be_read_is_said_to_be_so(tmp_path: Path) -> None:
    with pytest.raises(DeliveryError, match="is not there"):
        find_sequences(tmp_path / "gone")
