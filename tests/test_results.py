# SPDX-License-Identifier: GPL-3.0-or-later
"""Results appear whole or not at all."""

import errno
import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from underglass.shot import UnderglassError
from underglass_headless import results
from underglass_headless.results import ResultError, work_folder, write_bytes, write_text

UNREADABLE = OSError(errno.EIO, os.strerror(errno.EIO))
DISK_FULL = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_a_result_appears_with_its_folder_and_nothing_else(tmp_path):
    target = tmp_path / "proof" / "proof.json"
    write_text(target, "{}\n")
    assert [path.name for path in target.parent.iterdir()] == ["proof.json"]
    assert target.read_bytes() == b"{}\n"


def test_a_new_result_takes_the_place_of_the_earlier_one(tmp_path):
    target = tmp_path / "plan.csv"
    write_text(target, "old")
    write_bytes(target, "neu · Ближние".encode())
    assert target.read_text(encoding="utf-8") == "neu · Ближние"


@pytest.mark.parametrize("broken", ["fsync", "replace"])
def test_on_a_full_disk_the_earlier_result_stays_whole_and_one_line_says_why(tmp_path, monkeypatch, broken):
    target = tmp_path / "proof.json"
    write_text(target, "earlier")

    def full(*_):
        raise DISK_FULL

    if broken == "fsync":
        monkeypatch.setattr(os, "fsync", full)
    else:
        monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(ResultError) as caught:
        write_text(target, "later")
    text = str(caught.value)
    assert isinstance(caught.value, UnderglassError)
    assert str(target) in text
    assert os.strerror(errno.ENOSPC) in text
    assert "\n" not in text
    assert target.read_text() == "earlier"
    assert list(tmp_path.iterdir()) == [target]


def test_an_interrupted_write_leaves_no_temporary_file(tmp_path, monkeypatch):
    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_text(tmp_path / "proof.json", "later")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["folder", "file/below", "n" * 300, "nul\0"])
def test_a_place_that_cannot_be_written_is_named(tmp_path, name):
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").touch()
    with pytest.raises(ResultError, match="cannot be written"):
        write_text(tmp_path / name, "text")


def test_a_result_that_a_killed_run_half_wrote_is_swept_by_the_next(tmp_path):
    import subprocess
    import sys

    script = "import os, sys; from pathlib import Path; from underglass_headless import results\n"
    script += "os.fsync = lambda _: os.kill(os.getpid(), 9)\nresults.write_text(Path(sys.argv[1]), 'later')"
    target = tmp_path / "plan.csv"
    write_text(target, "earlier")
    paths = os.pathsep.join(path for path in sys.path if path)
    killed = subprocess.run([sys.executable, "-c", script, target], env=os.environ | {"PYTHONPATH": paths}, check=False)
    assert killed.returncode == -9
    assert target.read_text() == "earlier"
    assert len(list(tmp_path.iterdir())) == 2
    write_text(target, "later")
    assert list(tmp_path.iterdir()) == [target]


def test_a_long_name_leaves_room_for_the_temporary_one(tmp_path):
    target = tmp_path / ("ж" * 120 + ".csv")
    write_text(target, "text")
    assert target.read_text() == "text"


def test_a_link_is_followed(tmp_path):
    target, link = tmp_path / "real.json", tmp_path / "link.json"
    link.symlink_to(target)
    write_text(link, "through")
    assert link.is_symlink()
    assert target.read_text() == "through"


def test_half_a_character_in_json_comes_back_as_it_was(tmp_path):
    import json

    write_text(tmp_path / "a.json", json.dumps("caf\udce9 Ж", ensure_ascii=False))
    assert json.loads((tmp_path / "a.json").read_text(encoding="utf-8")) == "caf\udce9 Ж"


def test_what_killed_runs_left_is_swept_and_what_live_ones_make_stays(tmp_path):
    import subprocess
    import sys

    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    ours = results.making_name()
    dead = ours.replace(f"-{os.getpid()}-", f"-{gone.pid}-")
    (tmp_path / f"{dead}abc").mkdir()
    (tmp_path / f"{dead}abc" / "job.json").touch()
    (tmp_path / f"{dead}def.blend").touch()
    kept = [f"{ours}abc", ".making-another-1-abc", ".making-notes"]
    for name in kept:
        (tmp_path / name).mkdir()
    with results.work_folder(tmp_path) as folder:
        assert sorted(path.name for path in tmp_path.iterdir()) == sorted([*kept, folder.name])
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(kept)


