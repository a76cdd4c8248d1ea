# SPDX-License-Identifier: GPL-3.0-or-later
"""Saving over a shot's own files: only what was read is amended, and whatever goes wrong, nothing is lost."""

import errno
import os
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from underglass.shot import Expectation, Level, Move, Shot, ShotError
from underglass.shot.files import read_shot
from underglass.shot.files import save as room
from underglass.shot.files.save import save_amended
from underglass.shot.files.stamp import stamp, texts_of

INCH = 0.0254


def bytes_in(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder, hidden ones too."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def saved(folder: Path, change: Callable[[Shot], Shot]) -> tuple[Path, ...]:
    old = read_shot(folder)
    return save_amended(old, change(old), expected=stamp(folder / "shot.toml"))


def panned(shot: Shot) -> Shot:
    """Return the shot with a longer pan and another title: two files change."""
    first, *others = shot.schedule
    moves = (replace(first, end=-3.25 * INCH), *others)
    later = tuple(
        replace(move, start=-3.25 * INCH) if (move.axis, move.first) == ("east", 24) else move for move in moves
    )
    return replace(shot, title="Second take", schedule=later)


def test_the_files_that_change_are_saved_and_named(lay_out):
    folder = lay_out()
    new = panned(read_shot(folder))
    assert saved(folder, panned) == (folder / "schedule.csv", folder / "shot.toml")
    assert read_shot(folder) == new
    assert not [name for name in bytes_in(folder) if name.startswith(".")]


def test_nothing_is_written_where_nothing_has_changed(lay_out):
    folder = lay_out()
    before = (folder / "shot.toml").stat().st_ino
    assert saved(folder, lambda shot: shot) == ()
    assert (folder / "shot.toml").stat().st_ino == before


@pytest.mark.parametrize("file", ["shot.toml", "schedule.csv", "drawings.csv"])
def test_a_file_that_somebody_changed_meanwhile_is_not_written_over(lay_out, file):
    folder = lay_out()
    old = read_shot(folder)
    expected = stamp(folder / "shot.toml")
    (folder / file).write_text((folder / file).read_text() + "\n# mine\n")
    before = bytes_in(folder)
    with pytest.raises(ShotError, match="changed on disk since it was read; reload it, or save the shot elsewhere"):
        save_amended(old, panned(old), expected=expected)
    assert bytes_in(folder) == before


@pytest.mark.parametrize("failing", range(6))
def test_a_folder_that_cannot_be_written_keeps_its_files(lay_out, monkeypatch, failing):
    """The disk refuses at the copies that are kept, at the new texts, or at their renames."""
    folder = lay_out()
    before = bytes_in(folder)
    calls = []

    def refusing(function):
        def call(*args):
            calls.append(function)
            if len(calls) - 1 == failing:
                raise OSError(errno.EROFS, "Read-only file system")
            return function(*args)

        return call

    for name in ("fsync", "replace"):
        monkeypatch.setattr(os, name, refusing(getattr(os, name)))
    with pytest.raises(ShotError, match=r"cannot be written \(Read-only file system\)"):
        saved(folder, panned)
    assert bytes_in(folder) == before


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="this user may write everywhere")
def test_a_folder_without_leave_to_write_is_told(lay_out):
    folder = lay_out()
    before = bytes_in(folder)
    folder.chmod(0o500)
    try:
        with pytest.raises(ShotError, match="cannot be written"):
            saved(folder, panned)
    finally:
        folder.chmod(0o700)
    assert bytes_in(folder) == before


def missing_art(shot: Shot) -> Shot:
    *near, far = shot.levels
    return replace(shot, levels=(*near, Level("mist", "art/mist.png", INCH, 4 * INCH, (10, 10)), far))


def other_size(shot: Shot) -> Shot:
    first, *others = shot.levels
    return replace(shot, levels=(replace(first, art_px=(1, 1)), *others))


def jumping(shot: Shot) -> Shot:
    return replace(shot, schedule=(Move("reeds", "east", 1, 12, INCH, 0.0),))


def expecting_nobody(shot: Shot) -> Shot:
    return replace(shot, expectations=(Expectation("nobody", holds=True),))


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (missing_art, "there is no file"),
        (other_size, "would not read back as it is: levels differ"),
        (jumping, "a jump"),
        (expecting_nobody, "'nobody'"),
    ],
)
def test_a_shot_that_would_not_read_back_is_put_back_as_it_was(lay_out, change, told):
    folder = lay_out()
    before = bytes_in(folder)
    with pytest.raises(ShotError, match=told) as caught:
        saved(folder, change)
    assert "\n" not in str(caught.value)
    assert bytes_in(folder) == before


