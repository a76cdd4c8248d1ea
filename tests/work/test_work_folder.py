# SPDX-License-Identifier: GPL-3.0-or-later
"""The work folder: what is whole is used again, what is not is done again, and nobody's work is harmed."""

import fcntl
import hashlib
import json
import os
import shutil
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass_headless.work.unit_results import (
    UnitError,
    depend_digest,
    members_of,
    parse_result,
    read_result,
    run_name,
)
from underglass_headless.work.units_of_work import FORMAT, Unit
from underglass_headless.work.work_folder import Store
from work.made_up import FRAME, LOOK, READING, RUN, job, put, seen_on

UNITS = (READING, RUN, FRAME, LOOK)


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """Return a work folder in which every unit is done."""
    store = Store(tmp_path / "work", job(tmp_path))
    for unit in UNITS:
        put(store.folder, unit)
    return store


def file_of(store: Store, unit: Unit) -> Path:
    """Return the file of a unit that is not its JSON."""
    return next(path for path in store.folder.glob(f"{unit.name}*") if path.suffix != ".json")


def test_what_is_whole_is_found_and_its_numbers_are_the_same_to_the_last_bit(store: Store) -> None:
    found = store.whole(UNITS)
    assert set(found) == set(UNITS)
    for unit in (FRAME, RUN):
        assert list(found[unit].measured) == list(unit.frames)
        for frame in unit.frames:
            read, made = found[unit].measured[frame], seen_on(frame)
            assert (read.lattice, read.hits) == (made.lattice, made.hits)
            assert read.fits[1] is None
            assert repr(read.fits[0]) == repr(made.fits[0])


def test_a_unit_that_nobody_did_is_missing(store: Store) -> None:
    assert store.whole([Unit("passes", (13,), step=2)]) == {}


@pytest.mark.parametrize("unit", [READING, LOOK])
def test_a_file_that_is_cut_short_changed_or_gone_is_done_again(store: Store, unit: Unit) -> None:
    path = file_of(store, unit)
    whole = path.read_bytes()
    for damage in (whole[:-1], whole[:-1] + b"?", b"", whole + b"0"):
        path.write_bytes(damage)
        assert set(store.whole(UNITS)) == set(UNITS) - {unit}
    path.unlink()
    assert set(store.whole(UNITS)) == set(UNITS) - {unit}


def test_a_json_that_is_cut_anywhere_is_no_result(store: Store) -> None:
    path = store.folder / FRAME.result_file
    text = path.read_bytes()
    for length in range(len(text) - 1):
        with pytest.raises(UnitError):
            parse_result(text[:length], FRAME)
    path.write_bytes(text[: len(text) // 2])
    assert set(store.whole(UNITS)) == {READING, RUN, LOOK}


def test_the_result_of_one_unit_does_not_pass_for_that_of_another(store: Store) -> None:
    other = Unit("passes", (13,), step=2)
    (store.folder / other.result_file).write_bytes((store.folder / FRAME.result_file).read_bytes())
    assert store.whole([other]) == {}


HOSTILE = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=9), inner, max_size=4),
)


@given(st.sampled_from(["format", "unit", "blender", "files", "rendered", "measured", "depends"]), HOSTILE)
def test_a_result_with_anything_in_it_is_read_or_refused(key: str, value: object) -> None:
    record = {
        "format": FORMAT,
        "unit": FRAME.words(),
        "blender": "5.0.1",
        "files": {},
        "rendered": False,
        "measured": [],
        "depends": {},
    }
    try:
        result = parse_result(json.dumps(record | {key: value}).encode(), FRAME)
    except UnitError:
        return
    assert result.unit == FRAME


@given(st.binary(max_size=200))
def test_bytes_that_are_no_result_are_refused_in_one_line(data: bytes) -> None:
    with pytest.raises(UnitError) as caught:
        parse_result(data, FRAME)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", ["../x.npz", "/etc/x.npz", "read.npz", f"{READING.name}-0123456789ab.py", "", "a\0b"])
def test_a_result_cannot_put_a_file_elsewhere(store: Store, name: str) -> None:
    record = json.loads((store.folder / READING.result_file).read_text())
    record["files"] = {name: [6, hashlib.sha256(b"pixels").hexdigest()]}
    with pytest.raises(UnitError, match="a name that it may not have"):
        store.take(READING, {READING.result_file: json.dumps(record).encode(), name: b"pixels"})


def test_what_came_over_a_network_is_taken_in_only_whole(store: Store, tmp_path: Path) -> None:
    made = {path.name: path.read_bytes() for path in store.folder.glob(f"{LOOK.name}*")}
    empty = Store(tmp_path / "other", job(tmp_path))
    assert empty.take(LOOK, made).files == store.whole([LOOK])[LOOK].files
    name = next(name for name in made if name.endswith(".exr"))
    for wrong in ({**made, name: b"other"}, {LOOK.result_file: made[LOOK.result_file]}, {name: made[name]}, {}):
        with pytest.raises(UnitError):
            Store(tmp_path / "third", job(tmp_path)).take(LOOK, wrong)
    with pytest.raises(UnitError, match="other files"):
        empty.take(LOOK, made | {"extra.exr": b""})


