# SPDX-License-Identifier: GPL-3.0-or-later
"""A shot with a level more or fewer, another name, other units: what is said of it everywhere, and nothing else."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from underglass.plan import make_plan
from underglass.revise import restacked_shot
from underglass.revise.other_units import in_other_units
from underglass.shot import FrameTable, UnderglassError
from underglass.shot.files import read_shot
from underglass.shot.files.unsaved_texts import shot_of_texts, texts_as_written

SCENES = ("estuary", "market", "calibration", "estuary with a chart")
# Two axes that go frame by frame.
CHART = FrameTable((("village", "turn"), ("sky", "north")), (1, 20, 90), ((0.0, 0.0), (0.02, None), (0.01, 0.05)))


@pytest.fixture(scope="module", params=SCENES)
def shot(request: pytest.FixtureRequest):
    scene, _, charted = request.param.partition(" with ")
    there = read_shot(request.config.rootpath / "scenes" / scene / "shot.toml")
    return shot_of_texts(texts_as_written(replace(there, chart=CHART)), like=there) if charted else there


def everything_said(shot):
    texts = texts_as_written(shot)
    return "\n".join(texts.values())


def test_a_shot_is_read_again_from_its_texts_as_it_is(shot):
    again = shot_of_texts(texts_as_written(shot), like=shot)
    assert again == shot
    assert again.folder == shot.folder


def test_a_name_is_changed_everywhere_and_back_again(shot):
    for name in shot.names:
        other = restacked_shot.renamed(shot, name, new="zzz renamed")
        assert f'"{name}"' not in everything_said(other)
        assert make_plan(other).names == tuple("zzz renamed" if one == name else one for one in shot.names)
        assert restacked_shot.renamed(other, "zzz renamed", new=name) == shot
        assert np.array_equal(make_plan(other).size_px, make_plan(shot).size_px)


@pytest.mark.parametrize("units", ["in", "cm", "mm"])
def test_other_units_change_no_place_and_are_read_back_to_the_same_numbers(shot, units):
    other = in_other_units(shot, units)
    assert other.units == units
    before, after = make_plan(shot), make_plan(shot_of_texts(texts_as_written(other), like=shot))
    assert shot_of_texts(texts_as_written(other), like=shot) == other
    assert np.abs(before.size_px / after.size_px - 1).max() < 1e-8
    assert np.abs(before.x - after.x).max() < 1e-6
    # what people would have written: a length in whole thousandths of an inch has few figures in millimetres
    assert "000000" not in everything_said(other)
    assert "999999" not in everything_said(other)


def test_a_copy_has_the_moves_of_the_first_and_meets_nothing(shot):
    for name in shot.names[:-1]:
        plan = make_plan(shot)
        copied = restacked_shot.with_copy(shot, name, copy="copy", lower=restacked_shot.room_below(plan, name))
        after = make_plan(shot_of_texts(texts_as_written(copied), like=shot))
        here, there = after.names.index(name), after.names.index("copy")
        assert there == here + 1
        for axis in ("east", "north", "turn"):
            assert np.allclose(after.tracks.levels[axis][:, here], after.tracks.levels[axis][:, there], atol=1e-12)
        assert (after.tracks.levels["height"][:, here] > after.tracks.levels["height"][:, there]).all()


def test_exchanged_twice_is_the_shot_again(shot):
    for first, second in zip(shot.names[:-2], shot.names[1:-1], strict=True):
        once = restacked_shot.exchanged(shot, first, second)
        assert once.names.index(first) == shot.names.index(second)
        before, after = make_plan(shot).tracks.levels["height"], make_plan(once).tracks.levels["height"]
        # no glass stands where none stood before
        assert np.allclose(before, after, atol=1e-12)
        assert restacked_shot.exchanged(once, second, first) == shot


def test_a_free_height_meets_no_level_on_any_frame(shot):
    plan = make_plan(shot)
    for near in ("", *shot.names):
        height = restacked_shot.free_height(plan, near)
        heights = plan.tracks.levels["height"]
        assert 0 < height < plan.tracks.camera["height"].min()
        assert not ((heights.min(axis=0) <= height) & (height <= heights.max(axis=0))).any()


def test_where_no_height_is_free_it_is_said(request):
    shot = read_shot(request.config.rootpath / "scenes" / "calibration" / "shot.toml")
    plan = make_plan(shot)
    levels = {axis: track.copy() for axis, track in plan.tracks.levels.items()}
    # as if every level went from the bed to just below the lens
    count = levels["height"].shape[0]
    ramp = np.linspace(0.001, float(plan.tracks.camera["height"].min()) - 0.001, count)
    levels["height"][:] = ramp[:, None]
    with pytest.raises(UnderglassError, match="no height is free"):
        restacked_shot.free_height(replace(plan, tracks=replace(plan.tracks, levels=levels)))


def test_what_others_hang_on_is_not_taken_away(shot):
    focused = shot.camera.focus.level
    if focused:
        with pytest.raises(UnderglassError, match="focus on another level first"):
            restacked_shot.without_level(shot, focused)
    lone = replace(
        shot, levels=shot.levels[:1], camera=replace(shot.camera, focus=replace(shot.camera.focus, level=""))
    )
    with pytest.raises(UnderglassError, match="is the only level"):
        restacked_shot.without_level(lone, lone.names[0])


def test_moves_of_an_axis_start_where_the_one_before_ends(request):
    shot = read_shot(request.config.rootpath / "scenes" / "estuary" / "shot.toml")
    assert not isinstance(shot.schedule, FrameTable)
    (move,) = [one for one in shot.schedule if (one.part, one.axis) == ("camera", "height")]
    middle = (move.first + move.last) // 2
    halves = [replace(move, last=middle, end=2.1), replace(move, first=middle, start=0.0, end=2.0)]
    halves = [replace(half, slow_out=4.0, slow_in=4.0) for half in halves]
    made = restacked_shot.with_moves(shot, "camera", "height", halves, begins=2.2)
    assert made.camera.height == 2.2
    rows = [one for one in made.schedule if (one.part, one.axis) == ("camera", "height")]
    assert [(row.start, row.end) for row in rows] == [(2.2, 2.1), (2.1, 2.0)]
    # in the place of the rows they take, all others as they were
    assert [one for one in made.schedule if one not in rows] == [one for one in shot.schedule if one != move]
    again = shot_of_texts(texts_as_written(made), like=shot)
    assert again == made


def test_a_text_that_no_reader_takes_is_refused(shot):
    texts = texts_as_written(shot)
    with pytest.raises(UnderglassError, match="units"):
        shot_of_texts(texts | {"shot.toml": texts["shot.toml"].replace(f'"{shot.units}"', '"ell"', 1)}, like=shot)
    assert Path(shot.folder, "shot.toml").is_file()