def test_a_file_that_was_made_goes_again_where_the_shot_does_not_read_back(lay_out, texts):
    folder = lay_out(shot=texts["shot"].replace('schedule = "schedule.csv"\n', ""))
    (folder / "schedule.csv").unlink()
    before = bytes_in(folder)
    with pytest.raises(ShotError, match="a jump"):
        saved(folder, jumping)
    assert bytes_in(folder) == before


def test_a_sheet_that_lies_there_but_is_not_the_shots_is_left_alone(lay_out, texts):
    folder = lay_out(shot=texts["shot"].replace('schedule = "schedule.csv"\n', ""))
    before = bytes_in(folder)
    with pytest.raises(ShotError, match="is in the way: the shot does not name it"):
        saved(folder, lambda shot: replace(shot, schedule=(Move("reeds", "east", 1, 12, 0.0, INCH),)))
    assert bytes_in(folder) == before


def test_an_error_of_our_own_in_the_middle_loses_nothing(lay_out, monkeypatch):
    folder = lay_out()
    before = bytes_in(folder)

    def broken(path: Path) -> Shot:
        raise RuntimeError("broken")

    monkeypatch.setattr(room, "read_shot", broken)
    with pytest.raises(RuntimeError):
        saved(folder, panned)
    assert bytes_in(folder) == before


def test_a_shot_file_of_another_name_is_amended_under_it(lay_out):
    folder = lay_out()
    (folder / "shot.toml").rename(folder / "take 2.toml")
    old = read_shot(folder / "take 2.toml")
    new = replace(old, title="Second take")
    assert save_amended(old, new, expected=stamp(folder / "take 2.toml")) == (folder / "take 2.toml",)
    assert read_shot(folder / "take 2.toml") == new


# -- the stamp ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "file", ["shot.toml", "schedule.csv", "drawings.csv", "art/reeds.png", "cels/heron_b.png", "art/hills.png"]
)
def test_a_stamp_changes_with_every_file_of_the_shot_and_back(lay_out, file):
    folder = lay_out()
    path, kept = folder / file, folder.parent / "kept"
    whole = stamp(folder / "shot.toml")
    assert stamp(folder / "shot.toml") == whole
    path.rename(kept)
    missing = stamp(folder / "shot.toml")
    path.write_bytes(kept.read_bytes() + b"\n")
    longer = stamp(folder / "shot.toml")
    assert len({whole, missing, longer}) == 3
    path.unlink()
    shutil.move(kept, path)
    assert stamp(folder / "shot.toml") == whole


def test_art_painted_anew_changes_the_stamp(lay_out):
    folder = lay_out()
    whole = stamp(folder / "shot.toml")
    os.utime(folder / "art" / "reeds.png", (1, 1))
    assert stamp(folder / "shot.toml") != whole


def test_a_file_that_the_shot_does_not_name_leaves_the_stamp_alone(lay_out):
    folder = lay_out()
    whole = stamp(folder / "shot.toml")
    (folder / "cels" / "heron_z.png").touch()
    (folder / "notes.txt").touch()
    assert stamp(folder / "shot.toml") == whole


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff\xfe",
        b"[[[",
        b'schedule = "\\u0000"\n',
        b'schedule = "."\ndrawings = 3\nlevel = 1\n',
        b'drawings = "shot.toml"\nlevel = [{ art = "a_{drawing}" }, 1]\n',
        b'level = [{ name = "reeds", art = "\\u0000" }]\n',
        b"a = " + b"[" * 5_000,
        b"a = " + b"9" * 5_000,
    ],
)
def test_any_file_has_a_stamp(tmp_path, data):
    missing = stamp(tmp_path / "shot.toml")
    (tmp_path / "shot.toml").write_bytes(data)
    assert stamp(tmp_path / "shot.toml") != missing


def test_texts_keep_their_marks_and_line_ends(lay_out, texts):
    schedule = "\ufeff" + texts["schedule"].replace("\n", "\r\n")
    folder = lay_out(schedule=schedule)
    assert texts_of(read_shot(folder)) == {
        folder / "shot.toml": texts["shot"],
        folder / "schedule.csv": schedule,
        folder / "drawings.csv": texts["drawings"],
    }