def test_a_library_of_the_scene_that_changed_makes_its_units_anew(tmp_path: Path) -> None:
    scene, library = tmp_path / "scene.blend", tmp_path / "lib" / "house.blend"
    library.parent.mkdir()
    library.write_bytes(b"first")
    depends = {"lib/house.blend": hashlib.sha256(b"first").hexdigest()}
    store = Store(tmp_path / "work", job(tmp_path, scene=scene))
    put(store.folder, READING, depends=depends)
    assert store.whole([READING])
    library.write_bytes(b"second")
    assert not store.whole([READING])
    library.unlink()
    assert not store.whole([READING])


@pytest.mark.parametrize(
    ("run", "members", "other"),
    [
        ("plate_0001.png", ("plate_0001.png", "plate_0002.png"), "plate_0003.png"),
        ("plate#7.png", ("plate#7.png",), "plate#8.png"),
        ("tile.<UDIM>.png", ("tile.1001.png", "tile.1002.png"), "tile.1011.png"),
        ("t_<UVTILE>_v2#.png", ("t_u1_v1_v2#.png",), "t_u2_v1_v2#.png"),
    ],
)
def test_a_picture_that_joins_a_numbered_run_makes_its_units_anew(
    tmp_path: Path, run: str, members: tuple[str, ...], other: str
) -> None:
    folder = tmp_path / "art"
    folder.mkdir()
    for name in (*members, "still.png", "plate.png", "tile.7.png", "plate_0001.jpg"):
        (folder / name).write_bytes(b"pixels")
    assert sorted(path.name for path in members_of(folder / run)) == sorted(members)
    store = Store(tmp_path / "work", job(tmp_path, scene=tmp_path / "scene.blend"))
    name = run_name(f"art/{run}")
    put(store.folder, READING, depends={name: depend_digest(tmp_path, name)})
    assert store.whole([READING])
    (folder / "still_2.png").write_bytes(b"pixels")
    assert store.whole([READING])
    (folder / other).write_bytes(b"pixels")
    assert not store.whole([READING])
    (folder / other).unlink()
    assert store.whole([READING])
    (folder / members[0]).unlink()
    assert not store.whole([READING])


def test_two_runs_that_do_one_unit_do_not_mix_their_files(tmp_path: Path) -> None:
    # Blender writes the time of day into a picture, so that no two are the same to the byte
    store = Store(tmp_path / "work", job(tmp_path))
    store.folder.mkdir(parents=True)
    first, second = tmp_path / "first", tmp_path / "second"
    put(first, LOOK, content=b"rendered at noon")
    put(second, LOOK, content=b"rendered at one")
    for name in [path.name for path in first.glob("*-*.*") if path.suffix != ".json"]:
        (first / name).replace(store.folder / name)
    store.move_in(LOOK, second)
    (first / LOOK.result_file).replace(store.folder / LOOK.result_file)
    result = read_result(store.folder, LOOK)
    assert result is not None
    assert (store.folder / next(iter(result.files))).read_bytes() == b"rendered at noon"


def test_older_jobs_are_swept_but_for_one_that_a_run_is_using(tmp_path: Path) -> None:
    place = tmp_path / "work"
    jobs = {name: Store(place, job(tmp_path, key=name)) for name in ("old", "busy", "new")}
    for store in jobs.values():
        with store.open():
            put(store.folder, FRAME)
    (place / "my notes").mkdir()
    with jobs["new"].open(), jobs["busy"].open():
        jobs["new"].sweep_others()
    assert {path.name for path in place.iterdir()} == {"busy", "new", "my notes"}
    assert jobs["new"].whole([FRAME])


def test_what_was_done_of_another_shot_in_the_same_folder_is_not_swept(tmp_path: Path) -> None:
    place = tmp_path / "work"
    share, other = Store(place, job(tmp_path / "a", key="share")), Store(place, job(tmp_path / "b", key="other"))
    with share.open():
        put(share.folder, FRAME)
    with other.open():
        put(other.folder, FRAME)
        other.sweep_others()
    assert share.whole([FRAME])


def test_a_shot_and_the_scenes_proved_against_it_keep_their_work_in_one_folder(tmp_path: Path) -> None:
    place = tmp_path / "work"
    scenes = [None, tmp_path / "a.blend", tmp_path / "b.blend"]
    stores = [Store(place, job(tmp_path, key=f"key{i}", scene=scene)) for i, scene in enumerate(scenes)]
    for _ in range(2):
        for store in stores:
            with store.open():
                put(store.folder, FRAME)
                store.sweep_others()
    assert all(store.whole([FRAME]) for store in stores)
    later = Store(place, job(tmp_path, key="later", scene=scenes[1]))
    with later.open():
        later.sweep_others()
    assert [bool(store.whole([FRAME])) for store in stores] == [True, False, True]


