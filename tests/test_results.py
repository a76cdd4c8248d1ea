"""Results appear whole or not at all."""

import errno
import os
from pathlib import Path

import pytest

from underglass.shot import UnderglassError
from underglass_headless.results import ResultError, write_bytes, write_text

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
