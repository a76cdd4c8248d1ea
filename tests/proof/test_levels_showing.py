# SPDX-License-Identifier: GPL-3.0-or-later
"""How much of a level shows, and the grids that follow from it: held against other formulas, and in the limit."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plan.plannable import plannable_shots
from proof.test_choose_frames import HILLS, LENS, REEDS, STILL
from underglass.optics.projection import corner_offsets
from underglass.plan import corners_px, make_plan
from underglass.proof.levels_showing import (
    FINEST_SHARE,
    LEAST_AREA_PX,
    SAMPLES_ACROSS,
    SAMPLES_OF_A_FRAME,
    SAMPLES_OF_A_LEVEL,
    STEPS,
    coarse_steps,
    fine_step,
    showing,
)
from underglass.proof.verdict.judge_levels import visible_area
from underglass.shot import Move, Shot

FRAME_PX = (400, 300)


@given(
    width=st.floats(5, 3000),
    height=st.floats(5, 3000),
    turn=st.floats(-np.pi, np.pi),
    x=st.floats(-900, 900),
    y=st.floats(-900, 900),
)
def test_the_area_that_shows_is_that_of_the_polygon_cut_to_the_frame(
    width: float, height: float, turn: float, x: float, y: float
) -> None:
    """The polygon is clipped side by side (Sutherland and Hodgman, Reentrant Polygon Clipping, 1974), then shoelace."""
    across, up = corner_offsets(width, height=height, turn=turn)
    corners = np.stack([across + x, up + y], axis=-1)
    area, thickness = showing(corners, FRAME_PX)
    exact = visible_area(corners, FRAME_PX)
    assert area == pytest.approx(exact, rel=0.03, abs=60.0)
    assert thickness <= max(FRAME_PX)


def test_a_sliver_at_the_side_of_the_frame_is_as_thick_as_what_shows_of_it() -> None:
    corners = np.array([(197.0, -100.0), (500.0, -100.0), (500.0, 100.0), (197.0, 100.0)])
    area, thickness = showing(corners, FRAME_PX)
    assert area == pytest.approx(3 * 200)
    assert thickness == pytest.approx(3)


def test_a_level_beside_the_frame_shows_nothing() -> None:
    corners = np.array([(300.0, -100.0), (500.0, -100.0), (500.0, 100.0), (300.0, 100.0)])
    assert showing(corners, FRAME_PX)[0] == 0.0


@given(shot=plannable_shots(most_frames=30))
def test_every_grid_is_fine_enough_for_the_smallest_level_that_is_worth_it(shot: Shot) -> None:
    plan = make_plan(shot)
    steps = coarse_steps(plan)
    area, thickness = showing(corners_px(plan), shot.camera.frame_px)
    usual = max(1.0, np.sqrt(np.prod(shot.camera.frame_px) / SAMPLES_OF_A_FRAME))
    assert (steps <= usual).all()
    finest_of_all = max(1, max(step for step in (1, *STEPS) if step <= usual) // FINEST_SHARE)
    for row, step in enumerate(steps.tolist()):
        finest = step <= finest_of_all
        seen = area[row] > LEAST_AREA_PX
        enough = (area[row] >= SAMPLES_OF_A_LEVEL * step**2) & (thickness[row] >= SAMPLES_ACROSS * step)
        assert finest or enough[seen].all()


def test_a_frame_with_a_small_level_gets_a_finer_grid_and_no_other_pays_for_it() -> None:
    """A level of 40 px leaves the frame: it is 900 px across, and the level shows in part on one frame."""
    small = replace(REEDS, name="small", art_width=0.02)
    moves = (Move("small", "east", 1, 97, 0.0, 1.0),)
    steps = coarse_steps(make_plan(replace(STILL, levels=(small, HILLS), schedule=moves)))
    assert steps[0] < steps[-1]
    assert (np.diff(steps) >= 0).sum() > 90


def test_the_fine_grid_of_a_film_frame_is_every_fifth_pixel_and_of_a_small_one_every_pixel() -> None:
    assert [fine_step(size) for size in [(1828, 1332), (640, 480), (320, 240), (4, 4)]] == [5, 2, 1, 1]


def test_the_usual_grid_of_a_film_frame_is_every_sixteenth_pixel() -> None:
    camera = replace(LENS, frame_px=(1828, 1332))
    assert set(coarse_steps(make_plan(replace(STILL, camera=camera))).tolist()) == {16}