def left_in(place: Path, sizes: dict[str, int], of: dict[str, Path]) -> dict[str, Store]:
    """Leave the results of jobs in a work folder, of so many bytes, each older than the next; return their stores."""
    stores = {}
    for age, (key, size) in enumerate(reversed(sizes.items())):
        stores[key] = Store(place, job(of[key], key=key))
        with stores[key].open():
            put(stores[key].folder, LOOK, content=b"x" * (size // 2))
        os.utime(stores[key].folder / "job.json", (10_000 - age, 10_000 - age))
    return stores


def folders(place: Path) -> set[str]:
    return {path.name for path in place.iterdir()}


@pytest.mark.parametrize(
    ("limit", "left"),
    [
        (90_000, {"theirs", "old", "newer", "mine"}),
        (45_000, {"theirs", "newer", "mine"}),
        (35_000, {"theirs", "mine"}),
        (25_000, {"mine"}),
        (1, {"mine"}),
    ],
)
def test_a_limit_lets_the_oldest_of_other_states_go_first_and_never_the_own(
    limit: int, left: set[str], tmp_path: Path
) -> None:
    place, mine, theirs = tmp_path / "work", tmp_path / "a", tmp_path / "b"
    sizes = {"theirs": 20_000, "old": 20_000, "newer": 10_000, "mine": 10_000}
    stores = left_in(place, sizes, {"theirs": theirs, "old": mine, "newer": mine, "mine": mine})
    (place / "my notes").mkdir()
    (place / "my notes" / "film.mov").write_bytes(b"x" * 100_000)
    with stores["mine"].open():
        stores["mine"].keep_within(limit)
    assert folders(place) == left | {"my notes"}


def test_a_limit_does_not_touch_what_another_run_is_using(tmp_path: Path) -> None:
    place = tmp_path / "work"
    names = ("busy", "old", "mine")
    stores = left_in(place, dict.fromkeys(names, 10_000), dict.fromkeys(names, tmp_path))
    with stores["busy"].open(), stores["mine"].open():
        stores["mine"].keep_within(1)
    assert folders(place) == {"busy", "mine"}
    assert stores["busy"].whole([LOOK])


def test_a_run_that_comes_to_nothing_leaves_nothing(tmp_path: Path) -> None:
    store = Store(tmp_path / "work", job(tmp_path))
    with pytest.raises(KeyboardInterrupt), store.open():
        raise KeyboardInterrupt
    assert not (tmp_path / "work").exists()


def test_a_run_that_is_ended_half_way_leaves_what_it_did(tmp_path: Path) -> None:
    store = Store(tmp_path / "work", job(tmp_path))

    def run_that_is_ended() -> None:
        with store.open() as making:
            put(making / "worker", FRAME)
            store.move_in(FRAME, making / "worker")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run_that_is_ended()
    assert store.whole([FRAME])
    assert not list((tmp_path / "work").glob(".making*"))


def test_a_folder_that_was_swept_and_made_anew_before_it_was_locked_is_held_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, two = (Store(tmp_path / "work", job(tmp_path)) for _ in range(2))
    real, sweeps = fcntl.flock, [True]

    def late(lock: Any, how: int) -> None:
        if sweeps and sweeps.pop():
            shutil.rmtree(one.folder)
            one.folder.mkdir()
            (one.folder / "in-use").touch()
        real(lock, how)

    monkeypatch.setattr(fcntl, "flock", late)
    with one.open():
        put(one.folder, FRAME)
        with (two.folder / "in-use").open("ab") as lock, pytest.raises(BlockingIOError):
            real(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)


def test_whoever_sweeps_leaves_a_folder_that_was_made_anew_before_it_was_locked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old, new = Store(tmp_path / "work", job(tmp_path, key="old")), Store(tmp_path / "work", job(tmp_path, key="new"))
    with old.open():
        put(old.folder, FRAME)
    real = fcntl.flock

    def late(lock: Any, how: int) -> None:
        if how & fcntl.LOCK_EX:
            monkeypatch.setattr(fcntl, "flock", real)
            shutil.rmtree(old.folder)
            busy.enter_context(old.open())
            put(old.folder, FRAME)
        real(lock, how)

    with ExitStack() as busy, new.open():
        monkeypatch.setattr(fcntl, "flock", late)
        new.sweep_others()
        assert old.whole([FRAME])


def test_a_folder_in_use_is_not_removed_by_a_run_that_came_to_nothing(tmp_path: Path) -> None:
    one, two = (Store(tmp_path / "work", job(tmp_path)) for _ in range(2))
    with one.open():
        with two.open():
            pass
        put(one.folder, FRAME)
        assert one.whole([FRAME])
    with (one.folder / "in-use").open("ab") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
