# SPDX-License-Identifier: GPL-3.0-or-later
"""A shot appears in a folder with all of its files or with none, and nothing that lies there is touched."""

from pathlib import Path

import pytest

from underglass.shot import ShotError
from underglass.shot.files.new_folder import appearing

FILES = {"shot.toml": "a shot", "schedule.csv": "moves", "art/fog.png": "fog", "art/deep/sky.png": "sky"}


def files_in(folder):
    return {str(path.relative_to(folder)): path.read_text() for path in folder.rglob("*") if path.is_file()}


def make(folder, files=None, **said):
    with appearing(folder, **said) as making:
        for name, text in (files or FILES).items():
            (making / name).parent.mkdir(parents=True, exist_ok=True)
            (making / name).write_text(text)


def test_all_files_appear_in_a_folder_that_is_made_for_them(tmp_path):
    make(tmp_path / "deep" / "shot")
    assert files_in(tmp_path / "deep" / "shot") == FILES
    assert {path.name for path in (tmp_path / "deep" / "shot").iterdir()} == {"shot.toml", "schedule.csv", "art"}


@pytest.mark.parametrize("beside_others", [True, False])
def test_a_folder_with_a_shot_is_left_alone(tmp_path, beside_others):
    (tmp_path / "shot.toml").write_text("mine")
    with pytest.raises(ShotError, match="has a shot already; choose a new or an empty folder"):
        make(tmp_path, beside_others=beside_others)
    assert files_in(tmp_path) == {"shot.toml": "mine"}


def test_other_files_are_in_the_way_unless_the_shot_may_lie_beside_them(tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(ShotError, match=r"is not empty \('notes.txt' lies in it\)"):
        make(tmp_path)
    make(tmp_path, beside_others=True)
    assert files_in(tmp_path) == {**FILES, "notes.txt": "mine"}


@pytest.mark.parametrize("taken", [name for name in FILES if name != "shot.toml"])
def test_a_file_of_the_same_name_is_named_and_nothing_else_appears(tmp_path, taken):
    (tmp_path / taken).parent.mkdir(parents=True, exist_ok=True)
    (tmp_path / taken).write_text("mine")
    with pytest.raises(ShotError, match=f"{Path(taken).name}: is there already"):
        make(tmp_path, beside_others=True)
    assert files_in(tmp_path) == {taken: "mine"}


def test_a_folder_where_a_file_would_be_is_in_the_way_too(tmp_path):
    (tmp_path / "schedule.csv").mkdir()
    with pytest.raises(ShotError, match=r"schedule\.csv: is there already"):
        make(tmp_path, beside_others=True)
    assert [path.name for path in tmp_path.iterdir()] == ["schedule.csv"]


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_where_making_it_fails_nothing_is_left_not_even_the_folder(tmp_path, error):
    def make_half():
        with appearing(tmp_path / "deep" / "shot") as making:
            (making / "shot.toml").write_text("half")
            raise error

    with pytest.raises((ShotError, KeyboardInterrupt)):
        make_half()
    assert list(tmp_path.iterdir()) == []


def test_where_a_file_cannot_be_put_in_its_place_those_before_it_go_again(tmp_path, monkeypatch):
    put = Path.replace

    def full(path, target):
        if Path(target).name == "shot.toml":
            raise OSError(28, "No space left on device")
        return put(path, target)

    (tmp_path / "notes.txt").write_text("mine")
    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(ShotError, match=r"cannot be written \(No space left on device\)"):
        make(tmp_path, beside_others=True)
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]
