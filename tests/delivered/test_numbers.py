# SPDX-License-Identifier: GPL-3.0-or-later
"""Which number of a file's name is the frame's, and how files are numbered against the shot."""

import json
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from delivered.conftest import MAKING
from delivered.made_frames import write_frames
from delivered.other_programs import respell
from delivered.test_file_faults import blocks, file_of
from underglass.plan import Plan
from underglass.proof.proof_facts import PASS, Proof
from underglass_headless import cli
from underglass_headless.delivered.files.find_frames import find_sequences, the_one
from underglass_headless.delivered.files.frame_numbers import numbers_in
from underglass_headless.delivered.number_offset import fitting_offset


def lay(folder: Path, names: list[str]) -> None:
    for name in names:
        (folder / name).write_bytes(b"")


@pytest.mark.parametrize(
    ("names", "named"),
    [
        (["a.0001.v2.exr", "a.0002.v2.exr"], "a.#.v2.exr 1-2"),
        (["a.0001.v2.exr"], "a.#.v2.exr 1"),
        (["a.0007.left.v12.exr", "a.0008.left.v12.exr"], "a.#.left.v12.exr 7-8"),
        (["a.0001.20261130.exr", "a.0002.20261130.exr"], "a.#.20261130.exr 1-2"),
        (["a_0001_v2.exr", "a_0002_v2.exr", "a_0004_v2.exr"], "a_#_v2.exr 1-2,4"),
        (["a.0001_left.exr", "a.0002_left.exr"], "a.#_left.exr 1-2"),
        (["beauty0001L.exr", "beauty0002L.exr"], "beauty#L.exr 1-2"),
        (["s010_0001_1080.exr", "s010_0002_1080.exr"], "s010_#_1080.exr 1-2"),
        (["s01-0012.exr", "s01-0013.exr"], "s01-#.exr 12-13"),
        (["beauty.-0002.exr", "beauty.-0001.exr"], "beauty.@@@@@.exr -2 to -1"),
        (["v2.exr", "v3.exr"], "v@.exr 2-3"),
        (["a.9.v2.exr", "a.10.v2.exr", "a.0011.v2.exr"], "a.@.v2.exr 9-11"),
        (["a.1001.0001.exr", "a.1001.0002.exr"], "a.1001.#.exr 1-2"),
        (["x.0001.V2.EXR", "x.0002.v2.exr"], "x.#.V2.EXR 1-2"),
        (["a\\b.0001.exr", "a\\b.0002.exr"], "a\\b.#.exr 1-2"),
        (["a-0.exr", "a-1.exr"], "a-@.exr 0-1"),
    ],
)
def test_the_number_that_runs_is_the_frame(names: list[str], named: str, tmp_path: Path) -> None:
    lay(tmp_path, names)
    assert the_one(find_sequences(tmp_path), place=tmp_path).named == named


@pytest.mark.parametrize(
    ("names", "named"),
    [
        # The first frame of two sequences: neither is a frame of the other.
        (["shot1.0001.exr", "shot2.0001.exr"], ["shot1.#.exr 1", "shot2.#.exr 1"]),
        (["s010.0001.exr", "s020.0001.exr"], ["s010.#.exr 1", "s020.#.exr 1"]),
        (["a.0001.v1.exr", "a.0002.v1.exr", "a.0001.v2.exr"], ["a.#.v1.exr 1-2", "a.#.v2.exr 1"]),
        (["s1_0001.exr", "s1_0002.exr", "s2_0001.exr", "s2_0002.exr"], ["s1_#.exr 1-2", "s2_#.exr 1-2"]),
        # Sizes are no frames: nothing runs on.
        (["plate_2k_left.exr", "plate_4k_left.exr", "a.0001.exr"], ["a.#.exr 1"]),
    ],
)
def test_other_numbers_are_not_taken_for_frames(names: list[str], named: list[str], tmp_path: Path) -> None:
    lay(tmp_path, names)
    assert [one.named for one in find_sequences(tmp_path)] == named


def test_doubles_keep_their_place_with_a_version_after_the_number(tmp_path: Path) -> None:
    lay(tmp_path, ["a.0012.v2.exr", "a.12.v2.exr", "a.0013.v2.exr"])
    (one,) = find_sequences(tmp_path)
    assert [(frame, path.name) for frame, path in one.files] == [
        (12, "a.0012.v2.exr"),
        (12, "a.12.v2.exr"),
        (13, "a.0013.v2.exr"),
    ]


@pytest.mark.parametrize(
    ("pattern", "found"),
    [
        ("a.####.v2.exr", "a.#.v2.exr 1"),
        ("a.@.v1.exr", "a.#.v1.exr 1-2"),
        ("a.%04d.v2", "a.#.v2.exr 1"),
        ("b#.####.exr", "b#.#.exr 5"),
        ("c.####", "c.#.exr 1"),
    ],
)
def test_a_pattern_names_the_sequence_with_its_beginning_and_its_end(pattern: str, found: str, tmp_path: Path) -> None:
    lay(tmp_path, ["a.0001.v1.exr", "a.0002.v1.exr", "a.0001.v2.exr", "b#.0005.exr", "c.0001.exr"])
    assert the_one(find_sequences(tmp_path / pattern), place=tmp_path).named == found


def test_a_folder_is_a_frame_only_beside_frames(tmp_path: Path) -> None:
    (tmp_path / "old.0001.exr").mkdir()
    (tmp_path / "beauty.0002.exr").mkdir()
    lay(tmp_path, ["beauty.0001.exr"])
    assert [one.named for one in find_sequences(tmp_path)] == ["beauty.#.exr 1-2"]


