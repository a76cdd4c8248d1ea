# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the files of a shot may lie, and what is said where they cannot be read."""

import os
import sys
from pathlib import Path

import pytest

from underglass.shot import Place, ShotError
from underglass.shot.files import read_shot
from underglass.shot.files_on_disk import MOST_TEXT_BYTES, inside

SAID = Place(Path("shot.toml"), 7, "level.reeds.art")


@pytest.mark.parametrize(
    ("relative", "problem", "remedy"),
    [
        ("", "is ''", "name a file"),
        ("   ", "is '   '", "name a file"),
        ("a\0b.png", "is 'a\\x00b.png'", "name a file"),
        ("/etc/passwd", "an absolute path", "relative to the shot's folder"),
        ("C:/art/reeds.png", "an absolute path", "relative to the shot's folder"),
        ("art\\reeds.png", "backslashes", "forward slashes"),
        ("../reeds.png", "leaves the shot's folder", "in the shot's folder"),
        ("art/../../reeds.png", "leaves the shot's folder", "in the shot's folder"),
        ("art/../reeds.png", "leaves the shot's folder", "in the shot's folder"),
        ("link.png", "leaves the shot's folder", "in the shot's folder"),
        ("away/reeds.png", "leaves the shot's folder", "in the shot's folder"),
        ("loop", "cannot be followed", "the file itself"),
    ],
)
def test_a_path_that_leads_out_of_the_shot_is_refused(tmp_path, relative, problem, remedy):
    folder = tmp_path / "shot"
    folder.mkdir()
    (tmp_path / "reeds.png").touch()
    (folder / "link.png").symlink_to(tmp_path / "reeds.png")
    (folder / "away").symlink_to(tmp_path)
    (folder / "loop").symlink_to(folder / "loop")
    if relative == "loop" and sys.version_info >= (3, 13):
        pytest.skip("from Python 3.13 on a loop of links is only found when the file is opened")
    with pytest.raises(ShotError) as caught:
        inside(folder, relative=relative, said=SAID)
    assert (problem in caught.value.problem, remedy in caught.value.remedy) == (True, True), str(caught.value)
    assert caught.value.place == SAID


def test_a_loop_of_links_is_an_error_on_every_python(lay_out, texts):
    folder = lay_out(shot=texts["shot"].replace("art/reeds.png", "loop.png"))
    (folder / "loop.png").symlink_to(folder / "loop.png")
    with pytest.raises(ShotError, match=r"shot.toml:28: level.reeds.art"):
        read_shot(folder)


def test_a_link_within_the_shot_is_followed(tmp_path):
    (tmp_path / "real.png").touch()
    (tmp_path / "link.png").symlink_to(tmp_path / "real.png")
    assert inside(tmp_path, relative="link.png", said=SAID) == tmp_path / "link.png"


def test_a_shot_reached_through_a_link_is_read(lay_out, tmp_path):
    folder = lay_out()
    (tmp_path / "link").symlink_to(folder)
    assert read_shot(tmp_path / "link") == read_shot(folder)


@pytest.mark.parametrize("name", ["shot.toml", "schedule.csv", "drawings.csv"])
def test_a_text_of_fifty_megabytes_is_refused_unread(lay_out, name):
    folder = lay_out()
    with (folder / name).open("r+b") as file:
        file.truncate(50 * 2**20)
    with pytest.raises(ShotError, match=rf"{name} is 50 MB; a file of text may have {MOST_TEXT_BYTES // 2**20} MB"):
        read_shot(folder)


@pytest.mark.parametrize("name", ["shot.toml", "schedule.csv", "drawings.csv"])
def test_a_folder_in_place_of_a_file_is_told(lay_out, name):
    folder = lay_out()
    (folder / name).unlink()
    (folder / name).mkdir()
    with pytest.raises(ShotError, match=rf"{name}' is a folder; name a file"):
        read_shot(folder)


@pytest.mark.parametrize("name", ["shot.toml", "schedule.csv", "drawings.csv", "art/reeds.png"])
def test_a_file_that_may_not_be_read_is_told(lay_out, monkeypatch, name):
    folder = lay_out()
    opened = Path.open

    def refuse(self, *args, **kwargs):
        if self == folder / name:
            raise PermissionError(13, "Permission denied")
        return opened(self, *args, **kwargs)

    monkeypatch.setattr(Path, "open", refuse)
    monkeypatch.setattr(Path, "read_bytes", lambda self: self.open("rb").read())
    with pytest.raises(ShotError, match=r"cannot be read \(Permission denied\); make it readable"):
        read_shot(folder)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may read everything")
def test_a_folder_that_may_not_be_entered_is_told(lay_out):
    folder = lay_out()
    (folder / "art").chmod(0)
    try:
        with pytest.raises(ShotError, match="cannot be read"):
            read_shot(folder)
    finally:
        (folder / "art").chmod(0o755)


def test_a_name_too_long_for_the_disk_is_told(lay_out, texts):
    folder = lay_out(shot=texts["shot"].replace("art/reeds.png", "a" * 5000 + ".png"))
    with pytest.raises(ShotError, match=r"shot.toml:28: level.reeds.art: "):
        read_shot(folder)
