# SPDX-License-Identifier: GPL-3.0-or-later
"""Writing a shot: it reads back as it was, to the last bit, and a write that fails leaves the earlier files whole."""

import math
import os
import tempfile
import tomllib
from dataclasses import fields, is_dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shot_strategies import make_shot_art, shots
from underglass.shot import FrameTable, Projection, ShotError
from underglass.shot.files import drawings_csv, read_shot, schedule_csv, shot_toml, write_shot
from underglass.shot.files.toml_text import value_text

# A drawn shot is large, and drawing it is most of the time.
THOROUGH = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


@THOROUGH
@given(shots())
def test_any_shot_reads_back_as_it_was_written(shot):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_shot_art(shot, folder)
        again = read_shot(write_shot(shot, folder))
        assert again == shot
        assert (shot_toml(again), schedule_csv(again), drawings_csv(again)) == (
            shot_toml(shot),
            schedule_csv(shot),
            drawings_csv(shot),
        )


def recast(value, real, whole):
    """Return a shot, or a part of one, with every number made anew."""
    if is_dataclass(value):
        parts = {part.name: recast(getattr(value, part.name), real, whole) for part in fields(value) if part.compare}
        return replace(value, **parts)
    if isinstance(value, tuple):
        return tuple(recast(item, real, whole) for item in value)
    if isinstance(value, bool):
        return value
    return real(value) if isinstance(value, float) else whole(value) if isinstance(value, int) else value


@THOROUGH
@given(shots(), st.sampled_from([1.0, 1 / 3, math.pi]))
def test_numbers_of_numpy_are_written_as_python_spells_them(shot, share):
    """A length that was worked out is no decimal of the shot's unit, and goes another way than one that was read."""
    plain = recast(shot, lambda value: value * share, int)
    numpys = recast(shot, lambda value: np.float64(value) * share, np.int64)
    for text_of in (shot_toml, schedule_csv, drawings_csv):
        assert text_of(numpys) == text_of(plain)
    tomllib.loads(shot_toml(numpys))


@given(st.floats(width=32, allow_nan=False, allow_infinity=False), st.sampled_from([np.float32, np.float64]))
def test_a_number_of_single_precision_keeps_all_its_digits(value, kind):
    assert tomllib.loads(f"k = {value_text(kind(value))}")["k"] == value


@given(shots(most_levels=2, most_frames=3, projection=Projection.ORTHOGRAPHIC))
@settings(max_examples=10, deadline=None)
def test_the_shots_that_tests_draw_keep_to_what_was_asked(shot):
    assert len(shot.levels) <= 2
    assert shot.frame_count <= 3
    assert shot.camera.projection is Projection.ORTHOGRAPHIC
    heights = [shot.camera.height, *(level.height for level in shot.levels)]
    assert heights == sorted(set(heights), reverse=True)


def test_the_small_shot_is_written_as_people_write_it(lay_out):
    shot = read_shot(lay_out())
    text = shot_toml(shot)
    for line in (
        "fps = 24",
        "frames = [1, 48]",
        "focal_mm = 50.0",
        "height = 48.0",
        "turn = 90.0",
        "art_width = 13.5",
        "counter = 0.01",
        'covers = ["left", "right", "bottom"]',
        "fade = [[1, 0.0], [16, 1.0]]",
    ):
        assert f"\n{line}\n" in text
    assert schedule_csv(shot) == (
        "part,axis,first,last,from,to,law,slow_out,slow_in,about\n"
        "reeds,east,1,24,0.0,-3.5,steady,6,6,\n"
        "reeds,east,24,36,,-4.0,sine,,,\n"
        "camera,height,12,48,48.0,40.0,ratio,,,far hills\n"
        "camera,focal_mm,1,48,50.0,60.0,ratio,,,\n"
        "heron,turn,1,12,,45.0,steady,0,0,\n"
    )
    assert drawings_csv(shot) == "frame,heron\n1,a\n9,b\n17,\n25,-\n"


def test_a_shot_made_in_memory_gets_names_for_its_sheets(lay_out, tmp_path):
    folder = lay_out()
    shot = replace(read_shot(folder), schedule_file="", drawings_file="")
    write_shot(shot, folder)
    assert (read_shot(folder).schedule_file, read_shot(folder).drawings_file) == ("schedule.csv", "drawings.csv")


def test_a_name_that_looks_like_a_comment_is_quoted(lay_out, texts):
    shot = texts["shot"].replace('"reeds"', '"#1, \\"low\\""')
    folder = lay_out(shot=shot, schedule='part,axis,first,last,to\n"#1, ""low""",east,1,24,1\n')
    read = read_shot(folder)
    assert read.schedule[0].part == '#1, "low"'
    write_shot(read, folder)
    assert read_shot(folder) == read


def test_a_frame_table_keeps_its_blanks(lay_out):
    folder = lay_out(schedule="frame,reeds.east,camera.focal_mm\n1,,50\n9,0.25,\n")
    shot = read_shot(folder)
    assert isinstance(shot.schedule, FrameTable)
    assert schedule_csv(shot) == "frame,reeds.east,camera.focal_mm\n1,,50.0\n9,0.25,\n"


@pytest.mark.parametrize("failing", range(6))
def test_a_write_that_fails_leaves_the_earlier_files_whole(lay_out, monkeypatch, failing):
    """The disk is full at one of the three writes to disk; or a rename fails, and no file is half written."""
    folder = lay_out()
    before = {path: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    shot = replace(read_shot(folder), title="Second take")
    calls = []

    def failing_once(function):
        def call(*args):
            calls.append(function)
            if len(calls) - 1 == failing:
                raise OSError(28, "No space left on device")
            return function(*args)

        return call

    for name in ("fsync", "replace"):
        monkeypatch.setattr(os, name, failing_once(getattr(os, name)))
    with pytest.raises(ShotError, match=r"cannot be written \(No space left on device\)"):
        write_shot(shot, folder)
    after = {path: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    assert after.keys() == before.keys()
    assert after[folder / "shot.toml"] == before[folder / "shot.toml"]
    if failing < 3:
        assert after == before
    assert read_shot(folder).title == "Estuary at first light"


def test_a_folder_that_is_a_file_is_told(lay_out, tmp_path):
    shot = read_shot(lay_out())
    (tmp_path / "file").touch()
    with pytest.raises(ShotError, match=r"cannot be written \("):
        write_shot(shot, tmp_path / "file")


def test_text_that_no_file_can_hold_is_told(lay_out, tmp_path):
    shot = replace(read_shot(lay_out()), title="\ud800")
    with pytest.raises(ShotError, match="cannot be written"):
        write_shot(shot, tmp_path / "new")


def test_writing_goes_through_a_link_and_keeps_it(lay_out, tmp_path):
    folder = lay_out()
    (folder / "shot.toml").rename(folder / "take 2.toml")
    (folder / "shot.toml").symlink_to("take 2.toml")
    write_shot(replace(read_shot(folder), title="Second take"), folder)
    assert (folder / "shot.toml").is_symlink()
    assert "Second take" in (folder / "take 2.toml").read_text()