@given(st.lists(st.binary(min_size=1, max_size=12), max_size=8, unique=True))
def test_any_names_are_taken_apart_and_put_together_again(names: list[bytes]) -> None:
    spelled = [os.fsdecode(name) + ".exr" for name in names]
    for name, number in numbers_in(spelled).items():
        assert name.startswith(number.stem)
        assert name.endswith(number.tail)
        between = name[len(number.stem) : len(name) - len(number.tail)]
        assert int(between) == number.frame


def renumber(delivery: Path, by: int) -> None:
    for path in sorted(delivery.iterdir(), reverse=by > 0):
        path.rename(file_of(delivery, int(path.name.split(".")[1]) + by))


@pytest.mark.parametrize("by", [1000, 1, -1])
def test_a_delivery_that_was_renumbered_is_judged_by_its_offset(
    by: int, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    renumber(delivery, by)
    proof = proof_of(delivery, offset=by)
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert proof.rendered_frames == tuple(range(1, 13))
    assert proof.source is not None
    named = {1000: "1001-1012 (the frames of the shot +1000)", 1: "2-13 (the frames of the shot +1)"}
    assert proof.source.files == f"beauty.#.exr {named.get(by, '0-11 (the frames of the shot -1)')}"


@pytest.mark.parametrize("by", [1000, 1])
def test_a_scene_that_was_itself_moved_in_time_agrees_with_its_file_names(
    by: int, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    for path in delivery.iterdir():
        respell(path, lambda name: name, Frame=f"{int(path.name.split('.')[1]) + by:04d}")
    renumber(delivery, by)
    assert proof_of(delivery, offset=by).faults == ()
    # One of them that is a frame off is so, although the shot's own number would be right.
    respell(file_of(delivery, 5 + by), lambda name: name, Frame="0005")
    proof = proof_of(delivery, offset=by)
    assert blocks(proof) == [("frame-number", (5, 5))]
    assert proof.faults[0].message == (f"frame 5 says that it was rendered as frame {5 - by} (5 in the metadata)")


def test_renumbered_files_that_changed_places_are_found(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    renumber(delivery, 1)
    file_of(delivery, 5).rename(delivery / "kept")
    file_of(delivery, 6).rename(file_of(delivery, 5))
    (delivery / "kept").rename(file_of(delivery, 6))
    proof = proof_of(delivery, offset=1)
    assert blocks(proof) == [("frame-number", (4, 4)), ("frame-number", (5, 5))]
    assert proof.faults[0].message == "frame 4 says that it was rendered as frame 5"


def test_missing_frames_and_those_beyond_are_named_as_the_shot_counts(
    delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    renumber(delivery, 1000)
    file_of(delivery, 1003).rename(file_of(delivery, 1013))
    proof = proof_of(delivery, offset=1000)
    assert [fault.message for fault in proof.faults] == [
        "frame 3 is missing",
        "frame 13 (1013 in the files' names) is there too, beyond what the shot has; not read",
    ]


def test_numbers_that_do_not_meet_the_shot_are_told_with_the_offset_that_fits(
    shot: Path, delivery: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    renumber(delivery, 1000)
    words = ["prove", str(shot), "--frames-from", str(delivery), "--out", str(tmp_path / "proof"), "--no-pictures"]
    assert cli.run(words) == 2
    said = capsys.readouterr().err.strip()
    assert said.endswith(
        "has frames 1001-1012 and none of 1-12, which the shot has; name the folder of this shot's frames, or if these"
        " are the ones, give --offset 1000 (frame 1 is numbered 1001)"
    )
    assert "\n" not in said
    assert cli.run([*words, "--offset", "1000"]) == 0
    record = json.loads((tmp_path / "proof/proof.json").read_text(encoding="utf-8"))
    assert record["rendered_frames"] == list(range(1, 13))
    assert cli.run([*words, "--offset", "-1000"]) == 2
    assert "none of 1-12 with --offset -1000, which the shot has" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("numbers", "offset"),
    [
        ((1001, 1012), 1000),
        # Two are missing at the beginning; some were rendered before and after.
        ((1003, 1012), 1000),
        ((993, 1020), 1000),
        ((101, 112), 100),
        ((501, 502), 500),
        ((37, 48), 36),
        ((-11, 0), -12),
    ],
)
def test_of_several_offsets_that_fit_the_roundest_is_told(numbers: tuple[int, int], offset: int) -> None:
    assert fitting_offset(numbers, (1, 12)) == offset


@pytest.mark.parametrize("value", ["1e3", "a", "1.5", "1" * 12])
def test_an_offset_that_is_none_is_refused_in_one_line(
    value: str, shot: Path, clean: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["prove", str(shot), "--frames-from", str(clean), "--offset", value]) == 2
    assert f"{value} is not an offset; give a whole number, such as 1000" in capsys.readouterr().err


def test_an_offset_goes_with_delivered_frames_alone(shot: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["prove", str(shot), "--offset", "1000"]) == 2
    assert "--offset needs --frames-from" in capsys.readouterr().err


def test_of_two_sequences_only_headers_are_read_to_find_the_one_with_passes(
    plan: Plan, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    bare = replace(MAKING, passes=False)
    one, two = write_frames(plan, delivery, frames=[1, 2], making=bare, name="a.{frame:04d}.exr")
    # The first is no EXR at all, and of the second only the header is there.
    one.write_bytes(b"")
    two.write_bytes(two.read_bytes()[:2000])
    assert proof_of(delivery).faults == ()
