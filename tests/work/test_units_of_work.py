# SPDX-License-Identifier: GPL-3.0-or-later
"""Units of work: what there is to do for a proof, and what makes its results serve again."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import small_shots
from small_shots import Glass
from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass_headless.engines.core_shares import core_shares
from underglass_headless.work.proof_job import make_job
from underglass_headless.work.units_of_work import (
    MOST_FRAMES_OF_A_SWEEP,
    PASSES,
    PICTURE,
    READ,
    SWEEP,
    Job,
    Unit,
    share_of,
    units_of,
)
from underglass_headless.work.versions_used import differing, makers
from work.made_up import job

UNITS = st.builds(
    Unit,
    kind=st.sampled_from([READ, SWEEP, PASSES, PICTURE]),
    frames=st.lists(st.integers(0, 10**6), min_size=1, max_size=5).map(tuple),
    step=st.integers(0, 4),
    samples=st.integers(0, 4096),
    depth_of_field=st.booleans(),
    width=st.sampled_from([0, 640]),
)


def test_a_proof_reads_the_scene_measures_every_frame_and_makes_the_pictures_that_are_asked_for() -> None:
    units = units_of((1, 48), span=(1, 60), step=2, pictures=(48,), samples=4, depth_of_field=True)
    assert [unit.kind for unit in units] == [READ, SWEEP, SWEEP, SWEEP, PASSES, PASSES, PICTURE]
    assert units[0].frames == (1, 48)
    assert units[-1].frames == (48,)
    bare = units_of((1, 48), span=(1, 60), step=2, pictures=(), samples=4, depth_of_field=True)
    assert bare == units[:-1]


@given(
    st.integers(-5, 50).flatmap(
        lambda first: st.tuples(
            st.just(first),
            st.integers(first, first + 200),
            st.lists(st.integers(first, first + 200), min_size=1, max_size=9, unique=True),
        )
    )
)
def test_every_frame_is_measured_once_and_belongs_to_one_test_frame(case: tuple[int, int, list[int]]) -> None:
    first, last, asked = case
    frames = tuple(sorted({min(frame, last) for frame in asked}))
    units = units_of(frames, span=(first, last), step=2, pictures=frames, samples=1, depth_of_field=False)
    seen = [frame for unit in units if unit.kind in {SWEEP, PASSES} for frame in unit.frames]
    assert sorted(seen) == list(range(first, last + 1))
    assert max(len(unit.frames) for unit in units[1:]) <= MOST_FRAMES_OF_A_SWEEP
    shares = [share_of(unit, frames) for unit in units]
    assert set(shares) == set(frames)
    assert all(share <= unit.frame or share == frames[0] for share, unit in zip(shares, units, strict=True))


@given(UNITS)
def test_a_unit_comes_back_from_its_words(unit: Unit) -> None:
    assert Unit.from_words(json.loads(json.dumps(unit.words()))) == unit


@given(UNITS)
def test_the_name_of_a_unit_is_a_plain_name_of_a_file(unit: Unit) -> None:
    assert unit.name.replace("-", "").isalnum()
    assert len(unit.name) < 80


def test_units_that_differ_in_anything_that_matters_have_other_names() -> None:
    units = [
        Unit(READ, (1, 2)),
        Unit(READ, (1, 3)),
        Unit(SWEEP, (1, 2)),
        Unit(SWEEP, (1, 3)),
        Unit(PASSES, (1,), step=2),
        Unit(PASSES, (1,), step=1),
        Unit(PASSES, (2,), step=2),
        Unit(PICTURE, (1,), samples=1),
        Unit(PICTURE, (1,), samples=2),
        Unit(PICTURE, (1,), samples=2, width=640),
        Unit(PICTURE, (1,), samples=1, depth_of_field=True),
    ]
    assert len({unit.name for unit in units}) == len(units)


@pytest.mark.parametrize(
    "words",
    [
        {},
        {"kind": "dance", "frames": [1], "step": 1, "samples": 1, "depth_of_field": False},
        {"kind": "read", "frames": [], "step": 1, "samples": 1, "depth_of_field": False},
        {"kind": "read", "frames": "x", "step": 1, "samples": 1, "depth_of_field": False},
        {"kind": "read", "frames": 1, "step": 1, "samples": 1, "depth_of_field": False},
        [],
    ],
)
def test_words_that_are_no_unit_are_refused(words: object) -> None:
    with pytest.raises(ValueError, match="no unit of work"):
        Unit.from_words(words)  # type: ignore[arg-type]


def test_a_job_comes_back_from_its_words(tmp_path: Path) -> None:
    for one in (job(tmp_path), replace(job(tmp_path), scene=tmp_path / "a b.blend", threads=3)):
        assert Job.from_words(json.loads(json.dumps(one.words()))) == one


def made(folder: Path) -> Job:
    shot_file = folder / "shot.toml"
    return make_job(make_plan(read_shot(shot_file)), shot_file=shot_file)


def test_the_key_of_a_job_is_the_same_in_another_place_and_with_other_threads(tmp_path: Path) -> None:
    shot_file = small_shots.stack(tmp_path / "here", [Glass("a", 900.0)])
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "here").rename(tmp_path / "elsewhere" / "shot")
    moved = made(tmp_path / "elsewhere" / "shot")
    small_shots.stack(tmp_path / "here", [Glass("a", 900.0)])
    assert made(tmp_path / "here").key == moved.key
    assert shot_file.is_file()


def test_the_key_of_a_job_changes_with_a_byte_of_the_art(tmp_path: Path) -> None:
    small_shots.stack(tmp_path, [Glass("a", 900.0)])
    before = made(tmp_path).key
    art = next(tmp_path.rglob("*.png"))
    # after the last chunk of a PNG anything may lie: the picture is the same, the bytes are not
    art.write_bytes(art.read_bytes() + b"\0")
    assert made(tmp_path).key != before


def test_the_key_of_a_job_changes_with_the_shot_and_with_a_scene(tmp_path: Path) -> None:
    shot_file = small_shots.stack(tmp_path, [Glass("a", 900.0)])
    plan, scene = make_plan(read_shot(shot_file)), tmp_path / "x.blend"
    scene.write_bytes(b"BLENDER one")
    built, given_scene = make_job(plan, shot_file=shot_file), make_job(plan, shot_file=shot_file, scene=scene)
    scene.write_bytes(b"BLENDER two")
    edited = make_job(plan, shot_file=shot_file, scene=scene)
    other = small_shots.stack(tmp_path / "other", [Glass("a", 901.0)])
    moved = make_job(make_plan(read_shot(other)), shot_file=other)
    assert len({built.key, given_scene.key, edited.key, moved.key}) == 4


def test_another_make_of_blender_is_told() -> None:
    assert differing(makers()) == ""
    there = tuple((name, "0.1" if name == "Blender" else version) for name, version in makers())
    assert differing(there) == f"Blender {dict(makers())['Blender']} where the job was made with 0.1"


def test_processes_share_the_cores_and_none_goes_without(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("os.sched_getaffinity", lambda _: {0, 1, 2, 5}, raising=False)
    assert core_shares(2) == [(0, 2), (1, 5)]
    assert core_shares(3) == [(0, 5), (1,), (2,)]
    assert core_shares(6) == [(0,), (1,), (2,), (5,), (0,), (1,)]
