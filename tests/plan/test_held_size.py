# SPDX-License-Identifier: GPL-3.0-or-later
"""A held level keeps its apparent size, whatever camera and focus do; a field is what the plan's scale says."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plan.plannable import plannable_shots
from underglass.plan import make_plan
from underglass.plan.field_of_levels import field_corners
from underglass.plan.headings import HOLD, heading_word
from underglass.plan.held_size import held_height, magnification
from underglass.plan.plan_arrays import Tracks
from underglass.plan.stack_order import in_order
from underglass.shot import ShotError


@given(plannable_shots(), st.data())
def test_a_held_level_has_the_size_of_its_frame_on_every_frame(shot, data):
    plan = make_plan(shot)
    level = data.draw(st.sampled_from(plan.names))
    row = data.draw(st.integers(0, len(plan.frames) - 1))
    column = plan.names.index(level)
    if np.isnan(plan.image_distance).any():
        with np.errstate(invalid="ignore"):
            heights = held_height(plan, level, magnification=magnification(plan, level, row=row))
        assert (heights == plan.tracks.levels["height"][:, column]).all()
        return
    heights = held_height(plan, level, magnification=magnification(plan, level, row=row))
    levels = {axis: track.copy() for axis, track in plan.tracks.levels.items()}
    levels["height"][:, column] = heights
    alone = replace(shot, levels=(shot.levels[column],), camera=shot.camera)
    if shot.camera.focus.level and shot.camera.focus.level != level:
        # the others stand where they stood, so v is as it was: the size follows from v/d alone
        size = shot.levels[column].art_width * plan.image_distance / (plan.tracks.camera["height"] - heights)
        assert size == pytest.approx(size[row], rel=1e-9)
        return
    tracks = Tracks(plan.frames, plan.tracks.camera, {axis: track[:, [column]] for axis, track in levels.items()})
    try:
        held = make_plan(replace(alone, schedule=(), expectations=(), exposures=()), tracks=tracks)
    except ShotError:
        return  # a stand that cannot hold it says so
    assert held.size_px[:, 0] == pytest.approx(plan.size_px[row, column], rel=1e-9)


def test_an_element_at_infinity_rides_with_the_camera_when_focus_does_not_move(infinity_plan):
    plan = infinity_plan
    heights = held_height(plan, "sky", magnification=magnification(plan, "sky", row=0))
    assert np.diff(heights) == pytest.approx(np.diff(plan.tracks.camera["height"]), abs=1e-12)


@pytest.fixture
def infinity_plan(tmp_path):
    import small_shots  # the calibration cards serve as any art
    from underglass.shot.files import read_shot

    shot = read_shot(small_shots.line_up(tmp_path / "shot"))
    camera = replace(shot.camera, focus=replace(shot.camera.focus, level="", distance=0.9))
    levels = (*shot.levels[:-1], replace(shot.levels[-1], name="sky"))
    return make_plan(replace(shot, camera=camera, levels=levels))


@given(plannable_shots())
def test_the_field_at_every_level_is_as_wide_as_the_frame_is_in_its_pixels(shot):
    plan = make_plan(shot)
    corners = field_corners(plan)
    wide = np.linalg.norm(corners[..., 1, :] - corners[..., 0, :], axis=-1)
    tall = np.linalg.norm(corners[..., 3, :] - corners[..., 0, :], axis=-1)
    width, height = shot.camera.frame_px
    assert wide * plan.scale == pytest.approx(np.full(wide.shape, width), rel=1e-9)
    assert tall * plan.scale * shot.camera.squeeze == pytest.approx(np.full(tall.shape, height), rel=1e-9)


@pytest.mark.parametrize(
    ("axis", "step", "word"),
    [
        ("east", 0.01, "east"),
        ("east", -0.01, "west"),
        ("north", 0.01, "north"),
        ("north", -0.01, "south"),
        ("height", 0.01, "up"),
        ("height", -0.01, "down"),
        ("turn", 0.01, "counter-clockwise"),
        ("turn", -0.01, "clockwise"),
        ("focal", 0.01, "longer"),
        ("focal", -0.01, "shorter"),
        ("east", 0.0, HOLD),
    ],
)
def test_a_heading_is_the_way_the_counter_goes(axis, step, word):
    assert heading_word(axis, step) == word


@given(plannable_shots(), st.randoms(use_true_random=False))
def test_levels_that_were_moved_past_each_other_are_listed_nearest_the_lens_first(shot, random):
    plan = make_plan(shot)
    order = list(range(len(shot.levels)))
    random.shuffle(order)
    mixed = replace(shot, levels=tuple(shot.levels[column] for column in order))
    tracks = replace(plan.tracks, levels={axis: track[:, order] for axis, track in plan.tracks.levels.items()})
    sorted_shot, sorted_tracks = in_order(mixed, tracks)
    assert sorted_shot.names == shot.names
    assert (sorted_tracks.levels["height"] == plan.tracks.levels["height"]).all()
