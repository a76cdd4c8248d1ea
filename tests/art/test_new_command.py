# SPDX-License-Identifier: GPL-3.0-or-later
"""`underglass new`: what it prints, and that every bad input is one line and status 2."""

import sys

import pytest

from layered.paintings import CANVAS, files_in, noise, png, write_folder, write_ora
from underglass.shot.files import read_shot
from underglass_headless import cli
from underglass_headless.cli import Status

LAYERS = '<layer name="notes" src="data/a.png" visibility="hidden"/><layer name="sky" src="data/a.png"/>'


def test_it_says_what_it_made_and_what_it_left_out(tmp_path, capsys):
    art = write_ora(tmp_path / "estuary.ora", LAYERS)
    assert cli.run(["new", str(art), "-o", str(tmp_path / "shot"), "--units", "mm"]) == Status.HOLDS
    # 300 mm above the bed, in focus 1200 mm off: v = 50·1200/1150 mm, and the field is 0.866 in · 1200/v = 505.917 mm
    assert capsys.readouterr().out.splitlines() == [
        "note: 'notes' is hidden and was left out",
        f"made {tmp_path / 'shot' / 'shot.toml'}: 1 level, a frame of 64×48 px",
        "  sky: height 300 mm, art 505.917 mm wide, art/sky.png",
    ]
    shot = read_shot(tmp_path / "shot")
    assert (shot.title, shot.units, shot.camera.frame_px) == ("estuary", "mm", CANVAS)


def test_a_folder_of_images_becomes_a_shot_that_has_a_plan_table(tmp_path, capsys):
    images = {f"{number} level.png": noise(CANVAS, seed=number) for number in (1, 2, 3)}
    write_folder(tmp_path / "art", images)
    assert cli.run(["new", str(tmp_path / "art"), "-o", str(tmp_path / "shot")]) == Status.HOLDS
    capsys.readouterr()
    assert cli.run(["table", str(tmp_path / "shot")]) == Status.HOLDS
    rows = capsys.readouterr().out.splitlines()
    assert [row.split(",")[1] for row in rows[1:4]] == ["level", "level 2", "level 3"]
    assert [round(float(row.split(",")[2]), 6) for row in rows[1:4]] == [64.0, 64.0, 64.0]


def test_a_painting_whose_name_has_a_line_break_gets_a_title_of_one_line(tmp_path):
    art = write_ora(tmp_path / "first\nlight.ora", LAYERS)
    assert cli.run(["new", str(art), "-o", str(tmp_path / "shot")]) == Status.HOLDS
    assert read_shot(tmp_path / "shot").title == "first light"


BAD = [
    (["nowhere.ora", "-o", "shot"], "nowhere.ora"),
    (["nowhere", "-o", "shot"], "nowhere: is not there"),
    (["nowhere.psd", "-o", "shot"], "nowhere.psd: is not there"),
    (["broken.psd", "-o", "shot"], "broken.psd: is no whole PSD file"),
    (["broken.ora", "-o", "shot"], "broken.ora: is no whole OpenRaster file"),
    (["good.ora", "-o", "full"], "full: is not empty"),
    (["good.ora", "-o", "broken.ora/shot"], "broken.ora/shot"),
    (["good.ora", "-o", "shot", "--groups", "both"], "'both' is not one of"),
    (["good.ora", "-o", "shot", "--units", "ft"], "'ft' is not one of"),
    (["good.ora"], "Missing option"),
]


@pytest.mark.parametrize(("words", "said"), BAD, ids=[" ".join(words) for words, _ in BAD])
def test_bad_input_is_one_line_and_makes_nothing(tmp_path, monkeypatch, capsys, words, said):
    monkeypatch.chdir(tmp_path)
    write_ora(tmp_path / "good.ora", LAYERS)
    (tmp_path / "broken.psd").write_bytes(b"8BPS")
    (tmp_path / "broken.ora").write_bytes(b"PK")
    (tmp_path / "full").mkdir()
    (tmp_path / "full/notes.txt").write_text("mine")
    before = files_in(tmp_path)
    assert cli.run(["new", *words]) == Status.BAD_INPUT
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1
    assert files_in(tmp_path) == before


def test_an_openraster_file_does_not_wait_for_the_reader_of_psd(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "psd_tools", None)
    monkeypatch.delitem(sys.modules, "underglass_headless.art.psd_layers", raising=False)
    art = write_ora(tmp_path / "x.ora", LAYERS, {"data/a.png": png(noise(CANVAS, seed=1))})
    assert cli.run(["new", str(art), "-o", str(tmp_path / "shot")]) == Status.HOLDS