@pytest.mark.parametrize("unlike", ["/proc/self/ns/pid", "/proc/sys/kernel/random/boot_id", ""])
def test_what_a_container_of_the_same_host_name_makes_stays(unlike, tmp_path, monkeypatch):
    # its processes have numbers of their own, so that none of them seems alive here
    real_stat, real_read = Path.stat, Path.read_bytes

    def another_space(path, **more):
        if str(path) == unlike:
            raise FileNotFoundError
        return real_stat(path, **more)

    def another_boot(path):
        return b"another" if str(path) == unlike else real_read(path)

    gone = results.making_name().replace(f"-{os.getpid()}-", "-99999999-")
    with monkeypatch.context() as there:
        there.setattr(Path, "stat", another_space)
        there.setattr(Path, "read_bytes", another_boot)
        results._machine.cache_clear()
        theirs = results.making_name().replace(f"-{os.getpid()}-", "-99999999-")
    results._machine.cache_clear()
    assert (theirs != gone) == bool(unlike)
    (tmp_path / f"{theirs}abc").mkdir()
    with results.work_folder(tmp_path):
        assert (tmp_path / f"{theirs}abc").is_dir() == bool(unlike)


def test_an_error_of_the_work_is_not_taken_for_one_of_the_folder(tmp_path):
    with pytest.raises(OSError, match="Input") as caught, results.work_folder(tmp_path):
        raise UNREADABLE
    assert not isinstance(caught.value, UnderglassError)


@pytest.fixture
def earlier(tmp_path):
    """Return a folder with the results of an earlier run."""
    out = tmp_path / "out"
    (out / "pictures").mkdir(parents=True)
    (out / "pictures" / "0001.png").write_text("earlier")
    for name in ("index.html", "proof.json"):
        (out / name).write_text("earlier")
    return out


def publish_later(out: Path) -> None:
    with results.work_folder(out) as making:
        made = making / "pictures"
        made.mkdir()
        (made / "0002.png").write_text("later")
        texts = {out / name: "later" for name in ("index.html", "proof.json")}
        results.publish(texts, made=made, placed=out / "pictures", making=making)


def contents(out: Path) -> dict[str, str]:
    return {str(path.relative_to(out)): path.read_text() for path in out.rglob("*") if path.is_file()}


def test_results_are_published_together(earlier):
    publish_later(earlier)
    assert contents(earlier) == {"pictures/0002.png": "later", "index.html": "later", "proof.json": "later"}


@pytest.mark.parametrize("written", [0, 1])
def test_a_disk_that_fills_up_on_the_way_leaves_every_earlier_result(earlier, monkeypatch, written):
    before, done, fsync = contents(earlier), [], os.fsync

    def full(file):
        done.append(file)
        if len(done) > written:
            raise DISK_FULL
        fsync(file)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ResultError, match="No space"):
        publish_later(earlier)
    assert contents(earlier) == before


def test_a_report_that_cannot_take_its_place_gives_the_pictures_theirs_back(earlier, monkeypatch):
    before, replace = contents(earlier), Path.replace

    def stuck(path, target):
        if path.suffix == ".part":
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        return replace(path, target)

    monkeypatch.setattr(Path, "replace", stuck)
    with pytest.raises(ResultError, match=r"index\.html"):
        publish_later(earlier)
    assert contents(earlier) == before


def test_runs_that_end_together_in_one_folder_all_succeed(tmp_path):
    def end(name):
        for turn in range(60):
            with results.work_folder(tmp_path / "out") as making:
                made = making / "pictures"
                made.mkdir()
                (made / f"{name} {turn}.png").write_text(name)
                texts = {tmp_path / "out" / "proof.json": name}
                results.publish(texts, made=made, placed=tmp_path / "out" / "pictures", making=making)

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(end, "abcd"))
    assert (tmp_path / "out" / "proof.json").read_text() in set("abcd")
    assert len(list((tmp_path / "out" / "pictures").iterdir())) == 1


def test_a_disk_that_is_full_inside_names_the_folder_and_leaves_none(tmp_path):
    place = tmp_path / "made" / "for it"
    with pytest.raises(ResultError) as caught, work_folder(place):
        # an open file that is written to does not say which it is
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    assert str(caught.value).startswith(f"{place}: cannot be written: {os.strerror(errno.ENOSPC)}; ")
    assert list(tmp_path.iterdir()) == []


def test_folders_made_for_a_result_that_cannot_be_written_go_again(tmp_path, monkeypatch):
    (tmp_path / "kept").mkdir()

    def full(*_):
        raise DISK_FULL

    monkeypatch.setattr(os, "fsync", full)
    for place in (tmp_path / "made" / "for it", tmp_path / "kept"):
        with pytest.raises(ResultError):
            write_text(place / "proof.json", "{}")
    assert [path.name for path in tmp_path.iterdir()] == ["kept"]
